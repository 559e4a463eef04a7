"""Pages about measured numbers: readings, checks, samples, corrections."""

from typing import Annotated, Literal

from pydantic import Field

from kiosk.pages._base import (
    Act,
    Count,
    ExceptionNumber,
    Figure,
    Fingerprint,
    Frozen,
    Keyed,
    Name,
    PageRef,
    Signature,
    Words,
)
from kiosk.pages.words import (
    CheckKind,
    CheckVerdict,
    KeyedAs,
    SampleKind,
    Source,
    Standing,
    Verdict,
)
from kiosk.times import LocalTime


class Keying(Frozen):
    """One earlier keying of the same reading, kept with what the kiosk asked about it."""

    text: Keyed
    asked: tuple[ExceptionNumber, ...] = ()
    """The slips the kiosk asked about (X26-X30); empty when the person wiped it unasked."""


class Reading(Act):
    """One measured or gauged result on one piece.

    `value` is the exact decimal made from `keyed` in `unit`; none for accept/reject.
    `verdict`, `standing` and `reasons` are the kiosk's; close of day judges again and keeps both.
    """

    kind: Literal["reading"] = "reading"
    lot: Name
    operation: Name
    part: Name
    revision: Name
    plan_version: Name
    set_up: Name | None = None
    characteristic: Name
    sample: Annotated[int, Field(ge=1, le=1_000_000)]
    sample_kind: SampleKind = SampleKind.RUN
    piece: Annotated[int, Field(ge=1, le=1_000_000)]
    position: Name | None = None
    gauge: Name | None = None
    master: Name | None = None
    """Setting master, wire set or setting plug scanned with the gauge."""
    typed: tuple[Literal["lot", "gauge", "master"], ...] = ()
    """Numbers that were typed, not scanned."""
    keyed: Keyed
    keyed_as: KeyedAs = KeyedAs.VALUE
    unit: Name
    earlier: Annotated[tuple[Keying, ...], Field(max_length=20)] = ()
    value: Figure | None = None
    computed_from: Words | None = None
    part_temperature: Figure | None = None
    gauge_temperature: Figure | None = None
    temperature_unit: Literal["degF", "degC"] | None = None
    out_of_heat_at: LocalTime | None = None
    source: Source = Source.KEYED
    paper_form: Name | None = None
    paper_taken_at: LocalTime | None = None
    taken_by: Name | None = None
    """Who measured, when another person keyed it from paper."""
    read_back_by: Name | None = None
    re_measure_of: PageRef | None = None
    replaces: Annotated[int, Field(ge=1)] | None = None
    """Page number, in this book, of the keying of the same piece that this one takes the place of in the sample."""
    verdict: Verdict
    standing: Standing
    reasons: tuple[ExceptionNumber, ...] = ()
    remark: Words | None = None
    photo: Fingerprint | None = None


class AskedAgain(Act):
    """A number looked wrong and the kiosk asked to look again; what was keyed is kept before the answer comes."""

    kind: Literal["asked again"] = "asked again"
    lot: Name
    operation: Name
    characteristic: Name
    sample: Annotated[int, Field(ge=1, le=1_000_000)]
    piece: Annotated[int, Field(ge=1, le=1_000_000)]
    keying: Keying
    keyed_as: KeyedAs = KeyedAs.VALUE


class Check(Act):
    """A zero check of a comparator on its master, or the day check of a tester or frame on its block."""

    kind: Literal["check"] = "check"
    check_kind: CheckKind
    gauge: Name
    master: Name | None = None
    keyed: Keyed
    keyed_as: KeyedAs = KeyedAs.DEVIATION
    unit: Name
    error: Figure
    """Indicated minus certified, in `unit`."""
    limit: Figure
    """The largest size of `error` that is still good, in `unit`."""
    characteristics: tuple[Name, ...] = ()
    """Those that set the limit, as part:characteristic."""
    source: Source | None = None
    """How the figure came in; none: a person keyed it."""
    verdict: CheckVerdict


class Countersign(Act):
    """A trainer signs a trainee's sample while it is still open."""

    kind: Literal["countersign"] = "countersign"
    trainee: Name
    lot: Name
    operation: Name
    characteristic: Name
    sample: int


class SampleEnd(Act):
    """A sample was ended, complete or short."""

    kind: Literal["sample end"] = "sample end"
    lot: Name
    operation: Name
    characteristic: Name
    sample: int
    planned: Count
    got: Count
    why_short: Words | None = None


class Correction(Act):
    """A finished reading is put in doubt: old value, new value and reason; the old page stays as it was."""

    kind: Literal["correction"] = "correction"
    of: PageRef
    field: Literal["value", "lot", "gauge", "master", "piece"]
    old: Keyed
    new: Keyed
    reason: Literal["keyed wrong", "read wrong", "wrong lot", "wrong gauge", "wrong piece", "other"]
    words: Words
    signature: Signature | None = None


class ReMeasureOrder(Act):
    """A blind re-measure is asked of a station; the old value is never in it."""

    kind: Literal["re-measure order"] = "re-measure order"
    of: PageRef
    at_station: Name
    lot: Name
    characteristic: Name
    piece: int | None = None
    words: Words = ""
