"""What a closed day is: frames of text, and what is carried from one day to the next.

Owns the shape only; `consolidator.close.day` makes it and `consolidator.ledger` keeps it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Protocol

import pyarrow as pa

from consolidator.close.columns import EXCEPTION_COLUMNS, HOLD_COLUMNS


class Closed(Protocol):
    """Anything that holds the exceptions and holds of a closed day or of a supplement of it."""

    @property
    def exceptions(self) -> pa.Table:
        """Rows by `EXCEPTION_COLUMNS`."""
        ...

    @property
    def holds(self) -> pa.Table:
        """Rows by `HOLD_COLUMNS`."""
        ...


@dataclass(frozen=True)
class CarriedOver:
    """What is still open after the day before: read back from its ledger and the supplements made since."""

    exceptions: pa.Table
    holds: pa.Table

    @classmethod
    def of(cls, books: Iterable[Closed]) -> "CarriedOver":
        """Join the day before and any supplements; a later book's row for the same exception or hold wins."""
        books = list(books)
        return cls(
            _latest([book.exceptions for book in books], EXCEPTION_COLUMNS, ("key",)),
            _latest([book.holds for book in books], HOLD_COLUMNS, ("lot", "key")),
        )


@dataclass(frozen=True)
class ClosedDay:
    """One production day, judged; every table holds text only, rows in ledger order.

    `readings` is sorted by lot, operation, characteristic, effective time, kiosk, page;
    `acts` by effective time, kiosk, page; `lines` as the morning list prints them.
    `totals` holds `pages` and the parts that add up to it (`TOTAL_PARTS`), and `readings`.
    """

    plant: str
    day: date
    hours: int
    """23, 24 or 25."""
    at_utc: datetime
    """The moment of closing."""
    lists_version: int
    readings: pa.Table
    acts: pa.Table
    exceptions: pa.Table
    touched: pa.Table
    holds: pa.Table
    kiosks: pa.Table
    lots: pa.Table
    lines: pa.Table
    late: pa.Table
    totals: Mapping[str, int]


def text_table(rows: Iterable[Mapping[str, str]], columns: tuple[str, ...]) -> pa.Table:
    """Return a table of text with exactly `columns`, one row for each mapping; a cell not named is empty."""
    rows = list(rows)
    return pa.table({name: pa.array([row.get(name, "") for row in rows], pa.string()) for name in columns})


def _latest(tables: list[pa.Table], columns: tuple[str, ...], keys: tuple[str, ...]) -> pa.Table:
    found: dict[tuple[str, ...], dict[str, str]] = {}
    for table in tables:
        for row in table.to_pylist():
            found[tuple(row[key] for key in keys)] = row
    return text_table((found[key] for key in sorted(found)), columns)
