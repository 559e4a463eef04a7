"""The ledger is checked where it lies, with the code that travels in every export."""

import json
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from consolidator.ledger.verify import verify
from tests.unit.consolidator.ledger.plants import write_day, write_sealed
from tests.unit.consolidator.ledger.small_days import DAY, closed_day, lot_430, reading


def _rewrite(path: Path, table: pa.Table) -> None:
    pq.write_table(table, path)


def test_an_untouched_ledger_is_good(tmp_path: Path) -> None:
    """Every book and page is counted, and nothing is wrong."""
    write_sealed(tmp_path, lot_430())

    found = verify(tmp_path)

    assert (found.faults, found.books, found.pages) == ((), 1, 483)


def test_a_changed_digit_names_the_reading(tmp_path: Path) -> None:
    """One digit of reading 117 changed in the file is named by reading and page."""
    write_sealed(tmp_path, lot_430())
    path = tmp_path / DAY.isoformat() / "readings.parquet"
    table = pq.read_table(path)
    keyed = table["keyed"].to_pylist()
    keyed[116] = ".3123"
    at = table.column_names.index("keyed")
    _rewrite(path, table.set_column(at, "keyed", pa.array(keyed)))

    assert verify(tmp_path).faults == (
        "2026-03-16: reading 117 (page S12-a/233) was altered: it does not fit its fingerprint.",
    )


def test_a_row_taken_out_is_named_with_its_neighbours(tmp_path: Path) -> None:
    """A reading taken out of the file is missed between two others."""
    write_sealed(tmp_path, lot_430())
    path = tmp_path / DAY.isoformat() / "readings.parquet"
    table = pq.read_table(path)
    _rewrite(path, pa.concat_tables([table.slice(0, 117), table.slice(118)]))

    (fault,) = verify(tmp_path).faults

    assert fault == (
        "2026-03-16: one page is missing between reading 117 (page S12-a/233) "
        "and reading 119 (page S12-a/237): S12-a/235."
    )


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        ("front-sheet.json", "No pages missing", "No page missing", "the front sheet was altered"),
        ("lists.json", "{}", "[]", "lists.json was altered"),
        ("seal.json", '"word": "Complete"', '"word": "Incomplete"', "the seal was altered"),
        ("seal.json", '"hours": 24', '"hours": 23', "the seal's body was altered"),
    ],
)
def test_any_other_file_altered_is_named(tmp_path: Path, file: str, old: str, new: str, said: str) -> None:
    """Front sheet, lists, body and seal are covered."""
    write_sealed(tmp_path, lot_430())
    path = tmp_path / DAY.isoformat() / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")

    assert said in verify(tmp_path).faults[0]


def test_a_table_that_is_away_is_damage(tmp_path: Path) -> None:
    """A file taken away is named."""
    write_sealed(tmp_path, lot_430())
    (tmp_path / DAY.isoformat() / "holds.parquet").unlink()

    assert "holds.parquet" in verify(tmp_path).faults[0]


def test_a_whole_rewritten_day_does_not_fit_its_seal(tmp_path: Path) -> None:
    """Whoever writes all tables and the body anew still lacks the seal."""
    write_sealed(tmp_path, closed_day([reading("S12-a", 1, "L-411")]))
    other = tmp_path / "other"
    write_day(other, closed_day([reading("S12-a", 1, "L-411", keyed=".3123")]))
    sealed = json.loads((tmp_path / DAY.isoformat() / "seal.json").read_text())
    forged = json.loads((other / DAY.isoformat() / "seal.json").read_text())
    for path in (other / DAY.isoformat()).iterdir():
        (tmp_path / DAY.isoformat() / path.name).write_bytes(path.read_bytes())
    sealed |= {"body": forged["body"], "ledger": forged["ledger"]}
    (tmp_path / DAY.isoformat() / "seal.json").write_text(json.dumps(sealed))

    assert verify(tmp_path, [DAY]).faults == ("2026-03-16: the seal belongs to another ledger.",)


def test_a_day_that_is_not_sealed_says_so(tmp_path: Path) -> None:
    """Good and sealed are two things."""
    write_day(tmp_path, closed_day([reading("S12-a", 1, "L-411")]))

    found = verify(tmp_path)

    assert found.is_good
    assert found.notes == ("2026-03-16: not sealed yet; what stands there may still change.",)
