"""The way to the work: badge in, the traveller, the operation."""

from collections.abc import Iterable

from kiosk.acts.shown import Choice, Mark, Pad, Shown, Told
from kiosk.acts.steps import Screen, Steps
from kiosk.errors import NumberMistyped
from kiosk.lists import Lot
from kiosk.measure.check_character import printed_number, read_typed
from kiosk.station import say


def number_in(code: str, known: Iterable[str]) -> str:
    """Return the number a scanned label says: as it stands, or without the check character printed behind it."""
    numbers = frozenset(known)
    if code in numbers:
        return code
    try:
        core = read_typed(code)
    except NumberMistyped:
        return code
    return core if core in numbers else code


class Door(Screen):
    """Nobody is badged in."""

    def shown(self) -> Shown:
        """Ask for a badge."""
        told = self.steps.told or (
            Told(say("Stop the machine and wait for standstill before you measure."), Mark.LOOK),
            Told(say("Gloves: the machine's own rule comes first.")),
            Told(say("A fastener that fails can kill. No record makes it safe; people do.")),
        )
        return Shown(
            title=say("Station {station}. Scan your badge.", station=self.work.number),
            told=told,
            choices=(Choice(say("No badge: key my number"), "number"),),
            has_back=False,
        )

    def pick(self, act: str) -> None:
        """Go to the pad for a person's number."""
        if act == "number":
            self.steps.go(PersonNumber(self.steps))

    def scan(self, code: str) -> bool:
        """Badge in with any code: one that is on no list is kept as it is and told."""
        badge_in(self.steps, code)
        return True


class PersonNumber(Screen):
    """Badge in with the digits of a person's number."""

    def shown(self) -> Shown:
        """Ask for the digits."""
        return Shown(
            title=say("Key the digits of your number, then Keep."), told=self.steps.told, pad=Pad.NUMBER,
            figure=self.steps.figure,
        )  # fmt: skip

    def keep(self, keyed: str) -> None:
        """Badge in the one person whose number has these digits."""
        person = person_with_digits(self, keyed)
        if person is not None:
            badge_in(self.steps, person)
            return
        self.steps.wipe_figure()
        self.steps.say(Told(say("No one number on the lists has these digits. Look again and key it."), Mark.LOOK))

    def pick(self, act: str) -> None:
        """Go back to the door."""
        self.steps.home()

    def scan(self, code: str) -> bool:
        """Take a badge all the same."""
        badge_in(self.steps, code)
        return True


def person_with_digits(screen: Screen, keyed: str) -> str | None:
    """Return the one person of the lists whose number has these digits; none where there is not exactly one."""
    found = [one.number for one in screen.lists.people if _digits(one.number) == keyed and keyed]
    return found[0] if len(found) == 1 else None


def _digits(number: str) -> str:
    return "".join(character for character in number if character.isdecimal())


def badge_in(steps: Steps, code: str) -> None:
    """Badge in, or take over from who stands here, and go on where the work stands."""
    before = steps.work.state.person
    done = steps.work.badge_in(code)
    steps.bar = None
    person = steps.work.state.person
    told = [Told(say("Badged in: {person}.", person=name_of(steps, person)), Mark.OK)]
    if before is not None and before != person:
        took_over = say("You took over from {person}. Scan each gauge again.", person=name_of(steps, before))
        told.append(Told(took_over, Mark.LOOK))
    if steps.orders:
        told.append(Told(say("The QC room asks for a re-measure: More, Another kind of sample."), Mark.LOOK))
    steps.done(done, *told, *steps.unread())
    steps.home()


def name_of(steps: Steps, person: str | None) -> str:
    """Return a person's name as shown; the number where the lists know none."""
    known = None if person is None else steps.work.lists.person(person)
    return known.name if known is not None else person or ""


class JobScreen(Screen):
    """No job is open, or another is to be opened."""

    def shown(self) -> Shown:
        """Ask for the traveller, and offer the lots whose part has a plan for this station."""
        return Shown(
            title=say("Scan the traveller, or pick the lot."),
            told=self.steps.told,
            choices=tuple(
                Choice(say("{lot}  part {part}", lot=lot.number, part=lot.part), lot.number) for lot in self._lots()
            ),
            has_back=self.state.job is not None,
        )

    def pick(self, act: str) -> None:
        """Take a lot from the list; it counts as typed, since nothing on the tote was scanned."""
        if act == "back":
            self.steps.home()
            return
        self._take(act, is_typed=True)

    def scan(self, code: str) -> bool:
        """Take a scanned lot; a badge is left to whoever asks for badges."""
        if any(code in one.badges for one in self.lists.people):
            return False
        self._take(number_in(code, (lot.number for lot in self.lists.lots)), is_typed=False)
        return True

    def _take(self, lot: str, *, is_typed: bool) -> None:
        operations = self._operations(lot)
        if len(operations) == 1:
            open_job(self, lot, operations[0], is_typed=is_typed)
            return
        self.steps.go(OperationScreen(self.steps, lot, operations, is_typed=is_typed))

    def _lots(self) -> list[Lot]:
        return [lot for lot in reversed(self.lists.lots) if self._operations_of(lot.part)]

    def _operations(self, lot: str) -> tuple[str, ...]:
        known = self.lists.lot(lot)
        here = self._here()
        return (here[:1] if known is None else self._operations_of(known.part) or here) or ("?",)

    def _operations_of(self, part: str) -> tuple[str, ...]:
        planned = {plan.operation for plan in self.lists.plans if plan.part == part}
        return tuple(one for one in self._here() if one in planned)

    def _here(self) -> tuple[str, ...]:
        found = [row for row in self.lists.stations if row.number == self.work.number]
        return found[-1].operations if found else ()


class OperationScreen(Screen):
    """The lot is known; which operation?"""

    def __init__(self, steps: Steps, lot: str, operations: tuple[str, ...], *, is_typed: bool) -> None:
        super().__init__(steps)
        self._lot, self._operations, self._is_typed = lot, operations, is_typed

    def shown(self) -> Shown:
        """Offer this station's operations."""
        return Shown(
            title=say("Lot {lot}: which operation?", lot=self._lot),
            told=self.steps.told,
            choices=tuple(Choice(say("Operation {operation}", operation=one), one) for one in self._operations),
        )

    def pick(self, act: str) -> None:
        """Open the job."""
        if act == "back":
            self.steps.go(JobScreen(self.steps))
            return
        open_job(self, self._lot, act, is_typed=self._is_typed)


class OtherPart(Screen):
    """A lot that the lists do not know: its part's number says which plan is worked."""

    def __init__(self, steps: Steps, lot: str, operation: str, *, is_typed: bool) -> None:
        super().__init__(steps)
        self._lot, self._operation, self._is_typed = lot, operation, is_typed

    def shown(self) -> Shown:
        """Ask for the part's number."""
        parts = sorted({part.number for part in self.lists.parts})
        return Shown(
            title=say("Scan the part number on the traveller."), told=self.steps.told,
            choices=tuple(Choice(say("Part {part}", part=part), part) for part in parts),
        )  # fmt: skip

    def pick(self, act: str) -> None:
        """Open the job by the plan of the part picked."""
        if act == "back":
            self.steps.go(JobScreen(self.steps))
            return
        open_job(self, self._lot, self._operation, is_typed=self._is_typed, part=act)

    def scan(self, code: str) -> bool:
        """Open the job by the plan of the part scanned; a badge is left to whoever asks for badges."""
        if any(code in one.badges for one in self.lists.people):
            return False
        open_job(self, self._lot, self._operation, is_typed=self._is_typed, part=code)
        return True


def open_job(screen: Screen, lot: str, operation: str, *, is_typed: bool, part: str | None = None) -> None:
    """Open the job and go on to the measuring."""
    steps = screen.steps
    if screen.lists.lot(lot) is None and part is None:
        steps.go(OtherPart(steps, lot, operation, is_typed=is_typed))
        steps.say(Told(say("Lot {lot} is not on this kiosk's lists.", lot=lot), Mark.LOOK))
        return
    # A lot that was picked bears no check character of its own; nothing was typed that could have slipped.
    number = printed_number(lot) if is_typed else lot
    steps.bar = None
    steps.done(screen.work.open_job(number, operation, part=part, is_typed=is_typed))
    steps.home()
