"""An export can be checked without this program, and what was tampered with is named."""

import csv
import hashlib
import io
import json
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Callable
from contextlib import redirect_stdout
from datetime import timedelta
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from python_calamine import CalamineWorkbook

from consolidator.errors import ExportRefused
from consolidator.ledger import check_ledger
from consolidator.ledger.books import COLUMNS
from consolidator.ledger.dictionary import dictionary_rows
from consolidator.ledger.export import Format, Wanted, days_between, export
from consolidator.settings import Settings
from tests.unit.consolidator.ledger.plants import write_day, write_sealed
from tests.unit.consolidator.ledger.small_days import DAY, act, closed_day, lot_430, reading

Edit = Callable[[Path], None]


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Export lot L-430 and the whole of two sealed days once; tests copy what they tamper with."""
    root = tmp_path_factory.mktemp("exported")
    next_day = closed_day([reading("S12-a", 481, "L-999")], day=DAY + timedelta(days=1))
    write_sealed(root / "ledger", lot_430(), next_day)
    days = days_between(root / "ledger", DAY, DAY + timedelta(days=1))
    export(root / "ledger", Wanted(days, "L-430"), root / "lot")
    export(root / "ledger", Wanted(days, None, tuple(Format)), root / "days")
    return root


def _check(folder: Path) -> tuple[int, list[str]]:
    """Run the check as its main program does; that it needs nothing of ours is tried once, further down."""
    printed = io.StringIO()
    with redirect_stdout(printed):
        code = check_ledger.main([str(folder)])
    return code, [line for line in printed.getvalue().splitlines() if line.startswith("DAMAGE")]


def _tampered(exported: Path, tmp_path: Path, name: str, edit: Edit) -> tuple[int, list[str]]:
    copy = tmp_path / "copy"
    shutil.copytree(exported / name, copy)
    edit(copy / DAY.isoformat())
    return _check(copy)


def _replace_line(file: str, number: int, old: str, new: str) -> Edit:
    def edit(folder: Path) -> None:
        lines = (folder / file).read_bytes().split(b"\r\n")
        assert old.encode() in lines[number]
        lines[number] = lines[number].replace(old.encode(), new.encode())
        (folder / file).write_bytes(b"\r\n".join(lines))

    return edit


def _delete_line(file: str, wanted: Callable[[str], bool]) -> Edit:
    def edit(folder: Path) -> None:
        lines = (folder / file).read_bytes().split(b"\r\n")
        kept = [line for line in lines if not wanted(line.decode())]
        assert len(kept) == len(lines) - 1
        (folder / file).write_bytes(b"\r\n".join(kept))

    return edit


@pytest.mark.parametrize("name", ["lot", "days"])
def test_the_travelling_script_runs_alone_and_finds_an_untouched_copy_good(exported: Path, name: str) -> None:
    """In a Python without any package the script runs, and says how the signature is checked."""
    command = [sys.executable, "-I", "-S", "check_ledger.py", "."]

    done = subprocess.run(command, cwd=exported / name, capture_output=True, text=True, check=False)

    assert (done.returncode, done.stderr) == (0, "")
    assert "Signatures were not checked here" in done.stdout
    assert done.stdout.endswith("Good: nothing was added, removed, changed or moved.\n")


@pytest.mark.parametrize("name", ["lot", "days"])
def test_an_untouched_copy_is_good(exported: Path, name: str) -> None:
    """The check says good, for a lot as for whole days."""
    assert _check(exported / name) == (0, [])


@pytest.mark.parametrize("name", ["lot", "days"])
def test_one_changed_digit_names_that_reading_only(exported: Path, tmp_path: Path, name: str) -> None:
    """A digit of reading 117 changed from .3122 to .3123 names reading 117 and nothing else."""
    edit = _replace_line("readings.csv", 117, ".3122,", ".3123,")

    assert _tampered(exported, tmp_path, name, edit) == (
        3,
        ["DAMAGE  2026-03-16: reading 117 (page S12-a/233) was altered: it does not fit its fingerprint."],
    )


@pytest.mark.parametrize("name", ["lot", "days"])
def test_a_deleted_reading_is_named_with_its_neighbours(exported: Path, tmp_path: Path, name: str) -> None:
    """With the line of reading 118 gone, the check says one page is missing and between which two."""
    edit = _delete_line("readings.csv", lambda line: ",S12-a,235,L-430," in line)

    assert _tampered(exported, tmp_path, name, edit) == (
        3,
        [
            "DAMAGE  2026-03-16: one page is missing between reading 117 (page S12-a/233) "
            "and reading 119 (page S12-a/237): S12-a/235."
        ],
    )


def test_a_deleted_fingerprint_of_a_left_out_page_breaks_the_run_there(exported: Path, tmp_path: Path) -> None:
    """With the fingerprint-only line of page 236 gone, the check says the run is broken there."""
    edit = _delete_line("leaves.csv", lambda line: line.startswith(",,S12-a/236,"))

    assert _tampered(exported, tmp_path, "lot", edit) == (
        3,
        ["DAMAGE  2026-03-16: the run of S12-a is broken between page 235 and page 237."],
    )


def test_a_reading_left_out_together_with_its_line_breaks_the_run(exported: Path, tmp_path: Path) -> None:
    """Whoever takes a page out of both files still breaks the run of the kiosk."""

    def edit(folder: Path) -> None:
        _delete_line("readings.csv", lambda line: ",S12-a,235,L-430," in line)(folder)
        _delete_line("leaves.csv", lambda line: ",S12-a/235," in line)(folder)

    code, faults = _tampered(exported, tmp_path, "lot", edit)

    assert code == 3
    assert "DAMAGE  2026-03-16: the run of S12-a is broken between page 234 and page 236." in faults


def test_a_reading_passed_off_as_another_lot_s_leaves_the_lot_short(exported: Path, tmp_path: Path) -> None:
    """A page hidden behind a fingerprint-only line is missed by the lot's count."""

    def edit(folder: Path) -> None:
        _delete_line("readings.csv", lambda line: ",S12-a,479,L-430," in line)(folder)
        lines = (folder / "leaves.csv").read_text().replace("readings,240,S12-a/479", ",,S12-a/479")
        (folder / "leaves.csv").write_text(lines, newline="")

    assert _tampered(exported, tmp_path, "lot", edit) == (
        3,
        ["DAMAGE  2026-03-16: lot L-430 holds 241 pages; 242 were sealed."],
    )


def test_an_added_reading_is_named(exported: Path, tmp_path: Path) -> None:
    """A row nobody sealed is named as added."""

    def edit(folder: Path) -> None:
        lines = (folder / "readings.csv").read_bytes().split(b"\r\n")
        lines.insert(5, lines[4].replace(b",.3122,", b",.3119,"))
        (folder / "readings.csv").write_bytes(b"\r\n".join(lines))

    assert _tampered(exported, tmp_path, "days", edit) == (
        3,
        ["DAMAGE  2026-03-16: reading 5 (page S12-a/7) was added: no fingerprint stands for it."],
    )


def test_two_rows_changed_about_are_named(exported: Path, tmp_path: Path) -> None:
    """The order of the book is part of it."""

    def edit(folder: Path) -> None:
        lines = (folder / "readings.csv").read_bytes().split(b"\r\n")
        lines[10], lines[11] = lines[11], lines[10]
        (folder / "readings.csv").write_bytes(b"\r\n".join(lines))

    code, faults = _tampered(exported, tmp_path, "days", edit)

    assert code == 3
    assert any("out of order" in fault for fault in faults)


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("front-sheet.json", "No pages missing", "No page missing", "the front sheet was altered"),
        ("seal.json", '"hours": 24', '"hours": 25', "the seal's body was altered"),
        ("leaves.csv", "readings,117,S12-a/233,", "readings,117,S12-a/232,", "the run of S12-a"),
        ("readings.csv", "verdict_at_kiosk,verdict,", "verdict,verdict_at_kiosk,", "columns of readings were altered"),
        ("lots.csv", "L-430,", "L-431,", "line 1 of lots was altered"),
    ],
)
def test_any_other_file_altered_is_named(
    exported: Path, tmp_path: Path, file: str, old: str, new: str, said: str
) -> None:
    """Front sheet, body, fingerprint lines, headings and lots are covered as the readings are."""

    def edit(folder: Path) -> None:
        content = (folder / file).read_bytes()
        assert old.encode() in content
        (folder / file).write_bytes(content.replace(old.encode(), new.encode(), 1))

    code, faults = _tampered(exported, tmp_path, "days", edit)

    assert code == 3
    assert said in faults[0]


def test_a_seal_taken_out_of_the_chain_is_named(exported: Path, tmp_path: Path) -> None:
    """A seal file rewritten later does not fit its signature or its neighbour."""
    copy = tmp_path / "copy"
    shutil.copytree(exported / "days", copy)
    text = (copy / "seals.json").read_text()
    (copy / "seals.json").write_text(text.replace('"pages": 483', '"pages": 484'))

    code, faults = _check(copy)

    assert code == 3
    assert "DAMAGE  2026-03-16: the seal was altered." in faults
    assert "DAMAGE  2026-03-16: the signature does not fit the seal." in faults
    assert "DAMAGE  The chain of seals is broken between 2026-03-16 and 2026-03-17." in faults


def test_the_line_of_the_lot_altered_is_named(exported: Path, tmp_path: Path) -> None:
    """A lot's counts cannot be dressed up."""
    edit = _replace_line("lots.csv", 1, ",1,", ",9,")

    assert _tampered(exported, tmp_path, "lot", edit) == (
        3,
        ["DAMAGE  2026-03-16: the line of lot L-430 in lots.csv was altered."],
    )


def test_a_book_that_is_away_is_named(exported: Path, tmp_path: Path) -> None:
    """A whole day taken out of the export is missed."""
    assert _tampered(exported, tmp_path, "days", shutil.rmtree) == (
        3,
        ["DAMAGE  2026-03-16: this book is missing."],
    )


def test_a_table_that_is_away_is_named(exported: Path, tmp_path: Path) -> None:
    """A table taken out of a day is missed."""
    assert _tampered(exported, tmp_path, "days", lambda folder: (folder / "holds.csv").unlink()) == (
        3,
        ["DAMAGE  2026-03-16: the table holds is missing."],
    )


def test_pages_of_a_kiosk_the_seal_does_not_know_are_named(exported: Path, tmp_path: Path) -> None:
    """Nobody adds a kiosk to a sealed day, nor a page number outside its runs."""

    def edit(folder: Path) -> None:
        with (folder / "leaves.csv").open("a", newline="") as file:
            file.write(f",,S99-a/1,{'0' * 64}\r\n,,S12-a/481,{'0' * 64}\r\n")

    assert _tampered(exported, tmp_path, "lot", edit) == (
        3,
        [
            "DAMAGE  2026-03-16: pages of S99-a stand here, and the seal knows of none.",
            "DAMAGE  2026-03-16: the run of S12-a holds 481 pages; 480 were sealed.",
        ],
    )


def test_a_fingerprint_line_altered_for_a_left_out_page_names_the_kiosk(exported: Path, tmp_path: Path) -> None:
    """The line says nothing else, so the kiosk and its run are all that can be named."""

    def edit(folder: Path) -> None:
        content = (folder / "leaves.csv").read_bytes()
        at = content.index(b",,S12-a/236,") + len(b",,S12-a/236,")
        other = b"1" if content[at : at + 1] == b"0" else b"0"
        (folder / "leaves.csv").write_bytes(content[:at] + other + content[at + 1 :])

    assert _tampered(exported, tmp_path, "lot", edit) == (
        3,
        ["DAMAGE  2026-03-16: a fingerprint of S12-a was altered, pages 1 to 480."],
    )


def test_several_rows_taken_out_and_changed_are_each_named(exported: Path, tmp_path: Path) -> None:
    """First, last and middle rows: each loss and each change is told apart."""

    def edit(folder: Path) -> None:
        lines = (folder / "readings.csv").read_bytes().split(b"\r\n")
        lines[50] = lines[50].replace(b",.3122,", b",.3121,")
        del lines[240], lines[100:108], lines[1]
        (folder / "readings.csv").write_bytes(b"\r\n".join(lines))

    _, faults = _tampered(exported, tmp_path, "lot", edit)

    assert faults == [
        "DAMAGE  2026-03-16: one page is missing before reading 2 (page S12-a/3): S12-a/1.",
        "DAMAGE  2026-03-16: reading 50 (page S12-a/99) was altered: it does not fit its fingerprint.",
        "DAMAGE  2026-03-16: 8 pages are missing between reading 99 (page S12-a/197) and reading 108 "
        "(page S12-a/215): S12-a/199, S12-a/201, S12-a/203, S12-a/205, S12-a/207 ….",
        "DAMAGE  2026-03-16: one page is missing after reading 239 (page S12-a/477): S12-a/479.",
    ]


def test_more_damage_than_anybody_reads_is_counted(exported: Path, tmp_path: Path) -> None:
    """Fifty are shown and the rest is counted."""

    def edit(folder: Path) -> None:
        content = (folder / "readings.csv").read_bytes()
        (folder / "readings.csv").write_bytes(content.replace(b",.3122,", b",.3121,"))

    _, faults = _tampered(exported, tmp_path, "lot", edit)

    assert len(faults) == 51
    assert faults[-1] == "DAMAGE  and 190 more."


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("scope.json", '"format": 1', '"format": 2', "the export has format 2"),
        ("2026-03-16/seal.json", '"format": 1,\n "key"', '"format": 2,\n "key"', "ledger format 2"),
        ("seals.json", "[", "{", "a file cannot be read"),
        ("2026-03-16/seal.json", '"state": "sealed"', '"state": "not sealed"', "it was sealed, and this copy says"),
    ],
)
def test_what_the_check_does_not_know_it_says(
    exported: Path, tmp_path: Path, file: str, old: str, new: str, said: str
) -> None:
    """A newer format, a broken file, or a sealed book that says it is not, is damage to be told."""
    copy = tmp_path / "copy"
    shutil.copytree(exported / "days", copy)
    text = (copy / file).read_text(encoding="utf-8")
    assert old in text
    (copy / file).write_text(text.replace(old, new, 1), encoding="utf-8")

    code, faults = _check(copy)

    assert code == 3
    assert said in faults[0]


def test_a_day_not_sealed_yet_is_exported_and_says_so(tmp_path: Path) -> None:
    """What is not sealed can be looked at and checked; it is a note, not damage."""
    write_day(tmp_path / "ledger", closed_day([reading("S12-a", 1, "L-430")]))
    export(tmp_path / "ledger", Wanted((DAY,), None), tmp_path / "out")

    faults, notes = check_ledger.check_export(tmp_path / "out")

    assert faults == []
    assert "2026-03-16: not sealed yet; what stands there may still change." in notes


def test_a_seal_of_another_chain_is_named(exported: Path, tmp_path: Path) -> None:
    """A book whose seal is not among the seals of the export was put there from elsewhere."""
    copy = tmp_path / "copy"
    shutil.copytree(exported / "days", copy)
    (copy / "seals.json").write_text("[]")

    assert "DAMAGE  2026-03-16: its seal is not in the chain of seals." in _check(copy)[1]


def test_another_key_in_the_chain_is_asked_about(exported: Path) -> None:
    """Seals with two keys are no damage, but the plant is to say why."""
    seals = json.loads((exported / "days/seals.json").read_text())
    other = Ed25519PrivateKey.from_private_bytes(b"\x07" * 32)
    seals[1]["key"] = other.public_key().public_bytes_raw().hex()
    seals[1]["signature"] = other.sign(check_ledger.canonical(seals[1]["seal"])).hex()

    faults, notes = check_ledger.check_chain(seals)

    assert faults == []
    assert notes == ["2026-03-17: sealed with another key than 2026-03-16; ask the plant why."]


def test_a_folder_that_is_no_export_is_misuse(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2 and how to call it."""
    assert check_ledger.main([str(tmp_path)]) == 2
    assert "python3 check_ledger.py FOLDER" in capsys.readouterr().err


def test_openssl_accepts_the_signature_as_the_recipe_says(exported: Path) -> None:
    """An independent program checks the seal with the command the recipe prints."""
    recipe = (exported / "lot/check-a-ledger.md").read_text(encoding="utf-8")
    command = re.findall(r"^openssl .*$", recipe, re.MULTILINE)[0].split()
    if shutil.which(command[0]) is None:
        pytest.skip("openssl is not installed here")

    done = subprocess.run(command, cwd=exported / "lot", capture_output=True, text=True, check=False)

    assert "Signature Verified Successfully" in done.stdout


def test_a_row_s_leaf_hash_is_made_with_a_shell_as_the_recipe_says(exported: Path) -> None:
    """printf and sha256sum come to the hash that stands in leaves.csv."""
    if shutil.which("sha256sum") is None:
        pytest.skip("sha256sum is not installed here")
    with (exported / "lot/2026-03-16/readings.csv").open(newline="", encoding="utf-8") as file:
        row = list(csv.reader(file))[1]
    text = "[" + ",".join(f'"{cell}"' for cell in row) + "]"

    done = subprocess.run(
        ["sh", "-c", "printf '\\0%s' \"$1\" | sha256sum", "sh", text], capture_output=True, text=True, check=True
    )

    line = f"readings,1,S12-a/1,{done.stdout.split()[0]}\r\n".encode()
    assert line in (exported / "lot/2026-03-16/leaves.csv").read_bytes()


def test_a_lot_s_export_names_no_other_lot_and_no_other_part(exported: Path) -> None:
    """No other lot's number or part stands anywhere in a lot's export."""
    whole = b"".join(path.read_bytes() for path in sorted((exported / "lot").rglob("*")) if path.is_file())

    assert b"L-430" in whole
    assert b"L-999" not in whole
    assert b"N-2208" not in whole


def test_an_act_that_names_two_lots_is_in_neither_lot_s_export(tmp_path: Path) -> None:
    """A changeover from one lot to another would tell one customer of the other's lot."""
    changeover = act(
        "S12-a", 3, "changeover", lot="L-430", content='{"from_lot":"L-999","kind":"changeover","to_lot":"L-430"}'
    )
    write_sealed(
        tmp_path / "ledger", closed_day([reading("S12-a", 1, "L-430"), reading("S12-a", 2, "L-999")], [changeover])
    )

    export(tmp_path / "ledger", Wanted((DAY,), "L-430"), tmp_path / "lot")

    assert _check(tmp_path / "lot") == (0, [])
    assert b"L-999" not in b"".join(p.read_bytes() for p in (tmp_path / "lot").rglob("*") if p.is_file())


def test_a_workbook_holds_text_only_and_comes_out_the_same_twice(tmp_path: Path) -> None:
    """A remark that looks like a formula stays text, a figure keeps its digits, and bytes do not change."""
    closed = closed_day([reading("S12-a", 1, "L-430", remark='=HYPERLINK("x")', value="0.3120")])
    write_sealed(tmp_path / "ledger", closed)
    wanted = Wanted((DAY,), None, (Format.XLSX, Format.PARQUET))

    for name in ("one", "two"):
        export(tmp_path / "ledger", wanted, tmp_path / name)

    file = tmp_path / "one" / DAY.isoformat() / "ledger.xlsx"
    sheet = CalamineWorkbook.from_path(str(file)).get_sheet_by_name("readings").to_python()
    cells = dict(zip(sheet[0], sheet[1], strict=True))
    assert (cells["remark"], cells["value"], cells["page"]) == ('=HYPERLINK("x")', "0.3120", "1")
    assert b"<f>" not in zipfile.ZipFile(file).read("xl/worksheets/sheet1.xml")
    assert file.read_bytes() == (tmp_path / "two" / DAY.isoformat() / "ledger.xlsx").read_bytes()
    table = pq.read_table(tmp_path / "one" / DAY.isoformat() / "readings.parquet")
    assert table["remark"].to_pylist() == ['=HYPERLINK("x")']


def test_a_table_longer_than_a_sheet_goes_on_and_a_long_text_says_it_was_cut(tmp_path: Path) -> None:
    """Nothing is dropped without a word when it does not fit a workbook."""
    readings = [reading("S12-a", n, "L-430", remark="r" * 100) for n in range(1, 6)]
    write_sealed(tmp_path / "ledger", closed_day(readings))
    settings = Settings(xlsx_sheet_rows=3, xlsx_cell_characters=90)

    export(tmp_path / "ledger", Wanted((DAY,), None, (Format.XLSX,)), tmp_path / "out", settings=settings)

    book = CalamineWorkbook.from_path(str(tmp_path / "out" / DAY.isoformat() / "ledger.xlsx"))
    pages = [row[6] for name in ("readings", "readings 2") for row in book.get_sheet_by_name(name).to_python()[1:]]
    assert pages == ["1", "2", "3", "4", "5"]
    assert book.get_sheet_by_name("readings").to_python()[1][41] == "r" * 71 + " … cut: see the CSV"


def test_texts_with_quotes_and_line_ends_survive_the_csv(tmp_path: Path) -> None:
    """Whatever was written in a remark comes out of the CSV as it was, and the check is good."""
    remark = 'first "line"\r\nsecond, line\n→ \x1f'
    write_sealed(tmp_path / "ledger", closed_day([reading("S12-a", 1, "L-430", remark=remark)]))

    export(tmp_path / "ledger", Wanted((DAY,), None), tmp_path / "out")

    with (tmp_path / "out" / DAY.isoformat() / "readings.csv").open(newline="", encoding="utf-8") as file:
        assert next(csv.DictReader(file))["remark"] == remark
    assert _check(tmp_path / "out") == (0, [])


@pytest.mark.parametrize(("days", "lot", "why"), [((DAY,), "L-777", "no pages of lot L-777"), ((), None, "no books")])
def test_an_export_of_nothing_is_refused(tmp_path: Path, days: tuple[object, ...], lot: str | None, why: str) -> None:
    """An export that would hold nothing is refused, and no folder is left."""
    write_sealed(tmp_path / "ledger", closed_day([reading("S12-a", 1, "L-430")]))

    with pytest.raises(ExportRefused, match=why):
        export(tmp_path / "ledger", Wanted(days, lot), tmp_path / "out")  # type: ignore[arg-type]

    assert [path.name for path in tmp_path.iterdir()] == ["ledger"]


def test_an_export_never_writes_over_a_folder(tmp_path: Path) -> None:
    """What lies at the place named stays."""
    write_sealed(tmp_path / "ledger", closed_day([reading("S12-a", 1, "L-430")]))
    (tmp_path / "out").mkdir()

    with pytest.raises(ExportRefused, match="does not exist yet"):
        export(tmp_path / "ledger", Wanted((DAY,), None), tmp_path / "out")


def test_every_column_of_every_table_is_explained() -> None:
    """The column dictionary leaves nothing out."""
    told = {(table, column): meaning for table, _, column, meaning in dictionary_rows()}

    assert set(told) == {(table, column) for table, names in COLUMNS.items() for column in names}
    assert all(meaning.endswith(".") for meaning in told.values())


def test_the_recipe_in_the_export_is_the_one_in_the_documents() -> None:
    """There is one recipe."""
    root = Path(__file__).parents[4]

    assert (root / "consolidator/ledger/check-a-ledger.md").read_bytes() == (
        root / "docs/how-to/check-a-ledger.md"
    ).read_bytes()


def test_a_full_disk_leaves_no_half_export(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk refuses, nothing of the export is left, and the message says what to do."""
    write_sealed(tmp_path / "ledger", closed_day([reading("S12-a", 1, "L-430")]))

    def full(*args: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("consolidator.ledger.export.write_table_csv", full)

    with pytest.raises(ExportRefused, match="No space left on device"):
        export(tmp_path / "ledger", Wanted((DAY,), None), tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["ledger"]


def test_an_export_of_more_days_than_the_limit_is_refused(tmp_path: Path) -> None:
    """The limit is named."""
    write_sealed(tmp_path / "ledger", closed_day([reading("S12-a", 1, "L-430")]))

    with pytest.raises(ExportRefused, match="It would hold 1 days; 0 at most"):
        export(tmp_path / "ledger", Wanted((DAY,), None), tmp_path / "out", settings=Settings(export_days=0))


def test_the_last_page_of_a_run_taken_out_is_named(exported: Path, tmp_path: Path) -> None:
    """A run that ends too early is broken at the page that is gone."""
    edit = _delete_line("leaves.csv", lambda line: ",S12-a/480," in line)

    assert _tampered(exported, tmp_path, "lot", edit) == (
        3,
        ["DAMAGE  2026-03-16: the run of S12-a is broken at page 480."],
    )


def test_a_row_forged_together_with_its_fingerprint_line_misses_the_sealed_root(exported: Path, tmp_path: Path) -> None:
    """Whoever alters both still cannot alter the seal; the table is all that can be named."""

    def edit(folder: Path) -> None:
        with (folder / "kiosks.csv").open(newline="", encoding="utf-8") as file:
            row = list(csv.reader(file))[1]
        forged = [*row[:2], "silent", *row[3:]]
        for name, old, new in (
            ("kiosks.csv", ",".join(row), ",".join(forged)),
            ("leaves.csv", check_ledger.leaf_hash(row).hex(), check_ledger.leaf_hash(forged).hex()),
        ):
            text = (folder / name).read_text(encoding="utf-8")
            assert old in text
            (folder / name).write_text(text.replace(old, new), encoding="utf-8")

    assert _tampered(exported, tmp_path, "days", edit) == (
        3,
        ["DAMAGE  2026-03-16: the table kiosks does not come to its sealed root."],
    )


def test_a_test_record_with_pieces_of_two_lots_is_in_neither_lot_s_export(tmp_path: Path) -> None:
    """A lot named deep inside an act is found too."""
    content = '{"kind":"test record","lot":"L-430","pieces":[{"lot":"L-430","piece":"1"},{"lot":"L-999","piece":"2"}]}'
    record = act("desk-a", 1, "test record", lot="L-430", content=content)
    write_sealed(tmp_path / "ledger", closed_day([reading("S12-a", 1, "L-430")], [record]))

    export(tmp_path / "ledger", Wanted((DAY,), "L-430"), tmp_path / "lot")

    assert _check(tmp_path / "lot") == (0, [])
    assert b"L-999" not in (tmp_path / "lot" / DAY.isoformat() / "acts.csv").read_bytes()


def test_a_lot_without_pages_holds_none(tmp_path: Path) -> None:
    """A lot that stands in the table for another reason has no pages and the fingerprint of nothing."""
    closed = closed_day([reading("S12-a", 1, "L-430")], lots=[{"lot": "L-430"}, {"lot": "L-500"}])
    write_sealed(tmp_path / "ledger", closed)

    export(tmp_path / "ledger", Wanted((DAY,), None), tmp_path / "out")

    assert _check(tmp_path / "out") == (0, [])
    with (tmp_path / "out" / DAY.isoformat() / "lots.csv").open(newline="", encoding="utf-8") as file:
        told = {row["lot"]: (row["pages"], row["fingerprint"]) for row in csv.DictReader(file)}
    assert told["L-500"] == ("0", hashlib.sha256().hexdigest())
