"""Books on disk: one folder a day, written whole or not at all, and never touched once sealed.

Owns the names of files and folders below PLANT/ledger, the lock, and what is done with folders found there.
At every moment a reader finds one whole book of a day: the new one, or the one before (decision 0042).
Must not know what a row means.
"""

import fcntl
import json
import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from consolidator.errors import LedgerDamaged, LedgerMissing, LedgerNotWritten, LedgerSealed, NewerLedger
from consolidator.ledger.books import Book
from consolidator.ledger.check_ledger import FORMAT, PAGE_TABLES
from consolidator.ledger.merkle import HASH_BYTES
from kiosk.ports import sync_folder

SEALED: Final = "sealed"
NOT_SEALED: Final = "not sealed"
SEAL_FILE: Final = "seal.json"
SET_ASIDE: Final = "set-aside"
_WRITING: Final = ".writing-"
_NEW: Final = ".new-"
_OLD: Final = ".old-"


@dataclass(frozen=True)
class BookFolder:
    """One book as it lies on disk; tables are read when they are asked for."""

    path: Path
    day: date
    supplement: int
    seal_file: Mapping[str, Any]

    @property
    def is_sealed(self) -> bool:
        """True once the book is fixed for good."""
        return bool(self.seal_file["state"] == SEALED)

    @property
    def body(self) -> Mapping[str, Any]:
        """What is fingerprinted and sealed."""
        told: Mapping[str, Any] = self.seal_file["body"]
        return told

    @property
    def front_sheet(self) -> dict[str, Any]:
        """The front sheet as written."""
        return read_json(self.path / "front-sheet.json")

    @property
    def exceptions(self) -> pa.Table:
        """Exceptions, as `consolidator.close.closed.Closed` asks for them."""
        return self.table("exceptions")

    @property
    def holds(self) -> pa.Table:
        """Holds, as `consolidator.close.closed.Closed` asks for them."""
        return self.table("holds")

    def table(self, name: str) -> pa.Table:
        """Return one table of the book; text columns as written.

        Raises:
            LedgerDamaged: the file is away or cannot be read.
        """
        path = self.path / f"{name}.parquet"
        try:
            return pq.read_table(path, memory_map=False)
        except (OSError, pa.ArrowException) as error:
            raise _damaged(path, str(error)) from error

    def leaves(self) -> pa.Table:
        """Return the leaf hash of every row as written beside the tables: table, page and leaf, in ledger order.

        Raises:
            LedgerDamaged: the file is away or cannot be read.
        """
        return self.table("leaves")


@contextmanager
def locked(ledger: Path, *, shared: bool = False) -> Iterator[None]:
    """Hold the ledger's lock: one writer alone, or any number of readers together; it falls when a program dies.

    Readers of a ledger on read-only media go without.
    """
    try:
        ledger.mkdir(parents=True, exist_ok=True)
        file = os.open(ledger / ".lock", os.O_RDWR | os.O_CREAT, 0o644)
    except OSError:
        if not shared:
            raise
        yield
        return
    try:
        fcntl.flock(file, fcntl.LOCK_SH if shared else fcntl.LOCK_EX)
        yield
    finally:
        os.close(file)


def open_book(ledger: Path, day: date, supplement: int = 0) -> BookFolder:
    """Return the book of a day, or one of its supplements.

    Raises:
        LedgerMissing: there is none.
        LedgerDamaged: the folder is there and holds no whole book.
        NewerLedger: a newer version of the program made it.
    """
    path = _standing(*_place(ledger, day, supplement))
    if path is None:
        what = f"supplement {supplement} of {day}" if supplement else f"{day}"
        raise LedgerMissing(
            f"Ledger of {what} not opened.",
            why="No such book stands in the ledger.",
            next_step=f"Close the day first: consolidator close PLANT --day {day}.",
        )
    return BookFolder(path, day, supplement, _read_seal(path))


def standing_book(ledger: Path, day: date) -> BookFolder | None:
    """Return the day's book after mending; none when there is none, or only a folder that holds no whole book.

    The caller holds the lock alone.
    """
    parent, name = _place(ledger, day, 0)
    _mend(parent, name)
    return open_book(ledger, day) if (parent / name / SEAL_FILE).exists() else None


def supplements_of(ledger: Path, day: date) -> list[BookFolder]:
    """Return the supplements of a day, in order."""
    found: list[BookFolder] = []
    while _standing(*_place(ledger, day, len(found) + 1)) is not None:
        found.append(open_book(ledger, day, len(found) + 1))
    return found


def days_in(ledger: Path) -> list[date]:
    """Return the days that have a folder in the ledger, in order."""
    names = [path.name.removeprefix(_NEW).removeprefix(_OLD) for path in ledger.iterdir()] if ledger.exists() else []
    return sorted({date.fromisoformat(name) for name in names if _is_day(name)})


def write_book(ledger: Path, book: Book) -> tuple[BookFolder, str]:
    """Write a book whole or not at all, in place of an earlier unsealed one; return it, and a note or ''.

    The caller holds the lock. If the power goes, the book before still stands.

    Raises:
        LedgerSealed: this book is sealed; it stays as it is.
        NewerLedger: a newer version of the program made what stands there; it stays as it is.
        LedgerDamaged: what stands there has a seal file that cannot be read; it stays as it is.
        LedgerNotWritten: the disk refused; what stood there still stands.
    """
    parent, name = _place(ledger, book.heading.day, book.heading.supplement)
    try:
        _mend(parent, name)
        note = _make_room(ledger, parent / name)
        writing = parent / f"{_WRITING}{name}"
        writing.mkdir(parents=True)
        _write_files(writing, book)
        writing.rename(parent / f"{_NEW}{name}")
        sync_folder(parent)
        _put_in_place(parent, name)
    except OSError as error:
        raise LedgerNotWritten(
            f"Ledger of {book.heading.day} not written in {parent}.",
            why=f"The disk refused: {error.strerror or error}.",
            next_step="Make room or mend the disk, then close the day again; what stood there still stands.",
        ) from error
    return open_book(ledger, book.heading.day, book.heading.supplement), note


def mended(ledger: Path, day: date, supplement: int = 0) -> BookFolder:
    """Open a book after finishing or undoing what a killed writer left; the caller holds the lock alone."""
    parent, name = _place(ledger, day, supplement)
    _mend(parent, name)
    return open_book(ledger, day, supplement)


def read_json(path: Path) -> dict[str, Any]:
    """Return the object in a JSON file of the ledger.

    Raises:
        LedgerDamaged: the file is away, or holds no JSON object.
    """
    try:
        told = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError) as error:
        raise _damaged(path, str(error)) from error
    if not isinstance(told, dict):
        raise _damaged(path, "it holds no JSON object")
    return told


def pretty(value: Any) -> bytes:
    """Return JSON for people to read, the same bytes for the same value."""
    return (json.dumps(value, ensure_ascii=False, indent=1, sort_keys=True) + "\n").encode()


def _write_files(folder: Path, book: Book) -> None:
    for name, table in book.tables.items():
        pq.write_table(table, folder / f"{name}.parquet", compression="zstd")
    pq.write_table(leaves_table(book), folder / "leaves.parquet", compression="zstd", use_dictionary=["table"])
    for path in folder.iterdir():
        sync_folder(path)
    _write_synced(folder / "lists.json", book.lists_json)
    _write_synced(folder / "front-sheet.json", pretty(book.front_sheet))
    seal = {"format": FORMAT, "state": NOT_SEALED, "body": book.body, "ledger": book.ledger}
    _write_synced(folder / SEAL_FILE, pretty(seal))
    sync_folder(folder)


def leaves_table(book: Book) -> pa.Table:
    """Return the leaf hashes of a book's rows with the table and page each belongs to."""
    whole = []
    for name, table in book.tables.items():
        count = table.num_rows
        pages = pa.array([""] * count, pa.string())
        if name in PAGE_TABLES:
            pages = pc.binary_join_element_wise(table["kiosk"].cast(pa.string()), table["page"].cast(pa.string()), "/")
        packed = pa.py_buffer(book.leaves[name])
        leaves = pa.FixedSizeBinaryArray.from_buffers(pa.binary(HASH_BYTES), count, [None, packed])
        named = pa.DictionaryArray.from_arrays(pa.array(np.zeros(count, np.int8)), pa.array([name]))
        whole.append(pa.table({"table": named, "page": pages, "leaf": leaves}))
    return pa.concat_tables(whole).unify_dictionaries()


def _make_room(ledger: Path, path: Path) -> str:
    """Look at what stands where a book is to go; refuse, or set a folder that is no book aside."""
    if not path.exists():
        return ""
    if not (path / SEAL_FILE).exists():
        aside = ledger / SET_ASIDE
        aside.mkdir(exist_ok=True)
        count = sum(1 for other in aside.iterdir() if other.name.startswith(path.name))
        path.rename(aside / f"{path.name}-{count + 1}")
        sync_folder(ledger)
        return f"The folder {path.name} held no whole book; it lies in {SET_ASIDE}/{path.name}-{count + 1} as it was."
    if _read_seal(path)["state"] == SEALED:
        raise LedgerSealed(
            f"Ledger of {path.name} not written.",
            why="It is sealed, and a sealed book is never changed.",
            next_step="Nothing is lost: pages that came late go into a supplement at the next close of day.",
        )
    return ""


def _put_in_place(parent: Path, name: str) -> None:
    if (parent / name).exists():
        (parent / name).rename(parent / f"{_OLD}{name}")
    (parent / f"{_NEW}{name}").rename(parent / name)
    sync_folder(parent)
    shutil.rmtree(parent / f"{_OLD}{name}", ignore_errors=True)


def _mend(parent: Path, name: str) -> None:
    """Finish or undo what a killed writer of this book began."""
    new, old, here = parent / f"{_NEW}{name}", parent / f"{_OLD}{name}", parent / name
    if not here.exists() and (new.exists() or old.exists()):
        (new if new.exists() else old).rename(here)
        sync_folder(parent)
    # Where a book stands, it may have been sealed since: what a killed writer left beside it was never acknowledged.
    for left in (new, old, parent / f"{_WRITING}{name}"):
        shutil.rmtree(left, ignore_errors=True)


def _standing(parent: Path, name: str) -> Path | None:
    for path in (parent / name, parent / f"{_NEW}{name}", parent / f"{_OLD}{name}"):
        if path.exists():
            return path
    return None


def _place(ledger: Path, day: date, supplement: int) -> tuple[Path, str]:
    name = day.isoformat()
    return (ledger / name, f"supplement-{supplement}") if supplement else (ledger, name)


def _read_seal(path: Path) -> dict[str, Any]:
    told = read_json(path / SEAL_FILE)
    version = told.get("format")
    if isinstance(version, int) and version > FORMAT:
        raise NewerLedger(
            f"Ledger {path.name} not opened: it has ledger format {version}.",
            why=f"This program knows ledger formats up to {FORMAT}.",
            next_step="Update this program; the ledger is kept as it is.",
        )
    if version != FORMAT or told.get("state") not in (SEALED, NOT_SEALED) or not isinstance(told.get("body"), dict):
        raise _damaged(path / SEAL_FILE, "it is no seal file of a ledger")
    return told


def _is_day(name: str) -> bool:
    try:
        return date.fromisoformat(name).isoformat() == name
    except ValueError:
        return False


def _write_synced(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _damaged(path: Path, why: str) -> LedgerDamaged:
    return LedgerDamaged(
        f"{path.parent.name}/{path.name} of the ledger not read.",
        why=f"The file is away or damaged: {why}.",
        next_step="Change nothing there; fetch the folder from a copy, or close the day again if it was never sealed.",
    )
