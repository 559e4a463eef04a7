"""Tables as files for other people's programs: CSV, workbook and Parquet.

CSV follows RFC 4180 and holds every cell exactly as it is fingerprinted; it is what a check reads.
A workbook is for looking: every cell is text, so that nothing in it is ever reckoned as a formula.
Must not know what a column means.
"""

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.parquet as pq
import xlsxwriter

from consolidator.settings import Settings

_FIRST_DAY: Final = datetime(2000, 1, 1)  # noqa: DTZ001 - a workbook knows no time zone; fixed, so its bytes are too
_CHUNK_ROWS: Final = 10_000
_SHEET_NAME_CHARACTERS: Final = 31


def write_csv(path: Path, columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Write rows of text as RFC 4180: a heading, CRLF after each line, quotes only where needed, UTF-8."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow(columns)
        writer.writerows(rows)


def write_table_csv(path: Path, table: pa.Table) -> None:
    """Write a table of text as CSV."""
    write_csv(path, table.column_names, _rows(table))


def write_parquet(path: Path, table: pa.Table) -> None:
    """Write a table of text as Parquet."""
    pq.write_table(table, path, compression="zstd")


def write_workbook(path: Path, tables: Mapping[str, pa.Table], settings: Settings) -> None:
    """Write tables as the sheets of one workbook, text cells only; the same tables give the same bytes.

    A table too long for one sheet goes on on the next; a text too long for a cell is cut, and says so.
    """
    options = {
        "constant_memory": True,
        "strings_to_formulas": False,
        "strings_to_numbers": False,
        "strings_to_urls": False,
    }
    book = xlsxwriter.Workbook(str(path), options)
    book.set_properties({"created": _FIRST_DAY})
    for name, table in tables.items():
        for at, start in enumerate(range(0, max(table.num_rows, 1), settings.xlsx_sheet_rows)):
            sheet = book.add_worksheet(_sheet_name(name, at))
            sheet.freeze_panes(1, 0)
            part = table.slice(start, settings.xlsx_sheet_rows)
            for row, cells in enumerate(_with_heading(part)):
                for column, text in enumerate(cells):
                    sheet.write_string(row, column, _cut(text, settings.xlsx_cell_characters))
    book.close()


def _sheet_name(name: str, at: int) -> str:
    return (f"{name} {at + 1}" if at else name)[:_SHEET_NAME_CHARACTERS]


def _with_heading(table: pa.Table) -> Iterator[Sequence[str]]:
    yield table.column_names
    yield from _rows(table)


def _rows(table: pa.Table) -> Iterator[Sequence[str]]:
    for start in range(0, table.num_rows, _CHUNK_ROWS):
        part = table.slice(start, _CHUNK_ROWS)
        yield from zip(*[column.to_pylist() for column in part.columns], strict=True)


def _cut(text: str, most: int) -> str:
    note = " … cut: see the CSV"
    return text if len(text) <= most else text[: most - len(note)] + note
