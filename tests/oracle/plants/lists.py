"""Random lists of an invented plant."""

import random
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from kiosk.lists import Lists
from kiosk.times import DAY_START, in_zone, write_time

ZONE = ZoneInfo("America/New_York")
DAYS = (date(2026, 3, 10), date(2026, 3, 7), date(2026, 10, 31), date(2026, 7, 14))
"""Among them the nights in which the clocks change (23 and 25 hours)."""
STATIONS = ("S1", "S2", "S3")
OPERATORS = ("P-1", "P-2", "P-3", "P-4")
DESK = {"Q-1": "quality manager", "Q-2": "disposition authority", "C-1": "calibrator", "I-1": "first-piece approver"}
THREAD = ".3125-24 UNJF-3A"

_CHARACTERISTICS: list[dict[str, Any]] = [
    {"part": "B", "number": "BC1", "operation": "60", "kind": "two-sided", "unit": "in", "lower": "0.3120",
     "upper": "0.3125", "feature": "ground diameter", "gauge_kinds": ("snap gauge", "micrometer")},
    {"part": "B", "number": "BC2", "operation": "60", "kind": "two-sided", "unit": "in", "lower": "0.2835",
     "upper": "0.2845", "guard_band": "0.0002", "feature": "ground diameter"},
    {"part": "B", "number": "BC4", "operation": "80", "kind": "two-sided", "unit": "in", "lower": "0.2827",
     "upper": "0.2854", "feature": "external rolled thread", "rule": "over wires", "threads_per_inch": "24",
     "gauge_kinds": ("over-wire micrometer",)},
    {"part": "B", "number": "BC5", "operation": "80", "kind": "accept/reject", "unit": "accept/reject", "member": "GO",
     "feature": "external rolled thread", "gauge_kinds": ("thread ring",)},
    {"part": "B", "number": "BC6", "operation": "80", "kind": "turns", "unit": "turns", "turns_allowed": "3",
     "member": "NOT GO", "feature": "external rolled thread", "gauge_kinds": ("thread ring",)},
    {"part": "B", "number": "BC8", "operation": "40", "kind": "two-sided", "unit": "HRC", "lower": "44.0",
     "upper": "48.0", "feature": "hardness", "gauge_kinds": ("hardness tester",)},
    {"part": "B", "number": "BC9", "operation": "40", "kind": "lower limit only", "unit": "lbf", "lower": "12800",
     "feature": "tensile or fatigue", "gauge_kinds": ("test frame",)},
    {"part": "B", "number": "BC10", "operation": "90", "kind": "lower limit only", "unit": "cycles", "lower": "45000",
     "least_each": "45000", "least_average": "65000", "stopped_at": "130000", "sample_n": 3},
    {"part": "N", "number": "NC1", "operation": "30", "kind": "upper limit only", "unit": "in", "upper": "0.005",
     "shop_limit": "0.003", "feature": "face runout"},
    {"part": "N", "number": "NC2", "operation": "30", "kind": "lower limit only", "unit": "lbf", "lower": "1500",
     "shop_limit": "1600", "feature": "tensile or fatigue"},
    {"part": "N", "number": "NC3", "operation": "30", "kind": "count", "unit": "count", "upper": "3"},
    {"part": "N", "number": "NC4", "operation": "30", "kind": "visual", "unit": "accept/reject"},
    {"part": "N", "number": "NC5", "operation": "30", "kind": "two-sided", "unit": "mm", "lower": "7.92",
     "upper": "7.94", "guard_band": "0.002"},
    {"part": "N", "number": "NC6", "operation": "30", "kind": "accept/reject", "unit": "accept/reject", "member": "GO",
     "feature": "tapped thread", "gauge_kinds": ("thread plug",)},
]  # fmt: skip

_GAUGES: list[dict[str, Any]] = [
    {"number": "G-1", "kind": "micrometer", "unit": "in", "range_low": "0", "range_high": "1", "least_count": "0.0001"},
    {"number": "G-2", "kind": "micrometer", "unit": "in", "range_low": "0", "range_high": "1",
     "least_count": "0.00005"},
    {"number": "G-3", "kind": "snap gauge", "unit": "in", "range_low": "-0.005", "range_high": "0.005",
     "least_count": "0.00005", "master": "M-1"},
    {"number": "G-4", "kind": "over-wire micrometer", "unit": "in", "range_low": "0", "range_high": "1",
     "least_count": "0.00005"},
    {"number": "G-5", "kind": "thread ring", "thread": THREAD, "member": "GO"},
    {"number": "G-6", "kind": "thread ring", "thread": "5/16-24 UNJF-3A", "member": "NOT GO"},
    {"number": "G-7", "kind": "thread ring", "thread": ".3125-24 UNF-2A", "member": "GO"},
    {"number": "G-8", "kind": "face-runout fixture", "unit": "in", "least_count": "0.0001"},
    {"number": "G-9", "kind": "micrometer", "unit": "mm", "range_low": "0", "range_high": "25",
     "least_count": "0.001"},
    {"number": "G-10", "kind": "caliper", "unit": "in", "range_low": "0", "range_high": "6", "least_count": "0.0005"},
    {"number": "G-11", "kind": "micrometer", "unit": "in", "range_low": "1", "range_high": "2",
     "least_count": "0.0001", "half_division": True},
    {"number": "G-12", "kind": "optical projector", "unit": "in", "least_count": "0.00005"},
    {"number": "G-13", "kind": "indicator", "unit": "in", "least_count": "0.00001", "master": "M-9"},
    {"number": "G-14", "kind": "hardness tester", "unit": "HRC", "range_low": "20", "range_high": "70",
     "least_count": "0.1", "master": "HB-1"},
    {"number": "G-15", "kind": "test frame", "unit": "lbf", "range_low": "2000", "range_high": "20000",
     "least_count": "1"},
    {"number": "G-16", "kind": "thread plug", "thread": ".3125-24 UNJF-3B", "member": "GO"},
]  # fmt: skip


def at(day: date, hours: float) -> str:
    """Return the plant time so many hours after the start of a production day, as text."""
    start = datetime.combine(day, DAY_START, tzinfo=ZONE)
    return write_time(in_zone(datetime.fromtimestamp(start.timestamp() + round(hours * 3600), ZONE), ZONE))


def make_lists(chance: random.Random, day: date, *, is_calm: bool) -> Lists:
    """Return random lists for a night; on a calm one most gauges, people and plans are in order."""
    changes = _revision_change(chance, day, is_calm)
    characteristics = [c | _random_sampling(chance, is_calm) for c in map(_with_defaults, _CHARACTERISTICS)]
    later = [_under_d(chance, c) for c in characteristics if c["part"] == "B" and chance.random() < 0.9]
    plans = [p for part, revision in (("B", "C"), ("N", "A")) for p in _plans(chance, day, part, revision, is_calm)]
    rows: dict[str, Any] = {
        "gauges": [row for g in _GAUGES if chance.random() < 0.97 for row in _gauge_rows(chance, day, g, is_calm)],
        "calibrations": [
            {"gauge": g, "done_at": at(day, -24 * 40), "technician": "C-1", "as_found": "Good", "as_left": "Good",
             "due": (day + timedelta(days=chance.choice((-1, 0, 1, 30)))).isoformat()}
            for g in ("G-1", "G-5", "G-8") if chance.random() < 0.5
        ] + [
            {"gauge": g, "done_at": at(day, hours - 24 * chance.choice((30, 89, 90, 90, 91, 92))), "technician": "C-1",
             "as_found": "Good", "as_left": chance.choice(("Good",) * 6 + ("Out",)),
             "masters": (chance.choice(("M-1", "M-3")),)}
            for g in ("G-3", "G-5", "G-6", "G-16") for hours in (2, 7) if chance.random() < 0.3
        ],
        "masters": _masters(chance, day),
        "people": [{"number": n, "name": f"Person {n} (invented)"} for n in (*OPERATORS, *DESK)],
        "qualifications": _qualifications(chance, day, is_calm),
        "parts": [
            {"number": "B", "name": "bolt (invented)", "revision": "C", "thread": THREAD},
            {"number": "N", "name": "nut (invented)", "revision": "A", "thread": ".3125-24 UNJF-3B",
             "is_internal_thread": True},
            *changes,
        ],
        "characteristics": characteristics + later,
        "plans": plans + [p for p in _plans(chance, day, "B", "D", is_calm) if chance.random() < 0.9],
        "lots": [
            *({"number": n, "part": "B", "revision": "C", "heat": "H-1", "quantity": 500} for n in ("L-1", "L-2")),
            {"number": "L-9", "part": "N", "revision": "A", "quantity": 900, "heat": chance.choice((None, "H-2"))},
        ],
        "plant_numbers": _plant_numbers(chance, day),
        "shifts": _shifts(chance, day) if chance.random() < 0.4 else [],
    }  # fmt: skip
    return Lists.model_validate({"plant": "P", "zone": str(ZONE), "version": 1} | rows)


def _with_defaults(row: dict[str, Any]) -> dict[str, Any]:
    return {"name": row["number"], "revision": "C" if row["part"] == "B" else "A", **row}


def _random_sampling(chance: random.Random, is_calm: bool) -> dict[str, Any]:
    n = chance.choice((0, 2, 2, 3))
    return {
        "sample_n": n,
        "acceptance_n": chance.choice((0, 0, 2, 3)),
        "rejects_allowed": chance.choice((0, 0, 0, 1)),
        "interval_min": chance.choice((20, 30, 30, 40)) if n else None,
        "is_heated": chance.random() < (0.03 if is_calm else 0.15),
    }


def _revision_change(chance: random.Random, day: date, is_calm: bool) -> list[dict[str, Any]]:
    if chance.random() < (0.9 if is_calm else 0.5):
        return []
    begins = at(day, chance.choice((-30, 2, 4, 6.5, 100)))
    return [{"number": "B", "name": "bolt (invented)", "revision": "D", "thread": THREAD, "in_force_from": begins}]


def _under_d(chance: random.Random, row: dict[str, Any]) -> dict[str, Any]:
    tighter = {"lower": "0.3121"} if row["number"] == "BC1" and chance.random() < 0.6 else {}
    return row | {"revision": "D"} | tighter


def _plans(chance: random.Random, day: date, part: str, revision: str, is_calm: bool) -> list[dict[str, Any]]:
    found, usual = [], 0.1 if is_calm else 0.3
    for operation in ("40", "60", "80", "90") if part == "B" else ("30",):
        plan = {
            "part": part, "revision": revision, "operation": operation, "version": f"{revision}1",
            "needs_first_piece": chance.random() < usual, "needs_fatigue_proof": chance.random() < usual,
            "after_operation": "40" if chance.random() < usual and operation != "40" else None,
            "is_final": chance.random() < 0.15, "die_life": chance.choice((None, None, 100, 500)),
        }  # fmt: skip
        found.append(plan)
        if chance.random() < (0.02 if is_calm else 0.1):
            found.append(plan | {"version": f"{revision}2", "in_force_from": at(day, chance.choice((-50, 3, 5)))})
    return found


def _gauge_rows(chance: random.Random, day: date, gauge: dict[str, Any], is_calm: bool) -> list[dict[str, Any]]:
    due = chance.choice((None, 0, 60, 60, 60, 60) if is_calm else (None, -1, 0, 0, 1, 60, 60, 60))
    row = gauge | {
        "due": None if due is None else (day + timedelta(days=due)).isoformat(),
        "home_station": chance.choice((None,) * 20 + STATIONS if is_calm else (None, *STATIONS)),
        "state": chance.choice(
            ("In use",) * (70 if is_calm else 14) + ("Stopped", "Awaiting calibration", "Reference only")
        ),
    }
    if chance.random() < 0.06:
        row["in_force_from"] = at(day, chance.choice((-400, 1, 4)))
    rows = [row]
    if chance.random() < 0.1:
        change = {"in_force_from": at(day, chance.choice((2, 5, 7.25))), "due": chance.choice((None, "2026-12-31"))}
        rows.append(row | change | {"state": "In use"})
    return rows


def _masters(chance: random.Random, day: date) -> list[dict[str, Any]]:
    due = chance.choice((None, None, -1, 0, 0, 60, 60, 60))
    rows: list[dict[str, Any]] = [
        {"number": "M-1", "kind": "setting plug", "size": "0.31225", "unit": "in",
         "due": None if due is None else (day + timedelta(days=due)).isoformat(),
         "state": chance.choice(("In use",) * 9 + ("Stopped", "Awaiting calibration"))},
        {"number": "M-3", "kind": "setting plug", "size": "0.31230", "unit": "in"},
        {"number": "HB-1", "kind": "hardness block", "size": "45.2", "unit": "HRC", "tolerance": "1.0"},
        {"number": "M-2", "kind": "setting plug", "size": "7.9310", "unit": "mm"},
        {"number": "W-24", "kind": "wire set", "size": "0.02406", "unit": "in", "threads_per_inch": "24"},
        {"number": "W-24M", "kind": "wire set", "size": "0.6112", "unit": "mm", "threads_per_inch": "24"},
        {"number": "W-28", "kind": "wire set", "size": "0.02062", "unit": "in", "threads_per_inch": "28"},
    ]  # fmt: skip
    if chance.random() < 0.15:
        rows.append(rows[0] | {"size": "0.31235", "in_force_from": at(day, chance.choice((1, 4)))})
    return rows


def _qualifications(chance: random.Random, day: date, is_calm: bool) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for person in OPERATORS:
        for operation in ("40", "60", "80", "30"):
            if is_calm and chance.random() < 0.97:
                rows.append({"person": person, "operation": operation, "level": "operator", "valid_from": "2024-01-01"})
            elif chance.random() < 0.85:
                rows.append(_qualification(chance, day, person, operation))
    rows.append({"person": "P-1", "operation": "*", "level": "trainer", "valid_from": "2024-01-01"})
    rows.append({"person": "P-4", "operation": "80", "level": "first-piece approver", "valid_from": "2024-01-01"})
    for person, level in DESK.items():
        rows.append({"person": person, "operation": "*", "level": level, "valid_from": "2024-01-01"})
    return rows


def _qualification(chance: random.Random, day: date, person: str, operation: str) -> dict[str, Any]:
    ends = chance.choice((None,) * 9 + (-15, -14, -1, 0))
    begins = chance.choice((-400,) * 12 + (1, 0))
    row: dict[str, Any] = {
        "person": person,
        "operation": chance.choice((operation, operation, operation, "*")),
        "gauge_kind": chance.choice(("*",) * 6 + ("micrometer",)),
        "level": chance.choice(("operator",) * 8 + ("trainee", "inspector")),
        "valid_from": (day + timedelta(days=begins)).isoformat(),
        "valid_until": None if ends is None else (day + timedelta(days=ends)).isoformat(),
    }
    if chance.random() < 0.05:
        row["in_force_from"] = at(day, chance.choice((2, 4)))
    return row


def _plant_numbers(chance: random.Random, day: date) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    if chance.random() < 0.3:
        rows = [{"number": "N14a", "value": chance.choice(("2", "5")), "in_force_from": None}]
    choices = (("N7b", "30"), ("N14b", "30"), ("N18", "2"), ("N2", "60"), ("N8", "5"), ("N9a", "90"), ("N11", "10"),
               ("N12", "5"), ("N10a", "20"), ("N1", "30"))  # fmt: skip
    for number, value in choices:
        if chance.random() < (0.2 if number == "N7b" else 0.05):
            rows.append({"number": number, "value": value, "in_force_from": at(day, chance.choice((-99, 3, 5)))})
    return rows


def _shifts(chance: random.Random, day: date) -> list[dict[str, Any]]:
    """Return who is on which shift: most are, and of some shifts nobody kept a list."""
    return [
        {"day": each.isoformat(), "shift": shift, "person": person}
        for each in (day - timedelta(days=1), day, day + timedelta(days=1))
        for shift in (1, 2, 3)
        if chance.random() < 0.85
        for person in (*OPERATORS, *DESK)
        if chance.random() < 0.85
    ]
