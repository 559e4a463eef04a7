"""The morning list: one line for each cause, in the order in which it must be worked.

Owns grouping and sorting (4.2, 4.3). No person's name stands on a line.
"""

from collections.abc import Collection
from typing import Final

import numpy as np

from consolidator.close.exceptions import Cells, Kept
from consolidator.close.grouping import NO_LEAD
from consolidator.close.judging import Judging
from consolidator.frame import Day
from consolidator.frame.coded import Ints, natural_key
from consolidator.frame.world import moment_of, text_ms
from consolidator.rules.kinds import FAMILY_ORDER, Effect, Family

_SHIPS_ORDER: Final = {"shipped": 0, "today": 1, "later": 2, "": 3}
_URGENCY_ORDER: Final = {"A": 0, "B": 1, "C": 2, "D": 4}
_CARRIED_D: Final = 3
"""What is carried over cannot sink below a new D."""


def morning_lines(judging: Judging, kept: list[Kept], lead: Ints) -> list[Cells]:
    """Return the open exceptions as lines, the most pressing first; `lead` is each reading's leading exception.

    A sample that is short because readings of it are blocked is told on the line of what blocked them.
    """
    day, groups = judging.day, dict[tuple[str, str], list[Kept]]()
    for one in kept:
        if one.cells["state"] == "open":
            owner = _blocked_by(judging, kept, one, lead)
            groups.setdefault((owner.cells["family"], owner.cells["cause"]), []).append(one)
    lines = [_line(day, group, day.lots.shipped) for group in groups.values()]
    return [cells for _, cells in sorted(lines, key=lambda line: line[0])]


def _blocked_by(judging: Judging, kept: list[Kept], one: Kept, lead: Ints) -> Kept:
    """Return the open exception that explains a short sample; the exception itself where none does."""
    if one.raised is None or one.cells["number"] != "X40":
        return one
    rows = one.raised.rows
    first = int(lead[rows[judging.standing[rows] == Effect.BLOCKED]].min(initial=NO_LEAD))
    return kept[first] if first < NO_LEAD and kept[first].cells["state"] == "open" else one


def _line(day: Day, group: list[Kept], shipped: Collection[str]) -> tuple[tuple[object, ...], Cells]:
    group = sorted(group, key=lambda one: (one.cells["urgency"], one.cells["number"], one.cells["key"]))
    cells = [one.cells for one in group]
    first = group[0]
    lots = _union(cells, "lots")
    rows = [one.raised.rows for one in group if one.raised is not None]
    readings = len(np.unique(np.concatenate(rows))) if rows else 0
    readings = max([readings, *(int(one.cells["readings"]) for one in group if one.raised is None)])
    pieces = max(int(each["pieces"]) for each in cells)
    opened_ms = min(text_ms(each["opened_at"]) for each in cells)
    oldest = min(cells, key=lambda each: text_ms(each["opened_at"]))
    ships = _ships(day, lots, shipped)
    is_carried = opened_ms < day.world.start_ms
    urgency = first.cells["urgency"]
    order = _CARRIED_D if urgency == "D" and is_carried else _URGENCY_ORDER[urgency]
    family = FAMILY_ORDER[Family(first.cells["family"])]
    place = (order, _SHIPS_ORDER[ships], -pieces, opened_ms, family, natural_key(first.cells["cause"]))
    return place, {
        "urgency": urgency,
        "family": first.cells["family"],
        "cause": first.cells["cause"],
        "number": first.cells["number"],
        "name": first.cells["name"],
        "kinds": ";".join(dict.fromkeys(each["number"] for each in cells)),
        "sentence": _sentence(cells),
        "lots": ";".join(lots),
        "stations": ";".join(_union(cells, "stations")),
        "readings": str(readings),
        "pieces": str(pieces),
        "ships": ships,
        "opened_at": oldest["opened_at"],
        "age_h": oldest["age_h"],
        "who": first.cells["who"],
        "keys": ";".join(each["key"] for each in cells),
    }


def _sentence(cells: list[Cells]) -> str:
    """Return the first sentence of each kind; of a kind that stands several times, how many more there are."""
    by_kind: dict[str, list[Cells]] = {}
    for each in cells:
        by_kind.setdefault(each["number"], []).append(each)
    told = list[str]()
    for number, mine in by_kind.items():
        more = f" And {len(mine) - 1} more like it." if len(mine) > 1 else ""
        also = f"Also {number}: " if told else ""
        told.append(f"{also}{mine[0]['sentence']}{more}")
    return " ".join(told)


def _union(cells: list[Cells], name: str) -> list[str]:
    return sorted({word for each in cells for word in each[name].split(";") if word}, key=natural_key)


def _ships(day: Day, lots: list[str], shipped: Collection[str]) -> str:
    """Return whether any of the lots is shipped, ships today or ships later; empty without lots."""
    if not lots:
        return ""
    if any(lot in shipped for lot in lots):
        return "shipped"
    today = moment_of(day.world.at_ms).astimezone(day.world.zone).date()
    known = [day.world.lists.lot(lot) for lot in lots]
    return "today" if any(lot is not None and lot.ships_on == today for lot in known) else "later"
