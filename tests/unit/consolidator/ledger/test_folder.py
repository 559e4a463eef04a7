"""A book is written whole or not at all, and what stands in the ledger is never lost."""

import hashlib
import json
from dataclasses import replace
from pathlib import Path

import pyarrow as pa
import pytest

from consolidator.errors import LedgerDamaged, LedgerMissing, LedgerNotWritten, LedgerSealed, NewerLedger
from consolidator.ledger import folder
from consolidator.ledger.books import Book
from tests.unit.consolidator.ledger.small_days import DAY, book_of, closed_day, reading


def _book(readings: int = 3) -> Book:
    return book_of(closed_day([reading("S12-a", n, "L-411") for n in range(1, readings + 1)]))


def _contents(path: Path) -> dict[str, str]:
    return {
        str(file.relative_to(path)): hashlib.sha256(file.read_bytes()).hexdigest()
        for file in sorted(path.rglob("*"))
        if file.is_file()
    }


def _mark(path: Path, **told: object) -> None:
    seal_file = json.loads((path / "seal.json").read_text())
    (path / "seal.json").write_text(json.dumps(seal_file | told))


def test_a_book_is_read_back_as_it_was_written(tmp_path: Path) -> None:
    """Every table, leaf hash and the body come back the same."""
    book = _book()

    written, note = folder.write_book(tmp_path, book)

    assert note == ""
    assert written.body == book.body
    assert not written.is_sealed
    assert {name: written.table(name).to_pylist() for name in book.tables} == {
        name: table.to_pylist() for name, table in book.tables.items()
    }
    assert b"".join(written.leaves()["leaf"].to_pylist()) == b"".join(book.leaves[name] for name in book.tables)


def test_a_book_holds_exactly_the_files_the_reference_names(tmp_path: Path) -> None:
    """Nothing lies in a book that docs/reference/ledger-on-disk.md does not name."""
    written, _ = folder.write_book(tmp_path, _book())
    told = (Path(__file__).parents[4] / "docs/reference/ledger-on-disk.md").read_text(encoding="utf-8")

    names = {path.name for path in written.path.iterdir()}

    assert {name for name in names if f"`{name}`" not in told} == set()


def test_a_second_pass_takes_the_place_of_the_first(tmp_path: Path) -> None:
    """A later pass over an unsealed day replaces the earlier one and leaves nothing beside it."""
    folder.write_book(tmp_path, _book(3))

    written, note = folder.write_book(tmp_path, _book(4))

    assert (written.table("readings").num_rows, note) == (4, "")
    assert [path.name for path in tmp_path.iterdir()] == [DAY.isoformat()]


def test_a_sealed_book_is_refused_and_stays_byte_for_byte(tmp_path: Path) -> None:
    """A sealed day is never written again."""
    written, _ = folder.write_book(tmp_path, _book(3))
    _mark(written.path, state="sealed")
    before = _contents(written.path)

    with pytest.raises(LedgerSealed, match="supplement"):
        folder.write_book(tmp_path, _book(4))

    assert _contents(tmp_path / DAY.isoformat()) == before


def test_a_folder_without_a_seal_file_is_set_aside_whole(tmp_path: Path) -> None:
    """A half-written or foreign folder is kept as it is, beside, and named."""
    half = tmp_path / DAY.isoformat()
    half.mkdir()
    (half / "readings.parquet").write_bytes(b"half of something")

    _, note = folder.write_book(tmp_path, _book())
    written, second = folder.write_book(tmp_path, _book())

    assert "set-aside/2026-03-16-1" in note
    assert second == ""
    assert (tmp_path / "set-aside/2026-03-16-1/readings.parquet").read_bytes() == b"half of something"
    assert written.table("readings").num_rows == 3


def test_a_seal_file_that_cannot_be_read_stops_the_pass_and_stays(tmp_path: Path) -> None:
    """A damaged seal file may be that of a sealed day, so nothing is written over it."""
    written, _ = folder.write_book(tmp_path, _book())
    (written.path / "seal.json").write_bytes(b"{ half")
    before = _contents(written.path)

    with pytest.raises(LedgerDamaged, match=r"seal\.json"):
        folder.write_book(tmp_path, _book(4))

    assert _contents(written.path) == before


def test_a_book_of_a_newer_version_is_refused_by_name(tmp_path: Path) -> None:
    """A newer ledger is neither read nor written over."""
    written, _ = folder.write_book(tmp_path, _book())
    _mark(written.path, format=2)
    before = _contents(written.path)

    with pytest.raises(NewerLedger, match="ledger format 2"):
        folder.write_book(tmp_path, _book(4))
    with pytest.raises(NewerLedger, match="Update this program"):
        folder.open_book(tmp_path, DAY)

    assert _contents(written.path) == before


@pytest.mark.parametrize("left", [".writing-", ".new-"])
def test_what_a_killed_writer_left_beside_a_book_is_no_book(tmp_path: Path, left: str) -> None:
    """Where a book stands, the leavings of a killed pass are ignored and then cleared."""
    written, _ = folder.write_book(tmp_path, _book(3))
    other = tmp_path / "elsewhere"
    folder.write_book(other, _book(5))[0].path.rename(tmp_path / f"{left}{DAY}")

    assert folder.open_book(tmp_path, DAY).table("readings").num_rows == 3
    folder.write_book(tmp_path, _book(4))

    assert written.table("readings").num_rows == 4
    assert not (tmp_path / f"{left}{DAY}").exists()


def test_a_kill_between_the_two_renames_leaves_a_whole_book_for_readers(tmp_path: Path) -> None:
    """With the old book moved and the new not yet in place, a reader finds the new one, whole."""
    written, _ = folder.write_book(tmp_path, _book(3))
    written.path.rename(tmp_path / f".old-{DAY}")
    folder.write_book(tmp_path / "elsewhere", _book(5))[0].path.rename(tmp_path / f".new-{DAY}")

    assert folder.open_book(tmp_path, DAY).table("readings").num_rows == 5
    assert folder.days_in(tmp_path) == [DAY]
    assert folder.mended(tmp_path, DAY).path == tmp_path / DAY.isoformat()
    assert not (tmp_path / f".old-{DAY}").exists()


def test_a_day_that_was_never_closed_is_named_with_the_command_that_closes_it(tmp_path: Path) -> None:
    """The message says what to do."""
    with pytest.raises(LedgerMissing, match="consolidator close PLANT --day 2026-03-16"):
        folder.open_book(tmp_path, DAY)


def test_a_full_disk_leaves_the_book_before(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk refuses, the earlier pass still stands."""
    folder.write_book(tmp_path, _book(3))
    monkeypatch.setattr(folder, "_write_synced", _full)

    with pytest.raises(LedgerNotWritten, match="No space left"):
        folder.write_book(tmp_path, _book(4))

    assert folder.open_book(tmp_path, DAY).table("readings").num_rows == 3


def _full(path: Path, content: bytes) -> None:
    raise OSError(28, "No space left on device")


def test_a_damaged_table_is_named(tmp_path: Path) -> None:
    """A table that cannot be read is named, not guessed at."""
    written, _ = folder.write_book(tmp_path, _book())
    (written.path / "readings.parquet").write_bytes(b"PAR1 no more")

    with pytest.raises(LedgerDamaged, match=r"readings\.parquet"):
        written.table("readings")


def test_supplements_lie_below_their_day(tmp_path: Path) -> None:
    """A supplement is a book of its own in the day's folder, found by its number."""
    folder.write_book(tmp_path, _book(3))
    book = _book(1)
    late = replace(book, heading=replace(book.heading, supplement=1))

    written, _ = folder.write_book(tmp_path, late)

    assert written.path == tmp_path / DAY.isoformat() / "supplement-1"
    assert [found.supplement for found in folder.supplements_of(tmp_path, DAY)] == [1]


def test_the_fingerprint_is_the_same_however_the_columns_are_stored() -> None:
    """Dictionary-coded columns, chunks and chunk sizes never reach the ledger fingerprint."""
    closed = closed_day([reading("S12-a", n, f"L-{n % 3}") for n in range(1, 50)])
    coded = closed.readings
    for at, name in enumerate(coded.column_names):
        coded = coded.set_column(at, name, coded[name].dictionary_encode())
    pieces = pa.concat_tables([coded.slice(0, 7), coded.slice(7)])

    again = book_of(replace(closed, readings=pieces))

    assert again.ledger == book_of(closed).ledger


def test_readers_of_a_ledger_that_cannot_be_written_go_without_the_lock(tmp_path: Path) -> None:
    """A copy on read-only media can be read; whoever writes is told by the system."""
    (tmp_path / "file").write_bytes(b"")

    with folder.locked(tmp_path / "file" / "ledger", shared=True):
        pass
    with pytest.raises(OSError, match="Not a directory"), folder.locked(tmp_path / "file" / "ledger"):
        pass


@pytest.mark.parametrize("content", [b"[]", b'{"format": 1, "state": "half"}'])
def test_a_seal_file_that_holds_something_else_is_damage(tmp_path: Path, content: bytes) -> None:
    """JSON alone makes no seal."""
    written, _ = folder.write_book(tmp_path, _book())
    (written.path / "seal.json").write_bytes(content)

    with pytest.raises(LedgerDamaged, match=r"seal\.json"):
        folder.open_book(tmp_path, DAY)
