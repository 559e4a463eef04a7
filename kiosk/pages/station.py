"""Pages about the work at a station: badge, job, gauges, set-ups, stops, heat, counts, and the kiosk itself."""

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
    Signature,
    Words,
)
from kiosk.pages.words import GaugeIncidentKind
from kiosk.times import LocalTime


class BadgeIn(Act):
    """A person begins at the station; `told` holds the sentences shown, e.g. which gauge goes out at midnight."""

    kind: Literal["badge in"] = "badge in"
    shift: Annotated[int, Field(ge=1, le=3)]
    told: tuple[Words, ...] = ()
    takes_over_from: Name | None = None


class BadgeOut(Act):
    """A person ends at the station, or was timed out."""

    kind: Literal["badge out"] = "badge out"
    why: Literal["badge", "taken over", "timed out"] = "badge"


class JobOpen(Act):
    """A traveller was scanned: this lot at this operation is worked here now."""

    kind: Literal["job open"] = "job open"
    lot: Name
    operation: Name
    part: Name
    revision: Name
    plan_version: Name
    set_up: Name | None = None
    typed: bool = False


class GaugeScan(Act):
    """A gauge was taken up for a sample; `told` names what the kiosk warned of."""

    kind: Literal["gauge scan"] = "gauge scan"
    gauge: Name
    master: Name | None = None
    characteristic: Name | None = None
    """What it was taken up for, so that several gauges can be in use in one round of samples."""
    typed: bool = False
    told: tuple[ExceptionNumber, ...] = ()


class GaugeMovement(Act):
    """Custody of a gauge moves."""

    kind: Literal["gauge movement"] = "gauge movement"
    gauge: Name
    movement: Literal["issued", "borrowed", "returned", "sent out", "found", "not found"]
    to_station: Name | None = None
    to_person: Name | None = None
    words: Words = ""


class GaugeIncident(Act):
    """One tap: something befell a gauge. Nobody is blamed and no name stands on any list."""

    kind: Literal["gauge incident"] = "gauge incident"
    gauge: Name
    what: GaugeIncidentKind
    photo: Fingerprint | None = None
    words: Words = ""


class SetUpStart(Act):
    """A set-up is begun."""

    kind: Literal["set-up start"] = "set-up start"
    set_up: Name
    lot: Name
    part: Name
    revision: Name
    operation: Name
    set_by: Name
    machine: Name | None = None
    tooling: dict[Name, Name] = Field(default_factory=dict)
    """Wheel, dies, tap and so on, by name."""
    die_set: Name | None = None
    die_pieces_before: Count = 0
    blank_low: Figure | None = None
    blank_high: Figure | None = None
    is_hot: bool = False
    reason: Literal["new lot", "new dies", "re-set", "repair", "other"] = "new lot"
    words: Words = ""


class SetUpChange(Act):
    """A set-up was touched; approval and proof end here."""

    kind: Literal["set-up change"] = "set-up change"
    set_up: Name
    what: Literal["die change", "re-set", "blank window", "hot or cold", "die life", "machine move", "wheel", "other"]
    words: Words = ""


class SetUpEnd(Act):
    """A set-up ended."""

    kind: Literal["set-up end"] = "set-up end"
    set_up: Name
    pieces_run: Count | None = None
    words: Words = ""


class FirstPieceApproval(Act):
    """An inspector's decision on the first pieces of a set-up; it works from the minute it is signed, forwards only."""

    kind: Literal["first-piece approval"] = "first-piece approval"
    set_up: Name
    part: Name
    revision: Name
    operation: Name
    readings: tuple[PageRef, ...] = ()
    result: Literal["Approved", "Refused"]
    conditions: Words = ""
    signature: Signature | None = None


class StopBegin(Act):
    """The machine stopped; running time does not count from here."""

    kind: Literal["stop"] = "stop"
    reason: Literal["break", "no material", "breakdown", "wheel dress", "cleaning", "set-up", "other"]
    lot: Name | None = None
    words: Words = ""


class StopEnd(Act):
    """The machine runs again."""

    kind: Literal["run again"] = "run again"
    lot: Name | None = None


class Changeover(Act):
    """One lot ends and the next begins at the station, with line clearance."""

    kind: Literal["changeover"] = "changeover"
    from_lot: Name | None = None
    to_lot: Name
    is_line_clear: bool
    words: Words = ""


class OutOfHeat(Act):
    """Pieces came out of heat; they are not to be measured hot."""

    kind: Literal["out of heat"] = "out of heat"
    lot: Name
    out_at: LocalTime
    tote: Name | None = None
    piece: int | None = None


class HeatScan(Act):
    """The heat number on the material was scanned for a lot."""

    kind: Literal["heat scan"] = "heat scan"
    lot: Name
    heat: Name
    typed: bool = False


class PieceCount(Act):
    """Quantity balance of a lot at the end of an operation, in pieces."""

    kind: Literal["piece count"] = "piece count"
    lot: Name
    operation: Name
    pieces_in: Count
    good: Count
    scrap: Count
    test: Count = 0
    in_hand: Count = 0


class MachineCounter(Act):
    """The machine's own piece counter, read at the start or end of a shift."""

    kind: Literal["machine counter"] = "machine counter"
    machine: Name
    at: Literal["start", "end"]
    pieces: Count


class Store(Frozen):
    """One of the kiosk's two stores as it stood."""

    name: Literal["built-in", "removable"]
    state: Literal["good", "full", "read-only", "away", "damaged"]
    free_bytes: Annotated[int, Field(ge=0)]


class PowerOn(Act):
    """The kiosk was switched on: a new session begins and its running time starts again."""

    kind: Literal["power on"] = "power on"
    last_number: Count
    program: Name
    stores: tuple[Store, ...] = ()
    recovered: Words = ""
    """What recovery set aside, in words; empty after a clean stop."""


class StoreChange(Act):
    """A store failed, filled up, or came back; shown on the screen at once."""

    kind: Literal["store change"] = "store change"
    store: Store
    words: Words = ""


class ClockSet(Act):
    """The kiosk's clock was set."""

    kind: Literal["clock set"] = "clock set"
    before: LocalTime
    after: LocalTime
    words: Words = ""


class ListsTaken(Act):
    """Fresh lists are in use at this kiosk from here."""

    kind: Literal["lists taken"] = "lists taken"
    version: Count
    fingerprint: Fingerprint
    by: Literal["network", "stick", "enrolment"]


class Remark(Act):
    """Words somebody wanted kept, about a page or about nothing in particular."""

    kind: Literal["remark"] = "remark"
    about: PageRef | None = None
    words: Words


class MeasuringOrder(Act):
    """The operator chose how samples are measured from here: piece by piece, or one characteristic after the other."""

    kind: Literal["measuring order"] = "measuring order"
    is_piece_by_piece: bool


class AcceptanceBegun(Act):
    """Ten readings on a training lot begin, which show that this kiosk answers as it should."""

    kind: Literal["acceptance run begun"] = "acceptance run begun"
    lot: Name


class AcceptanceSigned(Act):
    """All ten came out as expected, and their pages were carried; one of two persons says so."""

    kind: Literal["acceptance run signed"] = "acceptance run signed"
    lot: Name
    begun: PageRef
    results: tuple[Words, ...]
    signature: Signature | None = None


class Refusal(Act):
    """Something was refused; what, why and the next step that was shown."""

    kind: Literal["refusal"] = "refusal"
    what: Words
    why: Words
    next_step: Words
    by_rule: ExceptionNumber | None = None
