"""When it is not the run's own sample: first, last, referee pieces, a blind re-measure, figures on a paper form."""

import re
from datetime import timedelta
from typing import Final

from kiosk.acts.door import person_with_digits
from kiosk.acts.measuring import characteristics_here, go_measure
from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told
from kiosk.acts.steps import Screen, Steps, Wanted
from kiosk.pages.words import SampleKind
from kiosk.station import Paper, Said, say
from kiosk.times import read_plant_time, write_time

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
                           piece=one.piece or ""), f"order {place}")
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
        if order.words:
            self.steps.say(Told(say("From the QC room: {words}", words=order.words)))
        go_measure(self.steps, order.characteristic, SampleKind.RE_MEASURE, order.of)

    def _take(self, of: str) -> None:
        self._of = of
        self.steps.wipe_figure()
        self.steps.say(Told(say("The earlier value stays hidden until you have measured."), Mark.PLAIN))


class PaperForm(Screen):
    """A form written while the kiosk was down: which, when, by whom, and who reads it back; then its pieces."""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._what = self._form = self._day = self._taken_at = self._taken_by = ""

    def shown(self) -> Shown:
        """Ask for one thing after the other."""
        told, figure = self.steps.told, self.steps.figure
        if not self._what:
            return Shown(title=say("Key a paper form: of what?"), told=told, choices=_characteristics(self))
        if not self._form:
            title = say("Scan the number of the form, or key its digits.")
            return Shown(title=title, told=told, pad=Pad.NUMBER, figure=figure)
        if not self._day:
            days = (say("Today"), say("Yesterday"), say("The day before yesterday"))
            return Shown(
                title=say("Form {form}: on which day was it measured?", form=self._form), told=told,
                choices=tuple(Choice(words, f"day {ago}") for ago, words in enumerate(days)),
            )  # fmt: skip
        if not self._taken_at:
            title = say("At what time? Key four digits: 0930 is half past nine.")
            return Shown(title=title, told=told, pad=Pad.NUMBER, figure=figure)
        if not self._taken_by:
            return Shown(title=say("Who measured? Scan the badge, or key the digits of the number."), told=told,
                         pad=Pad.NUMBER, figure=figure)  # fmt: skip
        return Shown(
            title=say("Who reads it back to you, figure by figure? Scan the badge."), told=told,
            choices=(Choice(say("Nobody is here for it"), "nobody"),),
        )  # fmt: skip

    def pick(self, act: str) -> None:
        """Take the characteristic or the day; without a second person the station says what is still wanted."""
        self.steps.told = ()
        if act == "back":
            self.steps.home()
        elif act == "nobody":
            self._begin(None)
        elif act.startswith("day "):
            day = self.steps.now().date() - timedelta(days=int(act.removeprefix("day ")))
            self._day = day.isoformat()
        else:
            self._what, self.steps.page = act, 0

    def keep(self, keyed: str) -> None:
        """Take the digits of the form, of the time or of a person's number."""
        self.steps.wipe_figure()
        self.steps.told = ()
        if not keyed:
            self.steps.say(Told(say("Nothing is keyed yet."), Mark.LOOK))
        elif not self._form:
            self._form = keyed
        elif not self._taken_at:
            self._take_time(keyed)
        else:
            person = person_with_digits(self, keyed)
            if person is None:
                told = say("No one number on the lists has these digits. Look again and key it.")
                self.steps.say(Told(told, Mark.LOOK))
            self._taken_by = person or ""

    def scan(self, code: str) -> bool:
        """Take the form's number or a badge: here it says who measured or reads back, it does not take over."""
        person = next((one.number for one in self.lists.people if code in (*one.badges, one.number)), None)
        is_of_person = bool(self._taken_at)
        if not self._what or (self._form and not is_of_person) or is_of_person != (person is not None):
            return False
        self.steps.wipe_figure()
        self.steps.told = ()
        if person is None:
            self._form = code
        elif not self._taken_by:
            self._taken_by = person
        else:
            self._begin(person)
        return True

    def _take_time(self, keyed: str) -> None:
        text = f"{self._day} {keyed[:2]}:{keyed[2:]}"
        try:
            taken_at = read_plant_time(text, self.work.zone) if len(keyed) == 4 else None
        except ValueError:
            taken_at = None
        if taken_at is None or taken_at > self.steps.now():
            told = say("{keyed} is no time of that day before now. Look again and key four digits.", keyed=keyed)
            self.steps.say(Told(told, Mark.LOOK))
            return
        self._taken_at = write_time(taken_at)

    def _begin(self, read_back_by: str | None) -> None:
        paper = Paper(form=self._form, taken_at=self._taken_at, taken_by=self._taken_by, read_back_by=read_back_by)
        go_measure(self.steps, self._what, SampleKind.RUN, paper=paper)


def _characteristics(screen: Screen) -> tuple[Choice, ...]:
    return tuple(
        Choice(say("{number} {name}", number=one.number, name=one.name), one.number)
        for one in characteristics_here(screen)
    )
