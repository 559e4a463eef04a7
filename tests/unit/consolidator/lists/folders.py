"""A folder of list files for tests: starts as the standard deck, and single cells, rows and files can be changed."""

import csv
import shutil
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import xlsxwriter

from consolidator.lists import Fault, ListsRefused, check_lists
from consolidator.plant import Plant
from kiosk.lists import Lists

DECK = Path(__file__).resolve().parents[3] / "scenarios" / "deck"
ZONE = ZoneInfo("America/New_York")
START = datetime(2025, 6, 1, 12, 0, tzinfo=UTC)
"""When tests take the first version over."""
LATER = datetime(2026, 3, 10, 14, 0, tzinfo=UTC)
"""When tests take a second version over: 10:00 in the plant."""


class ListsFolder:
    """One folder of list files that a test may spoil."""

    def __init__(self, path: Path) -> None:
        self.path = path
        path.mkdir()
        for file in DECK.iterdir():
            shutil.copy(file, path / file.name)

    def rows(self, name: str) -> list[list[str]]:
        """Return the cells of one file, the heading row first."""
        with (self.path / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.reader(file))

    def write(self, name: str, rows: Sequence[Sequence[str]]) -> None:
        """Write the cells of one file."""
        with (self.path / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)

    def set_cell(self, name: str, row: int, column: str, text: str) -> None:
        """Write `text` into a cell; row 1 is the heading row, and a column that is not there is added."""
        rows = self.rows(name)
        if column not in rows[0]:
            rows = [[*cells, column if number == 0 else ""] for number, cells in enumerate(rows)]
        rows[row - 1][rows[0].index(column)] = text
        self.write(name, rows)

    def add_row(self, name: str, *, like: int, **changes: str) -> int:
        """Add a copy of row `like` with the cells of `changes` (`_` for a space in a heading); return its number."""
        rows = self.rows(name)
        self.write(name, [*rows, list(rows[like - 1])])
        for column, text in changes.items():
            self.set_cell(name, len(rows) + 1, column.replace("_", " "), text)
        return len(rows) + 1

    def drop_row(self, name: str, row: int) -> None:
        """Take a row out."""
        rows = self.rows(name)
        self.write(name, rows[: row - 1] + rows[row:])

    def as_workbook(self, name: str) -> list[list[str]]:
        """Turn one CSV file into XLSX with text cells only; return its cells."""
        rows = self.rows(name)
        (self.path / f"{name}.csv").unlink()
        with xlsxwriter.Workbook(str(self.path / f"{name}.xlsx"), {"strings_to_numbers": False}) as book:
            sheet = book.add_worksheet()
            for number, cells in enumerate(rows):
                for place, text in enumerate(cells):
                    sheet.write_string(number, place, text)
        return rows

    def check(self, before: Lists | None = None, at_utc: datetime = START) -> Lists:
        """Check the folder as the plant's next version."""
        return check_lists(self.path, plant="P-INV", zone=ZONE, before=before, at_utc=at_utc)

    def faults(self, before: Lists | None = None, at_utc: datetime = START) -> tuple[Fault, ...]:
        """Return every fault of the folder; none when it is good."""
        try:
            self.check(before, at_utc)
        except ListsRefused as refused:
            return refused.faults
        return ()

    def fault(self, before: Lists | None = None, at_utc: datetime = START) -> Fault:
        """Return the one fault of the folder."""
        (only,) = self.faults(before, at_utc)
        return only


def new_plant(folder: Path) -> Plant:
    """Make the invented plant in `folder`."""
    return Plant.create(folder, number="P-INV", name="Invented Fastener Works", zone="America/New_York")


def places(faults: Sequence[Fault]) -> list[tuple[str, int | None, str | None]]:
    """Return where faults stand: file, row and column."""
    return [(fault.file, fault.row, fault.column) for fault in faults]
