"""When a gauge or master was taken out of use, and whether it is lost.

Owns the history of states of one number, gauge or master, from registers and pages. Of calibrations only one thing
matters: one that left good what waited for it puts it back to use.
"""

from dataclasses import dataclass

from consolidator.frame.asof import EVER
from consolidator.frame.gauges import since_ms
from consolidator.frame.world import World, text_ms
from kiosk.lists import Gauge, Master
from kiosk.lists.words import GaugeState
from kiosk.pages.desk import Calibration, GaugeStateChange


@dataclass(frozen=True)
class StateStep:
    """From `since_ms` on it was in `state`, as `source` says: a page, or the register."""

    since_ms: int
    state: GaugeState
    source: str
    known_ms: int
    only_after: GaugeState | None = None
    """What it must have been in before; none: whatever it was in."""


class States:
    """What is known of the states of all gauges and masters."""

    def __init__(self, world: World) -> None:
        self._news: dict[str, list[StateStep]] = {}
        rows: list[Gauge | Master] = [*world.lists.gauges, *world.lists.masters]
        for row in rows:
            since = since_ms(row.in_force_from)
            self._news.setdefault(row.number, []).append(StateStep(since, row.state, "the register", since))
        for act, change in world.acts.of(GaugeStateChange):
            state = GaugeState(change.state)
            is_good = state is GaugeState.IN_USE
            since = act.at_ms if is_good or change.since is None else min(act.at_ms, text_ms(change.since))
            self._news.setdefault(change.gauge, []).append(StateStep(since, state, act.ref, act.at_ms))
        for act, done in world.acts.of(Calibration):
            if done.stage != "as-found" and done.as_left == "Good":
                back = StateStep(act.at_ms, GaugeState.IN_USE, act.ref, act.at_ms, only_after=GaugeState.AWAITING)
                self._news.setdefault(done.gauge, []).append(back)

    def steps(self, number: str) -> list[StateStep]:
        """Return the states of a number in order of time; news that reaches back takes the place of what it covers."""
        line: list[StateStep] = []
        for step in sorted(self._news.get(number, ()), key=lambda each: each.known_ms):
            if step.only_after is None:
                line = [*(each for each in line if each.since_ms < step.since_ms), step]
            elif line and line[-1].state is step.only_after:
                line.append(step)
        return line

    def out_since(self, number: str, ms: int) -> StateStep | None:
        """Return the step with which it went out of use for good before `ms`; none when it was in use then."""
        went: StateStep | None = None
        for step in self.steps(number):
            if step.since_ms >= ms:
                break
            # A register that gives no time says nothing of when it went out of use.
            if step.state is GaugeState.IN_USE or step.since_ms == EVER:
                went = None
            elif went is None:
                went = step
        return went

    def lost(self, number: str) -> StateStep | None:
        """Return the step with which it was lost; none when it is not lost now."""
        steps = self.steps(number)
        return steps[-1] if steps and steps[-1].state is GaugeState.LOST else None

    @property
    def numbers(self) -> list[str]:
        """Every gauge and master there is news of."""
        return sorted(self._news)
