"""Everything beside the measuring that a person does at a station, and the screen the work asks for."""

from kiosk.acts.checking import check_any, report_dropped
from kiosk.acts.door import Door, JobScreen, badge_in
from kiosk.acts.floor import NextLot, StopScreen, Temperature, WhichKind
from kiosk.acts.measuring import GaugeScreen, Hub
from kiosk.acts.pieces import Measured, piece_screen
from kiosk.acts.setting_up import SetUpScreen
from kiosk.acts.shown import Choice, Mark, Shown, Told, told_of
from kiosk.acts.signing import Countersigning
from kiosk.acts.steps import Screen, Steps, Ways
from kiosk.station import say


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
            return piece_screen(steps, taken.characteristic)
    return Hub(steps)


class More(Screen):
    """Every other act; what the screen before has of its own stands first."""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._before = steps.screen.before

    @property
    def before(self) -> Screen:
        """The screen More was asked for on."""
        return self._before

    def shown(self) -> Shown:
        """Offer the acts that are possible now."""
        state, choices = self.state, list(self._before.aside())
        if isinstance(self._before, Measured) and state.sample_of(self._before.what.number) is not None:
            choices += [
                Choice(say("Trainer countersigns"), "countersign"),
                Choice(say("Temperature of part and gauge"), "temperature"),
            ]
        if state.person is not None:
            choices.append(Choice(say("Zero check or day check"), "check"))
            running = Choice(say("The machine runs again"), "runs")
            choices.append(Choice(say("The machine stands"), "stop") if state.stop is None else running)
        if state.job is not None and state.person is not None:
            choices += [
                Choice(say("Set-up and first pieces"), "set-up"),
                Choice(say("Another kind of sample"), "kind"),
                Choice(say("Pieces came out of heat"), "heat"),
                Choice(say("Next lot, line clearance"), "next lot"),
            ]
        if state.person is not None:
            choices.append(Choice(say("Open another job"), "job"))
        if self.steps.carry_by_stick is not None:
            choices.append(Choice(say("Carry by stick"), "stick"))
        choices += [Choice(say("Wipe the screen"), "wipe"), Choice(say("I dropped it"), "dropped")]
        if state.person is not None:
            choices.append(Choice(say("Badge out"), "out"))
        return Shown(title=say("What else?"), told=self.steps.told, choices=tuple(choices))

    def pick(self, act: str) -> None:
        """Go to the act picked."""
        steps, before = self.steps, self._before
        screens = {
            "job": JobScreen, "stop": StopScreen, "set-up": SetUpScreen, "kind": WhichKind, "next lot": NextLot,
        }  # fmt: skip
        if any(choice.act == act for choice in before.aside()):
            steps.go(before)
            before.pick(act)
        elif act in screens:
            steps.go(screens[act](steps))
        elif act == "countersign" and isinstance(before, Measured):
            steps.go(Countersigning(steps, before))
        elif act == "temperature" and isinstance(before, Measured):
            steps.go(Temperature(steps, before))
        elif act == "check":
            check_any(steps)
        else:
            self._at_once(act)

    def _at_once(self, act: str) -> None:
        steps = self.steps
        if act == "runs":
            steps.done(self.work.run_again())
            steps.say(Told(say("Noted: the machine runs again."), Mark.OK))
            steps.home()
        elif act == "heat":
            steps.done(self.work.out_of_heat())
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


WAYS = Ways(
    first=first_screen, more=More, dropped=report_dropped, badge=badge_in, hub=Hub,
    gauge=lambda steps, what: GaugeScreen(steps, what, None),
)  # fmt: skip
