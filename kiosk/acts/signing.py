"""A second person signs: an inspector for first pieces, a trainer beside a trainee."""

from kiosk.acts.door import name_of
from kiosk.acts.pieces import Measured
from kiosk.acts.shown import Choice, Mark, Shown, Told
from kiosk.acts.steps import Screen, Steps
from kiosk.station import say


class Approval(Screen):
    """An inspector decides on the first pieces with a badge of their own."""

    def __init__(self, steps: Steps, set_up: str) -> None:
        super().__init__(steps)
        self._set_up, self._approver = set_up, ""

    def shown(self) -> Shown:
        """Ask for the inspector's badge, then for the decision."""
        if not self._approver:
            return Shown(
                title=say("First pieces of {number}: the inspector's badge.", number=self._set_up),
                told=(*self.steps.told, Told(say("Who set it up or ran it cannot approve it."))),
            )
        person = next((one for one in self.lists.people if self._approver in one.badges), None)
        return Shown(
            title=say("{person}: first pieces of {number}.", number=self._set_up,
                      person=self._approver if person is None else person.name),
            told=(Told(say("I looked at these first pieces against the drawing. What I press is my decision.")),),
            choices=(Choice(say("Approved"), "yes"), Choice(say("Refused"), "no")), is_apart=True,
        )  # fmt: skip

    def pick(self, act: str) -> None:
        """Keep the decision."""
        if act in ("yes", "no") and self._approver:
            done = self.work.approve_first_piece(self._set_up, self._approver, is_approved=act == "yes")
            words = say("First pieces approved.") if act == "yes" else say("First pieces refused: run no pieces.")
            void = any(one.startswith("STOP") for one in done.say)
            mark = Mark.PLAIN if void else Mark.OK if act == "yes" else Mark.LOOK
            self.steps.done(done)
            self.steps.say(*self.steps.told, Told(words, mark))
        self.steps.home()

    def scan(self, code: str) -> bool:
        """Take the badge: here it signs, it does not take over."""
        self._approver = code
        return True


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
