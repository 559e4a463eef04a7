"""What happens around the measuring: stops, the next lot, kinds of sample, temperature."""

from decimal import Decimal
from typing import Final, cast

from kiosk.acts.door import JobScreen, number_in, open_job
from kiosk.acts.measuring import characteristics_here, go_measure
from kiosk.acts.pieces import Measured
from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told
from kiosk.acts.steps import Screen, Steps
from kiosk.judge import HeatNote
from kiosk.measure.decimals import read_figure
from kiosk.pages.words import SampleKind
from kiosk.station import Said, StopReason, say

STOP_WORDS: Final[dict[str, Said]] = {
    "break": say("Break"),
    "no material": say("No material"),
    "breakdown": say("Breakdown"),
    "wheel dress": say("Wheel dress"),
    "cleaning": say("Cleaning"),
    "set-up": say("Set-up"),
    "other": say("Something else"),
}
KIND_WORDS: Final[dict[SampleKind, Said]] = {
    SampleKind.RUN: say("Run sample"),
    SampleKind.FIRST: say("First pieces"),
    SampleKind.SET_UP: say("Set-up piece"),
    SampleKind.LAST: say("Last piece"),
    SampleKind.ACCEPTANCE: say("Lot acceptance"),
    SampleKind.REFEREE: say("Referee measurement"),
}


class StopScreen(Screen):
    """The machine stands: why?"""

    def shown(self) -> Shown:
        """Offer the reasons; nobody is asked for more."""
        return Shown(
            title=say("The machine stands. Why?"),
            told=self.steps.told,
            choices=tuple(Choice(words, reason) for reason, words in STOP_WORDS.items()),
        )

    def pick(self, act: str) -> None:
        """Log the stop."""
        if act in STOP_WORDS:
            self.steps.done(self.work.stop(cast(StopReason, act)))
            self.steps.say(Told(say("Noted: the machine stands. {reason}.", reason=STOP_WORDS[act]), Mark.OK))
        self.steps.home()


class NextLot(Screen):
    """One lot ends and the next begins."""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._to = ""

    def shown(self) -> Shown:
        """Ask for the next lot, then whether the line is clear."""
        if self._to:
            return Shown(
                title=say("Is the line clear of the lot before {lot}?", lot=self._to),
                told=(
                    Told(say("Look at machine, chute, bench, totes and gauges. Mixed lots cannot be sorted by eye.")),
                ),
                choices=(Choice(say("The line is clear"), "clear"), Choice(say("Not clear yet"), "unclear")),
                is_apart=True,
            )
        lots = [lot for lot in reversed(self.lists.lots) if any(plan.part == lot.part for plan in self.lists.plans)]
        here = None if self.state.job is None else self.state.job.lot
        return Shown(
            title=say("Next lot: scan its traveller, or pick it."),
            told=self.steps.told,
            choices=tuple(
                Choice(say("{lot}  part {part}", lot=lot.number, part=lot.part), lot.number)
                for lot in lots
                if lot.number != here
            ),
        )

    def pick(self, act: str) -> None:
        """Take the lot, then the answer."""
        if act == "back":
            self.steps.told = ()
            self.steps.home()
        elif not self._to:
            self._to = act
        else:
            self._change(act == "clear")

    def scan(self, code: str) -> bool:
        """Take the lot scanned."""
        if any(code in one.badges for one in self.lists.people):
            return False
        self._to = number_in(code, (lot.number for lot in self.lists.lots))
        return True

    def _change(self, is_clear: bool) -> None:
        done = self.work.change_over(self._to, is_line_clear=is_clear)
        self.steps.done(done)
        if not is_clear:
            self.steps.home()
            return
        job, lot = self.state.job, self.lists.lot(self._to)
        if job is not None and lot is not None and lot.part == job.part:
            open_job(self, self._to, job.operation, is_typed=False)
            return
        screen = JobScreen(self.steps)
        self.steps.go(screen)
        screen.scan(self._to)


class WhichKind(Screen):
    """Why are these pieces measured?"""

    def __init__(self, steps: Steps, what: str | None = None) -> None:
        super().__init__(steps)
        self._what = what

    def shown(self) -> Shown:
        """Ask which characteristic, then which kind of sample."""
        if self._what is None:
            return Shown(
                title=say("Another kind of sample: of what?"),
                choices=tuple(
                    Choice(say("{number} {name}", number=one.number, name=one.name), one.number)
                    for one in characteristics_here(self)
                ),
            )
        return Shown(
            title=say("{what}: which kind of sample?", what=self._what),
            choices=tuple(Choice(words, kind) for kind, words in KIND_WORDS.items()),
        )

    def pick(self, act: str) -> None:
        """Begin the sample."""
        if act == "back":
            self.steps.home()
        elif self._what is None:
            self._what = act
        else:
            go_measure(self.steps, self._what, SampleKind(act))


class Temperature(Screen):
    """How warm the part is, and the gauge, in degrees Fahrenheit."""

    def __init__(self, steps: Steps, back_to: Measured) -> None:
        super().__init__(steps)
        self._back_to = back_to
        self._part: Decimal | None = None

    def shown(self) -> Shown:
        """Ask for the part first, then for the gauge."""
        title = say("How warm is the part?") if self._part is None else say("How warm is the gauge?")
        return Shown(
            title=title, told=self.steps.told, pad=Pad.FIGURE, figure=self.steps.figure,
            figure_words=say("degrees Fahrenheit"),
        )  # fmt: skip

    def pick(self, act: str) -> None:
        """Go back without temperatures."""
        self.steps.go(self._back_to)

    def keep(self, keyed: str) -> None:
        """Take the temperature; both go with the readings of this sample."""
        figure = Decimal(read_figure(keyed))
        self.steps.wipe_figure()
        if self._part is None:
            self._part = figure
            return
        self._back_to.heat = HeatNote(part=self._part, gauge=figure)
        told = say("Part {part}, gauge {gauge} degrees Fahrenheit.", part=self._part, gauge=figure)
        self.steps.say(Told(told, Mark.OK))
        self.steps.go(self._back_to)
