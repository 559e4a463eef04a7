"""What came before what: by effective time, and by page order where a time is in doubt and the book is one.

Owns this one question for a reading and an act. What is bad counts from the earliest it can have been, what is good
from the latest (decision 0120).
"""

from datetime import date
from typing import TypeVar

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Flags, Ints, distinct
from consolidator.frame.world import ActAt, moment_of
from kiosk.pages.words import Source
from kiosk.times import shift_of

_QUARTER_MS = 15 * 60_000
"""Shifts begin on whole hours of plant time, and offsets of zones are whole quarters."""
_SHIFTS = 3


def surely_after(day: Day, rows: Ints, act: ActAt) -> Flags:
    """Tell which readings were surely made after an act."""
    return np.where(_by_page(day, rows, act), day.pages.number[rows] > act.page.number, day.ms[rows] >= act.high_ms)


def perhaps_after(day: Day, rows: Ints, act: ActAt) -> Flags:
    """Tell which readings may have been made after an act."""
    return np.where(_by_page(day, rows, act), day.pages.number[rows] > act.page.number, day.ms[rows] >= act.low_ms)


def perhaps_before(day: Day, rows: Ints, act: ActAt) -> Flags:
    """Tell which readings may have been made before something bad came about."""
    low_ms = day.times.low_ms[rows]
    return np.where(_by_page(day, rows, act), day.pages.number[rows] < act.page.number, low_ms < act.low_ms)


def surely_before(day: Day, rows: Ints, act: ActAt) -> Flags:
    """Tell which readings were surely made before an act."""
    high_ms = day.times.high_ms[rows]
    return np.where(_by_page(day, rows, act), day.pages.number[rows] < act.page.number, high_ms < act.low_ms)


def comes_after(later: ActAt, earlier: ActAt) -> bool:
    """True when an act surely came after another one."""
    is_doubtful = later.low_ms != later.high_ms or earlier.low_ms != earlier.high_ms
    if is_doubtful and later.page.series == earlier.page.series:
        return later.page.number > earlier.page.number
    return later.low_ms > earlier.high_ms or (later.low_ms == earlier.high_ms and later.sort_key > earlier.sort_key)


def shifts_of(day: Day, ms: Ints) -> Ints:
    """Return a number for the shift of each moment; the production day is that number over three."""
    if not len(ms):
        return np.zeros(0, np.int64)
    first = int(ms.min()) // _QUARTER_MS
    quarters, place = distinct(ms // _QUARTER_MS - first)
    return np.array([shift_number(day, (first + each) * _QUARTER_MS) for each in quarters.tolist()], np.int64)[place]


def shift_number(day: Day, ms: int) -> int:
    """Return the number of the shift of one moment."""
    production_day, shift = shift_of(moment_of(ms), day.world.zone)
    return shift_id(production_day, shift)


def shift_id(production_day: date, shift: int) -> int:
    """Return the number of a shift, 1 to 3, of a production day."""
    return production_day.toordinal() * _SHIFTS + shift - 1


Shift = TypeVar("Shift", int, Ints)


def production_day_number(shift: Shift) -> Shift:
    """Return a number for the production day of a shift number, or of many."""
    return shift // _SHIFTS


def _by_page(day: Day, rows: Ints, act: ActAt) -> Flags:
    """Tell for which readings page order decides: same book, one of the two times in doubt, and no paper form."""
    is_same = day.pages.series.codes[rows] == day.pages.series.code_of(act.page.series)
    in_doubt = day.times.is_in_doubt[rows] | (act.low_ms != act.high_ms)
    return np.asarray(is_same & in_doubt & ~day.pages.source.is_one_of(Source.PAPER)[rows])
