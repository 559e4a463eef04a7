"""What a day adds up to: its pages by what they are, by kiosk and by lot.

Owns the sums; every page of the day is counted in exactly one part (4.8).
"""

from collections import Counter
from collections.abc import Sequence
from typing import Final

import numpy as np

from consolidator.close.clock_text import local_text
from consolidator.close.columns import TOTAL_PARTS
from consolidator.close.exceptions import Cells, Kept
from consolidator.close.holds import HELD
from consolidator.close.judging import RELEASED, Judging
from consolidator.close.tables import replaced_rows
from consolidator.frame import Day
from consolidator.frame.coded import Ints, natural_key
from consolidator.frame.world import ActAt, ms_of
from consolidator.rules import Effect
from consolidator.rules.book import gaps_of_day, is_silent, last_contact_ms
from kiosk.lists.words import LotState
from kiosk.pages.desk import LotReopen
from kiosk.pages.readings import Check, Correction
from kiosk.pages.words import SampleKind

_PARTS: Final = {
    int(Effect.COUNTS): "counting",
    int(Effect.FLAGGED): "flagged",
    int(Effect.BLOCKED): "blocked",
    RELEASED: "released",
}


def totals_of(judging: Judging, rows: Ints, acts: Sequence[ActAt]) -> dict[str, int]:
    """Return how many pages the day has, and the parts that add up to it."""
    day = judging.day
    totals = dict.fromkeys(TOTAL_PARTS, 0)
    is_set_up = day.pages.sample_kind.is_one_of(SampleKind.SET_UP)[rows]
    totals["set_up_pieces"] = int(is_set_up.sum())
    for standing, part in _PARTS.items():
        totals[part] = int((~is_set_up & (judging.standing[rows] == standing)).sum())
    totals["checks"] = sum(isinstance(act.page.act, Check) for act in acts)
    totals["corrections"] = sum(isinstance(act.page.act, Correction) for act in acts)
    totals["re_keyed"] = len(replaced_rows(day))
    totals["other_acts"] = len(acts) - totals["checks"] - totals["corrections"]
    return {"pages": sum(totals.values()), **totals, "readings": len(rows), **_beside(day)}


def _beside(day: Day) -> dict[str, int]:
    """Return how many pages on training lots are left out, where there are any."""
    return {"on_training_lots": day.world.training_pages} if day.world.training_pages else {}


def kiosk_rows(day: Day, rows: Ints, acts: Sequence[ActAt]) -> list[Cells]:
    """Return one row for each enrolled kiosk: whether it was heard from, and which pages of the day are held."""
    numbers = _numbers_held(day, rows, acts)
    missing: dict[str, list[int]] = {}
    for series, gap, _ in gaps_of_day(day):
        missing.setdefault(series, []).extend(range(gap.first, gap.last + 1))
    out = []
    for kiosk in sorted(day.world.held.kiosks, key=lambda each: natural_key(each.series)):
        if ms_of(kiosk.enrolled_at) > day.world.at_ms:
            continue
        gone = kiosk.withdrawn_at is not None and ms_of(kiosk.withdrawn_at) <= day.world.at_ms
        heard = last_contact_ms(day, kiosk)
        first, last, pages = numbers.get(kiosk.series, (0, 0, 0))
        out.append(
            {
                "kiosk": kiosk.series,
                "station": kiosk.station,
                "state": "withdrawn" if gone else "silent" if is_silent(day, kiosk) else "in",
                "last_contact": "" if heard is None else local_text(heard, day.world.zone),
                "first_page": str(first) if pages else "",
                "last_page": str(last) if pages else "",
                "pages": str(pages),
                "missing": ";".join(map(str, missing.get(kiosk.series, []))),
            }
        )
    return out


def _numbers_held(day: Day, rows: Ints, acts: Sequence[ActAt]) -> dict[str, tuple[int, int, int]]:
    """Return for each series the first and last page number of the day and how many pages there are."""
    every, size = np.concatenate((rows, replaced_rows(day))), len(day.pages.series.labels)
    series, number = day.pages.series.codes[every], day.pages.number[every]
    first, last = np.full(size, 2**62, np.int64), np.zeros(size, np.int64)
    np.minimum.at(first, series, number)
    np.maximum.at(last, series, number)
    counts = np.bincount(series, minlength=size).tolist()
    told = zip(day.pages.series.labels, first.tolist(), last.tolist(), counts, strict=True)
    found = {label: (low, high, count) for label, low, high, count in told if count}
    for act in acts:
        low, high, count = found.get(act.page.series, (act.page.number, act.page.number, 0))
        found[act.page.series] = (min(low, act.page.number), max(high, act.page.number), count + 1)
    return found


def lot_rows(judging: Judging, rows: Ints, acts: list[Cells], kept: list[Kept], holds: list[Cells]) -> list[Cells]:
    """Return one row for each lot that has pages in the day; `acts` are the cells of the other pages."""
    day = judging.day
    counts = _counted(judging, rows)
    others = Counter(cells["lot"] for cells in acts if cells["lot"])
    held = {hold["lot"] for hold in holds if hold["state"] == HELD}
    reopened = {lot for one in kept if one.cells["number"] == "X47" for lot in one.cells["lots"].split(";")}
    out = []
    for lot in sorted({*counts, *others} - {""}, key=natural_key):
        known, found = day.world.lists.lot(lot), counts.get(lot, Counter())
        out.append(
            {
                "lot": lot,
                "part": "" if known is None else known.part,
                "revision": "" if known is None else known.revision,
                "heat": "" if known is None else known.heat or "",
                "state": _state(day, lot, held, reopened),
                "ships_on": "" if known is None or known.ships_on is None else known.ships_on.isoformat(),
                "pages": str(found["readings"] + others[lot]),
                **{name: str(found[name]) for name in ("readings", *_PARTS.values(), "set_up_pieces", "bad")},
                "is_held": "yes" if lot in held else "",
            }
        )
    return out


def _counted(judging: Judging, rows: Ints) -> dict[str, Counter[str]]:
    day = judging.day
    lots, labels = day.pages.lot.codes[rows], day.pages.lot.labels
    is_set_up = day.pages.sample_kind.is_one_of(SampleKind.SET_UP)[rows]
    masks = {part: ~is_set_up & (judging.standing[rows] == at) for at, part in _PARTS.items()}
    masks |= {"readings": np.ones(len(rows), bool), "set_up_pieces": is_set_up, "bad": day.verdicts.is_bad[rows]}
    counts: dict[str, Counter[str]] = {}
    for name, mask in masks.items():
        for code, number in enumerate(np.bincount(lots[mask & (lots >= 0)], minlength=len(labels)).tolist()):
            if number:
                counts.setdefault(labels[code], Counter())[name] = number
    return counts


def _state(day: Day, lot: str, held: set[str], reopened: set[str]) -> str:
    if lot in day.lots.shipped:
        return str(LotState.SHIPPED)
    if lot in held:
        return str(LotState.ON_HOLD)
    if lot in reopened or any(opened.lot == lot for _, opened in day.world.acts.of(LotReopen)):
        return str(LotState.RE_OPENED) if lot in reopened or lot not in day.lots.closed else str(LotState.CLOSED)
    return str(LotState.CLOSED if lot in day.lots.closed else LotState.RUNNING)
