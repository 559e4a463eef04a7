"""Workbooks: the same list as the CSV, and everything a workbook can hide."""

import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import pytest
import xlsxwriter
from xlsxwriter.worksheet import Worksheet

from tests.unit.consolidator.lists.folders import ListsFolder, places

HEADINGS = ("day", "shift", "person")


def _shifts(deck: ListsFolder, fill: Callable[[Worksheet, xlsxwriter.Workbook], None]) -> None:
    """Put a workbook of shifts into the folder: the heading row, and what `fill` writes."""
    (deck.path / "shifts.csv").unlink()
    with xlsxwriter.Workbook(str(deck.path / "shifts.xlsx")) as book:
        sheet = book.add_worksheet()
        sheet.write_row(0, 0, HEADINGS)
        fill(sheet, book)


def test_the_deck_as_workbooks_gives_the_same_lists_as_csv(deck: ListsFolder) -> None:
    """A plant may keep its lists either way."""
    from_csv = deck.check()

    for path in sorted(deck.path.glob("*.csv")):
        deck.as_workbook(path.stem)

    assert deck.check() == from_csv


def test_real_dates_times_and_whole_numbers_of_a_workbook_are_taken(deck: ListsFolder) -> None:
    """They stand for one value only."""

    def fill(sheet: Worksheet, book: xlsxwriter.Workbook) -> None:
        sheet.write_datetime(1, 0, datetime(2026, 3, 10), book.add_format({"num_format": "dd/mm/yyyy"}))  # noqa: DTZ001
        sheet.write_number(1, 1, 3)
        sheet.write_string(1, 2, "P-101")

    _shifts(deck, fill)

    (shift,) = deck.check().shifts
    assert (shift.day, shift.shift, shift.person) == (date(2026, 3, 10), 3, "P-101")


def test_a_figure_in_a_number_cell_is_refused_because_its_zeros_are_gone(deck: ListsFolder) -> None:
    """0.3120 typed into a number cell is 0.312 in the file."""
    rows = deck.as_workbook("characteristics")
    lower = rows[0].index("lower")
    with xlsxwriter.Workbook(str(deck.path / "characteristics.xlsx")) as book:
        sheet = book.add_worksheet()
        for number, cells in enumerate(rows):
            sheet.write_row(number, 0, cells)
        sheet.write_number(1, lower, 0.3120)

    fault = deck.fault()
    assert places([fault]) == [("characteristics.xlsx", 2, "lower")]
    assert "drops the zeros" in fault.why
    assert "as Text" in fault.next_step


def test_merged_cells_are_refused_where_they_stand(deck: ListsFolder) -> None:
    """A merged cell belongs to several rows, and only one of them would get its value."""

    def fill(sheet: Worksheet, _: xlsxwriter.Workbook) -> None:
        sheet.write_row(1, 0, ("2026-03-10", "1"))
        sheet.write_row(2, 0, ("2026-03-10", "2"))
        sheet.merge_range(1, 2, 2, 2, "P-101")

    _shifts(deck, fill)

    merged = next(fault for fault in deck.faults() if "merged" in fault.what)
    assert places([merged]) == [("shifts.xlsx", 2, "person")]
    assert merged.what.startswith("2 rows by 1 columns")


def test_a_formula_is_refused_even_where_its_result_looks_right(deck: ListsFolder) -> None:
    """The result kept in the file may be stale, and nobody wrote it."""

    def fill(sheet: Worksheet, _: xlsxwriter.Workbook) -> None:
        sheet.write_row(1, 0, ("2026-03-10", "1"))
        sheet.write_formula(1, 2, '="P-"&101', None, "P-101")

    _shifts(deck, fill)

    fault = deck.fault()
    assert places([fault]) == [("shifts.xlsx", 2, "person")]
    assert fault.what == "the cell holds a formula"


def test_an_error_cell_is_refused_and_not_taken_for_an_empty_one(deck: ListsFolder) -> None:
    """#N/A in a due date must not become a gauge without a due date."""
    rows = deck.as_workbook("gauges")
    due = rows[0].index("due")
    with xlsxwriter.Workbook(str(deck.path / "gauges.xlsx"), {"strings_to_numbers": False}) as book:
        sheet = book.add_worksheet()
        for number, cells in enumerate(rows):
            for place, text in enumerate(cells):
                sheet.write_string(number, place, text)
        sheet.write_formula(1, due, "=NA()", None, "#N/A")

    assert ("gauges.xlsx", 2, "due") in places(deck.faults())


def test_a_workbook_with_two_filled_sheets_is_refused(deck: ListsFolder) -> None:
    """Nobody knows which sheet is the list."""

    def fill(_: Worksheet, book: xlsxwriter.Workbook) -> None:
        book.add_worksheet("last year").write_string(0, 0, "day")

    _shifts(deck, fill)

    assert deck.fault().why == "2 of its sheets hold something"


def test_empty_sheets_beside_the_list_do_no_harm(deck: ListsFolder) -> None:
    """Spreadsheets begin a workbook with three sheets."""
    _shifts(deck, lambda _, book: book.add_worksheet())

    assert deck.faults() == ()


def test_a_workbook_without_a_filled_sheet_is_refused(deck: ListsFolder) -> None:
    """An empty workbook is a lost list."""
    (deck.path / "shifts.csv").unlink()
    with xlsxwriter.Workbook(str(deck.path / "shifts.xlsx")) as book:
        book.add_worksheet()

    assert deck.fault().why == "0 of its sheets hold something"


@pytest.mark.parametrize("content", [b"", b"number,kind\nG-1,x\n", b"\xd0\xcf\x11\xe0old", b"PK\x03\x04cut short"])
def test_a_file_that_is_no_workbook_is_refused(deck: ListsFolder, content: bytes) -> None:
    """Whatever the ending says, the inside counts; a locked workbook is not readable either."""
    deck.as_workbook("shifts")
    (deck.path / "shifts.xlsx").write_bytes(content)

    fault = deck.fault()
    assert fault.file == "shifts.xlsx"
    assert "save it again as XLSX" in fault.next_step


def test_a_workbook_cut_short_anywhere_is_refused(deck: ListsFolder) -> None:
    """Half a file on a stick is no list; every 97th place is tried."""
    deck.as_workbook("shifts")
    path = deck.path / "shifts.xlsx"
    whole = path.read_bytes()

    for length in range(0, len(whole) - 1, 97):
        path.write_bytes(whole[:length])

        assert [fault.file for fault in deck.faults()] == ["shifts.xlsx"]


def test_a_workbook_that_unpacks_beyond_the_limit_is_refused(
    deck: ListsFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A few packed bytes can stand for gigabytes; unpacking stops at the limit of the settings."""
    monkeypatch.setenv("CONSOLIDATOR_LIST_UNPACKED_BYTES", "100000")
    deck.as_workbook("shifts")
    path = deck.path / "shifts.xlsx"
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/media/blank.bin", b"\x00" * 200_000)

    fault = deck.fault()
    assert fault.what == "it holds more bytes once unpacked than are taken"


@pytest.mark.parametrize(("row", "column"), [(1_048_575, 0), (0, 16_383)])
def test_one_cell_far_out_is_refused_and_does_not_fill_the_memory(deck: ListsFolder, row: int, column: int) -> None:
    """A stray space in the last cell of a sheet would make a table of 17 thousand million cells."""
    _shifts(deck, lambda sheet, _: sheet.write_string(row, column, "x") and None)

    fault = deck.fault()
    assert "than are taken" in fault.what


def test_a_workbook_whose_cells_do_not_say_where_they_stand_is_refused(deck: ListsFolder) -> None:
    """Nobody could tell the clerk where a formula stands."""
    deck.as_workbook("people")
    path = deck.path / "people.xlsx"
    _rewrite(path, "xl/worksheets/sheet1.xml", lambda text: text.replace(b' r="A2"', b""))

    assert deck.fault().what == "the file was not read"


def test_an_altered_workbook_is_refused(deck: ListsFolder) -> None:
    """Bytes that do not fit their checksum are not a list."""
    deck.as_workbook("gauges")
    path = deck.path / "gauges.xlsx"
    _alter_member(path, "xl/worksheets/sheet1.xml")

    assert deck.faults()[0].file == "gauges.xlsx"


def _rewrite(path: Path, name: str, change: Callable[[bytes], bytes]) -> bytes:
    """Store every member unpacked, one of them changed; return the whole file."""
    with zipfile.ZipFile(path) as packed:
        members = {info.filename: packed.read(info) for info in packed.infolist()}
    members[name] = change(members[name])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as packed:
        for member, content in members.items():
            packed.writestr(member, content)
    return path.read_bytes()


def _alter_member(path: Path, name: str) -> None:
    """Turn one byte of a member that is stored unpacked, so that only the checksum can tell."""
    whole = bytearray(_rewrite(path, name, lambda content: content))
    with zipfile.ZipFile(path) as packed:
        content = packed.read(name)
    whole[bytes(whole).index(content) + len(content) // 2] ^= 1
    path.write_bytes(bytes(whole))
