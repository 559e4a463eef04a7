"""What is found of samples: missed, short, or without a planned characteristic (X39-X41; decision 0036)."""

import math
from collections import defaultdict
from fractions import Fraction

from kiosk.lists import PlantNumbers
from kiosk.pages.readings import SampleEnd
from kiosk.pages.station import Changeover, JobOpen, SetUpEnd, StopBegin, StopEnd
from kiosk.pages.words import SampleKind
from tests.oracle.between import standing_readings
from tests.oracle.night import RUN, Night, Reading
from tests.oracle.times import moment_of

_HALF_HOUR_MS = 30 * 60_000
_FILLING = (SampleKind.RUN, SampleKind.LAST, SampleKind.RE_MEASURE, SampleKind.REFEREE)
Named = set[tuple[str, str]]


def _samples(night: Night, *, by_characteristic: bool) -> list[list[Reading]]:
    """Return the samples settled in the day and by the moment of closing, each with all that fills it."""
    names = ("lot", "operation", "sample", *(("characteristic",) if by_characteristic else ()))
    samples: dict[tuple[object, ...], list[Reading]] = defaultdict(list)
    for reading in standing_readings(night):
        if reading.row["sample_kind"] in _FILLING:
            samples[reading.home, *(reading.row[name] for name in names)].append(reading)
    ends = {
        (act.page.series, end.lot, end.operation, end.sample, end.characteristic) for act, end in night.of(SampleEnd)
    }
    settled = []
    for key, sample in samples.items():
        planned = [reading.ms for reading in sample if reading.row["sample_kind"] in RUN]
        if not planned:
            continue
        ms = max(planned) + (0 if by_characteristic and key in ends else _HALF_HOUR_MS)
        if night.is_today(ms) and ms <= night.at_ms:
            settled.append(sample)
    return settled


def short_samples(night: Night) -> Named:
    """X40: fewer pieces with a counting reading than planned; a blocked one fills no place (3.3.4)."""
    found = set()
    for sample in _samples(night, by_characteristic=True):
        wanted = [r.what.sample_n for r in sample if r.row["sample_kind"] in RUN and r.what is not None]
        pieces = {r.row["piece"] for r in sample if r.standing != "Blocked"}
        if len(pieces) < max(wanted, default=0):
            row = sample[0].row
            found.add(("X40", f"{row['lot']} {row['characteristic']} {sample[0].home} {row['sample']}"))
    return found


def skipped_characteristics(night: Night) -> tuple[Named, Named]:
    """X41: a characteristic planned at the interval of others of the sample has no reading; and what is undecided.

    Nothing says which plan a sample belongs to whose readings stand under two revisions.
    """
    found, undecided = set(), set()
    for sample in _samples(night, by_characteristic=False):
        done = [r.what for r in sample if r.row["sample_kind"] in RUN and r.what is not None]
        row = sample[0].row
        name = ("X41", f"{row['lot']} {row['operation']} {sample[0].home} {row['sample']}")
        if len({(what.part, what.revision) for what in done}) > 1:
            undecided.add(name)
        elif done:
            intervals = {what.interval_min for what in done}
            if any(
                (c.part, c.revision, c.operation) == (done[0].part, done[0].revision, done[0].operation)
                and c.sample_n
                and c.interval_min is not None
                and c.interval_min in intervals
                and c.number not in {what.number for what in done}
                for c in night.lists.characteristics
            ):
                found.add(name)
    return found, undecided


def missed_samples(night: Night) -> Named:
    """X39: more running time between two samples than interval and grace allow (N6)."""
    works: dict[tuple[object, ...], dict[tuple[object, ...], Reading]] = defaultdict(dict)
    for reading in standing_readings(night):
        what, row = reading.what, reading.row
        if what is None or not what.interval_min or not what.sample_n or row["sample_kind"] not in RUN:
            continue
        if reading.ms >= night.end_ms:
            continue
        work = works[row["station"], row["lot"], row["operation"], row["characteristic"]]
        work.setdefault((reading.home, row["sample"]), reading)
    found = set()
    for firsts in works.values():
        begun = list(firsts.values())
        for first, following in zip(begun, [*begun[1:], None], strict=True):
            end = _end_of_work(night, first) if following is None else following.ms
            if end is not None and night.is_today(end) and _missed(night, first, end):
                row = first.row
                found.add(("X39", f"{row['lot']} {row['characteristic']} {first.home} {row['sample']}"))
    return found


def _missed(night: Night, first: Reading, end: int) -> int:
    assert first.what is not None and first.what.interval_min
    running = end - first.ms - _stood_still(night, first, end)
    interval, numbers = Fraction(first.what.interval_min), night.lists.numbers(moment_of(end))
    return max(0, math.ceil((Fraction(running, 60_000) - _grace(interval, numbers)) / interval) - 1)


def _grace(interval: Fraction, numbers: PlantNumbers) -> Fraction:
    share = Fraction(numbers.grace_share).limit_denominator(1000)
    return max(Fraction(numbers.grace_least_min), min(Fraction(numbers.grace_most_min), interval * share))


def _end_of_work(night: Night, first: Reading) -> int | None:
    """Return when a page says that the lot's work at the station ended."""
    row, ends = first.row, []
    for act in night.acts:
        what = act.page.act
        if act.page.station != row["station"] or act.ms <= first.ms:
            continue
        is_other = isinstance(what, JobOpen) and (what.lot, what.operation) != (row["lot"], row["operation"])
        is_gone = isinstance(what, Changeover) and what.from_lot in (None, row["lot"])
        if is_other or is_gone or isinstance(what, SetUpEnd):
            ends.append(act.ms)
    return min(ends, default=None)


def _stood_still(night: Night, first: Reading, end: int) -> int:
    """Return how long of a gap the station stood still or was set to other work, counted once."""
    row = first.row
    spans: list[tuple[int, int]] = []
    stopped: int | None = None
    other: int | None = None
    for act in night.acts:
        what = act.page.act
        if act.page.station != row["station"]:
            continue
        if isinstance(what, StopBegin) and stopped is None:
            stopped = act.ms
        elif isinstance(what, StopEnd) and stopped is not None:
            spans.append((stopped, act.ms))
            stopped = None
        elif isinstance(what, JobOpen):
            if other is not None:
                spans.append((other, act.ms))
            is_ours = (what.lot, what.operation) == (row["lot"], row["operation"])
            other = None if is_ours else act.ms
    if other is not None:
        spans.append((other, night.end_ms))
    if stopped is not None:
        pieces = [
            r.ms
            for r in night.readings
            if r.row["station"] == row["station"] and r.row["sample_kind"] in RUN and r.ms > stopped
        ]
        spans.append((stopped, min([night.end_ms, *pieces])))
    still, reached = 0, first.ms
    for begin, until in sorted(spans):
        begin, until = max(begin, reached), min(until, end)
        if until > begin:
            still, reached = still + until - begin, until
    return still
