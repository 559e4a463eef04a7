"""The fixed words that pages use; each is the word on the screen, in the store, on the wire and in the ledger."""

from enum import StrEnum


class Verdict(StrEnum):
    """What the number says about the piece; never mixed with its standing."""

    IN = "In tolerance"
    OUT = "Out of tolerance"
    ACCEPT = "Accept"
    REJECT = "Reject"
    NOT_JUDGED = "Not judged"

    @property
    def is_bad(self) -> bool:
        """True for out of tolerance and reject."""
        return self in (Verdict.OUT, Verdict.REJECT)


class Standing(StrEnum):
    """What the reading is worth as evidence, best first; never mixed with its verdict."""

    COUNTS = "Counts"
    FLAGGED = "Counts – flagged"
    BLOCKED = "Blocked"
    RELEASED = "Released"


class SampleKind(StrEnum):
    """Why a piece was measured."""

    SET_UP = "set-up piece"
    FIRST = "first piece"
    RUN = "run"
    LAST = "last piece"
    ACCEPTANCE = "lot acceptance"
    RE_MEASURE = "re-measure"
    RE_TAP = "re-measure after re-tap"
    RE_WORK = "re-check after rework"
    REFEREE = "referee"
    TEST = "test"


class KeyedAs(StrEnum):
    """What the keyed figure stands for."""

    VALUE = "value"
    DEVIATION = "deviation"
    DIVISIONS = "divisions"
    OVER_WIRES = "over wires"
    TURNS = "turns"
    ACCEPT_REJECT = "accept/reject"


class Source(StrEnum):
    """How the figure came in."""

    KEYED = "keyed"
    INSTRUMENT = "from instrument"
    PAPER = "from paper"


class ClockState(StrEnum):
    """What the kiosk itself knows of its clock."""

    AGREED = "agreed"
    NOT_AGREED = "not yet agreed"
    OFF = "off"


class CheckKind(StrEnum):
    """A zero check on a master, or the day check of a tester or frame."""

    ZERO = "zero check"
    DAY = "day check"


class CheckVerdict(StrEnum):
    """Result of a zero or day check."""

    GOOD = "Good"
    FAILED = "Failed"


class Meaning(StrEnum):
    """What a signature says."""

    RECORDED = "recorded"
    CHECKED = "checked"
    APPROVED = "approved"
    RELEASED = "released"
    DISPOSED = "disposed"
    SEALED = "sealed"
    DECLARED = "declared"


class GaugeIncidentKind(StrEnum):
    """What befell a gauge, told without blame."""

    DROPPED = "dropped"
    KNOCKED = "knocked"
    WET = "wet inside"
    STICKS = "sticks"
    MISSING = "missing"
    DOUBTFUL = "doubtful"


class Choice(StrEnum):
    """A disposition; which of them are legal depends on the characteristic."""

    SCRAP = "Scrap"
    REWORK = "Rework to drawing"
    RE_TAP = "Re-tap"
    SORT = "Sort 100 %"
    RE_MEASURE = "Re-measure"
    USE_AS_IS = "Use-as-is request"
    RETURN = "Return to supplier"
    RELEASE = "Release of blocked readings"
    VOID_APPROVAL = "Void approval"
    ACCEPT_LATE = "Accept late pages"


class SealWord(StrEnum):
    """How whole a sealed day is; printed on page one."""

    COMPLETE = "Complete"
    EXCEPT_LOST = "Complete except pages declared lost"
    INCOMPLETE = "Incomplete"
