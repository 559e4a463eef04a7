"""What happens around the measuring: stops, the next lot, heat, temperature, counting."""

from decimal import Decimal
from typing import Final, cast

from kiosk.acts.door import JobScreen, number_in, open_job
from kiosk.acts.pieces import Measured
from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told
from kiosk.acts.steps import Screen, Steps
from kiosk.judge import HeatNote
from kiosk.measure.decimals import read_figure
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


class HeatNumber(Screen):
    """The heat number that stands on the material."""

    def shown(self) -> Shown:
        """Ask for the number, scanned; a heat of the lists may be picked."""
        heats = tuple(dict.fromkeys(lot.heat for lot in reversed(self.lists.lots) if lot.heat is not None))
        return Shown(
            title=say("Scan the heat number on the material."), told=self.steps.told,
            choices=tuple(Choice(say("Heat {heat}", heat=heat), heat) for heat in heats),
        )  # fmt: skip

    def pick(self, act: str) -> None:
        """Keep the heat picked; it counts as typed."""
        if act == "back":
            self.steps.home()
            return
        self._keep(act, is_typed=True)

    def scan(self, code: str) -> bool:
        """Keep the heat scanned."""
        if any(code in one.badges for one in self.lists.people):
            return False
        self._keep(code, is_typed=False)
        return True

    def _keep(self, heat: str, *, is_typed: bool) -> None:
        done = self.work.scan_heat(heat, is_typed=is_typed)
        noted = () if done.say else (Told(say("Heat {heat} noted.", heat=heat), Mark.OK),)
        self.steps.done(done, *noted)
        self.steps.home()


class PiecesCounted(Screen):
    """The quantity balance at the end of the operation: in, good, scrap, for tests, still in hand."""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._counts: list[int] = []

    def shown(self) -> Shown:
        """Ask for one count after the other."""
        titles = (
            say("How many pieces came in?"), say("How many are good?"), say("How many are scrap?"),
            say("How many went to tests?"), say("How many are still in hand?"),
        )  # fmt: skip
        return Shown(
            title=titles[len(self._counts)], told=self.steps.told, pad=Pad.NUMBER, figure=self.steps.figure,
            figure_words=say("pieces"),
        )  # fmt: skip

    def keep(self, keyed: str) -> None:
        """Take a count; the last one keeps them all."""
        if not keyed:
            self.steps.say(Told(say("Nothing is keyed yet."), Mark.LOOK))
            return
        self._counts.append(int(keyed))
        self.steps.wipe_figure()
        self.steps.told = ()
        if len(self._counts) == 5:
            pieces_in, good, scrap, test, in_hand = self._counts
            self._counts = []
            done = self.work.count_pieces(pieces_in=pieces_in, good=good, scrap=scrap, test=test, in_hand=in_hand)
            noted = () if done.say else (Told(say("The pieces add up. Noted."), Mark.OK),)
            self.steps.done(done, *noted)
            self.steps.home()

    def pick(self, act: str) -> None:
        """Go back to the question before, or leave it."""
        self.steps.told = ()
        if not self._counts:
            self.steps.home()
            return
        self._counts.pop()
        self.steps.wipe_figure()
