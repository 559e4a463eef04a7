"""The numbered books of a plant under way: what each page says of its time, and how it came in."""

import random
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

import pyarrow as pa

from consolidator.intake.held import (
    CONTACTS_SCHEMA,
    READINGS_SCHEMA,
    Altered,
    Conflict,
    Held,
    HeldPage,
    Kiosk,
    Run,
    Unknown,
)
from kiosk.pages import FIRST_PREVIOUS, Page
from kiosk.times import in_zone, write_time
from tests.oracle.plants.lists import ZONE


def moment(ms: int) -> datetime:
    """Return a moment of UTC milliseconds."""
    return datetime.fromtimestamp(ms / 1000, UTC)


def local(ms: int) -> str:
    """Return a time as a page writes it, in plant time."""
    return write_time(in_zone(moment(ms), ZONE))


@dataclass
class Book:
    """One series: its number, the power-on session under way, and how wrong its clock is."""

    series: str
    station: str
    number: int = 0
    session: int = 1
    on_ms: int = 0
    error_ms: int = 0

    def turn_page(self) -> int:
        """Return the number of the next page."""
        self.number += 1
        return self.number

    def power_on(self, true_ms: int) -> None:
        """Begin a new session."""
        self.session += 1
        self.on_ms = true_ms


@dataclass
class Shelf:
    """Everything that came in from all books, as intake will hold it."""

    chance: random.Random
    at_ms: int
    books: dict[str, Book] = field(default_factory=dict)
    rows: list[dict[str, Any]] = field(default_factory=list)
    acts: list[HeldPage] = field(default_factory=list)
    contacts: list[dict[str, Any]] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)
    altered: list[Altered] = field(default_factory=list)
    unknown: list[Unknown] = field(default_factory=list)
    kiosks: list[Kiosk] = field(default_factory=list)
    true_ms: dict[str, int] = field(default_factory=dict)
    """When each reading was really made, by page."""
    prints: int = 0

    def fingerprint(self) -> str:
        """Return a fingerprint nobody has yet."""
        self.prints += 1
        return f"{self.prints:064x}"

    def reading(self, book: Book, true_ms: int, told: Mapping[str, Any], *, delay_ms: int = 1000) -> str:
        """Keep a reading page, if it comes in before the close; return how others name it."""
        number = book.turn_page()
        kiosk_ms = true_ms + book.error_ms
        row: dict[str, Any] = dict.fromkeys(READINGS_SCHEMA.names)
        row |= {
            "series": book.series,
            "station": book.station,
            "number": number,
            "fingerprint": self.fingerprint(),
            "received_at_ms": true_ms + delay_ms,
            "kiosk_time_ms": kiosk_ms,
            "kiosk_offset_min": int(read_offset_min(kiosk_ms)),
            "running_ms": true_ms - book.on_ms,
            "session": book.session,
            "clock_state": "agreed",
            "lists_version": 1,
            "typed": "",
            "earlier": "",
            "reasons": "",
            "standing": "Counts",
        }
        row |= told
        ref = f"{book.series}/{number}"
        self.true_ms[ref] = true_ms
        if row["received_at_ms"] <= self.at_ms:
            self.rows.append(row)
        return ref

    def act(self, book: Book, true_ms: int, act: Mapping[str, Any], *, person: str | None, delay_ms: int = 1000) -> str:
        """Keep any other page, if it comes in before the close; return how others name it."""
        page = Page.model_validate(
            {
                "plant": "P",
                "series": book.series,
                "number": book.turn_page(),
                "station": book.station,
                "kiosk_time": local(true_ms + book.error_ms),
                "running_ms": true_ms - book.on_ms,
                "session": book.session,
                "person": person,
                "previous": FIRST_PREVIOUS,
                "filler": f"{len(self.acts):032x}",
                "act": dict(act),
            }
        )
        if true_ms + delay_ms <= self.at_ms:
            self.acts.append(HeldPage(page, self.fingerprint(), moment(true_ms + delay_ms)))
        return page.ref

    def contact(self, book: Book, true_ms: int) -> None:
        """Note that a kiosk was spoken with."""
        self.contacts.append(
            {
                "series": book.series,
                "session": book.session,
                "consolidator_ms": true_ms,
                "kiosk_ms": true_ms + book.error_ms,
                "running_ms": true_ms - book.on_ms,
            }
        )

    def held(self) -> Held:
        """Return all of it as intake hands it to close of day, in the order it lies there."""
        numbers: dict[str, set[int]] = {}
        for row in self.rows:
            numbers.setdefault(row["series"], set()).add(row["number"])
        for act in self.acts:
            numbers.setdefault(act.page.series, set()).add(act.page.number)
        rows = sorted(self.rows, key=lambda row: (row["series"], row["number"], row["fingerprint"]))
        contacts = sorted(self.contacts, key=lambda each: (each["series"], each["consolidator_ms"]))
        return Held(
            readings=pa.Table.from_pylist(rows, schema=READINGS_SCHEMA),
            acts=tuple(self.acts),
            contacts=pa.Table.from_pylist(contacts, schema=CONTACTS_SCHEMA),
            kiosks=tuple(self.kiosks),
            runs={series: _runs(held) for series, held in numbers.items()},
            conflicts=tuple(self.conflicts),
            altered=tuple(self.altered),
            unknown=tuple(self.unknown),
        )


def read_offset_min(ms: int) -> float:
    """Return the plant's UTC offset at a moment, in minutes."""
    offset = moment(ms).astimezone(ZONE).utcoffset()
    assert offset is not None
    return offset.total_seconds() / 60


def _runs(numbers: set[int]) -> tuple[Run, ...]:
    runs: list[Run] = []
    for number in sorted(numbers):
        if runs and number == runs[-1].last + 1:
            runs[-1] = Run(runs[-1].first, number)
        else:
            runs.append(Run(number, number))
    return tuple(runs)
