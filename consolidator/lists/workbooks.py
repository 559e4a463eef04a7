"""An XLSX file as a grid of cells, and what a workbook can hide: formulas, merged cells, error cells, more sheets.

Owns the inside of a workbook. Must not know what a column means.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final
from xml.etree import ElementTree

import python_calamine

from consolidator.lists.faults import Fault
from consolidator.lists.files import Cell, GivenFile, Grid, too_large
from consolidator.settings import Settings

_SHEET: Final = re.compile(r"xl/worksheets/[^/]+\.xml")
_PLACE: Final = re.compile(r"([A-Z]{1,3})([1-9][0-9]{0,6})")
_CHUNK_BYTES: Final = 1 << 20
_FORMULA: Final = (
    "the cell holds a formula",
    "a list keeps what was written, not what a workbook works out",
    "copy the cell and paste it as a value, as text",
)
_ERROR: Final = ("the cell holds an error", "the workbook could not work it out", "write the value itself, as text")


_NOT_A_WORKBOOK: Final = (
    *(zipfile.BadZipFile, zlib.error, EOFError, RuntimeError, ElementTree.ParseError, python_calamine.CalamineError),
)
"""What is raised for a packed file that is cut short, altered, locked with a password, or no workbook."""


@dataclass(frozen=True)
class _Found:
    """A cell worth a word, by its place, e.g. row 5, column letters `C`; nothing is said of the outermost one."""

    row: int
    letters: str
    said: tuple[str, str, str] | None = None


def read_workbook(given: GivenFile, settings: Settings) -> Grid:
    """Return the cells of the one sheet that holds anything; a cell that is not text comes as what it is."""
    try:
        with zipfile.ZipFile(io.BytesIO(given.content)) as packed:
            fault = _too_much(packed, given.name, settings)
            found = [] if fault else [cell for name in _sheets(packed) for cell in _look_into(packed.read(name))]
        if fault is None:
            fault = _too_wide_or_long(found, given.name, settings)
        if fault is not None:
            return Grid(given.name, faults=(fault,))
        return _read_sheet(given, found)
    except _NOT_A_WORKBOOK as error:
        return Grid(given.name, faults=(_not_a_workbook(given.name, error),))


def _sheets(packed: zipfile.ZipFile) -> list[str]:
    return [name for name in packed.namelist() if _SHEET.fullmatch(name)]


def _too_much(packed: zipfile.ZipFile, name: str, settings: Settings) -> Fault | None:
    """Unpack everything once, counting, so that nothing larger than the limit is ever held."""
    left = settings.list_unpacked_bytes
    for member in packed.infolist():
        with packed.open(member) as file:
            while chunk := file.read(_CHUNK_BYTES):
                left -= len(chunk)
                if left < 0:
                    return too_large(name, "it holds more bytes once unpacked", settings.list_unpacked_bytes)
    return None


def _look_into(sheet: bytes) -> Iterator[_Found]:
    """Yield every formula and error cell, and the outermost row and column in use."""
    row_number, widest = 0, ""
    for _, element in ElementTree.iterparse(io.BytesIO(sheet)):
        kind = element.tag.rpartition("}")[2]
        if kind != "c":
            continue
        place = _PLACE.fullmatch(element.get("r", ""))
        if place is None:
            raise ElementTree.ParseError("a cell without its place")
        letters, row = place.group(1), int(place.group(2))
        row_number = max(row_number, row)
        widest = max(widest, letters, key=lambda word: (len(word), word))
        if any(child.tag.endswith("}f") for child in element):
            yield _Found(row, letters, _FORMULA)
        elif element.get("t") == "e":
            yield _Found(row, letters, _ERROR)
        element.clear()
    if row_number:
        yield _Found(row_number, widest)


def _too_wide_or_long(found: list[_Found], name: str, settings: Settings) -> Fault | None:
    if any(cell.row > settings.list_rows for cell in found):
        return too_large(name, "it has more rows", settings.list_rows)
    if any(_column_number(cell.letters) > settings.list_columns for cell in found):
        return too_large(name, "it has more columns", settings.list_columns)
    return None


def _column_number(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number


def _read_sheet(given: GivenFile, found: list[_Found]) -> Grid:
    workbook = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(given.content))
    sheets = [workbook.get_sheet_by_name(name) for name in workbook.sheet_names]
    filled = [sheet for sheet in sheets if sheet.height]
    if len(filled) != 1:
        why = f"{len(filled)} of its sheets hold something"
        fault = Fault(given.name, None, None, "the workbook was not read", why, "keep one sheet with the list in it")
        return Grid(given.name, faults=(fault,))
    cells = filled[0].to_python(skip_empty_area=False)
    rows: tuple[Sequence[Cell], ...] = tuple(tuple(_cell(cell) for cell in row) for row in cells)
    headings = rows[0]
    faults = [
        _fault_at(given.name, headings, cell.row, _column_number(cell.letters), cell.said)
        for cell in found
        if cell.said is not None
    ]
    for (top, left), (bottom, right) in filled[0].merged_cell_ranges or []:
        size = f"{bottom - top + 1} rows by {right - left + 1} columns are merged into one cell here"
        said = (size, "nobody can say which row the value belongs to", "split the cell and fill in each row")
        faults.append(_fault_at(given.name, headings, top + 1, left + 1, said))
    return Grid(given.name, rows, tuple(faults))


def _cell(cell: object) -> Cell:
    return cell if isinstance(cell, Cell) else str(cell)


def _fault_at(name: str, headings: Sequence[Cell], row: int, column: int, said: tuple[str, str, str]) -> Fault:
    heading = str(headings[column - 1]) if column <= len(headings) else ""
    return Fault(name, row, heading or f"number {column}", *said)


def _not_a_workbook(name: str, error: Exception) -> Fault:
    why = f"it is not a workbook this program knows ({type(error).__name__})"
    return Fault(name, None, None, "the file was not read", why, "save it again as XLSX, without a password, or as CSV")
