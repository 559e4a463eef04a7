"""Builds what intake holds from plain rows, and the lists of an invented plant, for tests of the close.

All names, limits and numbers are invented for testing.
"""

import re
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pyarrow as pa

from consolidator.close import ClosedDay, close_day
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
from kiosk.lists import Lists
from kiosk.pages import FIRST_PREVIOUS, Page
from kiosk.times import read_time

NEW_YORK = "America/New_York"
DAY = date(2026, 3, 9)
AT = datetime(2026, 3, 10, 10, 5, tzinfo=UTC)
"""06:05 of 10 March in New York summer time."""

GAUGES: list[dict[str, Any]] = [
    {"number": "G-107", "kind": "micrometer", "range_low": "0", "range_high": "1", "least_count": ".0001"},
    {"number": "G-108", "kind": "micrometer", "range_low": "0", "range_high": "1", "least_count": ".00005"},
    {"number": "G-109", "kind": "micrometer", "range_low": "1", "range_high": "2", "least_count": ".0001"},
    {"number": "G-118", "kind": "micrometer", "range_low": "0", "range_high": "1", "least_count": ".00005"},
    {"number": "G-120", "kind": "caliper", "range_low": "0", "range_high": "6", "least_count": ".0005"},
    {"number": "G-220", "kind": "snap gauge", "range_low": "-.005", "range_high": ".005", "least_count": ".00005",
     "master": "M-14"},
    {"number": "G-301", "kind": "over-wire micrometer", "range_low": "0", "range_high": "1", "least_count": ".00005",
     "wires": "W-24"},
    {"number": "G-415", "kind": "face-runout fixture", "least_count": ".0001"},
    {"number": "G-502", "kind": "thread ring", "thread": ".3125-24 UNJF-3A", "member": "GO", "unit": None},
    {"number": "G-503", "kind": "thread ring", "thread": ".3125-24 UNJF-3A", "member": "NOT GO", "unit": None},
    {"number": "G-505", "kind": "thread ring", "thread": ".3125-24 UNF-2A", "member": "GO", "unit": None},
]  # fmt: skip
HOMES = {"G-118": "S13", "G-301": "S24", "G-415": "S31", "G-502": "S24", "G-503": "S24", "G-505": "CRIB"}
DUES = {"G-107": "2026-03-10", "G-415": "2026-03-20"}
CHARACTERISTICS: list[dict[str, Any]] = [
    {"number": "BC1", "name": "ground shank diameter", "operation": "60", "kind": "two-sided", "unit": "in",
     "lower": ".3120", "upper": ".3125", "feature": "ground diameter", "sample_n": 5, "interval_min": 30,
     "gauge_kinds": ("snap gauge", "micrometer")},
    {"number": "BC2", "name": "rolling blank diameter", "operation": "65", "kind": "two-sided", "unit": "in",
     "lower": ".2835", "upper": ".2845", "feature": "ground diameter", "sample_n": 5, "interval_min": 30,
     "gauge_kinds": ("snap gauge", "micrometer")},
    {"number": "BC4", "name": "pitch diameter over wires", "operation": "80", "kind": "two-sided", "unit": "in",
     "lower": ".2827", "upper": ".2854", "feature": "external rolled thread", "rule": "over wires",
     "threads_per_inch": "24", "sample_n": 5, "interval_min": 30, "gauge_kinds": ("over-wire micrometer",)},
    {"number": "BC5", "name": "GO ring", "operation": "80", "kind": "accept/reject", "unit": "accept/reject",
     "member": "GO", "feature": "external rolled thread", "gauge_kinds": ("thread ring",)},
    {"number": "BC6", "name": "NOT GO ring", "operation": "80", "kind": "turns", "unit": "turns",
     "turns_allowed": "3", "member": "NOT GO", "feature": "external rolled thread", "gauge_kinds": ("thread ring",)},
    {"number": "BC10", "name": "fatigue", "operation": "90", "kind": "lower limit only", "unit": "cycles",
     "lower": "45000", "least_each": "45000", "least_average": "65000", "stopped_at": "130000", "sample_n": 3},
]  # fmt: skip
NUT: dict[str, Any] = {
    "part": "N-2208", "revision": "A", "number": "NC1", "name": "face runout", "operation": "30",
    "kind": "upper limit only", "unit": "in", "upper": ".005", "shop_limit": ".003", "feature": "face runout",
    "gauge_kinds": ("face-runout fixture",),
}  # fmt: skip
AUTHORITY = (
    ("P-104", "disposition authority"),
    ("P-105", "calibrator"),
    ("P-106", "quality manager"),
    ("P-108", "disposition authority"),
)
PEOPLE = {"P-101": ("60", "65"), "P-102": ("80",), "P-103": ("30",), "P-104": ("60", "65", "80", "30", "95")}


def deck(**changes: Any) -> Lists:
    """Return the lists of the invented plant; `changes` replace whole lists."""
    bolt: dict[str, Any] = {"part": "B-3124", "revision": "C"}
    rows: dict[str, Any] = {
        "gauges": [
            {"unit": "in", "home_station": HOMES.get(number, "S12"), "due": DUES.get(number, "2026-08-31")} | g
            for g in GAUGES
            for number in (g["number"],)
        ],
        "masters": [
            {"number": "M-14", "kind": "setting plug", "size": ".31225", "unit": "in"},
            {"number": "W-24", "kind": "wire set", "size": ".02406", "unit": "in", "threads_per_inch": "24"},
            {"number": "W-28", "kind": "wire set", "size": ".02062", "unit": "in", "threads_per_inch": "28"},
        ],
        "parts": [
            {"number": "B-3124", "name": "bolt (invented)", "revision": "C", "thread": ".3125-24 UNJF-3A"},
            {"number": "N-2208", "name": "nut (invented)", "revision": "A", "thread": ".3125-24 UNJF-3B"},
        ],
        "characteristics": [*(bolt | c for c in CHARACTERISTICS), NUT],
        "plans": [
            *(bolt | {"operation": op, "version": "C1"} for op in ("60", "65", "90")),
            bolt | {"operation": "80", "version": "C1"},
            {"part": "N-2208", "revision": "A", "operation": "30", "version": "A1"},
        ],
        "lots": [
            *(bolt | {"number": n, "heat": "H-1", "quantity": 2000} for n in ("L-411", "L-412", "L-420")),
            {"number": "L-500", "part": "N-2208", "revision": "A", "heat": "H-2", "quantity": 5000},
        ],
        "qualifications": [
            *(
                {"person": p, "operation": op, "level": "operator", "valid_from": "2024-01-01"}
                for p, operations in PEOPLE.items()
                for op in operations
            ),
            {"person": "P-102", "operation": "80", "level": "trainer", "valid_from": "2024-01-01"},
            {"person": "P-104", "operation": "80", "level": "first-piece approver", "valid_from": "2024-01-01"},
            *(
                {"person": person, "operation": "*", "level": level, "valid_from": "2024-01-01"}
                for person, level in AUTHORITY
            ),
        ],
        "people": [{"number": f"P-10{n}", "name": f"Person {n} (invented)"} for n in range(1, 9)],
    }  # fmt: skip
    whole = {name: [_canonical(row) for row in table] for name, table in (rows | changes).items()}
    return Lists.model_validate({"plant": "P1", "zone": NEW_YORK, "version": 1} | whole)


def _canonical(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row with its figures as lists hold them: `.3125` becomes `0.3125`."""
    return {name: _figure(value) if isinstance(value, str) else value for name, value in row.items()}


def _figure(text: str) -> str:
    return re.sub(r"^(-?)(\.\d+)$", r"\g<1>0\g<2>", text)


class HeldBuilder:
    """Collects readings, acts, contacts and kiosks, and closes a day of them."""

    def __init__(self, lists: Lists | None = None) -> None:
        self.lists = lists or deck()
        self.rows: list[dict[str, Any]] = []
        self.acts: list[HeldPage] = []
        self.contacts: list[dict[str, Any]] = []
        self.conflicts: list[Conflict] = []
        self.altered: list[Altered] = []
        self.unknown: list[Unknown] = []
        self.kiosks: dict[str, Kiosk] = {}
        self.last_contact_utc: datetime | None = None
        self._numbers: dict[str, int] = {}
        self._boot_ms: dict[str, int] = {}

    def reading(self, at: str, keyed: str, **fields: Any) -> str:
        """Add a reading made at kiosk time `at` (with offset) and return its page, e.g. `S12-a/1`."""
        usual = {"station": "S12", "lot": "L-411", "characteristic": "BC1", "gauge": "G-108", "person": "P-101"}
        told = usual | fields
        moment = read_time(at)
        series = told.setdefault("series", f"{told['station']}-a")
        number = told.setdefault("number", self._next(series))
        kiosk_ms = _ms(moment)
        characteristic = next(
            (c for c in self.lists.characteristics if c.number == told["characteristic"]), self.lists.characteristics[0]
        )
        given = {
            "fingerprint": f"{len(self.rows) + 1:064x}",
            "received_at_ms": kiosk_ms + 1000,
            "kiosk_time_ms": kiosk_ms,
            "kiosk_offset_min": int((moment.utcoffset() or 0).total_seconds()) // 60,  # type: ignore[union-attr]
            "running_ms": kiosk_ms - self._boot(series, kiosk_ms),
            "session": 1,
            "clock_state": "agreed",
            "lists_version": 1,
            "operation": characteristic.operation,
            "part": characteristic.part,
            "revision": characteristic.revision,
            "plan_version": f"{characteristic.revision}1",
            "sample": 1,
            "sample_kind": "run",
            "piece": len(self.rows) + 1,
            "typed": "",
            "keyed": keyed,
            "keyed_as": "value",
            "unit": characteristic.unit,
            "earlier": "",
            "source": "keyed",
            "verdict": None,
            "standing": "Counts",
            "reasons": "",
        }
        self.rows.append({name: (given | told).get(name) for name in READINGS_SCHEMA.names})
        return f"{series}/{number}"

    def act(self, at: str, act: Mapping[str, Any], *, series: str = "desk-a", person: str | None = "P-106") -> str:
        """Add an act page made at `at` and return its page."""
        moment, number = read_time(at), self._next(series)
        page = Page.model_validate(
            {
                "plant": self.lists.plant,
                "series": series,
                "number": number,
                "station": series.rpartition("-")[0],
                "kiosk_time": at,
                "running_ms": _ms(moment) - self._boot(series, _ms(moment)),
                "session": 1,
                "person": person,
                "previous": FIRST_PREVIOUS,
                "filler": f"{number:032x}",
                "act": dict(act),
            }
        )
        self.acts.append(HeldPage(page, f"{10**6 + len(self.acts):064x}", moment.astimezone(UTC)))
        return page.ref

    def check(self, at: str, gauge: str = "G-220", *, error: str = "0", **also: Any) -> str:
        """Add a zero check at S12 by P-101, good up to .00005; `station`, `series`, `person` and fields may be told.

        It is good or failed by its error, unless a verdict is told; figures as the page holds them.
        """
        station, person = also.pop("station", "S12"), also.pop("person", "P-101")
        series = also.pop("series", f"{station}-a")
        told = {"check_kind": "zero check", "keyed": error, "unit": "in", "error": error, "limit": "0.00005"} | also
        size, limit = abs(Decimal(told["error"])), Decimal(told["limit"])
        act = {"kind": "check", "gauge": gauge, "verdict": "Good" if size <= limit else "Failed"} | told
        return self.act(at, act, series=series, person=person)

    def contact(self, series: str, at: str, *, kiosk: str, session: int = 1, running_ms: int | None = None) -> None:
        """Add a contact at consolidator time `at`, when the kiosk's clock showed `kiosk`."""
        kiosk_ms = _ms(read_time(kiosk))
        running = kiosk_ms - self._boot(series, kiosk_ms) if running_ms is None else running_ms
        self.contacts.append(
            {
                "series": series,
                "session": session,
                "consolidator_ms": _ms(read_time(at)),
                "kiosk_ms": kiosk_ms,
                "running_ms": running,
            }
        )

    def held(self) -> Held:
        """Return what was added, as intake gives it."""
        runs: dict[str, list[int]] = {}
        for row in self.rows:
            runs.setdefault(row["series"], []).append(row["number"])
        for act in self.acts:
            runs.setdefault(act.page.series, []).append(act.page.number)
        usual = {s: self._kiosk(s) for s in runs if not s.startswith("desk")}
        rows = [
            {
                name: value if value != "" or name in ("typed", "reasons", "earlier") else None
                for name, value in row.items()
            }
            for row in self.rows
        ]
        return Held(
            readings=pa.Table.from_pylist(rows, schema=READINGS_SCHEMA),
            acts=tuple(self.acts),
            contacts=pa.Table.from_pylist(self.contacts, schema=CONTACTS_SCHEMA),
            kiosks=tuple((usual | self.kiosks).values()),
            runs={series: _runs(numbers) for series, numbers in runs.items()},
            conflicts=tuple(self.conflicts),
            altered=tuple(self.altered),
            unknown=tuple(self.unknown),
        )

    def close(self, day: date = DAY, at: datetime = AT, before: Any = None) -> ClosedDay:
        """Return the day closed."""
        return close_day(self.held(), self.lists, day=day, at_utc=at, before=before)

    def _kiosk(self, series: str) -> Kiosk:
        enrolled = datetime(2025, 1, 1, tzinfo=UTC)
        contact = self.last_contact_utc or datetime(2100, 1, 1, tzinfo=UTC)
        seen = min(contact, AT) if self.last_contact_utc is None else contact
        return Kiosk(series, series.removesuffix("-a"), "00", enrolled, None, seen, seen)

    def _next(self, series: str) -> int:
        self._numbers[series] = self._numbers.get(series, 0) + 1
        return self._numbers[series]

    def _boot(self, series: str, kiosk_ms: int) -> int:
        return self._boot_ms.setdefault(series, kiosk_ms - 3_600_000)


def row_of(closed: ClosedDay, page: str) -> dict[str, str]:
    """Return the reading row of a page."""
    return next(row for row in closed.readings.to_pylist() if f"{row['kiosk']}/{row['page']}" == page)


def marks_of(closed: ClosedDay, page: str) -> set[str]:
    """Return the exceptions that stand beside a page."""
    return {mark for mark in row_of(closed, page)["exceptions"].split(";") if mark}


def exception_of(closed: ClosedDay, number: str) -> dict[str, str]:
    """Return the only exception of a kind."""
    (row,) = [row for row in closed.exceptions.to_pylist() if row["number"] == number]
    return dict(row)


def numbers_of(closed: ClosedDay) -> list[str]:
    """Return the kinds of all exceptions of the day."""
    return sorted(row["number"] for row in closed.exceptions.to_pylist())


def held_lots(closed: ClosedDay) -> dict[str, set[str]]:
    """Return the lots on hold with the kinds that hold them."""
    lots: dict[str, set[str]] = {}
    for row in closed.holds.to_pylist():
        if row["state"] == "held":
            lots.setdefault(row["lot"], set()).add(row["number"])
    return lots


def _ms(moment: datetime) -> int:
    return round(moment.timestamp() * 1000)


def _runs(numbers: list[int]) -> tuple[Run, ...]:
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return tuple(Run(first, last) for first, last in runs)
