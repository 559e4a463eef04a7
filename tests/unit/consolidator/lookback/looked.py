"""A small plant for look-backs: readings and calibrations told in a line each, and the look-back made of them."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from consolidator.frame import Day, make_day
from consolidator.frame.world import ms_of
from consolidator.intake.held import READINGS_SCHEMA
from consolidator.lookback import LookBack, Windows, look_back
from kiosk.lists import Lists
from kiosk.times import production_day, read_time
from tests.unit.consolidator.held_builder import HeldBuilder, deck

AT = datetime(2026, 3, 21, 10, 5, tzinfo=UTC)
LAST_GOOD = "2025-12-19T15:00:00.000-05:00"


def calibrated(gauge: str, at: str, masters: tuple[str, ...] = ("M-02",), **told: str) -> dict[str, Any]:
    """Return a row of the list of calibrations, good on both sides unless told otherwise."""
    row = {
        "gauge": gauge,
        "done_at": at,
        "technician": "P-105",
        "masters": masters,
        "as_found": "Good",
        "as_left": "Good",
    }
    return row | told


def lists_with(*calibrations: Mapping[str, Any], **changes: Any) -> Lists:
    """Return the invented plant's lists with calibrations, and further lots."""
    bolt = {"part": "B-3124", "revision": "C", "heat": "H-1", "quantity": 2000}
    lots = [bolt | {"number": f"L-{n}"} for n in (380, 388, 395, 411, 412, 420)]
    return deck(**({"calibrations": list(calibrations), "lots": lots} | changes))


def points(*told: tuple[str, str | None], permissible: str = "0.0001") -> list[dict[str, str]]:
    """Return calibrated points with their errors as found."""
    rows = [{"at": at, "permissible": permissible, "as_found": error} for at, error in told]
    return [{name: value for name, value in row.items() if value is not None} for row in rows]


class Plant(HeldBuilder):
    """What was read, calibrated, closed and shipped."""

    def blank(self, at: str, keyed: str, lot: str = "L-411", **fields: Any) -> str:
        """Add a reading of the blank diameter BC2 (.2835 to .2845 in) with G-108."""
        return self.reading(at, keyed, lot=lot, characteristic="BC2", **fields)

    def calibrate(self, at: str, gauge: str = "G-108", **told: Any) -> str:
        """Add a calibration page: found out and left good unless told otherwise."""
        usual = {
            "kind": "calibration", "gauge": gauge, "done_at": at, "masters": ["M-02"], "procedure": "C-1", "unit": "in",
            "points": [], "as_found": "Out", "action": "adjusted", "as_left": "Good",
        }  # fmt: skip
        return self.act(at, usual | told, person="P-105")

    def zero(self, at: str, gauge: str, master: str, error: str = "0") -> str:
        """Add a good zero check at S12."""
        told = {
            "kind": "check", "check_kind": "zero check", "gauge": gauge, "master": master, "keyed": error, "unit": "in",
            "error": error, "limit": "0.00005", "verdict": "Good",
        }  # fmt: skip
        return self.act(at, told, series="S12-a", person="P-101")

    def ship(self, at: str, lot: str, quantity: int, customer: str = "invented customer") -> str:
        """Add a shipment."""
        return self.act(
            at, {"kind": "lot ship", "lot": lot, "quantity": quantity, "customer": customer, "order": "O-1"}
        )

    def close_lot(self, at: str, lot: str, quantity: int = 2000) -> str:
        """Add the closing of a lot."""
        return self.act(at, {"kind": "lot close", "lot": lot, "quantity": quantity}, person="P-104")

    def night(self, at_utc: datetime = AT) -> Day:
        """Return a frame that holds the acts and none of the readings, as a look-back begins with."""
        held = self.held()
        empty = replace(held, readings=held.readings.slice(0, 0))
        day = production_day(at_utc, ZoneInfo(self.lists.zone))
        return make_day(empty, self.lists, day=day, at_utc=at_utc)

    def read(self, numbers: frozenset[str], pages: frozenset[str], since: datetime | None) -> pa.Table:
        """Return the readings as the archive hands them out."""
        table = self.held().readings
        named = [
            pc.fill_null(pc.is_in(table[name].cast(pa.string()), pa.array(sorted(numbers))), False)
            for name in ("gauge", "master")
        ]
        refs = zip(table["series"].to_pylist(), table["number"].to_pylist(), strict=True)
        named.append(pa.array([f"{series}/{number}" in pages for series, number in refs], pa.bool_()))
        late = pa.array(np.asarray(table["kiosk_time_ms"]) >= (0 if since is None else ms_of(since)))
        return (
            table.filter(pc.and_(pc.or_(pc.or_(named[0], named[1]), named[2]), late))
            if len(table)
            else READINGS_SCHEMA.empty_table()
        )

    def look_back(self, number: str = "G-108", at_utc: datetime = AT, found_at: str | None = None) -> LookBack:
        """Return the look-back of a gauge or master."""
        found_ms = None if found_at is None else ms_of(read_time(found_at))
        return look_back(self.night(at_utc), number, self.read, found_at_ms=found_ms)

    def windows(self, at_utc: datetime = AT) -> Windows:
        """Return all windows."""
        return Windows(self.night(at_utc).world)


def finding_of(back: LookBack, page: str) -> str:
    """Return the finding of a reading; empty when it is not in question."""
    return {ref: word for ref, word, _ in told_of(back)}.get(page, "")


def true_of(back: LookBack, page: str) -> str:
    """Return the true value found of a reading."""
    return next(true for ref, _, true in told_of(back) if ref == page)


def told_of(back: LookBack) -> Sequence[tuple[str, str, str]]:
    """Return page, finding and true value of every reading in question."""
    found, rows = back.found, []
    for place, row in enumerate(found.rows.tolist()):
        told = found.told_of(place)
        rows.append((found.day.pages.ref(row), str(told.finding), "" if told.true is None else str(told.true)))
    return rows
