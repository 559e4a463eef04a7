"""What hangs on zero checks, day checks and masters (X06, X09-X12, X21, X60).

What is bad counts from the earliest it can have been, what is good from the latest (0030).
"""

from dataclasses import dataclass
from datetime import date

from kiosk.lists.words import GaugeState
from kiosk.pages.desk import Calibration
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident
from kiosk.pages.words import CheckKind, CheckVerdict
from kiosk.times import production_day, shift_of
from tests.oracle.gauges import GaugeStory
from tests.oracle.night import ActAt, Night, Reading
from tests.oracle.times import moment_of, text_ms


@dataclass(frozen=True)
class _Calibrated:
    """One calibration left good, from the lists or a page: when it was done, by what masters, and its page's time."""

    done_ms: int
    told_ms: int
    masters: tuple[str, ...]


class Checked:
    """What was checked of one gauge, and when it was last known to be good."""

    def __init__(self, night: Night, gauge: str) -> None:
        self._night, self.gauge = night, gauge
        self.checks = [(act, check) for act, check in night.of(Check) if check.gauge == gauge]
        self.incidents = [act for act, incident in night.of(GaugeIncident) if incident.gauge == gauge]
        self.calibrated = sorted(self._calibrations(), key=lambda each: each.done_ms)

    def _calibrations(self) -> list[_Calibrated]:
        found = [
            _Calibrated(text_ms(row.done_at), text_ms(row.done_at), row.masters)
            for row in self._night.lists.calibrations
            if row.gauge == self.gauge and row.as_left == "Good"
        ]
        for act, done in self._night.of(Calibration):
            if done.gauge == self.gauge and done.stage != "as-found" and done.as_left == "Good":
                found.append(_Calibrated(text_ms(done.done_at), act.ms, done.masters))
        return found

    def failed(self, kind: CheckKind) -> list[ActAt]:
        """Return the failed checks of a kind."""
        return [act for act, check in self.checks if check.check_kind is kind and not _is_good(check)]

    def good(self, kind: CheckKind | None = None) -> list[ActAt]:
        """Return the good checks, of one kind or of both."""
        return [act for act, check in self.checks if kind in (None, check.check_kind) and _is_good(check)]


def _is_good(check: Check) -> bool:
    return check.verdict is CheckVerdict.GOOD


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
        if reading.ms >= trouble.made.low:
            continue
        shown_good = [(act.made.low, act.made.high) for act in checked.good()]
        shown_good += [(done.done_ms, done.done_ms) for done in checked.calibrated]
        if not any(reading.ms < low and high < trouble.made.low for low, high in shown_good):
            reading.mark("X06", "Flagged")


def _mark_failed(reading: Reading, checked: Checked) -> None:
    """X12: from a failed zero check until the next good one, or until the gauge was calibrated and left good."""
    failed = [act for act in checked.failed(CheckKind.ZERO) if act.made.low <= reading.ms]
    for act in failed:
        mended = [good.made.high for good in checked.good() if good.order > act.order]
        mended += [done.told_ms for done in checked.calibrated if done.done_ms >= act.ms]
        if not any(ms <= reading.ms for ms in mended):
            reading.mark("X12", "Blocked")


def _mark_zero(night: Night, reading: Reading, checked: Checked) -> None:
    """X10 and X11 for a comparator: by this person in this shift at this station, and not too long ago (N7)."""
    shift = shift_of(moment_of(reading.ms), night.zone)
    here = [
        (act, check)
        for act, check in checked.checks
        if check.check_kind is CheckKind.ZERO and act.page.station == reading.row["station"]
    ]
    mine = [
        act
        for act, _ in here
        if reading.taker is not None
        and act.page.person == reading.taker
        and act.made.high <= reading.ms
        and shift_of(moment_of(act.ms), night.zone) == shift
    ]
    if not mine:
        reading.mark("X10", "Blocked")
    good = [act.ms for act, check in here if _is_good(check) and act.made.high <= reading.ms]
    if good and reading.ms - max(good) > reading.numbers.zero_check_late_min * 60_000:
        reading.mark("X11", "Flagged")


def _mark_day_check(night: Night, reading: Reading, checked: Checked) -> None:
    """X60: no good day check in the production day before the reading, or the last one failed."""
    day = production_day(moment_of(reading.ms), night.zone)
    today = [
        (act, check)
        for act, check in checked.checks
        if check.check_kind is CheckKind.DAY and production_day(moment_of(act.ms), night.zone) == day
    ]
    before = [(act.made.high if _is_good(check) else act.made.low, act.order, _is_good(check)) for act, check in today]
    past = [each for each in before if each[0] <= reading.ms]
    if not past or not max(past)[2]:
        reading.mark("X60", "Blocked")


def _mark_masters(reading: Reading, checked: Checked, masters: dict[str, GaugeStory]) -> None:
    """X09: the last zero check, or the last calibration, was done with a master past due or out of use at the time."""
    checks = [(act, check) for act, check in checked.checks if act.made.high <= reading.ms]
    good = [(act, check) for act, check in checks if _is_good(check)]
    used: list[tuple[str | None, int]] = []
    if good:
        act, check = good[-1]
        gauge = reading.gauge
        used.append((check.master or (None if gauge is None else gauge.master), act.ms))
    done = [each for each in checked.calibrated if each.told_ms <= reading.ms]
    if done:
        used += [(master, done[-1].done_ms) for master in done[-1].masters]
    if any(master is not None and _is_unsound(masters.get(master), ms) for master, ms in used):
        reading.mark("X09", "Blocked")


def _is_unsound(master: GaugeStory | None, ms: int) -> bool:
    return master is not None and (master.is_past_due(ms) or master.state_at(ms) not in (None, GaugeState.IN_USE))


def _mark_wear(night: Night, reading: Reading, checked: Checked) -> None:
    """X21: more days or uses since the thread gauge was last calibrated than N14 allows."""
    done = [each.done_ms for each in checked.calibrated if each.told_ms <= reading.ms]
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
