"""Zero and day checks: which were good, which failed, and what each reading had before it.

A kiosk knows the checks of its own book only; here every check of every kiosk counts, whenever it came in.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from consolidator.frame import Day
from consolidator.frame.asof import Steps
from consolidator.frame.coded import Coded, Flags, Ints, coded_texts, first_rows, joined_key
from consolidator.frame.gauges import allowed_error, is_good_check
from consolidator.frame.words import say_date, say_elapsed, say_time
from consolidator.frame.world import ActAt, World, moment_of
from consolidator.upkeep.order import (
    comes_after,
    perhaps_after,
    production_day_number,
    shift_number,
    shifts_of,
    surely_after,
)
from kiosk.lists.words import GaugeKind
from kiosk.pages.readings import Check
from kiosk.pages.words import CheckKind
from kiosk.times import production_day

_MINUTE_MS = 60_000
_ORDINALS = ("1st", "2nd", "3rd")


@dataclass(frozen=True)
class Matched:
    """The readings that match, and how it is said of one of them."""

    mask: Flags
    tell: Callable[[int], str]


@dataclass(frozen=True)
class CheckAt:
    """One check as known now, of a gauge that readings of the night name."""

    act: ActAt
    check: Check
    code: int
    """The gauge's place among the labels of the night's readings."""
    is_good: bool
    allowed: str
    """The largest error that was good, in the unit of the check."""

    @property
    def words(self) -> str:
        """How far off it was, in words."""
        return f"off by {self.check.error} {self.check.unit}, {self.allowed} {self.check.unit} allowed"


def checks_of(day: Day) -> list[CheckAt]:
    """Return every check of the gauges that the night's readings name, in order of effective time."""
    return judged_checks(day.world, day.pages.gauge.code_of)


def judged_checks(world: World, code_of: Callable[[str], int]) -> list[CheckAt]:
    """Return the checks, judged again, of all gauges that have a code; in order of effective time."""
    found = []
    for act, check in world.acts.of(Check):
        code = code_of(check.gauge)
        if code >= 0:
            allowed = format(allowed_error(world, act, check), "f")
            found.append(CheckAt(act, check, code, is_good_check(world, act, check), allowed))
    return found


def last_before(day: Day, rows: Ints, checks: Sequence[CheckAt]) -> Ints:
    """Return for each reading the place of the last check of its gauge that surely came before it; -1 for none."""
    codes = day.pages.gauge.codes[rows]
    # Checks whose time is in doubt come below, each by itself: the last is the last by effective time.
    exact = [each.act.low_ms == each.act.high_ms for each in checks]
    codes_of = [each.code if is_exact else -1 for each, is_exact in zip(checks, exact, strict=True)]
    steps = Steps.of(codes_of, [each.act.high_ms for each in checks])
    place = steps.at(codes, day.ms[rows])
    in_doubt = day.times.is_in_doubt[rows]
    place[in_doubt] = -1
    doubtful = np.flatnonzero(in_doubt)
    used = set(np.unique(codes[doubtful]).tolist())
    for at, each in enumerate(checks):
        if each.code in used:
            mine = doubtful[codes[doubtful] == each.code]
            mine = mine[surely_after(day, rows[mine], each.act)]
            place[mine] = np.maximum(place[mine], at)
        if each.act.low_ms != each.act.high_ms:
            mine = np.flatnonzero((codes == each.code) & ~in_doubt)
            mine = mine[surely_after(day, rows[mine], each.act)]
            place[mine] = np.maximum(place[mine], at)
    return place


def rows_with(day: Day, is_meant: Callable[[GaugeKind], bool]) -> Ints:
    """Return the readings to be judged that were taken with gauges of some kinds."""
    meant = np.array([*(is_meant(gauge.kind) for gauge in day.gauges.rows), False], bool)
    return np.flatnonzero(meant[day.gauge_row] & day.is_judged)


def zero_check_missing(day: Day) -> Matched:
    """A comparator without a zero check by who measured, in that shift, at that station, before the reading."""
    rows = rows_with(day, lambda kind: kind.is_comparator)
    who, shift = _who(day, rows), shifts_of(day, day.ms[rows])
    by_place: dict[tuple[int, str, str, int], list[CheckAt]] = {}
    for each in checks_of(day):
        if each.check.check_kind is CheckKind.ZERO and each.act.page.person is not None:
            told = (each.code, each.act.page.station, each.act.page.person, shift_number(day, each.act.at_ms))
            by_place.setdefault(told, []).append(each)
    gauge, station = day.pages.gauge.codes, day.pages.station
    columns = (gauge[rows].astype(np.int64), station.codes[rows].astype(np.int64) + 1, who.codes.astype(np.int64) + 1)
    key = joined_key([*columns, shift - int(shift.min(initial=0))])

    def checks(at: int) -> Iterable[CheckAt]:
        row = int(rows[at])
        return by_place.get((int(gauge[row]), station.at(row), who.at(at), int(shift[at])), ())

    def tell(row: int) -> str:
        number = shift_number(day, int(day.ms[row])) % 3
        read = say_time(int(day.ms[row]), day.world.zone)
        return (
            f"{day.pages.gauge.at(row)} had no zero check by who measured at {station.at(row)} in the "
            f"{_ORDINALS[number]} shift, read {read}."
        )

    return Matched(_without(day, rows, key, checks), tell)


def zero_check_late(day: Day) -> Matched:
    """A comparator whose last good zero check, at whatever station, was longer ago than N7 allows."""
    rows = rows_with(day, lambda kind: kind.is_comparator)
    good = [each for each in checks_of(day) if each.is_good and each.check.check_kind is CheckKind.ZERO]
    place = last_before(day, rows, good)
    at_ms = np.array([*(each.act.at_ms for each in good), 0], np.int64)[place]
    limit = day.world.numbers.per_row("zero_check_late_min", day.ms[rows], times=_MINUTE_MS)
    late = (place >= 0) & (day.ms[rows] - at_ms > limit)
    mask, since = np.zeros(len(day.pages), bool), np.zeros(len(day.pages), np.int64)
    mask[rows], since[rows] = late, at_ms

    def tell(row: int) -> str:
        checked, read = (say_time(int(ms), day.world.zone) for ms in (since[row], day.ms[row]))
        allowed = day.world.numbers.at(int(day.ms[row])).zero_check_late_min * _MINUTE_MS
        ago = say_elapsed(int(day.ms[row] - since[row]))
        return (
            f"{day.pages.gauge.at(row)} was last zero-checked good {checked}, read {read}: {ago} "
            f"(late after {say_elapsed(allowed)})."
        )

    return Matched(mask, tell)


def zero_check_failed(day: Day) -> Matched:
    """A zero check failed before the reading, and no good check came in between."""
    checks = checks_of(day)
    failed = [each for each in checks if not each.is_good and each.check.check_kind is CheckKind.ZERO]
    place = standing_failure(day, failed, [each for each in checks if each.is_good])

    def tell(row: int) -> str:
        return _say_failed(day, row, failed[int(place[row])], "zero check")

    return Matched(place >= 0, tell)


def day_check_missing(day: Day) -> Matched:
    """A tester or frame without a good day check in that production day before the reading, or after a failed one."""
    rows = rows_with(day, lambda kind: kind.needs_day_check)
    checks = [each for each in checks_of(day) if each.check.check_kind is CheckKind.DAY]
    good, failed = ([each for each in checks if each.is_good is is_good] for is_good in (True, False))
    by_day: dict[tuple[int, int], list[CheckAt]] = {}
    for each in good:
        told = (each.code, production_day_number(shift_number(day, each.act.at_ms)))
        by_day.setdefault(told, []).append(each)
    gauge, days = day.pages.gauge.codes, production_day_number(shifts_of(day, day.ms[rows]))
    key = joined_key([gauge[rows].astype(np.int64), days - int(days.min(initial=0))])

    def of_day(at: int) -> Iterable[CheckAt]:
        return by_day.get((int(gauge[rows[at]]), int(days[at])), ())

    place = standing_failure(day, failed, good)
    needs = np.zeros(len(day.pages), bool)
    needs[rows] = True

    def tell(row: int) -> str:
        if place[row] >= 0:
            return _say_failed(day, row, failed[int(place[row])], "day check")
        today = say_date(production_day(moment_of(int(day.ms[row])), day.world.zone))
        read = say_time(int(day.ms[row]), day.world.zone)
        return f"{day.pages.gauge.at(row)} had no good day check in the production day of {today}, read {read}."

    return Matched(_without(day, rows, key, of_day) | (needs & (place >= 0)), tell)


def standing_failure(day: Day, failed: Sequence[CheckAt], good: Sequence[CheckAt]) -> Ints:
    """Return for each reading the place of a failed check that still stood when it was made; -1 where none did."""
    standing = np.full(len(day.pages), -1, np.int64)
    if not failed:
        return standing
    judged = np.flatnonzero(day.is_judged)
    first_ms = int(day.times.low_ms[judged].min(initial=2**61))
    is_by_time = not day.times.is_in_doubt[judged].any()  # else page order may decide, whatever the times say
    for at, each in enumerate(failed):
        mended = [other for other in good if other.code == each.code and comes_after(other.act, each.act)]
        if is_by_time and any(other.act.low_ms == other.act.high_ms <= first_ms for other in mended):
            continue
        rows = judged[day.pages.gauge.codes[judged] == each.code]
        rows = rows[perhaps_after(day, rows, each.act)]
        for other in mended:
            rows = rows[~surely_after(day, rows, other.act)]
        standing[rows] = at
    return standing


def _say_failed(day: Day, row: int, failed: CheckAt, what: str) -> str:
    at, read = (say_time(ms, day.world.zone) for ms in (failed.act.at_ms, int(day.ms[row])))
    return f"{failed.check.gauge} failed its {what} {at} ({failed.words}), read {read} before a good check."


def _without(day: Day, rows: Ints, key: Ints, checks: Callable[[int], Iterable[CheckAt]]) -> Flags:
    """Tell which readings have none of the checks of their key before them; `checks` is asked once for each key."""
    missing = np.ones(len(rows), bool)
    order = np.argsort(key, kind="stable")
    first = first_rows(key)
    borders = np.searchsorted(key[order], np.arange(len(first) + 1))
    for at, one in enumerate(first.tolist()):
        mine = order[borders[at] : borders[at + 1]]
        for each in checks(one):
            missing[mine] &= ~surely_after(day, rows[mine], each.act)
    mask = np.zeros(len(day.pages), bool)
    mask[rows] = missing
    return mask


def _who(day: Day, rows: Ints) -> Coded:
    """Return who measured: the person named on a paper form, else the badge."""
    pages = day.pages
    is_told = pages.taken_by.is_given[rows]
    labels = coded_texts([*pages.person.labels, *pages.taken_by.labels])
    of_badge = np.array([*labels.codes[: len(pages.person.labels)], -1], np.int32)[pages.person.codes[rows]]
    of_form = np.array([*labels.codes[len(pages.person.labels) :], -1], np.int32)[pages.taken_by.codes[rows]]
    return Coded(np.where(is_told, of_form, of_badge).astype(np.int32), labels.labels)
