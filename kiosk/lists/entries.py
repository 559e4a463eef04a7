"""One frozen model for each row of each list; figures stay decimal text exactly as written.

A row with `in_force_from` works from that moment; without one, from the beginning.
Two rows for the same thing with different times of force are its history.
"""

from datetime import date
from typing import Annotated

from pydantic import Field

from kiosk.lists.words import (
    CharacteristicKind,
    Feature,
    GaugeKind,
    GaugeState,
    Level,
    MasterKind,
    Member,
)
from kiosk.pages._base import Count, Figure, Frozen, Name, Words
from kiosk.times import LocalTime

Small = Annotated[int, Field(ge=0, le=100_000)]


class Gauge(Frozen):
    """One gauge of the register. Lengths in its own `unit`; due is valid to the end of that date, plant time."""

    number: Name
    kind: GaugeKind
    serial: Name | None = None
    unit: Name | None = None
    range_low: Figure | None = None
    range_high: Figure | None = None
    least_count: Figure | None = None
    half_division: bool = False
    permissible_error: Figure | None = None
    uncertainty: Figure | None = None
    home_station: Name | None = None
    state: GaugeState = GaugeState.IN_USE
    owner: Words = "plant"
    interval_days: Small | None = None
    due: date | None = None
    master: Name | None = None
    """Setting master, day-check block, or setting plug it is set on."""
    wires: Name | None = None
    thread: Name | None = None
    """Thread designation with class and form, e.g. `.3125-24 UNJF-3A`."""
    member: Member | None = None
    swap_partner: Name | None = None
    drawer: Name | None = None
    in_force_from: LocalTime | None = None


class CalibrationRecord(Frozen):
    """One calibration as known to the lists; the full record is a page of the calibration room."""

    gauge: Name
    done_at: LocalTime
    technician: Name
    masters: tuple[Name, ...] = ()
    as_found: Annotated[str, Field(pattern="^(Good|Out|Not taken)$")]
    as_left: Annotated[str, Field(pattern="^(Good|Out)$")]
    due: date | None = None
    certificate: Name | None = None
    room_temperature: Figure | None = None
    temperature_unit: Annotated[str, Field(pattern="^(degF|degC)$")] = "degF"


class Master(Frozen):
    """One master: gauge blocks, setting plug, wire set, hardness block, force standard."""

    number: Name
    kind: MasterKind
    size: Figure | None = None
    """Certified size: of a wire set the certified mean wire."""
    unit: Name | None = None
    tolerance: Figure | None = None
    uncertainty: Figure | None = None
    threads_per_inch: Figure | None = None
    pitch_mm: Figure | None = None
    thread: Name | None = None
    certificate: Name | None = None
    laboratory: Words | None = None
    due: date | None = None
    state: GaugeState = GaugeState.IN_USE
    in_force_from: LocalTime | None = None


class Person(Frozen):
    """One person of the plant; `name` as shown."""

    number: Name
    name: Name
    badges: tuple[Name, ...] = ()
    language: Name = "en"
    hand: Annotated[str, Field(pattern="^(left|right)$")] = "right"
    left_at: LocalTime | None = None


class Qualification(Frozen):
    """What a person may do, for an operation and a gauge kind (`*` for all), from and until."""

    person: Name
    operation: Name
    gauge_kind: Name = "*"
    level: Level
    valid_from: date
    valid_until: date | None = None
    granted_by: Name | None = None
    in_force_from: LocalTime | None = None


class Part(Frozen):
    """One revision of one part."""

    number: Name
    name: Name
    revision: Name
    in_force_from: LocalTime | None = None
    customer: Name | None = None
    specification: Words | None = None
    thread: Name | None = None
    is_safety_critical: bool = True
    is_internal_thread: bool = False


class Characteristic(Frozen):
    """One characteristic of one part revision; limits exactly as written on the drawing."""

    part: Name
    revision: Name
    number: Name
    name: Name
    operation: Name
    kind: CharacteristicKind
    feature: Feature = Feature.OTHER
    unit: Name
    lower: Figure | None = None
    upper: Figure | None = None
    derived_from: Words | None = None
    """What the limits were computed from, e.g. `pitch diameter of .3125-24 UNJF-3A`; they stand in lower and upper."""
    shop_limit: Figure | None = None
    """The shop's own tighter limit on the same side as a single limit; two-sided: not used."""
    guard_band: Figure | None = None
    rule: Annotated[str, Field(pattern="^(over wires|)$")] = ""
    """How the value is computed from what is keyed; empty: it is what is keyed."""
    threads_per_inch: Figure | None = None
    pitch_mm: Figure | None = None
    turns_allowed: Figure | None = None
    member: Member | None = None
    thread: Name | None = None
    """Thread the gauge must be made for; empty: the part's."""
    gauge_kinds: tuple[GaugeKind, ...] = ()
    is_heated: bool = False
    can_measure_later: bool = True
    is_key: bool = False
    sample_n: Small = 0
    interval_min: Small | None = None
    acceptance_n: Small = 0
    rejects_allowed: Small = 0
    least_each: Figure | None = None
    least_average: Figure | None = None
    stopped_at: Figure | None = None
    in_force_from: LocalTime | None = None


class Plan(Frozen):
    """How one operation of one part revision is worked; `version` is what the kiosk names in each reading."""

    part: Name
    revision: Name
    operation: Name
    version: Name
    in_force_from: LocalTime | None = None
    approved_by: Name | None = None
    second: Name | None = None
    after_operation: Name | None = None
    """May not start before this operation is signed off."""
    needs_first_piece: bool = False
    needs_fatigue_proof: bool = False
    is_final: bool = False
    die_life: Count | None = None


class Lot(Frozen):
    """One lot: one part, one revision, one heat, one load family."""

    number: Name
    part: Name
    revision: Name
    heat: Name | None = None
    quantity: Count
    opened_at: LocalTime | None = None
    customer: Name | None = None
    order: Name | None = None
    ships_on: date | None = None
    retention_years: Small = 10
    is_training: bool = False
    split_from: Name | None = None


class Station(Frozen):
    """One station."""

    number: Name
    name: Name
    operations: tuple[Name, ...]
    in_force_from: LocalTime | None = None


class Shift(Frozen):
    """One person on one shift."""

    day: date
    shift: Annotated[int, Field(ge=1, le=3)]
    person: Name


class PlantNumber(Frozen):
    """One of N1-N19 as the plant set it; works from its time of force only."""

    number: Annotated[str, Field(pattern=r"^N([1-9]|1[0-9])[a-z]?$")]
    value: Words
    in_force_from: LocalTime | None = None
    by: Name | None = None
    second: Name | None = None
    reason: Words = ""
