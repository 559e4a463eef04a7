"""Pages of the desk: calibration room, QC room and quality manager. Kept in the desk's own book."""

from datetime import date
from typing import Annotated, Literal

from pydantic import Field

from kiosk.pages._base import (
    Act,
    Count,
    ExceptionNumber,
    Figure,
    Fingerprint,
    Frozen,
    Name,
    PageRef,
    Series,
    Signature,
    Words,
)
from kiosk.pages.words import Choice, Meaning, SealWord, Verdict
from kiosk.times import LocalTime


class CalibrationPoint(Frozen):
    """Error at one calibrated point, indicated minus true, in the gauge's unit; none where not taken."""

    at: Figure
    permissible: Figure
    as_found: Figure | None = None
    as_left: Figure | None = None


class Calibration(Act):
    """A gauge or master was calibrated: as-found before any touch, then as-left; verdicts and due date are computed."""

    kind: Literal["calibration"] = "calibration"
    gauge: Name
    done_at: LocalTime
    masters: tuple[Name, ...]
    procedure: Name
    room_temperature: Figure | None = None
    temperature_unit: Literal["degF", "degC"] = "degF"
    soak_min: Count | None = None
    room_low: Figure | None = None
    room_high: Figure | None = None
    """The coolest and warmest room the procedure allows, in `temperature_unit`."""
    soak_least_min: Count | None = None
    """The shortest soak the procedure allows, in minutes."""
    unit: Name
    points: tuple[CalibrationPoint, ...]
    as_found: Literal["Good", "Out", "Not taken"]
    action: Literal["none", "cleaned", "adjusted", "repaired"] = "none"
    as_left: Literal["Good", "Out"]
    uncertainty: Figure | None = None
    decision_rule: Words = "simple acceptance"
    due: date | None = None
    certificate: Name | None = None
    certificate_file: Fingerprint | None = None
    """SHA-256 of an outside laboratory's certificate as it was received."""
    laboratory: Name | None = None
    stage: Literal["as-found", "as-left", "whole"] = "whole"
    """An as-found may be saved first, so that a look-back starts before the gauge is touched."""
    signature: Signature | None = None


class Extension(Act):
    """A due date is put back once; it works from the second signature, never before."""

    kind: Literal["extension"] = "extension"
    gauge: Name
    old_due: date
    new_due: date
    reason: Words
    evidence: Words
    signature: Signature | None = None


class GaugeStateChange(Act):
    """A gauge is stopped, set aside, lost, retired or put back to use."""

    kind: Literal["gauge state"] = "gauge state"
    gauge: Name
    state: Literal["In use", "Stopped", "Awaiting calibration", "Reference only", "Lost", "Retired"]
    since: LocalTime | None = None
    """Bad news may reach back; putting back to use works from the page's own time only."""
    words: Words = ""
    signature: Signature | None = None


class Disposition(Act):
    """What is done with pieces that do not conform, or with readings that are in doubt."""

    kind: Literal["disposition"] = "disposition"
    choice: Choice
    lot: Name
    part: Name
    characteristic: Name | None = None
    exceptions: tuple[ExceptionNumber, ...] = ()
    readings: tuple[PageRef, ...] = ()
    pieces: Count = 0
    where: Words = ""
    tag: Name | None = None
    method: Words = ""
    witness: Name | None = None
    customer_approval: Words | None = None
    reason: Words
    ends_hold: bool = False
    signature: Signature | None = None


class Release(Act):
    """Blocked readings are released on fresh evidence; two signatures, and printed as Released for ever."""

    kind: Literal["release"] = "release"
    readings: tuple[PageRef, ...]
    evidence: tuple[PageRef, ...]
    reason: Words
    signature: Signature | None = None


class SecondSignature(Act):
    """A second person signs what another page proposed."""

    kind: Literal["second signature"] = "second signature"
    of: PageRef
    meaning: Meaning
    signature: Signature | None = None


class TestPiece(Frozen):
    """One test piece and its result."""

    piece: Name
    lot: Name
    set_up: Name | None = None
    run_minute: Count | None = None
    result: Figure | None = None
    is_stopped: bool = False
    """True when the fatigue test was stopped unbroken."""
    place_of_failure: Name | None = None
    verdict: Verdict
    curve: Fingerprint | None = None


class TestRecord(Act):
    """A tensile, fatigue, hardness-load or section test."""

    __test__ = False
    kind: Literal["test record"] = "test record"
    number: Name
    what: Literal["tensile", "fatigue", "hardness load", "proof load", "section"]
    lot: Name
    part: Name
    characteristic: Name
    set_up: Name | None = None
    method: Name
    frame: Name
    load_cell: Name | None = None
    unit: Name
    pieces: tuple[TestPiece, ...]
    verdict: Verdict
    words: Words = ""


class LotClose(Act):
    """A lot is closed."""

    kind: Literal["lot close"] = "lot close"
    lot: Name
    quantity: Count
    signature: Signature | None = None


class LotReopen(Act):
    """A closed lot is opened again."""

    kind: Literal["lot re-open"] = "lot re-open"
    lot: Name
    reason: Words
    signature: Signature | None = None


class LotShip(Act):
    """Pieces of a lot left the plant."""

    kind: Literal["lot ship"] = "lot ship"
    lot: Name
    quantity: Count
    customer: Name
    order: Name
    certificate: Name | None = None
    pack: Fingerprint | None = None


class OperationSignOff(Act):
    """An operation of a lot is accepted, e.g. heat treat, so that the next may start."""

    kind: Literal["operation sign-off"] = "operation sign-off"
    lot: Name
    operation: Name
    words: Words = ""
    signature: Signature | None = None


class Hold(Act):
    """A lot is put on hold by hand."""

    kind: Literal["hold"] = "hold"
    lot: Name
    reason: Words


class HoldLift(Act):
    """A hold is lifted by somebody with the authority."""

    kind: Literal["hold lift"] = "hold lift"
    lot: Name
    exceptions: tuple[ExceptionNumber, ...] = ()
    reason: Words
    signature: Signature | None = None


class ExceptionStep(Act):
    """Somebody took an exception, wrote on it, joined, split or handed it over."""

    kind: Literal["exception step"] = "exception step"
    exception: Name
    step: Literal["mine", "note", "ask the floor", "join", "split", "hand over"]
    to: Name | None = None
    words: Words = ""


class ExceptionClose(Act):
    """An exception is closed with its reason; closed is not gone."""

    kind: Literal["exception close"] = "exception close"
    exception: Name
    reason: Words
    was_nothing_wrong: bool = False
    evidence: tuple[PageRef, ...] = ()
    signature: Signature | None = None


class Evaluation(Act):
    """A written judgement of a qualified person on something that can no longer be measured."""

    kind: Literal["evaluation"] = "evaluation"
    lot: Name
    exceptions: tuple[ExceptionNumber, ...]
    words: Words
    signature: Signature | None = None


class CustomerNotice(Act):
    """Facts prepared for a customer about product already delivered; the quality manager decides and sends."""

    kind: Literal["customer notice"] = "customer notice"
    lot: Name
    customer: Name
    facts: Words
    sent_at: LocalTime | None = None


class LookBackWindow(Act):
    """A look-back window is narrowed, with its reason; two signatures."""

    kind: Literal["look-back window"] = "look-back window"
    gauge: Name
    begins_at: LocalTime
    ends_at: LocalTime
    reason: Words
    signature: Signature | None = None


class PagesLost(Act):
    """Pages are declared lost by two persons; if they turn up later the declaration stays."""

    kind: Literal["pages lost"] = "pages lost"
    series: Series
    first: Annotated[int, Field(ge=1)]
    last: Annotated[int, Field(ge=1)]
    reason: Words
    signature: Signature | None = None


class ListsTakenOver(Act):
    """A new version of the plant's lists was taken over."""

    kind: Literal["lists taken over"] = "lists taken over"
    version: Count
    fingerprint: Fingerprint
    reason: Words
    changed: tuple[Name, ...] = ()
    second: Name | None = None


class KioskEnrolled(Act):
    """A kiosk was given its series and key."""

    kind: Literal["kiosk enrolled"] = "kiosk enrolled"
    series: Series
    at_station: Name
    key: Fingerprint
    second: Name | None = None


class KioskWithdrawn(Act):
    """A series takes no more pages."""

    kind: Literal["kiosk withdrawn"] = "kiosk withdrawn"
    series: Series
    reason: Words


class Seal(Act):
    """A day's ledger, or a supplement of it, is fixed for good."""

    kind: Literal["seal"] = "seal"
    day: date
    supplement: Count = 0
    word: SealWord
    words: Words = ""
    """What is missing, by name, when the day is not Complete."""
    ledger: Fingerprint
    before: Fingerprint | None = None
    signature: Signature | None = None


class LedgerRead(Act):
    """Somebody looked at or exported a part of the ledger."""

    kind: Literal["ledger read"] = "ledger read"
    what: Words
    exported: bool = False
    fingerprint: Fingerprint | None = None


class StationMessage(Act):
    """Words of the QC room to a station: by lot and what is to be done, never who did what."""

    kind: Literal["message to station"] = "message to station"
    to_station: Name
    words: Words
