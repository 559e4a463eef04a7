"""What the station's judge and close of day say of the same reading, side by side, and lists that make it hard.

Everything is invented. Neither judge is the measure of the other.
"""

import json
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any, NamedTuple

from consolidator.close import ClosedDay
from consolidator.rules import KINDS
from kiosk.errors import NotANumber
from kiosk.judge import Around, Given, HeatNote, judge
from kiosk.lists import Lists
from kiosk.pages.readings import Keying
from kiosk.times import read_time
from tests.unit.consolidator.held_builder import deck

BEGIN = read_time("2026-03-10T20:00:00.000-04:00")
"""A gauge of the plant goes out at midnight."""
NEXT = (BEGIN.date(), BEGIN + timedelta(hours=30))
BOTH_KNOW = frozenset(
    f"X{number:02d}"
    for number in (1, 2, 3, 4, 13, 15, 16, 17, 18, 19, 20, 23, 24, 25, 26, 27, 28, 29, 30, 31, 44, 45, 58, 59, 65, 66,
                   75, 78)
)  # fmt: skip
"""Kinds that hang on the reading and the lists alone."""
RANK = {"Counts": 0, "Counts – flagged": 1, "Blocked": 2}
EXTRA: list[dict[str, Any]] = [
    {"number": "XU", "kind": "upper limit only", "unit": "in", "upper": ".05", "shop_limit": ".003"},
    {"number": "XL", "kind": "lower limit only", "unit": "lbf", "lower": "12800", "shop_limit": "13000"},
    {"number": "XM", "kind": "two-sided", "unit": "mm", "lower": "7.92", "upper": "7.94", "guard_band": ".002"},
    {"number": "XC", "kind": "count", "unit": "count", "upper": "3"},
    {"number": "XV", "kind": "visual", "unit": "accept/reject"},
    {"number": "XT", "kind": "turns", "unit": "turns", "turns_allowed": "3"},
]
_GAUGES: list[dict[str, Any]] = [
    {"number": "G-880", "half_division": True},
    {"number": "G-881", "state": "Stopped"},
    {"number": "G-882", "unit": "mm", "range_high": "25", "least_count": "0.001"},
    {"number": "G-883", "least_count": None, "range_low": None, "range_high": None},
    {"number": "G-884", "kind": "indicator", "master": "M-14", "range_low": "-0.005", "range_high": "0.005"},
    {"number": "G-884", "kind": "indicator", "master": "M-14", "range_low": "-0.002", "range_high": "0.002",
     "least_count": "0.0001", "in_force_from": "2026-03-10T22:00:00.000-04:00"},
]  # fmt: skip
_LAPSED = (("P-107", "2026-03-02"), ("P-108", "2026-01-02"), ("P-106", "2026-02-24"), ("P-103", "2026-03-10"))
"""P-106 is lapsed too long from the midnight of the night on, and P-103 lapses at it."""


class Said(NamedTuple):
    """Verdict, the kinds both can know, standing, and every mark there is."""

    verdict: str
    kinds: frozenset[str]
    standing: str
    marks: frozenset[str]


def hard_lists(more: Iterable[Mapping[str, Any]] = (), numbers: Iterable[Mapping[str, Any]] = ()) -> Lists:
    """Return the invented plant's lists with one characteristic of each kind, odd gauges, lapsed people, and more.

    `more` are further characteristics, `numbers` plant numbers that were changed.
    """
    lists = deck()
    whole = lists.model_dump(mode="json")
    model = whole["characteristics"][0] | {"gauge_kinds": (), "lower": None, "upper": None, "feature": "other"}
    whole["characteristics"] += [model | _canonical(row) for row in (*EXTRA, *more)]
    gauge = next(g for g in whole["gauges"] if g["number"] == "G-108")
    whole["gauges"] += [gauge | changes for changes in _GAUGES]
    whole["qualifications"] += [
        {"person": person, "operation": "60", "level": "operator", "valid_from": "2024-01-01", "valid_until": until}
        for person, until in _LAPSED
    ]
    whole["plant_numbers"] = list(numbers)
    return Lists.model_validate(whole)


def _canonical(row: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: f"0{value}" if isinstance(value, str) and value.startswith(".") else value for name, value in row.items()
    }


def said_at_station(lists: Lists, at: str, told: Mapping[str, Any]) -> Said | None:
    """Return what the station's judge says of a reading; none where a station would take no such keying."""
    what = next(c for c in lists.characteristics if c.number == told["characteristic"])
    names = ("lot", "keyed", "keyed_as", "unit", "gauge", "master", "person", "sample_kind", "source")
    given = Given.model_validate(
        {
            "part": what.part,
            "operation": what.operation,
            "characteristic": what,
            "heat": _heat(told),
            "earlier": tuple(Keying.model_validate(each) for each in json.loads(told.get("earlier") or "[]")),
            **{name: told[name] for name in names if name in told},
        }
    )
    moment, taken_ms = read_time(at), told.get("lists_taken_at_ms")
    taken = None if taken_ms is None else datetime.fromtimestamp(taken_ms / 1000, moment.tzinfo)
    around = Around(station=told["station"], lists_taken_at=taken)
    assert moment.tzinfo is not None
    try:
        judged = judge(given, lists, around, moment=moment, zone=moment.tzinfo)
    except NotANumber:
        return None
    reasons = frozenset(judged.reasons)
    return Said(str(judged.verdict), reasons & BOTH_KNOW, str(judged.standing), reasons)


def _heat(told: Mapping[str, Any]) -> HeatNote:
    part, gauge = (
        None if told.get(name) is None else Decimal(told[name]) for name in ("part_temperature", "gauge_temperature")
    )
    out_ms = told.get("out_of_heat_at_ms")
    out = None if out_ms is None else datetime.fromtimestamp(out_ms / 1000, BEGIN.tzinfo)
    return HeatNote(out_at=out, part=part, gauge=gauge, unit=told.get("temperature_unit") or "degF")


def said_at_close(closed: ClosedDay) -> dict[str, Said]:
    """Return what close of day says of each page."""
    found: dict[str, Said] = {}
    for row in closed.readings.select(["kiosk", "page", "verdict", "standing", "exceptions"]).to_pylist():
        marks = frozenset(mark.removesuffix(" tag") for mark in row["exceptions"].split(";")) - {""}
        found[f"{row['kiosk']}/{row['page']}"] = Said(row["verdict"], marks & BOTH_KNOW, row["standing"], marks)
    return found


def why_apart(told: Mapping[str, Any], station: Said | None, close: Said) -> str:
    """Say how the two differ on one reading; empty when they agree, or close knows what a station cannot."""
    if station is None:
        is_word = told["keyed"] in ("Accept", "Reject")
        return "" if is_word or (close.verdict, close.standing) == ("Not judged", "Blocked") else f"not taken: {close}"
    if told["characteristic"] == "BC4" and told["gauge"] == "G-301" and told["keyed_as"] == "value":
        return ""  # M only because of the gauge: the station would have it keyed as over wires
    if station.verdict != close.verdict:
        return f"verdict {station.verdict} and {close.verdict}"
    more = _known_at_close(told, close.kinds)
    if not station.kinds <= close.kinds <= station.kinds | more:
        return f"kinds {sorted(station.kinds)} and {sorted(close.kinds)}"
    harder = [KINDS[kind].effect for kind in close.marks - station.marks]
    standing = max([RANK[station.standing], *harder])
    is_same = RANK[close.standing] == standing
    return "" if is_same else f"standing {station.standing} and {close.standing}, {sorted(close.marks)}"


def _known_at_close(told: Mapping[str, Any], kinds: frozenset[str]) -> frozenset[str]:
    """Return what close of day says beyond the station: a gauge, master or person not named, units apart beside X19."""
    more = {"X03"} if told["gauge"] is None or told["master"] == "M-99" else set[str]()
    more |= {"X65"} if told["person"] is None else set()
    return frozenset(more | ({"X27"} if "X19" in kinds else set()))
