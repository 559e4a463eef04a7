"""What was known of a gauge at a moment: due date, state, custody, incidents (decision 0031)."""

from datetime import date, datetime, time, timedelta
from fractions import Fraction
from typing import TypeVar

from kiosk.lists import Gauge, Master
from kiosk.lists.words import GaugeState
from kiosk.pages.desk import Calibration, Extension, GaugeStateChange
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident, GaugeMovement
from kiosk.pages.words import CheckVerdict
from tests.oracle.authority import CALIBRATION, QUALITY, second_of
from tests.oracle.figures import FIGURES, alike, in_unit, limits_of
from tests.oracle.night import ActAt, Night
from tests.oracle.times import moment_of, ms_of, text_ms

EVER = -(10**15)


def begin(in_force_from: str | None) -> int:
    """Return from when a row of a list stands."""
    return EVER if in_force_from is None else text_ms(in_force_from)


def end_of_due(night: Night, due: date) -> int:
    """Return the first moment that a due date no longer covers (N1, as in force when that date begins)."""
    start = datetime.combine(due, time(0, 0), tzinfo=night.zone)
    minutes = int(night.lists.numbers(start).due_until_h * 60)
    wall = datetime.combine(due, time(0, 0)) + timedelta(minutes=minutes)
    return ms_of(wall.replace(tzinfo=night.zone))


def is_good_check(night: Night, act: ActAt, check: Check) -> bool:
    """True when a check is good by its page and by the drawing in force then (N7): a tenth, but one least count."""
    if check.verdict is not CheckVerdict.GOOD or abs(Fraction(check.error)) > Fraction(check.limit):
        return False
    moment, tolerances = moment_of(act.ms), []
    for name in check.characteristics:
        number, _, what = name.partition(":")
        part = night.lists.part(number, moment)
        row = None if part is None else night.lists.characteristic(number, part.revision, what, moment)
        limits = None if row is None or row.kind not in FIGURES else limits_of(row)
        if row is not None and limits is not None and limits.upper is not None and alike(row.unit, check.unit):
            wide = limits.upper if limits.lower is None else limits.upper - limits.lower
            tolerances.append(in_unit(wide, row.unit, check.unit))
    if not tolerances:
        return True
    gauge = night.lists.gauge(check.gauge, moment)
    least = Fraction(0) if gauge is None or gauge.least_count is None else Fraction(gauge.least_count)
    share = min(tolerances) * Fraction(night.lists.numbers(moment).zero_error_percent) / 100
    return abs(Fraction(check.error)) <= max(share, least)


class GaugeStory:
    """The histories of one gauge or master, as known at the moment of closing."""

    def __init__(self, night: Night, number: str) -> None:
        self._night, self.number = night, number
        lists = night.lists
        self.rows: list[Gauge | Master] = [row for row in lists.gauges if row.number == number]
        self.rows += [row for row in lists.masters if row.number == number]
        self._dues = self._due_events()
        self._states = self._state_line()
        self._moves = self._custody()
        self._troubles = self._incidents()

    @property
    def ends(self) -> set[int]:
        """When the due dates end that ever stood."""
        return {end for _, due in self._dues if (end := self._end_of(due)) is not None}

    @property
    def moments(self) -> set[int]:
        """Every moment at which something of the gauge may change."""
        told = (self._dues, self._states, self._troubles)
        return self.ends | {each[0] for line in told for each in line} | {begin(row.in_force_from) for row in self.rows}

    def due_at(self, ms: int) -> tuple[date, int] | None:
        """Return the due date that stands and the moment from which it no longer covers; none without one."""
        due = _last([(at, due) for at, due in self._dues if at <= ms])
        end = self._end_of(due)
        return None if due is None or end is None else (due, end)

    def is_past_due(self, ms: int) -> bool:
        """True from the first moment after the due date that stands."""
        due = self.due_at(ms)
        return due is not None and ms >= due[1]

    def state_at(self, ms: int) -> str | None:
        """Return the state that stands; none before the gauge was in the register."""
        return _last([(at, state) for at, state in self._states if at <= ms])

    def is_in_use(self, ms: int) -> bool:
        """True while nothing took the gauge out of use."""
        return self.state_at(ms) in (None, GaugeState.IN_USE)

    def issued_to(self, ms: int) -> str | None:
        """Return the station the gauge is issued to."""
        return _last([(at, station) for at, station in self._moves if at <= ms])

    def is_in_trouble(self, ms: int) -> bool:
        """True when something befell the gauge and no good check or calibration came since."""
        return bool(_last([(at, is_open) for at, is_open in self._troubles if at <= ms]))

    def _end_of(self, due: date | None) -> int | None:
        return None if due is None else end_of_due(self._night, due)

    def _due_events(self) -> list[tuple[int, date | None]]:
        events: list[tuple[int, date | None]] = [(begin(row.in_force_from), row.due) for row in self.rows]
        if all(row.due is None for row in self.rows):
            events += [
                (text_ms(done.done_at), done.due)
                for done in self._night.lists.calibrations
                if done.gauge == self.number and done.as_left == "Good" and done.due is not None
            ]
        for act, done in self._night.of(Calibration):
            if done.gauge == self.number and done.as_left == "Good" and done.stage != "as-found" and done.due:
                events.append((max(act.ms, text_ms(done.done_at)), done.due))
        events.sort(key=lambda event: event[0])
        return self._with_extensions(events)

    def _with_extensions(self, events: list[tuple[int, date | None]]) -> list[tuple[int, date | None]]:
        """Add what was put back: from the second signature, before the standing date ended, once for each."""
        signed = []
        for act, extension in self._night.of(Extension):
            second = second_of(self._night, act, (CALIBRATION, QUALITY))
            if extension.gauge == self.number and second is not None:
                signed.append((second.ms, extension.new_due))
        put_back: set[int] = set()
        extended = list(events)
        for ms, new_due in sorted(signed):
            standing = [place for place, (at, _) in enumerate(events) if at <= ms]
            if not standing or standing[-1] in put_back:
                continue
            end = self._end_of(events[standing[-1]][1])
            if end is not None and ms < end:
                extended.append((ms, new_due))
                put_back.add(standing[-1])
        return sorted(extended, key=lambda event: event[0])

    def _state_line(self) -> list[tuple[int, str]]:
        """Return what stands from when. Bad news reaches back and stays; good news works from its page's own time."""
        news: list[tuple[int, int, str, bool]] = []
        for row in self.rows:
            at = begin(row.in_force_from)
            news.append((at, at, row.state, False))
        for act, change in self._night.of(GaugeStateChange):
            if change.gauge == self.number:
                reaches = change.since is not None and GaugeState(change.state) is not GaugeState.IN_USE
                since = min(act.ms, text_ms(change.since or act.page.kiosk_time)) if reaches else act.ms
                news.append((act.ms, since, change.state, False))
        for act, done in self._night.of(Calibration):
            if done.gauge != self.number:
                continue
            if done.as_left == "Out" or (done.stage == "as-found" and done.as_found == "Out"):
                news.append((act.ms, min(act.ms, text_ms(done.done_at)), "found out", False))
            elif done.stage != "as-found":
                news.append((act.ms, act.ms, GaugeState.IN_USE, True))
        line: list[tuple[int, str]] = []
        for known, since, state, is_by_calibration in sorted(news, key=lambda each: each[0]):
            if since < known:
                line = [step for step in line if step[0] < since]
            if is_by_calibration and line and line[-1][1] not in (GaugeState.AWAITING, "found out"):
                continue
            line.append((since, state))
        return line

    def _custody(self) -> list[tuple[int, str | None]]:
        moves: list[tuple[int, str | None]] = []
        for act, move in self._night.of(GaugeMovement):
            if move.gauge != self.number:
                continue
            if move.movement == "issued":
                moves.append((act.ms, move.to_station or act.page.station))
            elif move.movement in ("returned", "sent out", "not found"):
                moves.append((act.ms, None))
        return moves

    def _incidents(self) -> list[tuple[int, bool]]:
        """Return from when something has befallen the gauge, and from when that is settled."""
        news: list[tuple[int, bool]] = []
        for act, incident in self._night.of(GaugeIncident):
            if incident.gauge == self.number:
                news.append((act.made.low, True))
        befell = [at for at, _ in news]
        for act, check in self._night.of(Check):
            if check.gauge == self.number and is_good_check(self._night, act, check):
                news.append((act.made.high, False))
        for act, done in self._night.of(Calibration):
            is_good = done.as_left == "Good" if done.stage != "as-found" else done.as_found == "Good"
            # A calibration done before the incident says nothing about what the incident did, whenever it was entered.
            before = [at for at in befell if at <= act.ms]
            if done.gauge == self.number and is_good and all(at <= text_ms(done.done_at) for at in before):
                news.append((act.ms, False))
        return sorted(news, key=lambda each: each[0])


T = TypeVar("T")


def _last(line: list[tuple[int, T]]) -> T | None:
    """Return what stands last; of two of one moment the later in the order given."""
    best: tuple[int, T] | None = None
    for each in line:
        if best is None or each[0] >= best[0]:
            best = each
    return None if best is None else best[1]
