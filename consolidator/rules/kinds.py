# ruff: noqa: E501 — the table reads as a table
"""Every exception kind as data: number, plain name, what it does to a reading, hold, urgency, who acts, what closes it.

Owns the words and the fixed consequences; the functions beside it in this room find the readings.
`docs/reference/exceptions.md` is made from here.
"""

from dataclasses import dataclass
from enum import IntEnum, StrEnum
from typing import Final


class Effect(IntEnum):
    """What a kind does to a reading's standing; the worst of all kinds wins."""

    NONE = -1
    COUNTS = 0
    FLAGGED = 1
    BLOCKED = 2

    @property
    def words(self) -> str:
        """The standing as it is written; empty for a kind that is not about single readings."""
        return ("", "Counts", "Counts – flagged", "Blocked")[self + 1]


class Hold(StrEnum):
    """Whether a kind puts the lot on hold."""

    NO = "no"
    YES = "yes"
    WHEN = "when"
    """Only under the condition in `hold_when`."""


class Family(StrEnum):
    """What a cause is, in the order in which the leading cause of a reading is chosen."""

    KIOSK = "kiosk"
    GAUGE = "gauge"
    MASTER = "master"
    SET_UP = "set-up"
    LOT = "lot"
    PERSON = "person"


FAMILY_ORDER: Final = {family: place for place, family in enumerate(Family)}


@dataclass(frozen=True)
class Kind:
    """One exception kind. `partition` is what its function must see whole: nothing outside one value of it matters."""

    number: str
    name: str
    effect: Effect
    hold: Hold
    urgency: str
    family: Family
    partition: str
    who: str
    closes: str
    note: str = ""
    """When effect, hold or urgency differ from the fixed ones."""
    ends_with_day: bool = False
    """Nobody has anything to do, or its normal course closes it: not carried to the next day."""
    may_be_released: bool = False
    """An evidence problem: a reading it blocks may be released by two signatures."""


_EVIDENCE: Final = frozenset(
    [f"X{n:02d}" for n in range(1, 23)] + ["X53", "X54", "X58", "X59", "X60", "X61", "X65", "X66", "X67", "X74"]
)
_ENDS_WITH_DAY: Final = frozenset(["X02", "X13", "X25", "X75"])

BY_LOOK_BACK: Final = frozenset(["X07", "X08", "X80"])
"""Kinds that need readings of other days: their rules come from the look-back, not from this room."""

_E: Final = {"-": Effect.NONE, "C": Effect.COUNTS, "F": Effect.FLAGGED, "B": Effect.BLOCKED}
_H: Final = {"-": Hold.NO, "y": Hold.YES, "w": Hold.WHEN}
_K, _G, _M, _S, _L, _P = Family

_ROWS: Final = (
    # number, name, effect, hold, urgency, family, partition, who, closes, note
    ("X01", "Gauge past due", "B", "w", "B", _G, "gauge", "Cal + QC", "re-measure with a sound gauge; or as-found good and two-signature release", "holds the lot when no other reading of the sample counts"),
    ("X02", "Gauge comes due this shift", "C", "-", "D", _G, "gauge", "Cal", "swap or calibration; closes by its normal course", ""),
    ("X03", "Gauge not in the register", "B", "y", "B", _G, "gauge", "QC", "re-measure; enrol or remove the gauge", ""),
    ("X04", "Gauge out of use", "B", "y", "B", _G, "gauge", "QC", "re-measure; or release", ""),
    ("X05", "Gauge dropped or knocked", "B", "y", "B", _G, "gauge", "Cal", "check; re-measure or release", "blocked after the report until a good check"),
    ("X06", "In doubt since the last good check", "F", "w", "B", _G, "gauge", "Cal, then QC", "as-found good: one signature closes all; as-found bad: becomes X07", "holds lots not yet shipped"),
    ("X07", "Gauge found out at calibration", "F", "w", "B", _G, "gauge", "QM", "per lot: disposition, two signatures; shipped: customer notice recorded", "each reading with a finding; A if any is shipped; holds lots that would now fail or cannot be told"),
    ("X08", "Master found out (cascade)", "F", "w", "B", _M, "master", "QM + Cal", "each gauge re-checked against a sound master, then X07 for each gauge", "as X07"),
    ("X09", "Set with a master past due or stopped", "B", "y", "B", _M, "gauge", "Cal", "re-check with a sound master and release; or re-measure", ""),
    ("X10", "No zero check this shift", "B", "y", "B", _G, "station", "Lead", "re-measure; or release if the next check is good", ""),
    ("X11", "Zero check late", "F", "-", "C", _G, "gauge", "Lead", "next check good", ""),
    ("X12", "Zero check failed", "B", "y", "B", _G, "gauge", "Op, then Cal", "re-zero and re-check; X06 findings settled", ""),
    ("X13", "Gauge away from its station", "F", "-", "D", _G, "gauge", "Lead", "move recorded; closes by its normal course", ""),
    ("X14", "Gauge in two places", "F", "-", "B", _G, "gauge", "QC", "found out which was true; the other blocked", "both readings"),
    ("X15", "Coarse for this tolerance", "F", "-", "C", _G, "reading", "Eng", "plan changed or gauge changed", ""),
    ("X16", "Too coarse for this tolerance", "B", "y", "B", _G, "reading", "QC", "re-measure", ""),
    ("X17", "Outside the gauge's range", "B", "y", "B", _G, "reading", "QC", "re-measure", ""),
    ("X18", "Wrong kind of gauge", "B", "y", "B", _G, "reading", "QC", "re-measure", ""),
    ("X19", "Wrong thread gauge or wires", "B", "y", "B", _G, "reading", "QC", "re-measure", ""),
    ("X20", "Finer than the gauge can read", "F", "-", "C", _G, "reading", "Lead", "explanation", ""),
    ("X21", "Thread gauge past its wear check", "F", "-", "C", _G, "gauge", "Cal", "wear check", ""),
    ("X22", "Gauge not seen", "-", "-", "C", _G, "gauge", "Cal", "found and checked, or declared lost", ""),
    ("X23", "Out of tolerance / Reject", "C", "y", "B", _L, "reading", "QC", "disposition of the pieces and of those since the last good sample", "A when the lot is at final, closed or shipped; the hold stays when another kind blocks the reading"),
    ("X24", "Over the shop's own limit", "F", "-", "C", _L, "reading", "Lead", "adjustment recorded", ""),
    ("X25", "Close to the limit", "F", "-", "D", _L, "reading", "QC", "none, or the customer's rule", ""),
    ("X26", "Decimal place slip?", "B", "w", "B", _L, "reading", "QC", "piece re-measured, or two-person reading of the paper original", "never asked: Not judged, blocked, lot held; asked at the kiosk: a tag, D"),
    ("X27", "Other unit slip?", "B", "w", "B", _L, "reading", "QC", "piece re-measured, or two-person reading of the paper original", "as X26"),
    ("X28", "Digits swapped?", "B", "w", "B", _L, "reading", "QC", "piece re-measured, or two-person reading of the paper original", "as X26"),
    ("X29", "Plus/minus slip?", "F", "-", "B", _L, "reading", "QC", "piece re-measured by a second person", "asked and re-keyed: flagged; never asked: a tag, D"),
    ("X30", "Not believable", "B", "w", "B", _L, "reading", "QC", "piece re-measured, or two-person reading of the paper original", "as X26"),
    ("X31", "Fail re-keyed to pass", "F", "-", "B", _L, "reading", "QC", "piece re-measured by a second person", ""),
    ("X32", "Corrected afterwards", "F", "-", "C", _L, "reading", "QC", "both values stand; fail to pass needs two signatures and a re-measure", "B if the verdict changes"),
    ("X33", "Double tap", "B", "-", "D", _L, "kiosk", "Lead", "confirm", "the second one"),
    ("X34", "Two different pages with one number", "B", "y", "A", _K, "kiosk", "QM", "investigation", "both pages"),
    ("X35", "Too alike", "F", "-", "C", _L, "station", "QC", "watch one sample being taken", ""),
    ("X36", "Piled up at the limit", "F", "-", "C", _L, "station", "QC", "blind re-measure of 10 pieces", "weekly"),
    ("X37", "Faster than hands can measure", "F", "-", "C", _L, "kiosk", "Lead", "watch one sample", ""),
    ("X38", "Drifting", "F", "-", "D", _L, "station", "Op/Lead", "adjustment recorded", ""),
    ("X39", "Sample missed", "-", "y", "B", _L, "lot", "QC", "sort the pieces of the gap, or written evaluation", ""),
    ("X40", "Short sample", "-", "-", "B", _L, "lot", "Op", "top up from the same half-hour's pieces, or sort", ""),
    ("X41", "Characteristic skipped", "-", "y", "B", _L, "lot", "Op/QC", "measure, or evaluation if no longer possible", ""),
    ("X42", "Pieces do not add up", "-", "y", "B", _L, "lot", "QC", "recount", ""),
    ("X43", "Not enough for the acceptance plan", "-", "w", "B", _L, "lot", "QC", "more pieces, or disposition", "the lot cannot close"),
    ("X44", "Unknown lot", "B", "-", "B", _L, "reading", "QC", "lot identified by two persons", ""),
    ("X45", "Lot belongs to another part", "B", "y", "B", _L, "kiosk", "QC", "re-measure with the right plan", "holds both lots"),
    ("X46", "After the lot was closed", "B", "y", "A", _L, "lot", "QM", "reopen, or reading struck as wrong lot", ""),
    ("X47", "Closed before all pages were in", "C", "w", "B", _L, "lot", "QM", "QC reviews and closes again", "the lot goes back to Re-opened; A if any such reading is bad"),
    ("X48", "Step out of order", "F", "y", "A", _L, "lot", "QM", "metallurgical or engineering evaluation", ""),
    ("X49", "Old drawing revision", "F", "w", "B", _L, "reading", "QC", "review", "judged again under the right revision; holds when the verdict changes; blocked when the right revision has no such characteristic"),
    ("X50", "Two lots mixed at one station", "F", "y", "A", _L, "station", "QM", "segregation evidence", "holds both lots"),
    ("X51", "Worked while on hold", "F", "-", "B", _L, "lot", "Lead", "explanation", "the hold stays"),
    ("X52", "Heat number does not match", "-", "y", "A", _L, "lot", "QM", "material identification test", ""),
    ("X53", "First piece not approved", "B", "y", "B", _S, "set-up", "QC", "segregate and sort pieces made before approval; approval is never retroactive", ""),
    ("X54", "First piece approved by the wrong person", "-", "y", "B", _S, "set-up", "QM", "new approval", "the approval is void: X53"),
    ("X55", "Rolling set-up not yet proven", "F", "w", "B", _S, "set-up", "QC", "proof passes: closes by itself, citing the test record", "the lot cannot close"),
    ("X56", "Fatigue proof failed", "F", "y", "A", _S, "set-up", "QM + Eng", "disposition for each lot, two signatures, customer where required", "holds all lots of the set-up"),
    ("X57", "Set-up changed since proof", "F", "w", "B", _S, "set-up", "Lead", "new first piece and new proof", "the lot cannot close"),
    ("X58", "Measured hot", "B", "-", "B", _L, "lot", "Op", "re-measure cold", ""),
    ("X59", "Cooling not shown", "F", "-", "C", _L, "lot", "Lead", "evidence or re-measure", ""),
    ("X60", "Day check missing or failed", "B", "y", "B", _G, "gauge", "Cal", "re-check, re-test", ""),
    ("X61", "Test piece not from this lot or set-up", "B", "y", "A", _L, "lot", "QM", "new test", ""),
    ("X62", "Forbidden rework of a rolled external thread", "B", "y", "A", _L, "lot", "QM", "scrap, destroyed and witnessed", ""),
    ("X63", "Re-tap limit passed", "B", "y", "B", _L, "lot", "QC", "scrap", ""),
    ("X64", "Dies past planned life", "F", "-", "C", _S, "set-up", "Lead", "die change: X57", ""),
    ("X65", "Not qualified", "B", "y", "B", _P, "person", "Lead", "re-measure by a qualified person", "counts when a qualified trainer countersigns inside the same sample"),
    ("X66", "Qualification lapsed", "B", "-", "B", _P, "person", "Lead", "renewal (works forwards only)", "in-process within 14 days: flagged, C"),
    ("X67", "Badge in two places", "F", "-", "B", _P, "person", "Lead", "true name established by the two persons; wrong one blocked", "both readings"),
    ("X68", "Badge not on shift", "F", "-", "C", _P, "person", "Lead", "list corrected", ""),
    ("X69", "Signed twice by one person", "-", "-", "B", _P, "person", "QM", "a different, authorised person signs", "the second signature is refused"),
    ("X70", "Kiosk not heard from", "-", "-", "B", _K, "kiosk", "Lead", "contact, stick carry, or X79; closes by contact", "lots worked there cannot close without two signatures"),
    ("X71", "Late pages", "C", "-", "D", _K, "kiosk", "QC", "reviewed in the supplement", "C when more than 72 h late"),
    ("X72", "Pages missing", "-", "w", "B", _K, "kiosk", "QC", "pages arrive (closes by itself), or X79", "holds the lots in between"),
    ("X73", "Clock off", "F", "-", "C", _K, "kiosk", "Lead", "clock set; effective times shown", ""),
    ("X74", "Time in doubt", "F", "-", "B", _K, "kiosk", "QC", "evidence of true time", "blocked when a decision depends on it"),
    ("X75", "Judged with an old list", "F", "-", "D", _K, "reading", "–", "close-of-day verdict stands", ""),
    ("X76", "Page altered", "B", "y", "A", _K, "kiosk", "QM", "investigation; original recovered", ""),
    ("X77", "Unknown kiosk", "B", "-", "A", _K, "kiosk", "QM", "investigation", ""),
    ("X78", "Keyed from paper", "F", "-", "C", _K, "reading", "QC", "second person compared it with the paper original (kept)", ""),
    ("X79", "Pages declared lost", "-", "y", "B", _K, "kiosk", "QM", "affected samples re-measured or evaluated", ""),
    ("X80", "No as-found taken", "F", "y", "B", _G, "gauge", "QM", "evaluation; cannot be closed by statement alone", "all readings since the last good calibration: X07, cannot tell; A if any is shipped"),
    ("X81", "Calibrated off temperature", "F", "-", "C", _G, "gauge", "Cal", "repeat", ""),
    ("X82", "Due list not worked", "-", "-", "C", _G, "gauge", "Cal", "brought in", ""),
    ("X83", "Extension signed late", "-", "-", "C", _G, "gauge", "QM", "–", "no effect before the second signature"),
    ("X84", "Shipped with an open A or B exception", "-", "-", "A", _L, "lot", "QM", "customer decision", ""),
)  # fmt: skip


def _kind(row: tuple[str, str, str, str, str, Family, str, str, str, str]) -> Kind:
    number, name, effect, hold, urgency, family, partition, who, closes, note = row
    return Kind(
        number,
        name,
        _E[effect],
        _H[hold],
        urgency,
        family,
        partition,
        who,
        closes,
        note,
        ends_with_day=number in _ENDS_WITH_DAY,
        may_be_released=number in _EVIDENCE,
    )


KINDS: Final = {row[0]: _kind(row) for row in _ROWS}
"""All exception kinds by number, X01 to X84."""
