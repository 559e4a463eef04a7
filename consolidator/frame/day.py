"""One night made ready to be judged: every reading with its effective time, what stood then, its figure and verdict.

Owns putting the parts of the frame together, and which pages belong to the production day.
Knows no exception kinds.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np

from consolidator.frame.coded import Coded, Flags, Ints, coded_texts, joined_key
from consolidator.frame.effective import ClockSets, Effective, PageTimes, contacts_of, effective_times
from consolidator.frame.gauges import GaugeHistory
from consolidator.frame.lots import LotHistory, Training
from consolidator.frame.pages import NO_TIME, Pages, pages_of
from consolidator.frame.plans import Plans, plans_of
from consolidator.frame.values import Values, values_of
from consolidator.frame.verdicts import OUT, REJECT, Verdicts, verdict_of_text, verdicts_of
from consolidator.frame.world import Acts, NumberSteps, World, ms_of, text_ms, timed
from consolidator.intake.held import Held, HeldPage
from kiosk.lists import Gauge, Lists
from kiosk.pages.desk import Seal
from kiosk.pages.readings import Correction, SampleEnd
from kiosk.pages.station import ClockSet
from kiosk.pages.words import SampleKind, Source
from kiosk.times import day_bounds_utc

SAMPLE_WAITS_MS = 30 * 60_000
"""A sample that nobody ended waits this long for further pieces before it is judged."""
_NUMBER_BITS = 34
"""A page number is below 10 to the 10."""


@dataclass(frozen=True)
class Day:
    """A night to be judged; arrays hold one row for each reading page, in the order series, number, fingerprint."""

    world: World
    pages: Pages
    times: Effective
    plans: Plans
    gauges: GaugeHistory
    gauge_row: Ints
    """Row of the register in force; -1 where the gauge is not in it or none was named."""
    lots: LotHistory
    values: Values
    verdicts: Verdicts
    replaced_by: Ints
    """Row of the page that takes this one's place inside its sample; -1 where it stands."""
    replaces: Ints
    """Row of the page whose place this one takes; -1 where it takes none."""
    home: Coded
    """The book whose sample a reading belongs to: that of the page it measures again, else its own.

    Each kiosk counts samples by itself, so a sample's number means nothing without its book.
    """
    is_in_day: Flags
    """A reading of the production day that stands; the others are neighbours that rules may need."""
    is_judged: Flags
    """A reading of the day, or one of its neighbours that is of the same sample as readings near the day."""
    is_conflict: Flags
    """Another page bears the same number."""
    is_altered: Flags
    late: Ints
    """Number of the supplement the page belongs to; 0 for the day's own book."""
    corrected: Mapping[int, str] = field(default_factory=dict)
    """Row of a reading that a correction made good, with the pages that bear it, joined with `;`."""

    @property
    def ms(self) -> Ints:
        """Effective times, UTC milliseconds."""
        return self.times.ms

    def with_correction(self, row: int, text: str, pages: str) -> "Day":
        """Return the night with one reading judged as if `text` had been keyed, borne out by `pages`."""
        verdict = verdict_of_text(self.pages, self.plans, self.values, row, text)
        return replace(
            self,
            values=self.values.with_text(row, text),
            verdicts=self.verdicts.with_verdict(row, verdict),
            corrected={**self.corrected, row: pages},
        )

    def gauge_at(self, row: int) -> Gauge | None:
        """Return the register row of a reading's gauge."""
        place = int(self.gauge_row[row])
        return self.gauges.rows[place] if place >= 0 else None


def make_day(
    held: Held, lists: Lists, *, day: date, at_utc: datetime, carried_holds: frozenset[str] = frozenset()
) -> Day:
    """Return the night of production day `day`, known at `at_utc`, ready for the rules."""
    zone = ZoneInfo(lists.zone)
    pages = pages_of(held.readings)
    numbers = NumberSteps.of(lists)
    times, act_times = _times(pages, held, numbers, at_ms=ms_of(at_utc))
    start, end = (ms_of(moment) for moment in day_bounds_utc(day, zone))
    every = timed(held.acts, act_times)
    training = Training.of(lists, pages, [act.page for act in every])
    is_training = training.of_readings(pages)
    told = [(act, training.has(act.page)) for act in every]
    acts = Acts(act for act, is_apart in told if not is_apart)
    left_out = [*times.ms[is_training].tolist(), *(act.at_ms for act, is_apart in told if is_apart)]
    world = World(
        held, lists, zone, day, start, end, ms_of(at_utc), numbers, acts, carried_holds,
        training_pages=sum(start <= at_ms < end for at_ms in left_out),
    )  # fmt: skip
    if is_training.any():
        rows = np.flatnonzero(~is_training)
        pages, times = pages.taken(rows), times.taken(rows)
    plans = plans_of(pages, times.ms, lists)
    gauges = GaugeHistory(pages.gauge, world)
    gauge_row = gauges.row_steps.at(pages.gauge.codes, times.ms)
    values = values_of(pages, plans, (gauges.rows, gauge_row), ms=times.ms, lists=lists)
    verdicts = verdicts_of(pages, plans, values, ms=times.ms, numbers=numbers)
    values, verdicts = _with_bad_corrections(pages, plans, values, verdicts, world)
    is_conflict = _is_conflict(pages, held)
    replaces = _replaces(pages, world, is_conflict)
    replaced_by = np.full(len(pages), -1, np.int64)
    replaced_by[replaces[replaces >= 0]] = np.flatnonzero(replaces >= 0)
    is_in_day = (times.ms >= start) & (times.ms < end) & (replaced_by < 0)
    is_near = (times.ms >= start - SAMPLE_WAITS_MS) & (times.ms < end)
    home = _home(pages)
    return Day(
        world=world,
        pages=pages,
        times=times,
        plans=plans,
        gauges=gauges,
        gauge_row=gauge_row,
        lots=LotHistory(pages.lot, world),
        values=values,
        verdicts=verdicts,
        replaced_by=replaced_by,
        replaces=replaces,
        home=home,
        is_in_day=is_in_day,
        is_judged=_with_sample_mates(pages, home, is_in_day, is_near),
        is_conflict=is_conflict,
        is_altered=_is_altered(pages, held),
        late=late_numbers(pages.received_at_ms, world),
    )


def _home(pages: Pages) -> Coded:
    """Return the book whose sample each reading belongs to."""
    again = pages.re_measure_of.spread(lambda ref: pages.series.code_of(ref.rpartition("/")[0]), -1)
    return Coded(np.where(again >= 0, again, pages.series.codes).astype(np.int32), pages.series.labels)


def _with_sample_mates(pages: Pages, home: Coded, is_in_day: Flags, is_near: Flags) -> Flags:
    """Return the readings of the day, and those elsewhere of one sample with readings near it, or that measure again.

    A sample may begin before the day or be topped up after it; what each of its readings is worth must be known.
    So it is with what a lot is accepted on, which may take several samples.
    """
    if bool(is_in_day.all()):
        return is_in_day
    columns = (home, pages.lot, pages.operation, pages.characteristic)
    sample = joined_key([*(column.codes.astype(np.int64) + 1 for column in columns), pages.sample])
    is_met = np.zeros(int(sample.max(initial=-1)) + 1, bool)
    is_met[sample[is_near]] = True
    again = pages.re_measure_of.spread(lambda ref: int(is_in_day[rows_of_page(pages, ref)].any()), 0)
    return np.asarray(is_in_day | is_met[sample] | (again > 0) | _accepting_beside(pages, is_near))


def _accepting_beside(pages: Pages, is_near: Flags) -> Flags:
    """Tell which readings accept a lot by a characteristic that others near the day may accept it by too.

    Run and last pieces may, where the plan calls their operation final.
    """
    accepts = pages.sample_kind.is_one_of(SampleKind.ACCEPTANCE, SampleKind.TEST)
    may_accept = accepts | pages.sample_kind.is_one_of(SampleKind.RUN, SampleKind.LAST)
    if not accepts.any():
        return np.zeros(len(pages), bool)
    group = joined_key([column.codes.astype(np.int64) + 1 for column in (pages.lot, pages.characteristic)])
    is_met = np.zeros(int(group.max(initial=-1)) + 1, bool)
    is_met[group[may_accept & is_near]] = True
    return np.asarray(accepts & is_met[group])


def _with_bad_corrections(
    pages: Pages, plans: Plans, values: Values, verdicts: Verdicts, world: World
) -> tuple[Values, Verdicts]:
    """Return figures and verdicts with corrections that turn a reading bad; these work at once (3.5).

    A correction the other way changes nothing here: it needs two signatures and a re-measure.
    """
    corrections = [c for act, c in world.acts.of(Correction) if c.field == "value" and act.signer is not None]
    for correction in corrections:
        for row in rows_of_page(pages, correction.of):
            new = verdict_of_text(pages, plans, values, row, correction.new)
            if new in (OUT, REJECT) and not verdicts.is_bad[row]:
                values = values.with_text(row, correction.new)
                verdicts = verdicts.with_verdict(row, new)
    return values, verdicts


def rows_of_page(pages: Pages, ref: str) -> list[int]:
    """Return the rows of the page named; two where two pages bear one number."""
    series, _, number = ref.rpartition("/")
    # Rows stand in page order, so that one page is found without looking at the others.
    start, end = np.searchsorted(pages.series.codes, [code := pages.series.code_of(series), code + 1])
    first, last = np.searchsorted(pages.number[start:end], [int(number), int(number) + 1])
    return list(range(int(start + first), int(start + last)))


def late_numbers(received_ms: Ints, world: World) -> Ints:
    """Return for each arrival how many books of the day (its own, then supplements) were sealed before it."""
    sealed = sorted(act.at_ms for act, seal in world.acts.of(Seal) if seal.day == world.day)
    return np.searchsorted(np.array(sealed, np.int64), received_ms, side="left").astype(np.int64)


def _times(
    pages: Pages, held: Held, numbers: NumberSteps, *, at_ms: int
) -> tuple[Effective, dict[int, tuple[int, int, int, bool]]]:
    """Return the effective times of readings and acts; both stand in one page order of their book."""
    acts, count = held.acts, len(pages)
    series = coded_texts([*pages.series.labels, *(act.page.series for act in acts)])
    known = np.array([*series.codes[: len(pages.series.labels)], -1], np.int32)
    codes = np.concatenate((known[pages.series.codes], series.codes[len(pages.series.labels) :]))
    number = _joined(pages.number, [act.page.number for act in acts])
    order = np.lexsort((number, codes))
    is_paper = pages.source.is_one_of(Source.PAPER) & (pages.paper_taken_at_ms != NO_TIME)
    kiosk_ms = _joined(pages.kiosk_time_ms, [text_ms(act.page.kiosk_time) for act in acts])
    told = PageTimes(
        type(series)(codes.astype(np.int32)[order], series.labels),
        number[order],
        _joined(pages.session, [act.page.session for act in acts])[order],
        _joined(pages.running_ms, [act.page.running_ms for act in acts])[order],
        kiosk_ms[order],
        _joined(pages.received_at_ms, [ms_of(act.received_at) for act in acts])[order],
        _joined(np.where(is_paper, pages.paper_taken_at_ms, NO_TIME), [NO_TIME] * len(acts))[order],
    )
    agreement = numbers.per_row("clock_agreement_s", told.kiosk_ms, times=1000)
    found = effective_times(told, contacts_of(held.contacts, at_ms=at_ms), _clock_sets(acts), agreement_ms=agreement)
    back = np.empty(len(order), np.int64)
    back[order] = np.arange(len(order))
    found = found.taken(back)
    rest = range(count, len(order))
    return found.taken(np.arange(count)), {
        at - count: (int(found.ms[at]), int(found.low_ms[at]), int(found.high_ms[at]), bool(found.is_off[at]))
        for at in rest
    }


def _joined(first: Ints, second: list[int]) -> Ints:
    return np.concatenate((first, np.array(second, np.int64)))


def _clock_sets(acts: tuple[HeldPage, ...]) -> ClockSets:
    pages = [(held.page, held.page.act) for held in acts if isinstance(held.page.act, ClockSet)]
    shifts = [text_ms(act.after) - text_ms(act.before) for _, act in pages if isinstance(act, ClockSet)]
    return ClockSets(
        tuple(page.series for page, _ in pages),
        np.array([page.session for page, _ in pages], np.int64),
        np.array([page.running_ms for page, _ in pages], np.int64),
        np.array(shifts, np.int64),
    )


def _is_conflict(pages: Pages, held: Held) -> Flags:
    """Tell which readings share their number with another page, a reading or not, as far as is known."""
    same = np.zeros(len(pages), bool)
    twice = (pages.series.codes[1:] == pages.series.codes[:-1]) & (pages.number[1:] == pages.number[:-1])
    same[1:] |= twice
    same[:-1] |= twice
    for conflict in held.conflicts:
        same[rows_of_page(pages, f"{conflict.series}/{conflict.number}")] = True
    return same


def _is_altered(pages: Pages, held: Held) -> Flags:
    """Tell which readings are pages that do not fit; by fingerprint where it is known."""
    altered = np.zeros(len(pages), bool)
    for found in held.altered:
        rows = rows_of_page(pages, f"{found.series}/{found.number}")
        same = [row for row in rows if pages.fingerprint[row].as_py() == found.fingerprint]
        altered[same or rows] = True
    return altered


def _replaces(pages: Pages, world: World, is_conflict: Flags) -> Ints:
    """Return the row whose place each reading takes inside its unfinished sample; -1 where it takes none."""
    found = np.full(len(pages), -1, np.int64)
    rows = np.flatnonzero((pages.replaces > 0) & (pages.replaces < pages.number) & ~is_conflict)
    if not len(rows):
        return found
    keys = (pages.series.codes.astype(np.int64) << _NUMBER_BITS) + pages.number
    wanted = (pages.series.codes[rows].astype(np.int64) << _NUMBER_BITS) + pages.replaces[rows]
    order = np.argsort(keys, kind="stable")
    at = np.minimum(np.searchsorted(keys[order], wanted), len(keys) - 1)
    old = order[at]
    is_there = (keys[old] == wanted) & ~is_conflict[old]
    for column in (pages.lot, pages.operation, pages.characteristic, pages.position):
        is_there &= column.codes[rows] == column.codes[old]
    for number in (pages.sample, pages.piece):
        is_there &= number[rows] == number[old]
    ends = _sample_ends(world)
    for row, earlier in zip(rows[is_there].tolist(), old[is_there].tolist(), strict=True):
        where = (pages.series.at(row), pages.lot.at(row), pages.operation.at(row), pages.characteristic.at(row))
        ended = ends.get((*where, int(pages.sample[row])), [])
        if not any(int(pages.number[earlier]) < end < int(pages.number[row]) for end in ended):
            found[row] = earlier
    return found


def _sample_ends(world: World) -> dict[tuple[str, str, str, str, int], list[int]]:
    ends: dict[tuple[str, str, str, str, int], list[int]] = {}
    for act, end in world.acts.of(SampleEnd):
        key = (act.page.series, end.lot, end.operation, end.characteristic, end.sample)
        ends.setdefault(key, []).append(act.page.number)
    return ends
