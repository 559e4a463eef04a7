"""The gauges and masters of the invented plant, with their last calibrations.

Owns what is in the register. Which of them are not fit, and why, stands with the fault that uses them (`planted/`).
"""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from kiosk.lists import CalibrationRecord, Gauge, Master
from kiosk.times import read_plant_time, write_time

_ZONE: Final = ZoneInfo("America/New_York")
_UNJF: Final = {"3125": ".3125-24 UNJF-3A", "3750": ".3750-24 UNJF-3A", "nut": ".3125-24 UNJF-3B"}

# number, home station, due, and further columns of the register
_MICROMETERS: Final = (
    ("G-101", "S11", "2026-06-30", {"drawer": "A-1", "swap_partner": "G-108"}),
    ("G-102", "S12", "2026-07-31", {"drawer": "A-2", "swap_partner": "G-108"}),
    ("G-103", "S13", "2026-06-30", {"drawer": "A-3"}),
    ("G-107", "S11", "2026-03-10", {"drawer": "A-4", "swap_partner": "G-108"}),
    ("G-108", "CRIB", "2026-08-31", {"drawer": "A-5"}),
    ("G-109", "S12", "2026-08-31", {"range_low": "1", "range_high": "2", "drawer": "A-6"}),
    ("G-112", "CRIB", "2026-03-12", {"drawer": "A-7"}),
    ("G-118", "S11", "2026-09-30", {"state": "Awaiting calibration", "drawer": "A-8"}),
    ("G-130", "S12", "2026-08-31", {"least_count": "0.0001", "drawer": "A-9"}),
    ("G-131", "S12", "2026-08-31", {"least_count": "0.0002", "permissible_error": "0.0002", "drawer": "A-10"}),
    ("G-132", "S12", "2026-08-31", {"drawer": "A-15"}),
    ("G-150", "S11", "2026-08-31", {"drawer": "A-11"}),
    ("G-151", "S11", "2026-08-31", {"drawer": "A-14"}),
    ("G-160", "S12", "2026-10-31", {"drawer": "A-12"}),
    ("G-170", "S13", "2026-10-31", {"drawer": "A-13"}),
)
_SNAPS: Final = (
    ("G-201", "S11", "2026-06-30", {"master": "M-11", "drawer": "B-1"}),
    ("G-202", "CRIB", "2026-06-30", {"master": "M-11", "drawer": "B-2"}),
    ("G-211", "S12", "2026-06-30", {"master": "M-12", "drawer": "B-3", "swap_partner": "G-202"}),
    ("G-221", "S13", "2026-06-30", {"master": "M-13", "drawer": "B-4"}),
    ("G-231", "S12", "2026-06-30", {"master": "M-16", "drawer": "B-5"}),
)
_OVER_WIRES: Final = (
    ("G-301", "S24", "2026-05-15", {"wires": "W-24", "drawer": "C-1"}),
    ("G-302", "S25", "2026-05-15", {"wires": "W-25", "drawer": "C-2"}),
    ("G-303", "CRIB", "2026-05-15", {"wires": "W-24", "drawer": "C-3"}),
)
_RUNOUT: Final = (
    ("G-401", "S21", "2026-04-20", {"drawer": "D-1"}),
    ("G-411", "S31", "2026-04-20", {"drawer": "D-2"}),
    ("G-412", "S32", "2026-04-20", {"drawer": "D-3"}),
    ("G-413", "CRIB", "2026-04-20", {"drawer": "D-4"}),
    ("G-490", "CRIB", "2026-03-06", {"drawer": "D-5"}),
)
_PROJECTORS: Final[tuple[tuple[str, str, str, dict[str, str]], ...]] = (
    ("G-140", "S12", "2026-09-30", {}),
    ("G-450", "S21", "2026-09-30", {}),
    ("G-451", "CRIB", "2026-09-30", {}),
)
_RINGS: Final = (
    ("G-501", "S24", "GO", "3125"), ("G-502", "S24", "NOT GO", "3125"), ("G-503", "CRIB", "GO", "3125"),
    ("G-504", "CRIB", "NOT GO", "3125"), ("G-511", "S25", "GO", "3750"), ("G-512", "S25", "NOT GO", "3750"),
    ("G-513", "CRIB", "GO", "3750"), ("G-514", "CRIB", "NOT GO", "3750"),
)  # fmt: skip
_PLUGS: Final = (
    ("G-521", "S31", "GO", "nut"), ("G-522", "S31", "NOT GO", "nut"), ("G-531", "S32", "GO", "nut"),
    ("G-532", "S32", "NOT GO", "nut"), ("G-533", "CRIB", "GO", "nut"), ("G-534", "CRIB", "NOT GO", "nut"),
)  # fmt: skip


def _gauges() -> Iterator[Gauge]:
    fine = {"unit": "in", "least_count": "0.00005", "permissible_error": "0.0001", "uncertainty": "0.00003"}
    inch = fine | {"range_low": "0", "range_high": "1"}
    tenth = fine | {"least_count": "0.0001"}
    snap = fine | {"range_low": "-0.005", "range_high": "0.005", "permissible_error": "0.00005"}
    families = (
        ("micrometer", inch, _MICROMETERS),
        ("snap gauge", snap, _SNAPS),
        ("over-wire micrometer", inch, _OVER_WIRES),
        ("face-runout fixture", tenth, _RUNOUT),
        ("optical projector", tenth, _PROJECTORS),
    )
    for kind, usual, rows in families:
        for number, home, due, also in rows:
            yield _gauge(number, kind, home, due, **usual | also)
    worn = {"interval_days": 90}
    for number, home, member, thread in _RINGS:
        yield _gauge(
            number, "thread ring", home, "2026-04-20", member=member, thread=_UNJF[thread], drawer="E-1", **worn
        )
    for number, home, member, thread in _PLUGS:
        yield _gauge(
            number, "thread plug", home, "2026-04-30", member=member, thread=_UNJF[thread], drawer="E-2", **worn
        )
    other = {"member": "GO", "thread": ".3125-24 UNF-2A", "drawer": "E-3"}
    yield _gauge("G-505", "thread ring", "S24", "2026-04-20", **other | worn)
    hardness = {"unit": "HRC", "range_low": "20", "range_high": "70", "least_count": "0.1", "permissible_error": "1.0"}
    yield _gauge("G-601", "hardness tester", "S02", "2026-09-01", master="M-45", **hardness)
    frame = {"unit": "lbf", "range_low": "2000", "range_high": "30000", "least_count": "1"}
    yield _gauge("G-701", "test frame", "S38", "2026-09-01", **frame)


def _gauge(number: str, kind: str, home: str, due: str, **also: object) -> Gauge:
    told = {"number": number, "kind": kind, "home_station": home, "due": due, "interval_days": 180}
    return Gauge.model_validate(told | {"serial": f"INV-{number[2:]}"} | also)


def _calibrations() -> Iterator[CalibrationRecord]:
    """Give the calibration from which each gauge's due date follows."""
    for place, gauge in enumerate(GAUGES):
        assert gauge.due is not None
        done = gauge.due - timedelta(days=gauge.interval_days or 0)
        at = read_plant_time(f"{done} {9 + place % 6:02d}:{10 * (place % 5):02d}", _ZONE)
        yield CalibrationRecord(
            gauge=gauge.number, done_at=write_time(at), technician="P-105", masters=("M-02",), as_found="Good",
            as_left="Good", due=gauge.due, room_temperature="68.0",
        )  # fmt: skip


def _masters() -> Iterator[Master]:
    def row(number: str, kind: str, size: str | None = None, **also: object) -> Master:
        told = {"number": number, "kind": kind, "size": size, "unit": "in", "uncertainty": "0.00001"}
        papers = {"certificate": f"LAB-{number}", "laboratory": "Invented Laboratory", "due": date(2027, 6, 30)}
        return Master.model_validate(told | papers | also)

    yield row("M-01", "bench micrometer", uncertainty="0.00002")
    yield row("M-02", "gauge blocks", uncertainty="0.000004")
    yield from (row(number, "setting plug", "0.31225") for number in ("M-11", "M-12"))
    yield row("M-13", "setting plug", "0.37475")
    yield row("M-16", "setting plug", "0.31240")
    yield row("W-24", "wire set", "0.02406", threads_per_inch="24")
    yield row("W-25", "wire set", "0.02405", threads_per_inch="24")
    yield row("W-28", "wire set", "0.02062", threads_per_inch="28")
    yield row("M-45", "hardness block", "45.2", unit="HRC", tolerance="1.0", uncertainty="0.3")


GAUGES: Final = tuple(_gauges())
"""The register."""
CALIBRATIONS: Final = tuple(_calibrations())
"""The last calibration of each gauge; all were found and left good."""
MASTERS: Final = tuple(_masters())
"""What gauges are set and calibrated with."""
