"""The set-up of a machine: begun, touched, ended; and its first pieces approved by a second person."""

from typing import Final

from kiosk.acts.door import name_of
from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told, mark_of
from kiosk.acts.steps import Screen, Steps
from kiosk.errors import SignatureRefused
from kiosk.lists.words import Level
from kiosk.pages import Act, Signature
from kiosk.pages.station import SetUpChange, SetUpEnd, SetUpStart
from kiosk.station import Said, say

SIGNED: Final = say("I looked at these first pieces against the drawing. What I press is my decision.")
"""The sentence an inspector signs."""
STATE_WORDS: Final[dict[str, Said]] = {
    "Awaiting first piece": say("Awaiting first piece"),
    "Approved": say("Approved"),
    "Changed": say("Changed"),
    "Ended": say("Ended"),
}
START_WORDS: Final[dict[str, Said]] = {
    "new lot": say("New lot"),
    "new dies": say("New dies"),
    "re-set": say("Set again"),
    "repair": say("After a repair"),
    "other": say("Something else"),
}
CHANGE_WORDS: Final[dict[str, Said]] = {
    "die change": say("Dies changed"),
    "re-set": say("Set again"),
    "blank window": say("Another blank window"),
    "hot or cold": say("From cold to hot, or back"),
    "die life": say("Die life is up"),
    "machine move": say("Machine moved"),
    "wheel": say("Wheel dressed or changed"),
    "other": say("Something else"),
}


def home_with(steps: Steps, *told: Told) -> None:
    """Say something and put up the screen the work asks for."""
    steps.say(*told)
    steps.home()


class SetUpScreen(Screen):
    """The set-up of the operation: begun, changed, ended, its first pieces approved."""

    def __init__(self, steps: Steps) -> None:
        super().__init__(steps)
        self._asking = ""
        self._reason = ""

    def shown(self) -> Shown:
        """Offer what can be done with the set-up now."""
        job = self.state.job
        set_up = None if job is None else self.state.set_up_of(job.operation)
        if self._asking == "begin":
            return self._of(say("Set-up begun: why?"), START_WORDS)
        if self._asking == "hot":
            return Shown(
                title=say("Are pieces worked hot on this set-up?"),
                choices=(Choice(say("Cold"), "cold"), Choice(say("Hot"), "hot")),
                is_apart=True,
            )
        if self._asking == "change":
            return self._of(say("What was touched?"), CHANGE_WORDS)
        if set_up is None:
            about = say("No set-up is open for this operation.")
            choices: tuple[Choice, ...] = (Choice(say("Begin a set-up"), "begin"),)
        else:
            about = say(
                "Set-up {number}, set by {person}: {state}.", number=set_up.number,
                person=name_of(self.steps, set_up.set_by), state=STATE_WORDS[set_up.state],
            )  # fmt: skip
            choices = (
                Choice(say("First pieces: approve or refuse"), "approve"),
                Choice(say("The set-up was touched"), "change"),
                Choice(say("End this set-up"), "end"),
                Choice(say("Begin a new set-up"), "begin"),
            )
        return Shown(title=say("Set-up"), told=(*self.steps.told, Told(about)), choices=choices)

    def _of(self, title: Said, words: dict[str, Said]) -> Shown:
        return Shown(title=title, choices=tuple(Choice(said, act) for act, said in words.items()))

    def pick(self, act: str) -> None:
        """Log what was picked."""
        job = self.state.job
        set_up = None if job is None else self.state.set_up_of(job.operation)
        if act == "back" or job is None:
            self.steps.home()
        elif self._asking == "begin":
            self._reason, self._asking = act, "hot"
        elif self._asking == "hot":
            self._begin(is_hot=act == "hot")
        elif act == "begin":
            self._asking = "begin"
        elif set_up is None:
            self.steps.home()
        elif self._asking == "change":
            self.steps.done(self.work.change_set_up(SetUpChange.model_validate({"set_up": set_up.number, "what": act})))
            self.steps.home()
        elif act == "change":
            self._asking = "change"
        elif act == "end":
            self.steps.done(self.work.end_set_up(SetUpEnd(set_up=set_up.number)))
            home_with(self.steps, Told(say("Set-up {number} ended.", number=set_up.number), Mark.OK))
        else:
            self.steps.told = ()
            self.steps.go(Approval(self.steps, set_up.number))

    def _begin(self, *, is_hot: bool) -> None:
        job, plan = self.state.job, self.work.plan()
        assert job is not None and plan is not None and self.state.person is not None
        # The page that keeps it gives the set-up its number: no other set-up of this station has it.
        number = f"SU-{self.work.number}-{self.state.last_page + 1}"
        act = SetUpStart.model_validate(
            {
                "set_up": number, "lot": job.lot, "part": job.part, "revision": plan.revision,
                "operation": job.operation, "set_by": self.state.person, "is_hot": is_hot, "reason": self._reason,
            }
        )  # fmt: skip
        self.steps.done(self.work.begin_set_up(act))
        self.steps.home()


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
        return pin_asked(self.steps, title)

    @property
    def _person(self) -> str:
        return person_of(self.steps, self._badge)

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
        return signed(self.steps, act, self._person, pin, (str(SIGNED), str(Level.FIRST_PIECE)))

    def scan(self, code: str) -> bool:
        """Take the badge: here it signs, it does not take over."""
        self._badge = code
        self._is_approved = None
        return True


def person_of(steps: Steps, badge: str) -> str:
    """Return the number of the person whose badge or number was scanned; what was scanned, where nobody has it."""
    people = steps.work.lists.people
    return next((one.number for one in people if badge in (*one.badges, one.number)), badge)


def pin_asked(steps: Steps, title: Said) -> Shown:
    """Return the screen on which a PIN is keyed unseen."""
    hidden = "\N{BULLET}" * len(steps.typed)
    return Shown(title=title, told=steps.told, pad=Pad.NUMBER, figure=hidden, figure_words=say("PIN"))


def signed(steps: Steps, act: Act, person: str, pin: str, said: tuple[str, str]) -> Signature:
    """Return the signature of a person who keyed his PIN, under `said`: the sentence, and the role.

    Raises:
        SignatureRefused: the PIN is not his, is locked, or none is known here.
    """
    known = steps.work.lists.person(person)
    if steps.signer is None or known is None:
        raise SignatureRefused(
            say("Not signed: no PIN of {person} is known here.", person=person),
            why=say("An approval takes a badge and a PIN."),
            next_step=say("Let the quality manager set a PIN and bring it to this kiosk."),
        )
    steps.signer.check(known.number, pin)
    return steps.signer.sign(act, known, *said)
