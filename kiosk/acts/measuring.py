"""Measuring begins: which characteristic of the open job, with which gauge."""

from typing import Final

from kiosk.acts.checking import CheckScreen
from kiosk.acts.door import JobScreen, name_of, number_in
from kiosk.acts.pieces import piece_screen, progress
from kiosk.acts.shown import Choice, Mark, Shown, Told, gauge_choice, mark_of, told_of
from kiosk.acts.steps import Screen, Steps
from kiosk.errors import GaugeRefused
from kiosk.lists import Characteristic
from kiosk.lists.words import GaugeKind, MasterKind
from kiosk.measure.check_character import printed_number
from kiosk.pages.words import SampleKind
from kiosk.station import Paper, say

MENDED_BY_CHECK: Final = frozenset({"X05", "X10", "X11", "X12", "X60"})
"""What speaks against a gauge until it was checked on its master or block."""
NOT_MENDED: Final = frozenset({"X01", "X03", "X04"})
"""What no check at the station mends: past due, not in the register, out of use."""


def characteristics_here(screen: Screen) -> tuple[Characteristic, ...]:
    """Return the characteristics of the open job in plan order."""
    job = screen.state.job
    return () if job is None else screen.work.characteristics()


class Hub(Screen):
    """The job is open: what is measured next?"""

    def shown(self) -> Shown:
        """Offer the plan's characteristics, each with how far its sample is."""
        job = self.state.job
        assert job is not None
        about = say(
            "{person}. Lot {lot}, operation {operation}, part {part}.", person=name_of(self.steps, self.state.person),
            lot=job.lot, operation=job.operation, part=job.part,
        )  # fmt: skip
        return Shown(
            title=say("What is measured?"),
            told=(*self.steps.told, *self._guide(), *self._stands(), Told(about)),
            choices=(
                *(Choice(say("{number} {name}", number=one.number, name=one.name), one.number,
                         detail=progress(self, one.number)) for one in characteristics_here(self)),
                *self._order(),
            ),
            bar=self.steps.bar,
            has_back=False,
            choices_a_page=4,
        )  # fmt: skip

    def _order(self) -> tuple[Choice, ...]:
        """Offer the other order of measuring where there is more than one thing to measure."""
        if len(characteristics_here(self)) < 2:
            return ()
        if self.state.is_piece_by_piece:
            return (Choice(say("One characteristic at a time"), "order"),)
        return (Choice(say("All of them piece by piece"), "order"),)

    def _guide(self) -> tuple[Told, ...]:
        guide = self.steps.guide()
        return () if guide is None else (Told(guide, Mark.LOOK),)

    def _stands(self) -> tuple[Told, ...]:
        """Return what keeps the run from going on: the machine stands, or nobody approved the first pieces."""
        job, plan, stop = self.state.job, self.work.plan(), self.state.stop
        told = []
        if stop is not None:
            told.append(Told(say("The machine stands. Tell here when it runs again: More, Machine."), Mark.LOOK))
        set_up = None if job is None else self.state.set_up_of(job.operation)
        if plan is not None and plan.needs_first_piece and (set_up is None or set_up.state != "Approved"):
            told.append(Told(say("First pieces are not approved here. Run no pieces."), Mark.LOOK))
        return tuple(told)

    def pick(self, act: str) -> None:
        """Go on with a characteristic: its gauge first, then its pieces."""
        self.steps.told, self.steps.bar = (), None
        if act == "order":
            self.steps.done(self.work.choose_order(is_piece_by_piece=not self.state.is_piece_by_piece))
            return
        go_measure(self.steps, act)

    def scan(self, code: str) -> bool:
        """Open another job with a traveller."""
        lot = number_in(code, (row.number for row in self.lists.lots))
        if self.lists.lot(lot) is None:
            return False
        screen = JobScreen(self.steps)
        self.steps.go(screen)
        return screen.scan(code)


def go_measure(
    steps: Steps, what: str, kind: SampleKind | None = None, of: str | None = None, paper: Paper | None = None
) -> None:
    """Go to the next step of measuring a characteristic.

    `of` is the page of a reading that is measured again, `paper` the form that a new sample is keyed from.
    """
    state = steps.work.state
    taken = state.gauge_for(what)
    known = next((one for one in steps.work.characteristics() if one.number == what), None)
    needs_gauge = known is None or bool(known.gauge_kinds)
    if needs_gauge and (taken is None or taken.person != state.person):
        steps.go(GaugeScreen(steps, what, kind, of=of, paper=paper))
        return
    sample = state.sample_of(what)
    if sample is None or of is not None or paper is not None or (kind is not None and sample.kind is not kind):
        begun = steps.work.begin_sample(what, kind=kind or SampleKind.RUN, re_measure_of=of)
        steps.keyed_from(what, paper)
        if begun.say:
            steps.say(*told_of(begun.say))
        if steps.work.state.gauge_for(what) is None and needs_gauge:
            steps.go(GaugeScreen(steps, what, None))
            return
    steps.go(piece_screen(steps, what))


class GaugeScreen(Screen):
    """Which gauge, and where its kind needs one, which wire set."""

    def __init__(
        self,
        steps: Steps,
        what: str,
        kind: SampleKind | None,
        *,
        of: str | None = None,
        paper: Paper | None = None,
        is_another: bool = False,
    ) -> None:
        super().__init__(steps)
        self._what, self._kind, self._of, self._is_another = what, kind, of, is_another
        self._paper = paper
        self._gauge = self._master = ""
        self._is_typed = False
        self._refused = False

    def shown(self) -> Shown:
        """Ask for the gauge; offer those kept at this station, and the way on after a warning."""
        taken = self.state.gauge_for(self._what)
        if taken is not None and taken.person == self.state.person and not self._is_another:
            check = Choice(say("Check {gauge} now", gauge=taken.gauge), "check", is_strong=True)
            can_check = not MENDED_BY_CHECK.isdisjoint(taken.told) and NOT_MENDED.isdisjoint(taken.told)
            choices: tuple[Choice, ...] = (
                *((check,) if can_check else ()),
                Choice(say("Take another gauge"), "another", is_strong=not can_check),
                Choice(say("Measure with it all the same"), "on"),
            )
        elif self._refused:
            choices = (
                Choice(say("I measured with it all the same"), "anyway"),
                Choice(say("Take another gauge"), "another"),
            )
        else:
            choices = self._offered()
        known = self.work.gauge(self._gauge) if self._gauge else None
        wants_wires = known is not None and known.kind is GaugeKind.OVER_WIRES and not self._master
        if wants_wires and not self._refused:
            title = say("{what}: scan the wire set.", what=self._what)
        elif choices and choices[0].act in ("check", "another", "anyway"):
            title = say("{gauge} for {what}: read this first.", gauge=self._gauge, what=self._what)
        else:
            title = say("{what}: scan the gauge.", what=self._what)
        return Shown(title=title, told=self.steps.told, choices=choices)

    def pick(self, act: str) -> None:
        """Take a gauge from the list, or go on after a warning."""
        if act == "back":
            self.steps.told = ()
            self.steps.home()
        elif act == "another":
            self.steps.told = ()
            self.steps.go(self._another())
        elif act == "on":
            self._go_on()
        elif act == "check":
            taken = self.state.gauge_for(self._what)
            assert taken is not None
            self.steps.told = ()
            self.steps.go(CheckScreen(self.steps, taken.gauge, self._go_on))
        elif act == "anyway":
            self._take(anyway=True)
        else:
            self._is_typed = True
            self._code(act)

    def scan(self, code: str) -> bool:
        """Take a scanned gauge or wire set."""
        if any(code in one.badges for one in self.lists.people):
            return False
        self._is_typed = False
        known = (*(one.number for one in self.lists.gauges), *(one.number for one in self.lists.masters))
        self._code(number_in(code, known))
        return True

    def _code(self, number: str) -> None:
        self._refused = False
        if any(one.number == number for one in self.lists.masters):
            self._master = number
            if not self._gauge:
                self.steps.say(Told(say("{master} noted. Now scan the gauge.", master=number), Mark.OK))
                return
        else:
            self._gauge = number
        known = self.work.gauge(self._gauge)
        if known is not None and known.kind is GaugeKind.OVER_WIRES and not self._master:
            self.steps.say(Told(say("{gauge} noted. Now scan the wire set.", gauge=self._gauge), Mark.OK))
            return
        self._take(anyway=False)

    def _take(self, *, anyway: bool) -> None:
        number = printed_number(self._gauge) if self._is_typed else self._gauge
        try:
            done = self.work.take_gauge(
                self._what, number, master=self._master or None, typed=("gauge",) if self._is_typed else (),
                measured_anyway=anyway,
            )  # fmt: skip
        except GaugeRefused:
            self._refused = True
            raise
        self._is_another = False
        self.steps.done(done)
        if any(mark_of(one) is Mark.STOP for one in done.say):
            return
        self._go_on()

    def _go_on(self) -> None:
        go_measure(self.steps, self._what, self._kind, self._of, self._paper)

    def _another(self) -> "GaugeScreen":
        return GaugeScreen(self.steps, self._what, self._kind, of=self._of, paper=self._paper, is_another=True)

    def _offered(self) -> tuple[Choice, ...]:
        wanted = next((one for one in characteristics_here(self) if one.number == self._what), None)
        if wanted is None:
            return ()
        if self._gauge:
            return tuple(
                Choice(say("{number} {kind}", number=one.number, kind=one.kind), one.number)
                for one in self.lists.masters if one.kind is MasterKind.WIRES
            )  # fmt: skip
        return tuple(gauge_choice(one) for one in self.work.gauges_here() if one.kind in wanted.gauge_kinds)
