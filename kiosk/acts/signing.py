"""A second person signs: an inspector for first pieces, a trainer beside a trainee."""

from typing import Final

from kiosk.acts.door import name_of
from kiosk.acts.pieces import Measured
from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told, mark_of
from kiosk.acts.steps import Screen, Steps
from kiosk.errors import SignatureRefused
from kiosk.pages import Act, Signature
from kiosk.station import say

SIGNED: Final = say("I looked at these first pieces against the drawing. What I press is my decision.")
"""The sentence an inspector signs."""


class Approval(Screen):
    """An inspector decides on the first pieces with badge and PIN of their own."""

    def __init__(self, steps: Steps, set_up: str) -> None:
        super().__init__(steps)
        self._set_up, self._badge = set_up, ""
        self._is_approved: bool | None = None

    def shown(self) -> Shown:
        """Ask for the inspector's badge, then for the decision, then for the PIN."""
        if not self._badge:
            return Shown(
                title=say("First pieces of {number}: the inspector's badge.", number=self._set_up),
                told=(*self.steps.told, Told(say("Who set it up or ran it cannot approve it."))),
            )
        name = name_of(self.steps, self._person)
        if self._is_approved is None:
            return Shown(
                title=say("{person}: first pieces of {number}.", number=self._set_up, person=name),
                told=(*self.steps.told, Told(SIGNED)),
                choices=(Choice(say("Approved"), "yes"), Choice(say("Refused"), "no")),
                is_apart=True,
            )
        title = say("{person}: approved. Your PIN.", person=name)
        if not self._is_approved:
            title = say("{person}: refused. Your PIN.", person=name)
        hidden = "\N{BULLET}" * len(self.steps.typed)
        return Shown(title=title, told=self.steps.told, pad=Pad.NUMBER, figure=hidden, figure_words=say("PIN"))

    @property
    def _person(self) -> str:
        found = next((one.number for one in self.lists.people if self._badge in (*one.badges, one.number)), None)
        return found or self._badge

    def pick(self, act: str) -> None:
        """Take the decision; it works only with the PIN."""
        self.steps.told = ()
        if act in ("yes", "no") and self._badge:
            self._is_approved = act == "yes"
            return
        self.steps.home()

    def keep(self, keyed: str) -> None:
        """Keep the decision under the inspector's signature; a refusal is kept too, in the inspector's name."""
        if self._is_approved is None:
            return
        self.steps.wipe_figure()
        done = self.work.approve_first_piece(
            self._set_up, self._person, is_approved=self._is_approved, sign=lambda act: self._sign(act, keyed)
        )
        words = say("First pieces approved.") if self._is_approved else say("First pieces refused: run no pieces.")
        is_void = any(mark_of(one) is Mark.STOP for one in done.say)
        mark = Mark.PLAIN if is_void else Mark.OK if self._is_approved else Mark.LOOK
        self.steps.done(done)
        self.steps.say(*self.steps.told, Told(words, mark))
        self.steps.home()

    def _sign(self, act: Act, pin: str) -> Signature:
        person = self.lists.person(self._person)
        if self.steps.signer is None or person is None:
            raise SignatureRefused(
                say("Not signed: no PIN of {person} is known here.", person=self._person),
                why=say("An approval takes a badge and a PIN."),
                next_step=say("Let the quality manager set a PIN and bring it to this kiosk."),
            )
        self.steps.signer.check(person.number, pin)
        return self.steps.signer.sign(act, person, str(SIGNED))

    def scan(self, code: str) -> bool:
        """Take the badge: here it signs, it does not take over."""
        self._badge = code
        self._is_approved = None
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
