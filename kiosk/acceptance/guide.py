"""The screen that guides through the acceptance run, and says on every other screen what comes next.

Owns the words for the ten readings, the carries and the signatures. Must not know how anything is judged.
"""

from typing import Final

from kiosk.acceptance.kit import Kit
from kiosk.acceptance.run import Result, Task
from kiosk.acceptance.under_way import Run
from kiosk.acts.beside import ACCEPTANCE
from kiosk.acts.door import name_of
from kiosk.acts.setting_up import person_of, pin_asked, signed
from kiosk.acts.shown import Choice, Mark, Shown, Told
from kiosk.acts.steps import Screen, Steps
from kiosk.lists.words import Level
from kiosk.said import Said, say

BADGE_ASKED: Final[dict[Level, Said]] = {
    Level.QUALITY_MANAGER: say("The quality manager's badge, please."),
    Level.CALIBRATOR: say("The calibrator's badge, please."),
}
SENTENCE: Final = say("I saw these ten readings come out as they should. I let this kiosk be used.")
TASK_WORDS: Final[dict[Task, Said]] = {
    Task.IN: say("in tolerance"), Task.OUT: say("out of tolerance"), Task.LIMIT: say("at the limit"),
    Task.DECIMAL_SLIP: say("point in the wrong place"), Task.UNIT_SLIP: say("wrong unit"),
    Task.POWER: say("power plug pulled"), Task.PAST_DUE: say("gauge past its due date"),
    Task.WRONG_THREAD: say("wrong thread gauge"), Task.ACCEPT: say("accept or reject"),
    Task.DROPPED: say("dropped gauge"),
}  # fmt: skip


def offer(steps: Steps, run: Run) -> None:
    """Let the screens of a kiosk lead to the run, and say on each what comes next."""
    steps.acceptance = lambda steps: AcceptanceScreen(steps, run)
    steps.guide = lambda: guide(run)


def guide(run: Run) -> Said | None:
    """Return what comes next; none while no run is under way, and once all ten are read."""
    if run.begun is None:
        return None
    kit, done = run.kit(), run.results()
    if not isinstance(kit, Kit):
        return say("Acceptance run: scan the traveller of the training lot.")
    return None if len(done) == len(Task) else what_to_do(list(Task)[len(done)], kit)


def what_to_do(task: Task, kit: Kit) -> Said:
    """Return what a person does for a task."""
    what, gauge = kit.sized.number, kit.gauge.number
    match task:
        case Task.DECIMAL_SLIP | Task.UNIT_SLIP:
            is_decimal = task is Task.DECIMAL_SLIP
            slip, figure = (kit.decimal_slip, kit.middle) if is_decimal else (kit.unit_slip, kit.low)
            return say("{what} with {gauge}: key {slip}. Asked again, key {figure}.", what=what, gauge=gauge, slip=slip,
                       figure=figure)  # fmt: skip
        case Task.POWER:
            return say("{what}: key {first}, pull the power plug, put it back, key {figure} for the next piece.",
                       what=what, first=kit.at_limit, figure=kit.middle)  # fmt: skip
        case Task.PAST_DUE:
            return say("{what}: take {gauge} all the same, though it is past due, and key {figure}.", what=what,
                       gauge=kit.past_due.number, figure=kit.low)  # fmt: skip
        case Task.WRONG_THREAD:
            return say("{what}: scan {gauge}, which is of another thread.", what=kit.threaded.number,
                       gauge=kit.wrong_ring.number)  # fmt: skip
        case Task.ACCEPT:
            return say("{what}: scan {gauge}, touch Accept.", what=kit.threaded.number, gauge=kit.ring.number)
        case Task.DROPPED:
            return say("Report {gauge} as dropped. Then {what} with it all the same: key {figure}.", what=what,
                       gauge=gauge, figure=kit.middle)  # fmt: skip
        case _:
            figure = {Task.IN: kit.middle, Task.OUT: kit.outside, Task.LIMIT: kit.at_limit}[task]
            return say("{what} with {gauge}: key {figure}.", what=what, gauge=gauge, figure=figure)


class AcceptanceScreen(Screen):
    """Where the run stands: what came out, what comes next, and at the end who signs."""

    def __init__(self, steps: Steps, run: Run) -> None:
        super().__init__(steps)
        self._run = run
        self._is_signing, self._badge = False, ""

    def shown(self) -> Shown:
        """Show the state of the run."""
        if self._is_signing:
            return self._signing()
        kit = self._run.kit()
        if not isinstance(kit, Kit):
            return Shown(title=ACCEPTANCE, told=(*self.steps.told, *_missing(kit)))
        if self._run.begun is None:
            about = say("Ten readings on a training lot, two carries, two signatures. Its numbers are invented.")
            begin = Choice(say("Begin the run"), "begin", is_strong=True)
            return Shown(title=ACCEPTANCE, told=(*self.steps.told, Told(about)), choices=(begin,))
        return self._under_way(kit)

    def _under_way(self, kit: Kit) -> Shown:
        done, again = self._run.results(), Choice(say("Begin the run again"), "begin")
        wrong = next((one for one in done if not one.is_as_expected), None)
        if wrong is not None:
            told = Told(say("Not as expected: {task}. Do not use this kiosk: call support.",
                            task=TASK_WORDS[wrong.task]), Mark.STOP)  # fmt: skip
            return Shown(title=ACCEPTANCE, told=(told, *map(Told, _seen(wrong))), choices=(again,))
        good = () if not done else (
            Told(say("{task}: as expected.", task=TASK_WORDS[done[-1].task]), Mark.OK),
        )  # fmt: skip
        if len(done) < len(Task):
            task = list(Task)[len(done)]
            title = say("{n} of {all}: {task}", n=len(done) + 1, all=len(Task), task=TASK_WORDS[task])
            on = Choice(say("Go and do it"), "on", is_strong=True)
            return Shown(title=title, told=(*good, Told(what_to_do(task, kit), Mark.LOOK)), choices=(on, again))
        return self._all_read()

    def _all_read(self) -> Shown:
        missing = self._ways_missing()
        if missing:
            told = tuple(Told(one, Mark.LOOK) for one in missing)
            return Shown(title=say("All ten as expected. Now carry."), told=(*self.steps.told, *told),
                         choices=self._carries())  # fmt: skip
        sign = Choice(say("Sign"), "sign", is_strong=True)
        return Shown(title=say("All ten as expected, all carried."), told=self.steps.told, choices=(sign,))

    def _ways_missing(self) -> tuple[Said, ...]:
        words = {
            "network": say("Not yet carried by network: wait for the next round."),
            "stick": say("Not yet back by stick: carry, load it at the consolidator, carry again."),
        }
        return tuple(words[way] for way in self._run.ways if way not in self._run.carried)

    def _carries(self) -> tuple[Choice, ...]:
        if self.steps.carry_by_stick is None or "stick" in self._run.carried:
            return ()
        return (Choice(say("Carry by stick"), "stick", is_strong=True),)

    def _signing(self) -> Shown:
        if not self._badge:
            asked = BADGE_ASKED[self._run.next_level]
            return Shown(title=asked, told=(*self.steps.told, Told(SENTENCE)))
        name = name_of(self.steps, person_of(self.steps, self._badge))
        return pin_asked(self.steps, say("{person}: approved. Your PIN.", person=name))

    def pick(self, act: str) -> None:
        """Begin, go on measuring, carry, sign or go back."""
        self.steps.told = ()
        if act == "begin":
            self._run.begin()
        elif act == "on":
            self.steps.home()
        elif act == "stick" and self.steps.carry_by_stick is not None:
            self.steps.say(*(Told(one, Mark.OK) for one in self.steps.carry_by_stick()))
        elif act == "sign":
            self._is_signing = True
        elif act == "back" and self._is_signing:
            self._is_signing, self._badge = False, ""
        else:
            self.steps.home()

    def scan(self, code: str) -> bool:
        """Take the badge of who signs; a traveller opens the training lot as everywhere."""
        if not self._is_signing:
            return False
        why = self._run.why_not(person_of(self.steps, code))
        if why is not None:
            self.steps.say(Told(why, Mark.LOOK))
            return True
        self.steps.told, self._badge = (), code
        return True

    def keep(self, keyed: str) -> None:
        """Sign with the PIN; after the second person the run is over."""
        if not self._badge:
            return
        person, said = person_of(self.steps, self._badge), (str(SENTENCE), str(self._run.next_level))
        self.steps.wipe_figure()
        done = self._run.sign(person, lambda act: signed(self.steps, act, person, keyed, said))
        self._badge = ""
        if done is None:
            self._is_signing = False
            return
        self.steps.done(done, Told(say("Signed by {person}.", person=name_of(self.steps, person)), Mark.OK))
        if self._run.begun is None:
            self.steps.home()


def _missing(kit: tuple[Said, ...] | None) -> tuple[Told, ...]:
    if kit is None:
        return (Told(say("Open the training lot first: scan its traveller."), Mark.LOOK),)
    return (
        *(Told(say("Missing for the run: {what}.", what=one), Mark.LOOK) for one in kit),
        Told(say("Enter it in the plant's lists, then carry once.")),
    )


def _seen(result: Result) -> tuple[Said, ...]:
    return tuple(say("{words}", words=one) for one in result.seen)
