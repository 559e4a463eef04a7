"""Rules about samples and counts: missed, short, without a characteristic, not adding up, not enough: X39 to X43.

A blocked reading never fills a place in a sample (3.3.4). Gaps are elapsed time, never the clock on the wall.
"""

import math
from collections import defaultdict
from fractions import Fraction
from typing import Final, NamedTuple

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Coded, Flags, Ints, first_rows, joined_key
from consolidator.frame.day import SAMPLE_WAITS_MS
from consolidator.frame.words import many, say_elapsed, say_time
from consolidator.frame.world import ActAt
from consolidator.production.acceptance import acceptances, is_ended
from consolidator.rules.found import LateRule, Story
from consolidator.rules.kinds import Effect
from kiosk.lists import PlantNumbers
from kiosk.pages.station import Changeover, JobOpen, PieceCount, SetUpEnd, StopBegin, StopEnd
from kiosk.pages.words import SampleKind

_PLANNED: Final = (SampleKind.RUN, SampleKind.LAST)
_FILLING: Final = (SampleKind.RUN, SampleKind.LAST, SampleKind.RE_MEASURE, SampleKind.REFEREE)
_NO_NEXT: Final = 2**61
"""Stands where no sample came after one."""


class _Work(NamedTuple):
    """What is worked: which lot at which station and operation."""

    station: str
    lot: str
    operation: str


def missed_sample(day: Day, standing: Ints) -> list[Story]:
    """X39: more running time between two samples, or after the last one, than interval and grace allow.

    Running time is elapsed time less the stops logged at the station and less the time it was set to other work.
    """
    del standing  # a blocked reading was taken all the same
    rows, until = _gaps(day)
    halts = _Halts(day)
    stories = []
    for row, until_ms in zip(rows.tolist(), until.tolist(), strict=True):
        from_ms, work = int(day.ms[row]), _work_of(day, row)
        end_ms = halts.end_of_work(work, from_ms) if until_ms == _NO_NEXT else until_ms
        if end_ms is None or not day.world.start_ms <= end_ms < day.world.end_ms:
            continue
        running_ms = end_ms - from_ms - halts.between(work, from_ms, end_ms)
        characteristic = day.plans.characteristics[int(day.plans.characteristic_row[row])]
        missed = missed_samples(running_ms, characteristic.interval_min or 0, day.world.numbers.at(end_ms))
        if missed:
            stories.append(_missed_story(day, row, (from_ms, end_ms, running_ms), missed))
    return stories


def missed_samples(running_ms: int, interval_min: int, numbers: PlantNumbers) -> int:
    """Return how many samples a running gap has missed: ceil((R - grace) / interval) - 1, never below none (N6)."""
    interval = Fraction(interval_min)
    # One third stands in the numbers as a decimal; held against whole minutes it must be a third again.
    grace = interval * Fraction(numbers.grace_share).limit_denominator(1000)
    grace = max(Fraction(numbers.grace_least_min), min(Fraction(numbers.grace_most_min), grace))
    return max(0, math.ceil((Fraction(running_ms, 60_000) - grace) / interval) - 1)


def short_sample(day: Day, standing: Ints) -> list[Story]:
    """X40: fewer pieces with a counting reading than the plan's n."""
    rows, sample = _samples(day, with_characteristic=True)
    if not len(rows):
        return []
    planned = np.array([*(c.sample_n for c in day.plans.characteristics), 0], np.int64)[day.plans.characteristic_row]
    pieces = joined_key((sample, day.pages.piece[rows]))
    one_each = first_rows(pieces)
    has_count = np.zeros(int(pieces.max(initial=-1)) + 1, bool)
    np.logical_or.at(has_count, pieces, standing[rows] != Effect.BLOCKED)
    size = int(sample.max()) + 1
    got = np.bincount(sample[one_each], weights=has_count, minlength=size).astype(np.int64)
    wanted = np.zeros(size, np.int64)
    is_planned = day.pages.sample_kind.is_one_of(*_PLANNED)[rows]
    np.maximum.at(wanted, sample, np.where(is_planned, planned[rows], 0))
    members = _members(rows, sample, got < wanted)
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


def pieces_apart(day: Day, standing: Ints) -> list[Story]:
    """X42: pieces in are not good, scrap, test and in hand together, by the day's last count at an operation."""
    del standing  # a count is no reading
    last: dict[tuple[str, str], tuple[ActAt, PieceCount]] = {}
    for act, count in day.world.acts.of(PieceCount):
        if day.world.start_ms <= act.at_ms < day.world.end_ms:
            last[count.lot, count.operation] = (act, count)
    stories = []
    for act, count in last.values():
        told = count.good + count.scrap + count.test + count.in_hand
        if count.pieces_in == told:
            continue
        parts = f"{count.good} good, {count.scrap} scrap, {count.test} test and {count.in_hand} in hand"
        at = say_time(act.at_ms, day.world.zone)
        sentence = f"{count.lot}, operation {count.operation}: {count.pieces_in} in, {parts} are {told}, counted {at}."
        stories.append(
            Story(
                "X42", count.lot, sentence, act.at_ms, lots=(count.lot,), stations=(act.page.station,),
                pages=(act.ref,), holds=(count.lot,), pieces=abs(count.pieces_in - told),
            )
        )  # fmt: skip
    return stories


def not_enough(day: Day, standing: Ints) -> list[Story]:
    """X43: counting final readings of a lot fewer than the plan accepts it on, or more rejects than it allows."""
    stories = []
    for each in acceptances(day, standing == Effect.BLOCKED):
        if each.is_enough:
            continue
        counted = f"{many(each.counting, 'counting piece')}, {each.planned} planned"
        rejects = f"{many(each.rejects, 'reject')}, {each.allowed} allowed"
        sentence = f"{each.lot}, {each.characteristic}, lot acceptance: {counted}; {rejects}."
        rows = list(each.rows)
        stories.append(_story(day, "X43", f"{each.lot} {each.characteristic}", sentence, rows))
    return stories


def _samples(day: Day, *, with_characteristic: bool) -> tuple[Ints, Ints]:
    """Return the rows of samples that are settled in the day, and which sample each belongs to.

    A sample is settled with its last planned reading where its end was kept as a page, else half an hour after it;
    what is measured of it later changes nothing in that. Before it is settled nothing is missing yet.
    """
    fills = day.pages.sample_kind.is_one_of(*_FILLING) & (day.replaced_by < 0)
    # What a reading is worth is known of the day and its samples only; that there is one is known of all at hand.
    rows = np.flatnonzero(fills & day.is_judged if with_characteristic else fills)
    pages = day.pages
    columns = [*(_from_zero(column, rows) for column in (day.home, pages.lot, pages.operation)), pages.sample[rows]]
    if with_characteristic:
        columns.append(_from_zero(pages.characteristic, rows))
    if not len(rows):
        return rows, rows
    sample = joined_key(columns)
    settled = np.full(int(sample.max()) + 1, -(2**61), np.int64)
    is_planned = pages.sample_kind.is_one_of(*_PLANNED)[rows]
    np.maximum.at(settled, sample[is_planned], day.ms[rows[is_planned]])
    waits = np.full(len(settled), SAMPLE_WAITS_MS, np.int64)
    if with_characteristic:
        first = first_rows(sample)
        waits[is_ended(day, rows[first])] = 0
    settled = settled + waits
    is_here = (settled >= day.world.start_ms) & (settled < day.world.end_ms) & (settled <= day.world.at_ms)
    keep = is_here[sample]
    return rows[keep], sample[keep]


def _gaps(day: Day) -> tuple[Ints, Ints]:
    """Return the first reading of each sample after which a gap is long enough to look at, and when the next began."""
    pages, characteristics = day.pages, day.plans.characteristics
    interval = np.array([*((c.interval_min or 0) if c.sample_n else 0 for c in characteristics), 0], np.int64) * 60_000
    is_sampled = (interval[day.plans.characteristic_row] > 0) & pages.sample_kind.is_one_of(*_PLANNED)
    rows = np.flatnonzero(is_sampled & (day.replaced_by < 0) & (day.ms < day.world.end_ms))
    if not len(rows):
        return rows, rows
    rows = rows[np.argsort(day.ms[rows], kind="stable")]
    work = joined_key([_from_zero(c, rows) for c in (pages.station, pages.lot, pages.operation, pages.characteristic)])
    first = first_rows(joined_key((work, _from_zero(day.home, rows), pages.sample[rows])))
    order = np.lexsort((day.ms[rows[first]], work[first]))
    rows, work = rows[first][order], work[first][order]
    until = np.full(len(rows), _NO_NEXT, np.int64)
    until[:-1] = np.where(work[1:] == work[:-1], day.ms[rows[1:]], _NO_NEXT)
    is_long = until - day.ms[rows] > interval[day.plans.characteristic_row[rows]]
    return rows[is_long], until[is_long]


class _Halts:
    """When each station stood still or was set to other work."""

    def __init__(self, day: Day) -> None:
        self._end_ms = day.world.end_ms
        self._stops: dict[str, list[tuple[int, int]]] = defaultdict(list)
        self._jobs: dict[str, list[tuple[int, str, str]]] = defaultdict(list)
        self._ends: dict[str, list[tuple[int, str]]] = defaultdict(list)
        begun: dict[str, int] = {}
        for act in day.world.acts.all:
            match act.page.act:
                case StopBegin():
                    begun.setdefault(act.page.station, act.at_ms)
                case StopEnd() if act.page.station in begun:
                    self._stops[act.page.station].append((begun.pop(act.page.station), act.at_ms))
                case JobOpen(lot=lot, operation=operation):
                    self._jobs[act.page.station].append((act.at_ms, lot, operation))
                case SetUpEnd():
                    self._ends[act.page.station].append((act.at_ms, ""))
                case Changeover(from_lot=lot):
                    self._ends[act.page.station].append((act.at_ms, lot or ""))
        runs = day.pages.sample_kind.is_one_of(*_PLANNED)
        for station, ms in begun.items():
            # Nobody said that it runs again: the next piece measured there says so.
            here = day.ms[runs & day.pages.station.is_one_of(station)]
            self._stops[station].append((ms, int(here[here > ms].min(initial=self._end_ms))))

    def end_of_work(self, work: _Work, from_ms: int) -> int | None:
        """Return when a lot's work at a station ended after a moment, as far as a page says so."""
        other = [
            ms for ms, lot, operation in self._jobs[work.station] if (lot, operation) != (work.lot, work.operation)
        ]
        ended = [ms for ms, lot in self._ends[work.station] if lot in ("", work.lot)]
        return min((ms for ms in (*other, *ended) if ms > from_ms), default=None)

    def between(self, work: _Work, from_ms: int, until_ms: int) -> int:
        """Return how long of a span the station stood still or was set to other work, counted once."""
        spans = list(self._stops[work.station])
        jobs = self._jobs[work.station]
        for at, (ms, lot, operation) in enumerate(jobs):
            if (lot, operation) != (work.lot, work.operation):
                spans.append((ms, jobs[at + 1][0] if at + 1 < len(jobs) else self._end_ms))
        still, reached = 0, from_ms
        for begin, end in sorted(spans):
            begin, end = max(begin, reached), min(end, until_ms)
            if end > begin:
                still, reached = still + end - begin, end
        return still


def _work_of(day: Day, row: int) -> _Work:
    return _Work(day.pages.station.at(row), day.pages.lot.at(row), day.pages.operation.at(row))


def _missed_story(day: Day, row: int, gap: tuple[int, int, int], missed: int) -> Story:
    pages, zone = day.pages, day.world.zone
    from_ms, until_ms, running_ms = gap
    lot, station, characteristic = pages.lot.at(row), pages.station.at(row), pages.characteristic.at(row)
    interval = day.plans.characteristics[int(day.plans.characteristic_row[row])].interval_min
    still = f" less {say_elapsed(until_ms - from_ms - running_ms)} of stops" if until_ms - from_ms > running_ms else ""
    between = f"{say_time(from_ms, zone)} and {say_time(until_ms, zone)}"
    gap_words = (
        f"{say_elapsed(until_ms - from_ms)}{still} is {say_elapsed(running_ms)} of running, every {interval} min"
    )
    missed_words = f"{lot}, {characteristic} at {station}: {many(missed, 'sample')} missed between {between}"
    sentence = f"{missed_words}; {gap_words}."
    cause = f"{lot} {characteristic} {day.home.at(row)} {int(pages.sample[row])}"
    return Story("X39", cause, sentence, from_ms, lots=(lot,), stations=(station,), holds=(lot,))


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
    where = f"{pages.lot.at(first)}, {name} at {pages.station.at(first)}"
    sentence = f"{where}: {many(got, 'counting piece')}, {wanted} planned."
    cause = f"{pages.lot.at(first)} {pages.characteristic.at(first)} {day.home.at(first)} {int(pages.sample[first])}"
    return _story(day, "X40", cause, sentence, rows)


def _skipped_story(day: Day, rows: list[int], missing: list[str]) -> Story:
    pages, first = day.pages, rows[0]
    done = sorted({pages.characteristic.at(row) for row in rows})
    where = f"{pages.lot.at(first)}, operation {pages.operation.at(first)}, sample {int(pages.sample[first])}"
    sentence = f"{where}: no reading of {', '.join(missing)}; {', '.join(done)} measured."
    cause = f"{pages.lot.at(first)} {pages.operation.at(first)} {day.home.at(first)} {int(pages.sample[first])}"
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


LATE_RULES: Final = (
    LateRule("X39", missed_sample),
    LateRule("X40", short_sample),
    LateRule("X41", skipped_characteristic),
    LateRule("X42", pieces_apart),
    LateRule("X43", not_enough),
)
