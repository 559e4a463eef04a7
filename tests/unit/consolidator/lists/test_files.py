"""The folder and its CSV files: every way they can be no list."""

import csv
from pathlib import Path

import pytest

from consolidator.lists import ListsRefused, check_lists
from tests.unit.consolidator.lists.folders import START, ZONE, ListsFolder, places


def test_a_file_with_a_byte_order_mark_is_read_as_one_without(deck: ListsFolder) -> None:
    """Spreadsheets put three bytes before UTF-8; they are no part of the first heading."""
    plain = deck.check()
    path = deck.path / "gauges.csv"

    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))

    assert deck.check() == plain


def test_quoted_cells_hold_commas_quotation_marks_and_nothing_is_lost(deck: ListsFolder) -> None:
    """RFC 4180, 2.6 and 2.7: a quoted cell may hold commas and doubled quotation marks."""
    text = (deck.path / "people.csv").read_text(encoding="utf-8")

    (deck.path / "people.csv").write_text(text.replace("Ana", '"Ana, ""the first"""'), encoding="utf-8")

    assert deck.check().people[0].name == 'Ana, "the first"'


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_a_utf_16_file_is_refused_by_name(deck: ListsFolder, encoding: str) -> None:
    """A spreadsheet's 'Unicode text' is UTF-16; the clerk is told how to save it."""
    path = deck.path / "gauges.csv"

    path.write_bytes(path.read_text(encoding="utf-8").encode(encoding))

    fault = deck.fault()
    assert (fault.file, fault.why) == ("gauges.csv", "its text is UTF-16, not UTF-8")
    assert "CSV UTF-8" in fault.next_step


def test_a_letter_of_an_old_code_page_is_told_with_its_line(deck: ListsFolder) -> None:
    """0xE9 is an e with an accent in Windows-1252 and nothing in UTF-8."""
    (deck.path / "people.csv").write_bytes(b"number,name\nP-1,Ana\nP-2,Ren\xe9\n")

    assert deck.fault().why == "line 3 holds a letter that is not written in UTF-8"


@pytest.mark.parametrize("content", [b"", b"\n\n", b"\xef\xbb\xbf", b"  \r\n"])
def test_an_empty_file_is_refused(deck: ListsFolder, content: bytes) -> None:
    """An empty file is a lost list, not a list without rows."""
    (deck.path / "gauges.csv").write_bytes(content)

    fault = deck.fault()
    assert (fault.file, fault.what) == ("gauges.csv", "the file is empty")


def test_a_file_with_headings_alone_is_a_list_without_rows(deck: ListsFolder) -> None:
    """A plant may have no shifts listed yet."""
    (deck.path / "shifts.csv").write_text("day,shift,person\n", encoding="utf-8")

    assert deck.check().shifts == ()


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"PK\x03\x04\x14\x00", "workbook or a packed file"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "old workbook"),
        (b"%PDF-1.7\n", "printed page"),
        (b"number,kind\nG-1,\x00\x01\x02", "no text"),
    ],
)
def test_a_file_that_is_not_csv_at_all_is_refused(deck: ListsFolder, content: bytes, said: str) -> None:
    """Renaming a workbook does not make it CSV."""
    (deck.path / "gauges.csv").write_bytes(content)

    fault = deck.fault()
    assert fault.what == "the file is not CSV"
    assert said in fault.why


@pytest.mark.parametrize("text", ["<html><body>gauges</body></html>", '{"gauges": []}', "just words\nand more"])
def test_text_that_is_no_list_is_told_that_its_headings_are_missing(deck: ListsFolder, text: str) -> None:
    """Whatever it is, the clerk learns what row 1 must hold."""
    (deck.path / "gauges.csv").write_text(text, encoding="utf-8")

    fault = deck.fault()
    assert places([fault]) == [("gauges.csv", 1, None)]
    assert fault.next_step.startswith("write in row 1: number, kind")


@pytest.mark.parametrize(("mark", "word"), [(";", "semicolons"), ("\t", "tabs")])
def test_other_marks_between_cells_are_told_as_such(deck: ListsFolder, mark: str, word: str) -> None:
    """Where the decimal mark is a comma, spreadsheets put semicolons between cells."""
    rows = deck.rows("gauges")
    with (deck.path / "gauges.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, delimiter=mark).writerows(rows)

    assert word in deck.faults()[0].why


def test_quotation_marks_that_do_not_fit_are_told_with_their_row(deck: ListsFolder) -> None:
    """A quotation mark left open would swallow the rest of the list."""
    with (deck.path / "people.csv").open("a", encoding="utf-8") as file:
        file.write('P-200,"Ivo,B-200\n')

    fault = deck.faults()[0]
    assert (fault.file, fault.row) == ("people.csv", 10)
    assert "quotation marks" in fault.why


def test_a_figure_with_a_comma_that_splits_its_cell_is_told_by_row(deck: ListsFolder) -> None:
    """0,3120 without quotation marks is two cells; the row says so and says to write a point."""
    path = deck.path / "characteristics.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(",.3120,", ",0,3120,"), encoding="utf-8")

    fault = deck.fault()
    assert (fault.file, fault.row) == ("characteristics.csv", 2)
    assert "write figures with a point" in fault.next_step


def test_a_row_with_too_few_cells_is_refused(deck: ListsFolder) -> None:
    """A lost cell would shift every cell behind it."""
    with (deck.path / "people.csv").open("a", encoding="utf-8") as file:
        file.write("P-200,Ivo\n")

    assert deck.fault().why == "the heading row has 3 cells and this row has 2"


@pytest.mark.parametrize("name", ["gauge.csv", "gauges.xls", "gauges.txt", "notes.docx"])
def test_a_file_that_is_none_of_the_lists_is_refused(deck: ListsFolder, name: str) -> None:
    """A slip in a file's name would otherwise leave a whole list out, unnoticed."""
    (deck.path / name).write_text("number\n", encoding="utf-8")

    fault = deck.fault()
    assert fault.file == name
    assert "plant-numbers" in fault.next_step


def test_one_list_in_two_files_is_refused(deck: ListsFolder) -> None:
    """Nobody knows which of the two is meant."""
    rows = deck.rows("gauges")
    deck.as_workbook("gauges")
    deck.write("gauges", rows)

    assert deck.fault().what == "the list is given twice"


@pytest.mark.parametrize("name", [".hidden", "~$gauges.xlsx", "README.md"])
def test_files_that_are_no_lists_by_their_nature_are_passed_over(deck: ListsFolder, name: str) -> None:
    """A spreadsheet that is open leaves a lock file beside the list."""
    (deck.path / name).write_bytes(b"\x00")

    assert deck.faults() == ()


def test_an_over_large_file_is_refused_before_it_is_read(deck: ListsFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit comes from the settings and is told."""
    monkeypatch.setenv("CONSOLIDATOR_LIST_FILE_BYTES", "1000")

    faults = deck.faults()

    assert ("gauges.csv", None, None) in places(faults)
    assert all(fault.why == "the limit is 1000" for fault in faults if fault.file == "gauges.csv")


def test_a_list_with_too_many_rows_is_refused(deck: ListsFolder, monkeypatch: pytest.MonkeyPatch) -> None:
    """The limit comes from the settings and is told."""
    monkeypatch.setenv("CONSOLIDATOR_LIST_ROWS", "12")

    assert ("gauges.csv", None, None) in places(deck.faults())


@pytest.mark.parametrize("is_there", [True, False])
def test_a_folder_without_a_list_is_refused(tmp_path: Path, *, is_there: bool) -> None:
    """A slip in the folder's name is no take-over."""
    folder = tmp_path / "empty"
    if is_there:
        folder.mkdir()

    with pytest.raises(ListsRefused, match=r"no list file|no such folder"):
        check_lists(folder, plant="P-INV", zone=ZONE, before=None, at_utc=START)
