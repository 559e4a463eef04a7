"""Everything the consolidator can say when a thing did not work.

The families are the kiosk's (`kiosk.errors`): PersonCanMend, OutsideAway, Damaged.
Each class names its entry in docs/reference/errors.md by its own name.
"""

from kiosk.errors import Damaged, NewerFormat, OutsideAway, PersonCanMend


class NotComputed(PersonCanMend):
    """A figure, plan or study could not be computed from what was given."""


class LedgerMissing(PersonCanMend):
    """The ledger holds no such day or supplement."""


class LedgerSealed(PersonCanMend):
    """A sealed book of the ledger is never changed."""


class LedgerNotWritten(PersonCanMend):
    """The disk refused to take a book of the ledger; what stood there still stands."""


class LedgerDamaged(Damaged):
    """A file of a book of the ledger is away, cannot be read, or does not fit its fingerprint."""


class NewerLedger(NewerFormat):
    """A book of the ledger was made by a newer version of the program; it is refused by name."""


class SealRefused(PersonCanMend):
    """A book of the ledger was not sealed."""


class ExportRefused(PersonCanMend):
    """An export was not made; nothing was written."""


class UnknownKiosk(PersonCanMend):
    """A packet, contact or request came from a series that is not enrolled here."""


class SeriesTaken(PersonCanMend):
    """A series is enrolled once and for all; a replacement kiosk gets a new one."""


class EnrolmentRefused(PersonCanMend):
    """A new kiosk was not enrolled; neither the stick nor the plant was changed."""


class IntakeBusy(OutsideAway):
    """Another program writes to the intake and did not finish in time."""


class NotTakenIn(OutsideAway):
    """What came in could not be put on the disk; it was not acknowledged and stays with the kiosk."""


class IntakeDamaged(Damaged):
    """A file of the intake is damaged; nothing is written over it."""


class PassRunning(OutsideAway):
    """Another program is closing the plant's day."""


class DeskRefused(PersonCanMend):
    """An act of the desk was refused; the refusal itself is kept as a page, and `by_rule` names its exception kind."""

    def __init__(self, what: str, *, why: str, next_step: str, by_rule: str | None = None) -> None:
        super().__init__(what, why=why, next_step=next_step)
        self.by_rule = by_rule


class PinRefused(DeskRefused):
    """A PIN was wrong, is locked, was never set, or cannot be taken."""


class PinsDamaged(Damaged):
    """The file of PINs cannot be read; nothing is written over it and nobody can sign."""


class LookBackRefused(PersonCanMend):
    """A look-back was asked for a gauge or master that nothing is known of."""
