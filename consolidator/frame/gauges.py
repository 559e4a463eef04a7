"""What was known of each gauge at each moment: its row, due date, state, custody, incidents and calibrations.

Owns turning the register and the desk's pages into histories, and looking them up for every reading.
Good news works from the minute its page was made, bad news from when it began.
Knows nothing of limits or standing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Final

import numpy as np

from consolidator.authority import Deed
from consolidator.frame.asof import EVER, Steps
from consolidator.frame.coded import Coded, Flags, Ints
from consolidator.frame.world import ActAt, World, moment_of, text_ms
from kiosk.lists import CalibrationRecord, Gauge, Master, PlantNumbers
from kiosk.lists.words import CharacteristicKind, GaugeState
from kiosk.measure import units
from kiosk.pages.desk import Calibration, Extension, GaugeStateChange
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident, GaugeMovement
from kiosk.pages.words import CheckKind, CheckVerdict

NO_DUE: Final = 2**61
"""Stands for the end of a due date that is not there."""
_CALIBRATION_STOP: Final = "found out at calibration"


def due_ends_ms(due: date, numbers: PlantNumbers, world: World) -> int:
    """Return the first moment (UTC milliseconds) that due date `due` no longer covers (N1)."""
    minutes = int(numbers.due_until_h * 60)
    wall = datetime.combine(due, time(0, 0)) + timedelta(minutes=minutes)
    return int(wall.replace(tzinfo=world.zone).astimezone(UTC).timestamp()) * 1000


def since_ms(in_force_from: str | None) -> int:
    """Return from when a row of a list stands."""
    return EVER if in_force_from is None else text_ms(in_force_from)


@dataclass(frozen=True)
class CalibrationAt:
    """One calibration as known from lists or from its page."""

    gauge: str
    done_ms: int
    done_at: str
    as_found: str
    as_left: str
    masters: tuple[str, ...]
    certificate: str

    @property
    def before_words(self) -> str:
        """How it is printed as the calibration before a reading."""
        masters = f", with {' and '.join(self.masters)}" if self.masters else ""
        certificate = f", certificate {self.certificate}" if self.certificate else ""
        return f"{self.done_at}, left {self.as_left.lower()}{masters}{certificate}"

    @property
    def after_words(self) -> str:
        """How it is printed as the calibration after a reading."""
        return f"{self.done_at}, as-found {self.as_found.lower()}"


class GaugeHistory:
    """Histories of all gauges named in a night's readings or in the register; of masters, when they are given."""

    def __init__(self, gauge: Coded, world: World, register: Sequence[Gauge] | Sequence[Master] | None = None) -> None:
        self._world = world
        self._register = world.lists.gauges if register is None else register
        rest = sorted({row.number for row in self._register} - set(gauge.labels))
        self._code = {label: code for code, label in enumerate((*gauge.labels, *rest))}
        self.rows: list[Gauge] = [row for row in self._register if isinstance(row, Gauge)]
        self.row_steps = Steps.of(
            [self._code[row.number] for row in self.rows], [since_ms(row.in_force_from) for row in self.rows]
        )

    def state_at(self, number: str, ms: int) -> GaugeState | str | None:
        """Return the state of one gauge of the register at a moment; none before it was in the register."""
        steps, states, _ = self.states
        place = self._place(steps, number, ms)
        return states[place] if place >= 0 else None

    def due_end_at(self, number: str, ms: int) -> int | None:
        """Return when the due date of one gauge, as it stood at a moment, ends; none without one."""
        steps, ends, _ = self.dues
        place = self._place(steps, number, ms)
        return None if place < 0 or int(ends[place]) == NO_DUE else int(ends[place])

    def _place(self, steps: Steps, number: str, ms: int) -> int:
        code = np.array([self._code.get(number, -1)], np.int64)
        return int(steps.at(code, np.array([ms], np.int64))[0])

    @cached_property
    def dues(self) -> tuple[Steps, Ints, list[date | None]]:
        """Due dates: steps, when each ends (UTC ms) and the date."""
        events = sorted(
            ((ms, order, number, due) for order, (ms, number, due) in enumerate(self._due_events())),
            key=lambda event: (event[2], event[0], event[1]),
        )
        ends = [self._ends(due) for _, _, _, due in events]
        return (
            Steps.of([self._code.get(number, -1) for _, _, number, _ in events], [ms for ms, _, _, _ in events]),
            np.array(ends, np.int64),
            [due for _, _, _, due in events],
        )

    def _ends(self, due: date | None) -> int:
        if due is None:
            return NO_DUE
        start = int(datetime.combine(due, time(0, 0), tzinfo=self._world.zone).timestamp()) * 1000
        return due_ends_ms(due, self._world.numbers.at(start), self._world)

    def _due_events(self) -> list[tuple[int, str, date | None]]:
        lists, acts = self._world.lists, self._world.acts
        events: list[tuple[int, str, date | None]] = [
            (since_ms(row.in_force_from), row.number, row.due) for row in self._register
        ]
        with_due = {row.number for row in self._register if row.due is not None}
        events += [
            (text_ms(record.done_at), record.gauge, record.due)
            for record in lists.calibrations
            if record.gauge not in with_due and record.due is not None and record.as_left == "Good"
        ]
        for act, done in acts.of(Calibration):
            if done.as_left == "Good" and done.due is not None and done.stage != "as-found":
                events.append((max(act.at_ms, text_ms(done.done_at)), done.gauge, done.due))
        return events + self._extensions(events)

    def _extensions(self, events: list[tuple[int, str, date | None]]) -> list[tuple[int, str, date | None]]:
        """Return what extensions change: once between two due dates, by two signatures before the standing one ends."""
        signed = []
        for act, extension in self._world.acts.of(Extension):
            second = self._world.second_of(act, Deed.EXTEND)
            if second is not None:
                signed.append((second.at_ms, extension.gauge, extension.new_due))
        news: list[tuple[int, str, date | None]] = []
        begun: set[tuple[str, int]] = set()
        for ms, gauge, new_due in sorted(signed):
            before = [(at, due) for at, number, due in events if number == gauge and at <= ms]
            since, due = max(before, key=lambda event: event[0], default=(EVER, None))
            if due is not None and ms < self._ends(due) and (gauge, since) not in begun:
                news.append((ms, gauge, new_due))
                begun.add((gauge, since))
        return news

    @cached_property
    def past_due(self) -> tuple[Steps, Flags]:
        """When each gauge was past due, as a history of yes and no."""
        steps, ends, _ = self.dues
        codes, ms, is_past = [], [], []
        for at, (code, start, place) in enumerate(zip(steps.codes, steps.ms, steps.place, strict=True)):
            following = int(steps.ms[at + 1]) if at + 1 < len(steps.codes) and steps.codes[at + 1] == code else NO_DUE
            end = int(ends[place])
            codes.append(int(code))
            ms.append(int(start))
            is_past.append(end <= int(start))
            if int(start) < end < following:
                codes.append(int(code))
                ms.append(end)
                is_past.append(True)
        return Steps.of(codes, ms), np.array(is_past, np.bool_)

    @cached_property
    def states(self) -> tuple[Steps, list[GaugeState | str], list[str]]:
        """States: steps, the state, and the page or list that says so."""
        by_gauge: dict[str, list[tuple[int, GaugeState | str, str]]] = {}
        for known_ms, number, since, state, source in sorted(self._state_news(), key=lambda news: news[:2]):
            line = by_gauge.setdefault(number, [])
            if since < known_ms:
                line[:] = [step for step in line if step[0] < since]
            if source == "good calibration" and line and line[-1][1] not in (GaugeState.AWAITING, _CALIBRATION_STOP):
                continue
            line.append((since, state, source))
        flat = [(number, *step) for number, line in sorted(by_gauge.items()) for step in line]
        steps = Steps.of([self._code.get(number, -1) for number, *_ in flat], [ms for _, ms, _, _ in flat])
        return steps, [state for _, _, state, _ in flat], [source for _, _, _, source in flat]

    def _state_news(self) -> list[tuple[int, str, int, GaugeState | str, str]]:
        """Return (known at, gauge, stands from, state, said by); bad news may stand from before it was known."""
        news: list[tuple[int, str, int, GaugeState | str, str]] = []
        for row in self._register:
            since = since_ms(row.in_force_from)
            news.append((since, row.number, since, row.state, "register"))
        for act, change in self._world.acts.of(GaugeStateChange):
            state = GaugeState(change.state)
            is_good = state is GaugeState.IN_USE
            since = act.at_ms if is_good or change.since is None else min(act.at_ms, text_ms(change.since))
            news.append((act.at_ms, change.gauge, since, state, act.ref))
        for act, done in self._world.acts.of(Calibration):
            if done.as_left == "Out" or (done.stage == "as-found" and done.as_found == "Out"):
                since = min(act.at_ms, text_ms(done.done_at))
                news.append((act.at_ms, done.gauge, since, _CALIBRATION_STOP, act.ref))
            elif done.stage != "as-found":
                news.append((act.at_ms, done.gauge, act.at_ms, GaugeState.IN_USE, "good calibration"))
        return news

    @cached_property
    def custody(self) -> tuple[Steps, list[str]]:
        """Where each gauge was issued to: steps and the station; empty when it was returned."""
        moves = []
        for act, move in self._world.acts.of(GaugeMovement):
            where = {"issued": move.to_station or act.page.station}.get(move.movement)
            if where is not None or move.movement in ("returned", "sent out", "not found"):
                moves.append((move.gauge, act.at_ms, where or ""))
        steps = Steps.of([self._code.get(gauge, -1) for gauge, _, _ in moves], [ms for _, ms, _ in moves])
        return steps, [station for _, _, station in moves]

    @cached_property
    def incidents(self) -> tuple[Steps, list[ActAt | None]]:
        """Open incidents: steps, and the incident's page; none from a good check or good as-found on."""
        news: list[tuple[str, int, ActAt | None]] = []
        for act, incident in self._world.acts.of(GaugeIncident):
            news.append((incident.gauge, act.low_ms, act))
        first: dict[str, int] = {}
        for gauge, ms, _ in news:
            first[gauge] = min(first.get(gauge, ms), ms)
        for act, check in self._world.acts.of(Check):
            # A good check of a gauge that nothing befell settles nothing, and no decision hangs on it.
            if is_good_check(self._world, act, check) and act.high_ms >= first.get(check.gauge, NO_DUE):
                news.append((check.gauge, act.high_ms, None))
        for act, done in self._world.acts.of(Calibration):
            is_left_good = done.stage != "as-found" and done.as_left == "Good"
            is_good = is_left_good or (done.as_found == "Good" and done.stage == "as-found")
            # What was done before an incident says nothing about it, whenever it was written down.
            befell = [ms for gauge, ms, open_act in news if gauge == done.gauge and open_act and ms <= act.at_ms]
            if is_good and befell and max(befell) <= text_ms(done.done_at):
                news.append((done.gauge, act.at_ms, None))
        return Steps.of([self._code.get(g, -1) for g, _, _ in news], [ms for _, ms, _ in news]), [a for _, _, a in news]

    @cached_property
    def calibrations(self) -> tuple[Steps, list[CalibrationAt]]:
        """All calibrations known, in order of time."""
        found = {(c.gauge, c.done_ms): c for c in map(_from_list, self._world.lists.calibrations)}
        for act, done in self._world.acts.of(Calibration):
            found[(done.gauge, text_ms(done.done_at))] = _from_page(act, done)
        known = [found[key] for key in sorted(found)]
        return Steps.of([self._code.get(c.gauge, -1) for c in known], [c.done_ms for c in known]), known


def master_of_check(world: World, act: ActAt, check: Check) -> str | None:
    """Return what a check was made on: the master it names, else the one that the register gives the gauge."""
    gauge = None if check.master else world.lists.gauge(check.gauge, moment_of(act.at_ms))
    return check.master or (None if gauge is None else gauge.master)


def is_good_check(world: World, act: ActAt, check: Check) -> bool:
    """True when a check was good: its page says so, and its error is not larger than what is allowed, known now."""
    return check.verdict is CheckVerdict.GOOD and abs(Decimal(check.error)) <= allowed_error(world, act, check)


def allowed_error(world: World, act: ActAt, check: Check) -> Decimal:
    """Return the largest error that is good: the page's limit, or less where the limits in force then ask for it (N7).

    A kiosk with old lists may have allowed more than a tenth of the tolerance that stood; never under a least count.
    """
    limit = Decimal(check.limit)
    if check.check_kind is not CheckKind.ZERO or not check.characteristics:
        return limit
    gauge = world.lists.gauge(check.gauge, moment_of(act.at_ms))
    least = Decimal(0) if gauge is None or gauge.least_count is None else Decimal(gauge.least_count)
    tolerances = [each for name in check.characteristics if (each := _tolerance(world, act, name, check.unit))]
    if not tolerances:
        return limit
    share = Fraction(world.numbers.at(act.at_ms).zero_error_percent) / 100 * min(tolerances)
    return min(limit, max(Decimal(share.numerator) / Decimal(share.denominator), least))


def _tolerance(world: World, act: ActAt, name: str, unit: str) -> Fraction | None:
    """Return the tolerance in `unit` of a characteristic named as part:number, by the drawing in force at the check."""
    part, _, number = name.partition(":")
    moment = moment_of(act.at_ms)
    row = world.lists.part(part, moment)
    what = None if row is None else world.lists.characteristic(part, row.revision, number, moment)
    if what is None or what.upper is None or not units.are_alike(unit, what.unit):
        return None
    lower = Fraction(Decimal(what.lower)) if what.lower and what.kind is CharacteristicKind.TWO_SIDED else Fraction(0)
    return (Fraction(Decimal(what.upper)) - lower) * units.ratio(Decimal(1), what.unit, to=Decimal(1), to_unit=unit)


def _from_list(record: CalibrationRecord) -> CalibrationAt:
    return CalibrationAt(
        record.gauge,
        text_ms(record.done_at),
        record.done_at,
        record.as_found,
        record.as_left,
        record.masters,
        record.certificate or "",
    )


def _from_page(act: ActAt, done: Calibration) -> CalibrationAt:
    return CalibrationAt(
        done.gauge,
        text_ms(done.done_at),
        done.done_at,
        done.as_found,
        done.as_left,
        done.masters,
        done.certificate or act.ref,
    )
