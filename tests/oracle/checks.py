"""What hangs on zero checks, day checks and masters (X06, X09-X12, X21, X60).

What is bad counts from the earliest it can have been, what is good from the latest (0030).
"""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from kiosk.lists.words import GaugeState
from kiosk.pages.desk import Calibration
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident
from kiosk.pages.words import CheckKind, Source
from kiosk.times import production_day, shift_of
from tests.oracle.gauges import GaugeStory, is_good_check
from tests.oracle.night import ActAt, Night, Reading
from tests.oracle.times import moment_of, text_ms


@dataclass(frozen=True)
class _Calibrated:
    """One calibration that showed the gauge good: when it was done, by what masters, and its page's time.

    `is_set` when it was left so; an as-found by itself shows, and sets nothing.
    """

    done_ms: int
    told_ms: int
    masters: tuple[str, ...]
    is_set: bool


class Checked:
    """What was checked of one gauge, and when it was last known to be good."""

    def __init__(self, night: Night, gauge: str) -> None:
        self._night, self.gauge = night, gauge
        self.checks = [
            (act, check.check_kind, check.master, is_good_check(night, act, check))
            for act, check in night.of(Check)
            if check.gauge == gauge
        ]
        self.incidents = [act for act, incident in night.of(GaugeIncident) if incident.gauge == gauge]
        self.calibrated = sorted(self._calibrations(), key=lambda each: each.done_ms)

    def _calibrations(self) -> list[_Calibrated]:
        found = [
            _Calibrated(text_ms(row.done_at), text_ms(row.done_at), row.masters, is_set=row.as_left == "Good")
            for row in self._night.lists.calibrations
            if row.gauge == self.gauge and "Good" in (row.as_found, row.as_left)
        ]
        for act, done in self._night.of(Calibration):
            is_left = done.stage != "as-found" and done.as_left == "Good"
            is_found = done.stage != "as-left" and done.as_found == "Good"
            if done.gauge == self.gauge and (is_left or is_found):
                found.append(_Calibrated(text_ms(done.done_at), act.ms, done.masters, is_set=is_left))
        return found

    def own_master(self, ms: int) -> str | None:
        """Return the master that the register sets the gauge on."""
        row = self._night.lists.gauge(self.gauge, moment_of(ms))
        return None if row is None else row.master

    def failed(self, kind: CheckKind) -> list[ActAt]:
        """Return the failed checks of a kind."""
        return [act for act, each, _, is_good in self.checks if each is kind and not is_good]

    def good(self, kind: CheckKind | None = None) -> list[ActAt]:
        """Return the good checks, of one kind or of both."""
        return [act for act, each, _, is_good in self.checks if kind in (None, each) and is_good]


def mark_checks(night: Night, masters: dict[str, GaugeStory]) -> None:
    """Mark X06, X09 to X12, X21 and X60."""
    known: dict[str, Checked] = {}
    for reading in night.readings:
        number = reading.row["gauge"]
        if number is None:
            continue
        checked = known.setdefault(number, Checked(night, number))
        _mark_doubt(reading, checked)
        _mark_failed(reading, checked)
        _mark_masters(reading, checked, masters)
        if reading.gauge is None:
            continue
        if reading.gauge.kind.is_comparator:
            _mark_zero(night, reading, checked)
        if reading.gauge.kind.needs_day_check:
            _mark_day_check(night, reading, checked)
        if reading.gauge.kind.is_thread_gauge:
            _mark_wear(night, reading, checked)


def _mark_doubt(reading: Reading, checked: Checked) -> None:
    """X06: something befell the gauge, or a check failed, and nothing showed it good between the reading and then."""
    troubles = [*checked.incidents, *checked.failed(CheckKind.ZERO), *checked.failed(CheckKind.DAY)]
    for trouble in troubles:
        if not _was_before(reading, trouble):
            continue
        is_shown_good = any(_is_before(reading, act) and _is_before(act, trouble) for act in checked.good())
        by_calibration = any(reading.made.high < done.done_ms < trouble.made.low for done in checked.calibrated)
        if not is_shown_good and not by_calibration:
            reading.mark("X06", "Flagged")


def _was_before(reading: Reading, trouble: ActAt) -> bool:
    """True when a reading was made before something bad: by the order of a book, else it may have been so."""
    by_page = _by_page(reading, trouble)
    return reading.made.low < trouble.made.low if by_page is None else by_page


def _is_before(first: ActAt | Reading, later: ActAt | Reading) -> bool:
    """True when a page was surely made before another: by the order of a book, else by time."""
    by_page = _by_page(first, later)
    if by_page is not None:
        return by_page
    is_same_moment = first.made.high == later.made.low
    both = isinstance(first, ActAt) and isinstance(later, ActAt)
    return first.made.high < later.made.low or (both and is_same_moment and first.order < later.order)


def _by_page(first: ActAt | Reading, later: ActAt | Reading) -> bool | None:
    """Tell which of two pages of one book comes first, where a time is in doubt; none where time decides.

    Of a paper form the order of pages says nothing.
    """
    (book, number), (other_book, other_number) = _place(first), _place(later)
    in_doubt = first.made.low != first.made.high or later.made.low != later.made.high
    return number < other_number if book == other_book and in_doubt else None


def _place(page: ActAt | Reading) -> tuple[str, int]:
    if isinstance(page, Reading):
        return ("a form" if page.row["source"] == Source.PAPER else page.row["series"]), page.row["number"]
    return page.page.series, page.page.number


def _mark_failed(reading: Reading, checked: Checked) -> None:
    """X12: from a failed zero check until the next good one; a calibration zeroes nothing."""
    failed = [act for act in checked.failed(CheckKind.ZERO) if _has_begun(act, reading)]
    for act in failed:
        if not any(_is_before(act, good) and _is_not_after(good, reading) for good in checked.good()):
            reading.mark("X12", "Blocked")


def _mark_zero(night: Night, reading: Reading, checked: Checked) -> None:
    """X10 and X11 for a comparator: by this person in this shift at this station; and wherever, not too long ago."""
    shift = shift_of(moment_of(reading.ms), night.zone)
    is_done = any(
        kind is CheckKind.ZERO
        and act.page.station == reading.row["station"]
        and reading.taker is not None
        and act.page.person == reading.taker
        and _is_not_after(act, reading)
        and shift_of(moment_of(act.ms), night.zone) == shift
        for act, kind, _, _ in checked.checks
    )
    if not is_done:
        reading.mark("X10", "Blocked")
    good = [act.ms for act in checked.good(CheckKind.ZERO) if _is_not_after(act, reading)]
    if good and reading.ms - max(good) > reading.numbers.zero_check_late_min * 60_000:
        reading.mark("X11", "Flagged")


def _is_not_after(act: ActAt, reading: Reading) -> bool:
    """True when a check stood when the reading was taken; the very moment is enough."""
    by_page = _by_page(act, reading)
    return act.made.high <= reading.ms if by_page is None else by_page


def _has_begun(act: ActAt, reading: Reading) -> bool:
    """True when something bad may have been so when the reading was taken."""
    by_page = _by_page(act, reading)
    return act.made.low <= reading.ms if by_page is None else by_page


def _mark_day_check(night: Night, reading: Reading, checked: Checked) -> None:
    """X60: no day check before the reading that was surely good, in its production day and after every failed one."""
    day = production_day(moment_of(reading.ms), night.zone)
    failed = [act for act in checked.failed(CheckKind.DAY) if _has_begun(act, reading)]
    if not any(
        production_day(moment_of(act.ms), night.zone) == day
        and _is_not_after(act, reading)
        and all(_is_before(bad, act) for bad in failed)
        for act in checked.good(CheckKind.DAY)
    ):
        reading.mark("X60", "Blocked")


def _mark_masters(reading: Reading, checked: Checked, masters: dict[str, GaugeStory]) -> None:
    """X09: the last zero check, or the last calibration, was done with a master past due or out of use at the time.

    What is good works from its page on, what is bad from when it was done. An as-found on sound masters shows the
    gauge good; on others it shows nothing.
    """
    good = [(act, master) for act, _, master, is_good in checked.checks if is_good and _is_not_after(act, reading)]
    used = [(master or checked.own_master(act.ms), act.ms) for act, master in good[-1:]]
    for done in reversed([each for each in checked.calibrated if each.done_ms <= reading.ms]):
        mine = [(master, done.done_ms) for master in done.masters]
        is_sound = not any(_is_unsound(masters.get(master), ms) for master, ms in mine)
        if done.is_set and not is_sound:
            used += mine
        if done.told_ms <= reading.ms and (done.is_set or is_sound):
            break
    if any(master is not None and _is_unsound(masters.get(master), ms) for master, ms in used):
        reading.mark("X09", "Blocked")


def _is_unsound(master: GaugeStory | None, ms: int) -> bool:
    return master is not None and (master.is_past_due(ms) or master.state_at(ms) not in (None, GaugeState.IN_USE))


def _mark_wear(night: Night, reading: Reading, checked: Checked) -> None:
    """X21: more days or uses since the thread gauge was last calibrated than N14 allows."""
    done = [each.done_ms for each in checked.calibrated if each.is_set and each.told_ms <= reading.ms]
    if done and _days(night, done[-1], reading.ms) > reading.numbers.wear_days:
        reading.mark("X21", "Flagged")
    since = done[-1] if done else None
    uses = [
        each
        for each in night.readings
        if each.row["gauge"] == checked.gauge and not each.is_replaced and (since is None or each.ms > since)
    ]
    before = [each for each in uses if each.order <= reading.order]
    if len(before) > reading.numbers.wear_uses:
        reading.mark("X21", "Flagged")


def _days(night: Night, since: int, ms: int) -> int:
    first: date = night.local_date(since)
    return (night.local_date(ms) - first).days


def mark_rooms(night: Night) -> None:
    """Mark X81 on what was measured between a calibration outside its own procedure and the next one (0123).

    An as-found by itself is no calibration yet.
    """
    done: dict[str, list[tuple[int, bool]]] = {}
    for row in night.lists.calibrations:
        done.setdefault(row.gauge, []).append((text_ms(row.done_at), False))
    for _, each in night.of(Calibration):
        if each.stage != "as-found":
            done.setdefault(each.gauge, []).append((text_ms(each.done_at), _is_off_temperature(each)))
    for reading in night.readings:
        before = [each for each in done.get(reading.row["gauge"], ()) if each[0] <= reading.ms]
        if before and max(before)[1]:
            reading.mark("X81", "Flagged")


def off_temperature(night: Night) -> set[tuple[str, str]]:
    """X81 of the gauges calibrated in the day outside the procedure."""
    return {
        ("X81", done.gauge)
        for act, done in night.of(Calibration)
        if night.is_today(act.ms) and _is_off_temperature(done)
    }


def _is_off_temperature(done: Calibration) -> bool:
    room, soak = done.room_temperature, done.soak_min
    is_cold = room is not None and done.room_low is not None and Fraction(room) < Fraction(done.room_low)
    is_warm = room is not None and done.room_high is not None and Fraction(room) > Fraction(done.room_high)
    return is_cold or is_warm or (soak is not None and done.soak_least_min is not None and soak < done.soak_least_min)
