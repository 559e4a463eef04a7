"""How far back a drop or a failed check reaches: to the last time the gauge was shown good before it.

Owns the window of each trouble and the drift that may lie in its readings. What is told in it is in doubt, not bad.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from functools import cached_property

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Flags, Ints
from consolidator.frame.values import FIGURE_KINDS, NANO
from consolidator.frame.verdicts import IN, bounds_of
from consolidator.frame.words import say_time
from consolidator.frame.world import ActAt, World, text_ms
from consolidator.upkeep.checks import CheckAt, judged_checks
from consolidator.upkeep.order import comes_after, perhaps_before, surely_before
from kiosk.measure import units
from kiosk.pages.desk import Calibration
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident
from kiosk.pages.words import CheckKind


@dataclass(frozen=True)
class Shown:
    """A moment at which a gauge was shown good: a check, or a calibration."""

    gauge: str
    at_ms: int
    words: str
    act: ActAt | None
    """The check's page; none for a calibration, whose time nobody doubts."""


@dataclass(frozen=True)
class Trouble:
    """Something befell a gauge, or a check of it failed."""

    gauge: str
    act: ActAt
    what: str
    drift: CheckAt | None = None
    """The failed zero check, whose error may lie in the readings before it."""


class Doubts:
    """The troubles of a night's gauges, each with the last time the gauge was shown good before it."""

    def __init__(self, day: Day, *, of_all_days: bool = False) -> None:
        """Look at the readings to be judged, or at all that are at hand: those of every day."""
        self._day = day
        self._judged = day.replaced_by < 0 if of_all_days else day.is_judged

    @cached_property
    def troubles(self) -> list[Trouble]:
        """Return what befell the gauges that the night's readings name, and their failed checks, oldest first."""
        return troubles_of(self._day.world, self._day.pages.gauge.code_of)

    @cached_property
    def shown(self) -> dict[str, list[Shown]]:
        """Return for each gauge in trouble when it was shown good, oldest first."""
        return {gauge: shown_good(self._day.world, gauge) for gauge in {trouble.gauge for trouble in self.troubles}}

    def last_good(self, trouble: Trouble) -> Shown | None:
        """Return the last time the gauge was surely shown good before a trouble; none when that is not known."""
        return last_before(self.shown.get(trouble.gauge, ()), trouble)

    def rows(self, trouble: Trouble) -> Ints:
        """Return the readings to be judged that may lie between the last good and the trouble."""
        day = self._day
        mine = self._judged & (day.pages.gauge.codes == day.pages.gauge.code_of(trouble.gauge))
        rows = np.flatnonzero(mine)
        rows = rows[perhaps_before(day, rows, trouble.act)]
        for shown in self.shown.get(trouble.gauge, ()):
            if _is_before(shown, trouble) and len(rows):
                rows = rows[_perhaps_since(day, rows, shown)]
        return rows

    def of_night(self) -> list[tuple[Trouble, Ints]]:
        """Return the troubles that put readings of this night in doubt, with these."""
        found = ((trouble, self.rows(trouble)) for trouble in self.troubles if self._may_reach(trouble.act))
        return [(trouble, rows) for trouble, rows in found if len(rows)]

    @cached_property
    def _first_ms(self) -> int:
        return int(self._day.times.low_ms[self._judged].min(initial=2**61))

    @cached_property
    def _doubtful_books(self) -> set[int]:
        """The books of readings whose time is in doubt: there page order decides, whatever the times say."""
        day = self._day
        return set(day.pages.series.codes[self._judged & day.times.is_in_doubt].tolist())

    def _may_reach(self, act: ActAt) -> bool:
        is_in_doubt = (
            act.low_ms != act.high_ms or self._day.pages.series.code_of(act.page.series) in self._doubtful_books
        )
        return is_in_doubt or act.high_ms > self._first_ms

    def say(self, trouble: Trouble, row: int, rows: Ints) -> str:
        """Say what puts a reading in doubt, since when, and what the drift would mean."""
        zone, last = self._day.world.zone, self.last_good(trouble)
        good = (
            "never shown good before"
            if last is None
            else f"last shown good {say_time(last.at_ms, zone)} ({last.words})"
        )
        at, read = say_time(trouble.act.at_ms, zone), say_time(int(self._day.ms[row]), zone)
        margin = "" if trouble.drift is None else f"; {self._say_margin(trouble.drift, rows)}"
        return f"{trouble.gauge} {trouble.what} {at}, {good}; read {read} in between{margin}."

    def _say_margin(self, drift: CheckAt, rows: Ints) -> str:
        count = int(would_be_out(self._day, rows, drift.check).sum())
        return f"{count} of {len(rows)} would be out of tolerance with all of the error taken off"


def shown_good(world: World, gauge: str) -> list[Shown]:
    """Return when a gauge was shown good, by checks and calibrations, oldest first."""
    checks = judged_checks(world, lambda number: 0 if number == gauge else -1)
    found = [Shown(gauge, c.act.at_ms, str(c.check.check_kind), c.act) for c in checks if c.is_good]
    for row in world.lists.calibrations:
        if row.gauge == gauge and "Good" in (row.as_found, row.as_left):
            found.append(Shown(gauge, text_ms(row.done_at), "calibration", None))
    for _, done in world.acts.of(Calibration):
        is_found_good = done.stage != "as-left" and done.as_found == "Good"
        is_left_good = done.stage != "as-found" and done.as_left == "Good"
        if done.gauge == gauge and (is_found_good or is_left_good):
            found.append(Shown(gauge, text_ms(done.done_at), "calibration", None))
    return sorted(found, key=lambda each: each.at_ms)


def last_before(shown: Iterable[Shown], trouble: Trouble) -> Shown | None:
    """Return the last time a gauge was surely shown good before a trouble; none when that is not known."""
    before = [each for each in shown if _is_before(each, trouble)]
    return before[-1] if before else None


def troubles_of(world: World, code_of: Callable[[str], int]) -> list[Trouble]:
    """Return what befell gauges that have a code, and their failed checks, oldest first."""
    found = [
        Trouble(incident.gauge, act, f"was reported {incident.what}")
        for act, incident in world.acts.of(GaugeIncident)
        if code_of(incident.gauge) >= 0
    ]
    for each in judged_checks(world, code_of):
        if not each.is_good:
            is_zero = each.check.check_kind is CheckKind.ZERO
            words = f"failed its {each.check.check_kind} ({each.words})"
            found.append(Trouble(each.check.gauge, each.act, words, each if is_zero else None))
    return sorted(found, key=lambda trouble: trouble.act.sort_key)


def last_trouble(world: World, gauge: str, *, before_ms: int) -> ActAt | None:
    """Return the last thing that befell a gauge, or check of it that failed, up to a moment."""
    acts = [trouble.act for trouble in troubles_of(world, lambda number: 0 if number == gauge else -1)]
    return next((act for act in reversed(acts) if act.at_ms < before_ms), None)


def found_out_after(world: World, gauge: str, trouble: ActAt) -> ActAt | None:
    """Return the first calibration after a trouble that found the gauge out, or took no as-found: X07 has it then."""
    for act, done in world.acts.of(Calibration):
        if done.gauge == gauge and done.as_found != "Good" and text_ms(done.done_at) >= trouble.low_ms:
            return act
    return None


def shows_good(world: World, gauge: str, evidence: Iterable[str], trouble: ActAt) -> bool:
    """True when one of some pages shows a gauge good after a trouble: a good check, or found good at calibration."""
    wanted = set(evidence)
    for act, done in world.acts.of(Calibration):
        is_good = done.gauge == gauge and done.as_found == "Good" and text_ms(done.done_at) >= trouble.high_ms
        if is_good and act.ref in wanted:
            return True
    checks = judged_checks(world, lambda number: 0 if number == gauge else -1)
    return any(each.is_good and each.act.ref in wanted and comes_after(each.act, trouble) for each in checks)


def would_be_out(day: Day, rows: Ints, check: Check) -> Flags:
    """Tell which good readings would be out of tolerance were the whole zero error in them (true = read − error)."""
    out = np.zeros(len(rows), bool)
    places = day.plans.characteristic_row[rows]
    for place in np.unique(places[places >= 0]).tolist():
        what = day.plans.characteristics[place]
        bounds = bounds_of(what) if what.kind in FIGURE_KINDS else None
        if bounds is None or not units.are_alike(check.unit, what.unit):
            continue
        error = Fraction(Decimal(check.error)) * units.ratio(Decimal(1), check.unit, to=Decimal(1), to_unit=what.unit)
        low = -(2**62) if bounds.lower is None else (bounds.lower + error) * NANO
        high = 2**62 if bounds.upper is None else (bounds.upper + error) * NANO
        nano = day.values.nano[rows]
        mine = (places == place) & day.values.is_figure[rows] & (day.verdicts.verdict[rows] == IN)
        is_cut = day.values.is_cut[rows].astype(np.int64)
        out |= mine & ((nano < -int(-low // 1)) | (nano + is_cut > int(high // 1)))
    return out


def _is_before(shown: Shown, trouble: Trouble) -> bool:
    if shown.act is None:
        return shown.at_ms < trouble.act.low_ms
    return comes_after(trouble.act, shown.act)


def _perhaps_since(day: Day, rows: Ints, shown: Shown) -> Flags:
    return day.ms[rows] >= shown.at_ms if shown.act is None else ~surely_before(day, rows, shown.act)
