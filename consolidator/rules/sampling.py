"""Rules about samples that need to know which readings count: X40, X41.

A blocked reading never fills a place in a sample (3.3.4).
"""

from collections import defaultdict
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Coded, Flags, Ints, first_rows, joined_key
from consolidator.frame.words import many
from consolidator.rules.found import LateRule, Story
from consolidator.rules.kinds import Effect
from kiosk.pages.words import SampleKind

_PLANNED: Final = (SampleKind.RUN, SampleKind.LAST)
_FILLING: Final = (SampleKind.RUN, SampleKind.LAST, SampleKind.RE_MEASURE, SampleKind.REFEREE)
_WAITS_MS: Final = 30 * 60_000
"""An unfinished sample waits this long before it is short."""


def short_sample(day: Day, standing: Ints) -> list[Story]:
    """X40: fewer pieces with a counting reading than the plan's n."""
    rows, sample = _samples(day, with_characteristic=True)
    if not len(rows):
        return []
    planned = np.array([*(c.sample_n for c in day.plans.characteristics), 0], np.int64)[day.plans.characteristic_row]
    counts = (standing[rows] >= 0) & (standing[rows] != Effect.BLOCKED)
    pieces = joined_key((sample, day.pages.piece[rows]))
    one_each = first_rows(pieces)
    has_count = np.zeros(int(pieces.max(initial=-1)) + 1, bool)
    np.logical_or.at(has_count, pieces, counts)
    size = int(sample.max()) + 1
    got = np.bincount(sample[one_each], weights=has_count, minlength=size).astype(np.int64)
    wanted, last = np.zeros(size, np.int64), np.full(size, -(2**61), np.int64)
    is_planned = day.pages.sample_kind.is_one_of(*_PLANNED)[rows]
    np.maximum.at(wanted, sample, np.where(is_planned, planned[rows], 0))
    np.maximum.at(last, sample, day.ms[rows])
    is_short = (got < wanted) & (last < day.world.at_ms - _WAITS_MS)
    members = _members(rows, sample, is_short)
    return [_short_story(day, group, int(got[s]), int(wanted[s])) for s, group in members.items()]


def skipped_characteristic(day: Day, standing: Ints) -> list[Story]:
    """X41: a planned characteristic of the operation has no reading in a sample that others of its interval have."""
    rows, sample = _samples(day, with_characteristic=False)
    is_planned = day.pages.sample_kind.is_one_of(*_PLANNED)[rows] & (day.plans.characteristic_row[rows] >= 0)
    rows, sample = rows[is_planned], sample[is_planned]
    if not len(rows):
        return []
    wanted = _wanted(day)
    keep = ~_is_complete(day, rows, sample, wanted)[sample]
    rows, sample = rows[keep], sample[keep]
    if not len(rows):
        return []
    pairs = joined_key((sample, day.plans.characteristic_row[rows]))
    first = first_rows(pairs)
    measured: dict[int, set[int]] = defaultdict(set)
    for row, at in zip(rows[first].tolist(), sample[first].tolist(), strict=True):
        measured[at].add(int(day.plans.characteristic_row[row]))
    skipped = {at: missing for at, done in measured.items() if (missing := _missing(day, done, wanted))}
    is_skipped = np.isin(np.arange(int(sample.max()) + 1), list(skipped))
    members = _members(rows, sample, is_skipped)
    return [_skipped_story(day, group, skipped[s]) for s, group in members.items()]


def _samples(day: Day, *, with_characteristic: bool) -> tuple[Ints, Ints]:
    """Return the rows of the day that fill samples, and which sample each belongs to."""
    rows = np.flatnonzero(day.pages.sample_kind.is_one_of(*_FILLING) & (day.replaced_by < 0))
    pages = day.pages
    columns = [_from_zero(pages.lot, rows), _from_zero(pages.operation, rows), pages.sample[rows]]
    if with_characteristic:
        columns.append(_from_zero(pages.characteristic, rows))
    if not len(rows):
        return rows, rows
    sample = joined_key(columns)
    last = np.full(int(sample.max()) + 1, -(2**61), np.int64)
    np.maximum.at(last, sample, day.ms[rows])
    ends_today = (last >= day.world.start_ms) & (last < day.world.end_ms)
    keep = ends_today[sample]
    return rows[keep], sample[keep]


def _from_zero(column: Coded, rows: Ints) -> Ints:
    return column.codes[rows].astype(np.int64) + 1


def _members(rows: Ints, sample: Ints, chosen: Flags) -> dict[int, list[int]]:
    members: dict[int, list[int]] = defaultdict(list)
    keep = chosen[sample]
    for row, at in zip(rows[keep].tolist(), sample[keep].tolist(), strict=True):
        members[at].append(row)
    return members


def _short_story(day: Day, rows: list[int], got: int, wanted: int) -> Story:
    pages, first = day.pages, rows[0]
    name = f"sample {int(pages.sample[first])} of {pages.characteristic.at(first)}"
    sentence = f"{pages.lot.at(first)}, {name}: {many(got, 'counting piece')}, {wanted} planned."
    cause = f"{pages.lot.at(first)} {pages.characteristic.at(first)} {int(pages.sample[first])}"
    return _story(day, "X40", cause, sentence, rows)


def _skipped_story(day: Day, rows: list[int], missing: list[str]) -> Story:
    pages, first = day.pages, rows[0]
    done = sorted({pages.characteristic.at(row) for row in rows})
    where = f"{pages.lot.at(first)}, operation {pages.operation.at(first)}, sample {int(pages.sample[first])}"
    sentence = f"{where}: no reading of {', '.join(missing)}; {', '.join(done)} measured."
    cause = f"{pages.lot.at(first)} {pages.operation.at(first)} {int(pages.sample[first])}"
    return _story(day, "X41", cause, sentence, rows, holds=(pages.lot.at(first),))


def _story(day: Day, number: str, cause: str, sentence: str, rows: list[int], holds: tuple[str, ...] = ()) -> Story:
    return Story(
        number,
        cause,
        sentence,
        int(day.ms[rows].min()),
        lots=(day.pages.lot.at(rows[0]),),
        stations=tuple(sorted({day.pages.station.at(row) for row in rows})),
        rows=tuple(rows),
        holds=holds,
    )


def _wanted(day: Day) -> dict[tuple[str, str, str], list[int]]:
    """Return the sampled characteristics of each part, revision and operation, by their place."""
    wanted: dict[tuple[str, str, str], list[int]] = defaultdict(list)
    for place, c in enumerate(day.plans.characteristics):
        if c.sample_n and c.interval_min is not None:
            wanted[c.part, c.revision, c.operation].append(place)
    return wanted


def _is_complete(day: Day, rows: Ints, sample: Ints, wanted: dict[tuple[str, str, str], list[int]]) -> Flags:
    """Tell for each sample whether as many characteristics were measured as are planned at one interval."""
    group = np.zeros(len(day.plans.characteristics) + 1, np.int64)
    planned = [1]
    for places in wanted.values():
        for interval in {day.plans.characteristics[place].interval_min for place in places}:
            mine = [place for place in places if day.plans.characteristics[place].interval_min == interval]
            group[mine] = len(planned)
            planned.append(len({day.plans.characteristics[place].number for place in mine}))
    of_row = group[day.plans.characteristic_row[rows]]
    each = joined_key((sample, of_row, _from_zero(day.pages.characteristic, rows)))
    first = first_rows(each)
    in_group = joined_key((sample, of_row))
    done = np.bincount(in_group[first])
    is_short = done[in_group] < np.array(planned, np.int64)[of_row]
    complete = np.ones(int(sample.max()) + 1, bool)
    complete[sample[is_short]] = False
    return complete


def _missing(day: Day, done: set[int], wanted: dict[tuple[str, str, str], list[int]]) -> list[str]:
    characteristics = day.plans.characteristics
    some = characteristics[min(done)]
    intervals = {characteristics[place].interval_min for place in done}
    names = {characteristics[place].number for place in done}
    planned = wanted.get((some.part, some.revision, some.operation), [])
    return sorted(
        {
            characteristics[place].number
            for place in planned
            if characteristics[place].number not in names and characteristics[place].interval_min in intervals
        }
    )


LATE_RULES: Final = (LateRule("X40", short_sample), LateRule("X41", skipped_characteristic))
