"""Checking the ledger where it lies: the same check that travels with every export, over the files of the plant.

Reads only. Says what is wrong by row, page and kiosk, and what could not be checked.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pyarrow as pa

from consolidator.ledger import check_ledger, merkle
from consolidator.ledger.books import COLUMNS
from consolidator.ledger.folder import BookFolder, days_in, open_book, supplements_of
from consolidator.ledger.seal import chain_of, name_of, sealed_books
from consolidator.settings import Settings
from kiosk.errors import TellingError


@dataclass(frozen=True)
class Verified:
    """What a check found: what is wrong, what could not be checked, and how much was looked at."""

    faults: tuple[str, ...]
    notes: tuple[str, ...]
    books: int
    pages: int

    @property
    def is_good(self) -> bool:
        """True when nothing was found altered, missing or added."""
        return not self.faults


def verify(ledger: Path, days: Iterable[date] | None = None, *, settings: Settings | None = None) -> Verified:
    """Check the books of `days`, or of all days, and the chain of all seals; the caller holds the shared lock."""
    settings = settings or Settings()
    faults: list[str] = []
    notes: list[str] = []
    books = pages = 0
    for day in days_in(ledger) if days is None else days:
        try:
            for book in (open_book(ledger, day), *supplements_of(ledger, day)):
                faults += verify_book(book, settings)
                books, pages = books + 1, pages + int(book.body["totals"]["pages"])
                if not book.is_sealed:
                    notes.append(f"{name_of(book)}: not sealed yet; what stands there may still change.")
        except TellingError as error:
            faults.append(f"{day}: {error.what} {error.why}")
    if not faults:
        wrong, told = check_ledger.check_chain(chain_of(sealed_books(ledger)))
        faults, notes = faults + wrong, notes + told
    return Verified(tuple(faults), tuple(notes), books, pages)


def verify_book(book: BookFolder, settings: Settings) -> list[str]:
    """Return everything that is wrong with one book on disk; an empty list when it is whole and unaltered.

    Raises:
        LedgerDamaged: a file of it is away or cannot be read.
    """
    tables = {name: book.table(name) for name in COLUMNS}
    found = check_ledger.Book(
        name=name_of(book),
        seal_file=dict(book.seal_file),
        tables={name: _table(name, table, settings) for name, table in tables.items()},
        lines=_lines(book.leaves()),
        lot_rows=tables["lots"].to_pylist(),
        front_sheet=book.front_sheet,
        only_lot=None,
    )
    faults = check_ledger.check_book(found)
    lists = hashlib.sha256((book.path / "lists.json").read_bytes()).hexdigest()
    if lists != book.body["lists"]["fingerprint"]:
        faults.append(f"{found.name}: lists.json was altered.")
    return faults


def _table(name: str, table: pa.Table, settings: Settings) -> check_ledger.Table:
    packed = merkle.leaf_hashes(table, chunk_rows=settings.ledger_chunk_rows)
    count = table.num_rows
    pages = lots = prints = [""] * count
    if name in check_ledger.PAGE_TABLES:
        cells = zip(_texts(table, "kiosk"), _texts(table, "page"), strict=True)
        pages = [f"{kiosk}/{number}" for kiosk, number in cells]
        contents = _texts(table, "content") if "content" in table.column_names else [""] * count
        owners = zip(_texts(table, "lot"), contents, strict=True)
        lots = [check_ledger.lot_of_row(lot, content) for lot, content in owners]
        prints = _texts(table, "fingerprint")
    return check_ledger.Table(table.column_names, _unpacked(packed), pages, lots, prints)


def _lines(leaves: pa.Table) -> list[check_ledger.Line]:
    cells = zip(_texts(leaves, "table"), _texts(leaves, "page"), leaves["leaf"].to_pylist(), strict=True)
    place: dict[str, int] = {}
    lines: list[check_ledger.Line] = []
    for table, page, leaf in cells:
        place[table] = place.get(table, 0) + 1
        lines.append(check_ledger.Line(table, place[table], page, leaf))
    return lines


def _texts(table: pa.Table, name: str) -> list[str]:
    texts: list[str] = table[name].to_pylist()
    return texts


def _unpacked(packed: bytes) -> list[bytes]:
    return [packed[at : at + merkle.HASH_BYTES] for at in range(0, len(packed), merkle.HASH_BYTES)]
