"""Everything the kiosk can say when a thing did not work.

Family tree::

    TellingError                what failed, why, and the next step
    ├── PersonCanMend           the person in front of it can put it right
    ├── OutsideAway             network, stick or consolidator is away; it is tried again
    └── Damaged                 something kept is damaged; it stops there and the evidence stays

A bug is none of these: it is left to crash.
Each class names its entry in docs/reference/errors.md by its own name.
"""


class TellingError(Exception):
    """A failure told in full: what failed and where, why, and the next step."""

    def __init__(self, what: str, *, why: str, next_step: str) -> None:
        super().__init__(f"{what} {why} {next_step}")
        self.what = what
        self.why = why
        self.next_step = next_step


class PersonCanMend(TellingError):
    """The person at the screen or the command can put it right."""


class OutsideAway(TellingError):
    """Something outside the machine is away; the program tries again by itself."""


class Damaged(TellingError):
    """Something kept is damaged or was altered; nothing is written over it."""


class PageNotUnderstood(PersonCanMend):
    """Bytes that should be a page are not one, or not one of these pages."""


class NewerFormat(PersonCanMend):
    """A page or file was made by a newer version of the program; it is refused by name, never guessed at."""


class ThreadNotUnderstood(PersonCanMend):
    """A thread designation could not be read, or names a thread its standard does not have."""


class OutsideTheTable(PersonCanMend):
    """A figure lies outside what a standard's table or rule is valid for; nothing is guessed beyond it."""


class NotANumber(PersonCanMend):
    """What was keyed is not one plain number; it is kept as keyed and asked for again."""


class NumberMistyped(PersonCanMend):
    """A number typed by hand fails its check character; nobody puts it right but the person."""


class BookInUse(PersonCanMend):
    """Another program has this book open; two writers would give one number to two pages."""


class BookAlreadyThere(PersonCanMend):
    """A book was to be made where one lies already."""


class NoBookHere(PersonCanMend):
    """None of the folders given holds a book."""


class ForeignStore(PersonCanMend):
    """The stores found belong to another book than the one asked for."""


class NotKept(PersonCanMend):
    """A page could not be brought safely onto a disk; what was kept before is untouched."""


class PageNotHere(PersonCanMend):
    """A page was asked for that this book does not hold: not yet written, forgotten after its receipt, or lost."""


class ReceiptDoesNotFit(PersonCanMend):
    """A receipt speaks of a page or fingerprint this book does not have; nothing is marked as carried."""


class StoreNotRenewed(PersonCanMend):
    """A store could not be made anew from the good one."""


class BookDamaged(Damaged):
    """No store of the book is sound; nothing is written, and the evidence stays as it is."""


class StatementRefused(PersonCanMend):
    """A receipt, fresh lists, a packet's header or a stick's own file is not signed by whom it should be."""


class PacketRefused(PersonCanMend):
    """What came in is no packet as a kiosk makes them; nothing of it was taken over."""


class NotEnrolled(PersonCanMend):
    """The kiosk's folder holds no enrolment, or one that cannot be read."""


class ForeignStick(PersonCanMend):
    """The stick was not issued by this plant."""


class StickAway(OutsideAway):
    """The stick was pulled out, is full, or cannot be written."""


class ConsolidatorAway(OutsideAway):
    """The consolidator did not answer; what was not carried stays in the book and is carried next time."""


class CarryRefused(PersonCanMend):
    """The consolidator answered, and refused."""


class BrowserNotHere(PersonCanMend):
    """No browser that can show the screens is installed on this machine."""


class GaugeFileNotUnderstood(PersonCanMend):
    """What says which gauges are plugged in, or how a kind of gauge speaks, could not be read."""


class ValueNotTaken(PersonCanMend):
    """A value from a plugged-in gauge was not taken: not the gauge of this piece, no piece asked for, another unit."""


class StepMissing(PersonCanMend):
    """A step that comes before is missing: badge, job, gauge or sample."""


class LotNotKnown(PersonCanMend):
    """A lot or part is not on this kiosk's lists."""


class PlanNotHere(PersonCanMend):
    """The plan this kiosk holds does not have the operation or the characteristic."""


class GaugeRefused(PersonCanMend):
    """A gauge was refused: made for another thread, of a kind the plan does not allow, or not able to measure this."""


class GaugeAskedAgain(PersonCanMend):
    """The gauge lay idle too long or another person took over; it is scanned again before the next reading."""


class BadgeRefused(PersonCanMend):
    """A badge was refused: its owner has left, or a second person is needed and this is the first."""


class SignatureRefused(PersonCanMend):
    """A signature was refused: not this person, or not with lists this old."""


class NotInSample(PersonCanMend):
    """The sample is not open, or the piece is not in it."""


class StudyRefused(PersonCanMend):
    """A step of a gauge study was refused: not this person, not this gauge, not yet, or it cannot be ordered so."""


class ReworkRefused(PersonCanMend):
    """A re-check after rework of a rolled external thread was refused."""
