"""The files of a lists folder: which are given, and CSV files (RFC 4180, UTF-8) as grids of cells; writing them too.

Owns bytes and cells. Must not know what a column means.
"""

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Final

from consolidator.lists.faults import Fault
from consolidator.lists.tables import TABLE_NAMED
from consolidator.settings import Settings

Cell = str | float | bool | date | datetime
"""A CSV cell is always text; a workbook's cell may be something else, which is refused where text is needed."""

ENDINGS: Final = (".csv", ".xlsx")
_LEFT_ALONE: Final = ("readme", "readme.md", "readme.txt", "plant.toml")
_UTF_16: Final = (b"\xff\xfe", b"\xfe\xff")
_OTHER_FILES: Final = {
    b"PK\x03\x04": "it is a workbook or a packed file",
    b"\xd0\xcf\x11\xe0": "it is an old workbook",
    b"%PDF": "it is a printed page",
}
_AS_CSV: Final = "save it as 'CSV UTF-8', with commas between the cells"


@dataclass(frozen=True)
class GivenFile:
    """One list file exactly as it was given."""

    name: str
    content: bytes

    @property
    def list_name(self) -> str:
        """Name of the list the file holds, e.g. `plant-numbers`."""
        return Path(self.name).stem.lower()

    @property
    def is_workbook(self) -> bool:
        """True for XLSX."""
        return self.name.lower().endswith(".xlsx")


@dataclass(frozen=True)
class Grid:
    """The cells of one file, the heading row first; without rows when `faults` says that it could not be read."""

    file: str
    rows: tuple[Sequence[Cell], ...] = ()
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class Given:
    """The list files of a folder, and what is wrong with the folder itself."""

    files: tuple[GivenFile, ...]
    faults: tuple[Fault, ...]


def gather(folder: Path, settings: Settings) -> Given:
    """Read every list file of `folder` into memory, so that what is checked is what is kept."""
    files: list[GivenFile] = []
    faults: list[Fault] = []
    paths = sorted(folder.iterdir()) if folder.is_dir() else []
    for path in paths:
        if path.name.startswith((".", "~$")) or path.name.lower() in _LEFT_ALONE:
            continue
        if path.stem.lower() not in TABLE_NAMED or path.suffix.lower() not in ENDINGS or not path.is_file():
            faults.append(_not_a_list(path.name))
        elif path.stem.lower() in {given.list_name for given in files}:
            faults.append(_given_twice(path.name))
        elif path.stat().st_size > settings.list_file_bytes:
            faults.append(too_large(path.name, f"it has {path.stat().st_size} bytes", settings.list_file_bytes))
        else:
            files.append(GivenFile(path.name, path.read_bytes()))
    if not files and not faults:
        faults.append(_nothing_given(folder))
    return Given(tuple(files), tuple(faults))


def read_csv(given: GivenFile, settings: Settings) -> Grid:
    """Return the cells of a CSV file, all of them text exactly as written."""
    fault = _not_text(given)
    if fault is not None:
        return Grid(given.name, faults=(fault,))
    text = given.content.decode("utf-8-sig")
    rows: list[Sequence[Cell]] = []
    try:
        for row in csv.reader(io.StringIO(text, newline=""), strict=True):
            rows.append(row)
            if len(rows) > settings.list_rows:
                return Grid(given.name, faults=(too_large(given.name, "it has more rows", settings.list_rows),))
    except csv.Error as error:
        return Grid(given.name, faults=(_broken_quotes(given.name, len(rows) + 1, str(error)),))
    return Grid(given.name, tuple(rows), _separator_faults(given.name, rows))


def write_rows(path: Path, rows: Iterable[Sequence[str]]) -> None:
    """Write `rows`, the heading row first, as CSV after RFC 4180."""
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\r\n").writerows(rows)


def too_large(file: str, what: str, limit: int) -> Fault:
    """Return the fault of a file beyond a limit of the settings; `what` names what was counted."""
    return Fault(file, None, None, f"{what} than are taken", f"the limit is {limit}", "give the list in a smaller file")


def _not_text(given: GivenFile) -> Fault | None:
    content = given.content
    if not content.strip(b" \r\n\t\xef\xbb\xbf"):
        return Fault(
            *(given.name, None, None, "the file is empty", "there is no heading row"),
            "give the headings and the rows, or leave the file out to keep the rows as they were",
        )
    for start, why in _OTHER_FILES.items():
        if content.startswith(start):
            return Fault(given.name, None, None, "the file is not CSV", why, _AS_CSV)
    if content.startswith(_UTF_16) or _looks_like_utf_16(content):
        return Fault(given.name, None, None, "the file was not read", "its text is UTF-16, not UTF-8", _AS_CSV)
    if b"\x00" in content:
        return Fault(given.name, None, None, "the file is not CSV", "it holds bytes that are no text", _AS_CSV)
    try:
        content.decode("utf-8")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        why = f"line {line} holds a letter that is not written in UTF-8"
        return Fault(given.name, None, None, "the file was not read", why, _AS_CSV)
    return None


def _looks_like_utf_16(content: bytes) -> bool:
    start = content[:200]
    return len(start) >= 4 and (not any(start[1::2]) or not any(start[0::2]))


def _separator_faults(name: str, rows: list[Sequence[Cell]]) -> tuple[Fault, ...]:
    first = rows[0] if rows else []
    alone = first[0] if len(first) == 1 and isinstance(first[0], str) else ""
    for mark, word in ((";", "semicolons"), ("\t", "tabs")):
        if mark in alone:
            why = f"there are {word} between the cells where commas are needed"
            return (Fault(name, 1, None, "the heading row was not understood", why, _AS_CSV),)
    return ()


def _broken_quotes(name: str, row: int, why: str) -> Fault:
    return Fault(
        *(name, row, None, "the rows from here on were not read", f"the quotation marks do not fit ({why})"),
        "put a cell that holds a comma or a quotation mark in quotation marks, and double each one inside it",
    )


def _not_a_list(name: str) -> Fault:
    return Fault(
        *(name, None, None, "the file is none of the lists", "its name is not the name of a list"),
        f"name it {', '.join(TABLE_NAMED)} with the ending .csv or .xlsx, or take it out of the folder",
    )


def _given_twice(name: str) -> Fault:
    why = "another file of the folder holds the same list"
    return Fault(name, None, None, "the list is given twice", why, "leave one of the two files in the folder")


def _nothing_given(folder: Path) -> Fault:
    why = "the folder holds no list file" if folder.is_dir() else "there is no such folder"
    return Fault(folder.name, None, None, "nothing was read", why, "name the folder that holds the list files")
