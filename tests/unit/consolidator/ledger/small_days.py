"""Small closed days made by hand, in the shape close of day gives, for tests of the ledger."""

import hashlib
from datetime import UTC, date, datetime, timedelta

import pyarrow as pa

from consolidator.close import columns
from consolidator.close.closed import ClosedDay, text_table
from consolidator.ledger.books import Book
from consolidator.ledger.day_books import day_book
from kiosk.lists import Lists

DAY = date(2026, 3, 16)
ZONE_OFFSET_H = -4


def page_print(page: str) -> str:
    """Return what stands for a page's fingerprint: SHA-256 of its name and a word nobody else knows."""
    return hashlib.sha256(f"invented filler {page}".encode()).hexdigest()


def reading(kiosk: str, page: int, lot: str, **cells: str) -> dict[str, str]:
    """Return the cells of one reading row."""
    row = dict.fromkeys(columns.READING_COLUMNS, "")
    row |= {
        "plant": "P1",
        "production_day": DAY.isoformat(),
        "effective_time": f"{DAY}T10:{page % 60:02d}:07.000-04:00",
        "kiosk_time": f"{DAY}T10:{page % 60:02d}:07.000-04:00",
        "station": kiosk.split("-")[0],
        "kiosk": kiosk,
        "page": str(page),
        "lot": lot,
        "part": "B-3124",
        "characteristic": "BC1",
        "unit": "in",
        "keyed": ".3122",
        "value": "0.3122",
        "verdict": "In tolerance",
        "standing": "Counts",
        "fingerprint": page_print(f"{kiosk}/{page}"),
    }
    return row | cells


def act(kiosk: str, page: int, kind: str, **cells: str) -> dict[str, str]:
    """Return the cells of one act row."""
    row = dict.fromkeys(columns.ACT_COLUMNS, "")
    row |= {
        "plant": "P1",
        "production_day": DAY.isoformat(),
        "effective_time": f"{DAY}T11:00:00.000-04:00",
        "kiosk_time": f"{DAY}T11:00:00.000-04:00",
        "station": kiosk.split("-")[0],
        "kiosk": kiosk,
        "page": str(page),
        "section": "station",
        "kind": kind,
        "content": '{"kind":"' + kind + '"}',
        "fingerprint": page_print(f"{kiosk}/{page}"),
    }
    return row | cells


def kiosk_row(kiosk: str, **cells: str) -> dict[str, str]:
    """Return the cells of one kiosk row."""
    row = {"kiosk": kiosk, "station": kiosk.split("-")[0], "state": "in", "pages": "0", "missing": ""}
    return row | {"last_contact": f"{DAY + timedelta(days=1)}T06:02:00.000-04:00"} | cells


def closed_day(
    readings: list[dict[str, str]],
    acts: list[dict[str, str]] | None = None,
    *,
    day: date = DAY,
    **tables: list[dict[str, str]],
) -> ClosedDay:
    """Return a closed day of these rows; kiosks and lots are made from the rows unless given."""
    acts = acts or []
    pages = readings + acts
    kiosks = tables.get("kiosks") or [kiosk_row(name) for name in sorted({row["kiosk"] for row in pages})]
    lots = [{"lot": lot, "readings": "1"} for lot in sorted({row["lot"] for row in pages if row["lot"]})]
    at = datetime(day.year, day.month, day.day, 10, 5, tzinfo=UTC) + timedelta(days=1)
    return ClosedDay(
        plant="P1",
        day=day,
        hours=24,
        at_utc=at,
        lists_version=1,
        readings=_table(readings, columns.READING_COLUMNS),
        acts=_table(acts, columns.ACT_COLUMNS),
        exceptions=_table(tables.get("exceptions", []), columns.EXCEPTION_COLUMNS),
        touched=_table(tables.get("touched", []), columns.TOUCHED_COLUMNS),
        holds=_table(tables.get("holds", []), columns.HOLD_COLUMNS),
        kiosks=_table(kiosks, columns.KIOSK_COLUMNS),
        lots=_table(tables.get("lots") or lots, columns.LOT_COLUMNS),
        lines=_table(tables.get("lines", []), columns.LINE_COLUMNS),
        late=_table(tables.get("late", []), columns.LATE_COLUMNS),
        totals={"readings": len(readings), "pages": len(pages)}
        | dict.fromkeys(columns.TOTAL_PARTS, 0)
        | {"counting": len(readings), "other_acts": len(acts)},
    )


def lists_used() -> Lists:
    """Return lists with nothing in them but the plant and its zone."""
    return Lists(plant="P1", zone="America/New_York", version=1)


def book_of(closed: ClosedDay) -> Book:
    """Return the book of a closed day under those lists."""
    return day_book(closed, lists_used(), b"{}")


def lot_430() -> ClosedDay:
    """Return a day with 240 readings of lot L-430 and 2 corrections of it, among pages of another lot.

    Reading 117 of the lot is page S12-a/233 and bears the keyed text `.3122`.
    """
    readings = [reading("S12-a", 2 * n - 1, "L-430") for n in range(1, 241)]
    others = [reading("S12-a", 2 * n, "L-999", part="N-2208") for n in range(1, 241)]
    acts = [act("desk-a", n, "correction", lot="L-430", section="dispositions") for n in (1, 3)]
    acts.insert(1, act("desk-a", 2, "correction", lot="L-999", section="dispositions"))
    return closed_day(readings + others, acts)


def _table(rows: list[dict[str, str]], names: tuple[str, ...]) -> pa.Table:
    return text_table(rows, names)
