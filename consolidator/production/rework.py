"""Pieces worked on again: what was tried on rolled external threads, and tapped threads tapped again too often.

Pieces have no numbers once they left their sample: those tapped again are told by their readings, by their tag, or
else by their lot, and then count as the same (decision 0072).
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Flags
from consolidator.frame.day import rows_of_page
from consolidator.frame.world import ActAt
from kiosk.lists import Characteristic
from kiosk.lists.words import Feature
from kiosk.pages.desk import Disposition
from kiosk.pages.words import Choice, SampleKind

_WORKED_AGAIN: Final = (Choice.REWORK, Choice.RE_TAP)
_AFTER_WORK: Final = (SampleKind.RE_WORK, SampleKind.RE_TAP)


@dataclass(frozen=True)
class ReTap:
    """One disposition to tap pieces again, and how often they will then have been tapped again."""

    act: ActAt
    disposition: Disposition
    times: int
    allowed: int

    @property
    def is_too_often(self) -> bool:
        """True when it is more than the plant allows (N18)."""
        return self.times > self.allowed


def checked_after_rework(day: Day) -> Flags:
    """Tell which readings look again at a rolled external thread after it was worked on."""
    plans = day.plans
    is_thread = np.array([*(_is_rolled(c) for c in plans.characteristics), False], bool)
    rolled = is_thread[plans.characteristic_row] | is_thread[plans.old_characteristic_row]
    return np.asarray(rolled & day.pages.sample_kind.is_one_of(*_AFTER_WORK))


def forbidden_rework(day: Day) -> list[tuple[ActAt, Disposition]]:
    """Return every disposition that would have a rolled external thread worked on again, whoever signed it."""
    return [
        (act, done)
        for act, done in day.world.acts.of(Disposition)
        if done.choice in _WORKED_AGAIN and any(_is_rolled(each) for each in _about(day, done))
    ]


def re_taps_of(day: Day) -> list[ReTap]:
    """Return every disposition to tap again, oldest first, each with how often its pieces were tapped again by then."""
    found: list[ReTap] = []
    for act, done in day.world.acts.of(Disposition):
        if done.choice is Choice.RE_TAP:
            before = [each for each in found if each.disposition.lot == done.lot]
            times = 1 + _times_before(day, done, before)
            found.append(ReTap(act, done, times, day.world.numbers.at(act.at_ms).re_taps))
    return found


def tapped_too_often(day: Day) -> Flags:
    """Tell which readings are of pieces tapped again more often than allowed (N18).

    Those are readings after a disposition that went past the limit, of its lot, and readings that measure after a
    further re-tap what was measured after a re-tap before.
    """
    pages = day.pages
    again = pages.sample_kind.is_one_of(SampleKind.RE_TAP)
    mask = np.zeros(len(pages), bool)
    for tap in re_taps_of(day):
        if tap.is_too_often:
            mask |= again & pages.lot.is_one_of(tap.disposition.lot) & (day.ms >= tap.act.low_ms)
    for row in np.flatnonzero(again & pages.re_measure_of.is_given).tolist():
        mask[row] |= _times_measured(day, row) > day.world.numbers.at(int(day.ms[row])).re_taps
    return mask


def _is_rolled(characteristic: Characteristic) -> bool:
    return characteristic.feature is Feature.EXTERNAL_ROLLED_THREAD


def _about(day: Day, done: Disposition) -> Iterable[Characteristic]:
    """Return the characteristics a disposition is about: the one named, else those of the readings named."""
    if done.characteristic is not None:
        return [c for c in day.plans.characteristics if (c.part, c.number) == (done.part, done.characteristic)]
    places = [int(day.plans.characteristic_row[row]) for ref in done.readings for row in rows_of_page(day.pages, ref)]
    return [day.plans.characteristics[place] for place in places if place >= 0]


def _times_before(day: Day, done: Disposition, before: list[ReTap]) -> int:
    rows = [row for ref in done.readings for row in rows_of_page(day.pages, ref)]
    measured = [_times_measured(day, row) for row in rows if day.pages.sample_kind.at(row) == SampleKind.RE_TAP]
    if measured:
        return max(measured)
    if done.tag is not None:
        return max((each.times for each in before if each.disposition.tag == done.tag), default=0)
    return 0 if done.readings else max((each.times for each in before), default=0)


def _times_measured(day: Day, row: int) -> int:
    """Return how often a reading's piece was measured after a re-tap, itself counted, as its pages name each other."""
    times, seen = 0, set[int]()
    while row not in seen:
        seen.add(row)
        times += day.pages.sample_kind.at(row) == SampleKind.RE_TAP
        before = day.pages.re_measure_of.at(row)
        rows = rows_of_page(day.pages, before) if before else []
        row = rows[0] if rows else row
    return times
