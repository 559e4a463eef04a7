"""What figures in a row show that no single one shows: sample averages that drift, readings heaped up at a limit.

Both follow the run pieces of one characteristic of a part at one station, through samples, lots and days, as far as
the night's pages reach (decision 0124). Knows no exception kinds.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Ints, joined_key
from consolidator.frame.values import NANO
from consolidator.frame.verdicts import bounds_of
from kiosk.lists import Characteristic, Gauge
from kiosk.measure import units
from kiosk.pages.words import SampleKind

IN_A_ROW: Final = 7
"""X38: so many sample averages, each above (or each below) the one before."""
LAST: Final = 200
"""X36: so many readings are looked at."""
_LEAST_IN_CELL: Final = 10
_TIMES_NEXT: Final = 3
_WORK: Final = (SampleKind.RUN, SampleKind.LAST)
_WIDEST: Final = 2**62
"""What 64 bits hold with room to spare."""
_LARGEST: Final = 2**52
"""Billionths beyond which a figure is none that hands measured; sums of a sample stay whole below it."""


@dataclass(frozen=True)
class InOrder:
    """The figures of run pieces up to the end of the day: rows by place, then time; where each place begins."""

    rows: Ints
    place: Ints
    begins: Ints

    def of(self, at: int) -> Ints:
        """Return the rows of one place, oldest first."""
        return self.rows[self.begins[at] : self.begins[at + 1]]


def in_order(day: Day) -> InOrder:
    """Return the figures of run pieces of each characteristic of a part at each station."""
    pages, values = day.pages, day.values
    is_figure = values.is_figure & (np.abs(values.nano) < _LARGEST)
    is_run = pages.sample_kind.is_one_of(*_WORK) & (day.ms < day.world.end_ms)
    rows = np.flatnonzero(is_figure & is_run & (day.replaced_by < 0))
    columns = (pages.station, pages.part, pages.operation, pages.characteristic)
    place = joined_key([column.codes[rows].astype(np.int64) + 1 for column in columns])
    # Pages of one book stand in order already; a stable sort by time, then by place, keeps that.
    order = np.argsort(day.ms[rows], kind="stable")
    order = order[np.argsort(place[order], kind="stable")]
    rows, place = rows[order], place[order]
    return InOrder(rows, place, np.searchsorted(place, np.arange(int(place.max(initial=-1)) + 2)))


@dataclass(frozen=True)
class Drift:
    """For each reading how many sample averages in a row its own is one of, rising (or, negative, falling)."""

    run: Ints


def drifting(day: Day) -> Drift:
    """Return the longest run of rising or falling sample averages that each reading's sample stands in."""
    found = in_order(day)
    run = np.zeros(len(day.pages), np.int64)
    if not len(found.rows):
        return Drift(run)
    sample = _samples(day, found)
    order = np.argsort(sample, kind="stable")
    begins = np.flatnonzero(np.append(True, sample[order][1:] != sample[order][:-1]))
    sums = np.add.reduceat(day.values.nano[found.rows[order]], begins)
    counts = np.diff(np.append(begins, len(order)))
    # A sample stands where its first piece was measured.
    line = np.argsort(order[begins], kind="stable")
    place, sums, counts = found.place[order[begins]][line], sums[line], counts[line]
    step = _steps(sums, counts) * np.append(0, place[1:] == place[:-1])
    rising, falling = (_runs(step == way) for way in (1, -1))
    of_line = np.where(rising >= falling, rising, -falling)
    of_sample = np.empty(len(line), np.int64)
    of_sample[line] = of_line
    run[found.rows[order]] = np.repeat(of_sample, np.diff(np.append(begins, len(order))))
    return Drift(run)


def _samples(day: Day, found: InOrder) -> Ints:
    pages, rows = day.pages, found.rows
    return joined_key(
        [found.place, day.home.codes[rows].astype(np.int64) + 1, pages.lot.codes[rows].astype(np.int64) + 1,
         pages.sample[rows]]
    )  # fmt: skip


def _steps(sums: Ints, counts: Ints) -> Ints:
    """Return for each average whether it is above (1), below (-1) or equal to the one before; exact, as fractions."""
    whole, rest = sums // counts, sums % counts
    step = np.zeros(len(sums), np.int64)
    apart = whole[1:] - whole[:-1]
    step[1:] = np.sign(np.where(apart != 0, apart, rest[1:] * counts[:-1] - rest[:-1] * counts[1:]))
    return step


def _runs(goes_on: np.ndarray) -> Ints:
    """Return for each average how many stand in its run; one that begins a run belongs to it."""
    run = np.cumsum(~goes_on)
    return np.asarray(np.bincount(run)[run], np.int64)


@dataclass(frozen=True)
class Heap:
    """Readings of one characteristic at one station that lie in the cell just inside a limit."""

    rows: Ints
    looked_at: int
    next_two: Fraction
    """Mean of the next two cells inward."""
    limit: str
    """The limit, as the drawing writes it."""
    last_row: int


def piled_up(day: Day) -> Iterator[Heap]:
    """Give each heap among the last readings at a place: enough of them, three times the next two cells, none outside.

    A cell is one least count of the gauge used last; a limit belongs to the cell inside it.
    """
    found = in_order(day)
    for at in range(len(found.begins) - 1):
        rows = found.of(at)[-LAST:]
        if len(rows) < LAST:
            continue
        last = int(rows[-1])
        place, gauge = int(day.plans.characteristic_row[last]), day.gauge_at(last)
        what = day.plans.characteristics[place] if place >= 0 else None
        if what is not None and gauge is not None:
            yield from _heaps(day, rows, what, gauge)


def _heaps(day: Day, rows: Ints, what: Characteristic, gauge: Gauge) -> Iterator[Heap]:
    bounds, unit = bounds_of(what), gauge.unit or what.unit
    if bounds is None or gauge.least_count is None or not units.are_alike(unit, what.unit):
        return
    cell = units.ratio(Decimal(gauge.least_count), unit, to=Decimal(1), to_unit=what.unit) * NANO
    if not cell:
        return
    nano, is_cut = day.values.nano[rows], day.values.is_cut[rows].astype(np.int64)
    for limit, text, way in ((bounds.upper, what.upper, -1), (bounds.lower, what.lower, 1)):
        if limit is None:
            continue
        # What was cut off makes a figure larger, so that it leaves a cell at its upper side only.
        value = nano + is_cut if way < 0 else nano
        inwards = _cells_inward(value, limit * NANO, way, cell)
        first, outside = int((inwards == 0).sum()), int((inwards == -1).sum())
        next_two = Fraction(int(((inwards == 1) | (inwards == 2)).sum()), 2)
        if first >= _LEAST_IN_CELL and first >= _TIMES_NEXT * next_two and not outside:
            yield Heap(rows[inwards == 0], len(rows), next_two, text or "0", int(rows[-1]))


def _cells_inward(value: Ints, limit: Fraction, way: int, cell: Fraction) -> np.ndarray:
    """Return how many whole cells inward of a limit each figure lies; exact, in whole numbers of any size."""
    times, by = way * cell.denominator, limit.denominator * cell.numerator
    largest = (_LARGEST * limit.denominator + abs(limit.numerator)) * cell.denominator
    # Python's own whole numbers have no end; they are needed for units with odd ratios only.
    exact = value if max(largest, abs(by)) < _WIDEST else value.astype(object)
    return np.asarray((exact * limit.denominator - limit.numerator) * times // by)
