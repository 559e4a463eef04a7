"""Why pieces are measured when it is not the run's own sample: first, last, referee pieces, or a blind re-measure."""

import re
from typing import Final

from kiosk.acts.measuring import characteristics_here, go_measure
from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told
from kiosk.acts.steps import Screen, Steps, Wanted
from kiosk.pages.words import SampleKind
from kiosk.station import Said, say

KIND_WORDS: Final[dict[SampleKind, Said]] = {
    SampleKind.FIRST: say("First pieces"),
    SampleKind.RUN: say("Run sample"),
    SampleKind.LAST: say("Last piece"),
    SampleKind.SET_UP: say("Set-up piece"),
    SampleKind.ACCEPTANCE: say("Lot acceptance"),
    SampleKind.REFEREE: say("Referee measurement"),
    SampleKind.RE_TAP: say("After re-tapping"),
    SampleKind.RE_WORK: say("After rework"),
}
_PAGE: Final = re.compile(r"[a-zA-Z0-9][a-zA-Z0-9.-]{0,30}/[1-9][0-9]{0,9}")


class WhichKind(Screen):
    """Why are these pieces measured?"""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._what: str | None = None

    def shown(self) -> Shown:
        """Ask which characteristic, then which kind of sample."""
        if self._what is None:
            return Shown(title=say("Another kind of sample: of what?"), choices=_characteristics(self))
        return Shown(
            title=say("{what}: which kind of sample?", what=self._what),
            choices=tuple(Choice(words, kind) for kind, words in KIND_WORDS.items()),
        )

    def pick(self, act: str) -> None:
        """Begin the sample."""
        if act == "back":
            self.steps.home()
        elif self._what is None:
            self._what, self.steps.page = act, 0
        else:
            go_measure(self.steps, self._what, SampleKind(act))


class ReMeasure(Screen):
    """The QC room asked for a piece to be measured again, without its earlier value."""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._of = ""
        self._is_other = False

    def shown(self) -> Shown:
        """Ask for the order's page, then for the characteristic; nothing of the earlier reading is shown."""
        if self._of:
            return Shown(title=say("Re-measure: of what?"), told=self.steps.told, choices=_characteristics(self))
        if self.steps.orders and not self._is_other:
            asked = tuple(
                Choice(say("{what}, lot {lot}, piece {piece}", what=one.characteristic, lot=one.lot,
                           piece=one.piece or ""), f"order {place}",
                       detail=say("{words}", words=one.words) if one.words else None)
                for place, one in enumerate(self.steps.orders)
            )  # fmt: skip
            other = Choice(say("Another order"), "other")
            return Shown(title=say("Which re-measure?"), told=self.steps.told, choices=(*asked, other))
        return Shown(
            title=say("Scan the code on the order."),
            told=(
                *self.steps.told,
                Told(say("Or key the number of the page, where the reading was taken at this station.")),
            ),
            pad=Pad.NUMBER,
            figure=self.steps.figure or None,
        )

    def keep(self, keyed: str) -> None:
        """Take a page of this station's own book by its number."""
        if not keyed.strip("0"):
            self.steps.say(Told(say("Nothing is keyed yet."), Mark.LOOK))
            return
        self._take(f"{self.steps.series}/{int(keyed)}")

    def scan(self, code: str) -> bool:
        """Take the code of the order."""
        if _PAGE.fullmatch(code) is None:
            return False
        self._take(code)
        return True

    def pick(self, act: str) -> None:
        """Begin the blind sample of one piece."""
        if act == "back":
            self.steps.told = ()
            self.steps.home()
        elif act == "other":
            self._is_other = True
        elif act.startswith("order "):
            self._begin(self.steps.orders[int(act.removeprefix("order "))])
        elif self._of:
            go_measure(self.steps, act, SampleKind.RE_MEASURE, self._of)

    def _begin(self, order: Wanted) -> None:
        job = self.state.job
        if job is None or job.lot != order.lot:
            self.steps.say(Told(say("Open lot {lot} first: More, Lot, Open another job.", lot=order.lot), Mark.LOOK))
            return
        go_measure(self.steps, order.characteristic, SampleKind.RE_MEASURE, order.of)

    def _take(self, of: str) -> None:
        self._of = of
        self.steps.wipe_figure()
        self.steps.say(Told(say("The earlier value stays hidden until you have measured."), Mark.PLAIN))


def _characteristics(screen: Screen) -> tuple[Choice, ...]:
    return tuple(
        Choice(say("{number} {name}", number=one.number, name=one.name), one.number)
        for one in characteristics_here(screen)
    )
