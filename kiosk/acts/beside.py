"""Everything beside the measuring that a person does at a station, and the screen the work asks for."""

from collections.abc import Callable

from kiosk.acts.checking import GaugeNews, check_any, report_dropped
from kiosk.acts.door import Door, JobScreen, badge_in, name_of
from kiosk.acts.floor import HeatNumber, NextLot, PiecesCounted, StopScreen, Temperature
from kiosk.acts.kinds import PaperForm, ReMeasure, WhichKind
from kiosk.acts.measuring import GaugeScreen, Hub, go_measure
from kiosk.acts.pieces import Measured, piece_screen
from kiosk.acts.setting_up import SetUpScreen
from kiosk.acts.shown import Choice, Mark, Ruler, Shown, Told, told_of
from kiosk.acts.steps import Screen, Steps, Ways
from kiosk.acts.studies import StudyScreen
from kiosk.station import say

RULER_MM = 100
"""A ruler of the bench is longer, and a panel of 8 in is wide enough."""
ACCEPTANCE = say("Acceptance run")
GROUPS = ("this sample", "gauges", "machine", "lot", "kinds", "kiosk")


def first_screen(steps: Steps) -> Screen:
    """Return the screen that the state of the work asks for: after a power cut, the one that was up."""
    state = steps.work.state
    if state.person is None:
        return Door(steps)
    if state.job is None:
        return JobScreen(steps)
    job = state.job
    for taken in reversed(state.gauges):
        sample = state.sample_of(taken.characteristic)
        is_here = sample is not None and (sample.lot, sample.operation) == (job.lot, job.operation)
        if is_here and sample is not None and sample.pieces and taken.person == state.person:
            following = steps.work.next_in_round(taken.characteristic)
            return piece_screen(steps, following) if state.sample_of(following) is not None else Hub(steps)
    return Hub(steps)


class More(Screen):
    """Every other act, in groups; what the screen before has of its own stands first."""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._before = steps.screen.before
        self._group = ""

    @property
    def before(self) -> Screen:
        """The screen More was asked for on."""
        return self._before

    def shown(self) -> Shown:
        """Offer the acts that are possible now."""
        titles = {
            "this sample": say("This sample"), "gauges": say("Gauges and checks"),
            "machine": say("Machine and set-up"), "lot": say("Lot, heat, count"),
            "kinds": say("Another kind of sample"), "kiosk": say("This kiosk"),
        }  # fmt: skip
        choices = {
            "this sample": self._of_sample, "gauges": self._of_gauges, "machine": self._of_machine,
            "lot": self._of_lot, "kinds": self._of_kinds, "kiosk": self._of_kiosk,
        }  # fmt: skip
        if self._group:
            return Shown(title=titles[self._group], told=self.steps.told, choices=choices[self._group]())
        groups = tuple(Choice(titles[group], group) for group in GROUPS if choices[group]())
        own = tuple(choice for choice in self._before.aside() if choice.act != "way")
        here = tuple(choice for choice in groups if choice.act == "this sample")
        others = tuple(choice for choice in groups if choice.act != "this sample")
        wipe = Choice(say("Wipe the screen"), "wipe")
        run = (Choice(ACCEPTANCE, "acceptance"),) if self.steps.guide() is not None else ()
        return Shown(title=say("What else?"), told=self.steps.told, choices=(*run, *own, *here, wipe, *others))

    def _of_sample(self) -> tuple[Choice, ...]:
        before = self._before
        if not isinstance(before, Measured):
            return ()
        signs = (Choice(say("Trainer countersigns"), "countersign"),)
        return (
            *(choice for choice in before.aside() if choice.act == "way"),
            *(signs if self.state.sample_of(before.what.number) is not None else ()),
            Choice(say("Temperature of part and gauge"), "temperature"),
            Choice(say("End this sample short"), "short"),
        )

    def _of_gauges(self) -> tuple[Choice, ...]:
        dropped = (Choice(say("I dropped it"), "dropped"), Choice(say("Something else about a gauge"), "news"))
        if self.state.person is None:
            return dropped[:1]
        return (
            Choice(say("Zero check or day check"), "check"), *dropped, Choice(say("Gauge study"), "study"),
        )  # fmt: skip

    def _of_machine(self) -> tuple[Choice, ...]:
        if self.state.person is None:
            return ()
        running = Choice(say("The machine runs again"), "runs")
        set_up = (Choice(say("Set-up and first pieces"), "set-up"),)
        return (
            Choice(say("The machine stands"), "stop") if self.state.stop is None else running,
            *(set_up if self.state.job is not None else ()),
        )

    def _of_lot(self) -> tuple[Choice, ...]:
        if self.state.person is None:
            return ()
        another = Choice(say("Open another job"), "job")
        if self.state.job is None:
            return (another,)
        return (
            Choice(say("Next lot, line clearance"), "next lot"), another,
            Choice(say("Pieces came out of heat"), "heat"), Choice(say("Heat number on the material"), "heat number"),
            Choice(say("Count the pieces"), "count"),
        )  # fmt: skip

    def _of_kinds(self) -> tuple[Choice, ...]:
        if self.state.job is None or self.state.person is None:
            return ()
        return (
            Choice(say("First, last, referee or other pieces"), "kind"),
            Choice(say("Re-measure for the QC room"), "re-measure"),
            Choice(say("Key a paper form"), "paper form"),
        )

    def _of_kiosk(self) -> tuple[Choice, ...]:
        stick = (Choice(say("Carry by stick"), "stick"),) if self.steps.carry_by_stick is not None else ()
        out = (Choice(say("Badge out"), "out"),) if self.state.person is not None else ()
        run = (Choice(ACCEPTANCE, "acceptance"),) if self.steps.acceptance is not None else ()
        return (*out, *stick, Choice(say("Is a millimetre a millimetre here?"), "panel"), *run)

    def pick(self, act: str) -> None:
        """Go to the group or the act picked."""
        steps, before = self.steps, self._before
        if act in GROUPS:
            self._group, steps.page = act, 0
        elif act == "back" and self._group:
            self._group, steps.page = "", 0
        elif any(choice.act == act for choice in before.aside()):
            steps.go(before)
            before.pick(act)
        elif act in SCREENS:
            steps.go(SCREENS[act](steps))
        elif act == "acceptance" and steps.acceptance is not None:
            steps.go(steps.acceptance(steps))
        elif act == "check":
            check_any(steps)
        elif isinstance(before, Measured) and act in ("countersign", "temperature", "short"):
            self._on_sample(before, act)
        else:
            self._at_once(act)

    def _on_sample(self, before: Measured, act: str) -> None:
        if act == "short":
            self.steps.done(self.work.end_sample(before.what.number, why_short="ended by the operator"))
            self.steps.hub()
            return
        self.steps.go(Countersigning(self.steps, before) if act == "countersign" else Temperature(self.steps, before))

    def _at_once(self, act: str) -> None:
        steps = self.steps
        if act == "runs":
            steps.done(self.work.run_again())
            steps.say(Told(say("Noted: the machine runs again."), Mark.OK))
            steps.home()
        elif act == "heat":
            steps.done(self.work.out_of_heat(), Told(say("Noted: out of heat now."), Mark.OK))
            steps.home()
        elif act == "wipe":
            steps.wipe()
            steps.go(self._before)
        elif act == "out":
            done = self.work.badge_out()
            steps.done(done)
            steps.say(Told(say("Badged out. What is unfinished waits."), Mark.OK), *told_of(done.say))
            steps.home()
        elif act == "stick" and steps.carry_by_stick is not None:
            steps.say(*(Told(one, Mark.OK) for one in steps.carry_by_stick()))
            steps.go(self._before)
        else:
            steps.go(self._before)


class PanelScreen(Screen):
    """A line and a square to hold a ruler against."""

    def shown(self) -> Shown:
        """Draw the line; ask whether it is as long as it says."""
        return Shown(
            title=say("Hold a ruler against the line: is it {n} mm?", n=RULER_MM),
            told=self.steps.told,
            choices=(Choice(say("Yes, {n} mm", n=RULER_MM), "yes"), Choice(say("No"), "no")),
            ruler=Ruler(RULER_MM),
        )

    def pick(self, act: str) -> None:
        """Say what is to be done where it is not."""
        if act == "no":
            told = say("Set the panel's diagonal and pixels in this kiosk's settings, then start it again. Call IT.")
            self.steps.say(Told(told, Mark.LOOK))
            return
        self.steps.told = ()
        self.steps.home()


SCREENS: dict[str, Callable[[Steps], Screen]] = {
    "job": JobScreen, "stop": StopScreen, "set-up": SetUpScreen, "kind": WhichKind, "next lot": NextLot,
    "re-measure": ReMeasure, "paper form": PaperForm, "heat number": HeatNumber, "count": PiecesCounted,
    "news": GaugeNews, "study": StudyScreen, "panel": PanelScreen,
}  # fmt: skip
WAYS = Ways(
    first=first_screen, more=More, dropped=report_dropped, badge=badge_in, hub=Hub,
    gauge=lambda steps, what: GaugeScreen(steps, what, None), measure=go_measure,
)  # fmt: skip
"""Where one gets from any screen."""


class Countersigning(Screen):
    """A trainer signs beside the trainee while the sample is open."""

    def __init__(self, steps: Steps, back_to: Measured) -> None:
        super().__init__(steps)
        self._back_to = back_to

    def shown(self) -> Shown:
        """Ask for the trainer's badge."""
        return Shown(title=say("The trainer's badge, please."), told=self.steps.told)

    def pick(self, act: str) -> None:
        """Go back without a countersign."""
        self.steps.told = ()
        self.steps.go(self._back_to)

    def scan(self, code: str) -> bool:
        """Take the badge: here it countersigns, it does not take over."""
        done = self.work.countersign(self._back_to.what.number, code)
        self.steps.done(done)
        trainer = name_of(self.steps, done.page.person)
        self.steps.say(Told(say("Countersigned by {person}.", person=trainer), Mark.OK))
        self.steps.go(self._back_to)
        return True
