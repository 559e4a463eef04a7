"""What close of day asks of intake: the pages held, with everything known about how they came in.

Owns the shape of `Held` and the columns of its readings.
Must not know where anything lies on disk.
"""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Final

import pyarrow as pa

from kiosk.pages import Page

WORD: Final = pa.dictionary(pa.int32(), pa.string())
"""Text of which few distinct values are expected."""

READINGS_SCHEMA: Final = pa.schema(
    [
        ("series", WORD),
        ("number", pa.int64()),
        ("fingerprint", pa.string()),
        ("received_at_ms", pa.int64()),
        ("kiosk_time_ms", pa.int64()),
        ("kiosk_offset_min", pa.int32()),
        ("running_ms", pa.int64()),
        ("session", pa.int64()),
        ("clock_state", WORD),
        ("station", WORD),
        ("person", WORD),
        ("lists_version", pa.int64()),
        ("lists_taken_at_ms", pa.int64()),
        ("lot", WORD),
        ("operation", WORD),
        ("part", WORD),
        ("revision", WORD),
        ("plan_version", WORD),
        ("set_up", WORD),
        ("characteristic", WORD),
        ("sample", pa.int64()),
        ("sample_kind", WORD),
        ("piece", pa.int64()),
        ("position", WORD),
        ("gauge", WORD),
        ("master", WORD),
        ("typed", WORD),
        ("keyed", WORD),
        ("keyed_as", WORD),
        ("unit", WORD),
        ("earlier", WORD),
        ("value", WORD),
        ("computed_from", WORD),
        ("part_temperature", WORD),
        ("gauge_temperature", WORD),
        ("temperature_unit", WORD),
        ("out_of_heat_at", WORD),
        ("out_of_heat_at_ms", pa.int64()),
        ("source", WORD),
        ("paper_form", WORD),
        ("paper_taken_at", WORD),
        ("paper_taken_at_ms", pa.int64()),
        ("taken_by", WORD),
        ("read_back_by", WORD),
        ("re_measure_of", WORD),
        ("replaces", pa.int64()),
        ("verdict", WORD),
        ("standing", WORD),
        ("reasons", WORD),
        ("remark", WORD),
        ("photo", WORD),
    ]
)
"""One row is one reading page.

A field without a value is null, except `typed`, `reasons` (joined with `;`) and `earlier`
(canonical JSON text), which are empty text.
Times ending in `_ms` are UTC milliseconds since 1970-01-01.
Rows stand in the order series, number, fingerprint.
"""

CONTACTS_SCHEMA: Final = pa.schema(
    [
        ("series", WORD),
        ("session", pa.int64()),
        ("consolidator_ms", pa.int64()),
        ("kiosk_ms", pa.int64()),
        ("running_ms", pa.int64()),
    ]
)
"""One row is one contact over the network, in the order series, consolidator_ms."""


@dataclass(frozen=True)
class HeldPage:
    """One page held that is no reading; `received_at` is the consolidator's time (UTC) of its first arrival."""

    page: Page
    fingerprint: str
    received_at: datetime


@dataclass(frozen=True)
class Kiosk:
    """One enrolled series; times are the consolidator's (UTC).

    `last_contact_at` is the last contact over the network and `last_arrival_at` the last packet by any way,
    both not after the moment asked for.
    """

    series: str
    station: str
    public_key: str
    enrolled_at: datetime
    withdrawn_at: datetime | None
    last_contact_at: datetime | None
    last_arrival_at: datetime | None


@dataclass(frozen=True, order=True)
class Run:
    """An unbroken run of page numbers, both ends included."""

    first: int
    last: int


@dataclass(frozen=True)
class Conflict:
    """Two or more different pages with one number (X34); every version is held and appears among the pages."""

    series: str
    number: int
    fingerprints: tuple[str, ...]
    found_at: datetime


class Unfit(StrEnum):
    """In which way a page was found not to fit."""

    FINGERPRINT = "fingerprint"
    """Its bytes do not fit the fingerprint it was carried with."""
    CHAIN = "chain"
    """The page after it names another fingerprint than the one it has."""
    CONTENT = "content"
    """It is signed and numbered, but it is no page that this program knows."""


@dataclass(frozen=True)
class Altered:
    """A page that does not fit its fingerprint, its chain or the page format (X76).

    Where its content can be read it also appears among the pages, under the fingerprint of its actual bytes.
    """

    series: str
    number: int
    fingerprint: str
    unfit: Unfit
    why: str
    found_at: datetime


@dataclass(frozen=True)
class Unknown:
    """A packet of a series that is not enrolled, or was withdrawn before the packet came (X77).

    Pages of a withdrawn series have a good signature and also appear among the pages.
    Nothing proves who wrote pages of a series that was never enrolled: only the packet's own word is told here.
    """

    series: str
    first: int
    last: int
    received_at: datetime
    is_withdrawn: bool
    file: str
    """Where the original bytes lie, relative to the plant's intake folder; empty when they were too many to keep."""


@dataclass(frozen=True)
class Held:
    """Everything held that may matter to one production day, as known at one moment."""

    readings: pa.Table
    acts: tuple[HeldPage, ...]
    contacts: pa.Table
    kiosks: tuple[Kiosk, ...]
    runs: dict[str, tuple[Run, ...]]
    conflicts: tuple[Conflict, ...]
    altered: tuple[Altered, ...]
    unknown: tuple[Unknown, ...]
