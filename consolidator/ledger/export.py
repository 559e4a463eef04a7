"""Exports: days, a span of days, or one lot, whole in themselves and checkable without this program.

A lot's export holds that lot's pages and no other lot's name: for every other page only its leaf hash.
So the run of every kiosk is seen to be unbroken, and the lot's count and combined fingerprint to be the sealed ones.
Written to a folder beside and renamed, so it is there whole or not at all. Must not change the ledger.
"""

import shutil
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from importlib import resources
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

from consolidator.errors import ExportRefused
from consolidator.ledger.books import COLUMNS
from consolidator.ledger.check_ledger import FORMAT, PAGE_TABLES, canonical, lot_of_row
from consolidator.ledger.dictionary import DICTIONARY_COLUMNS, dictionary_rows
from consolidator.ledger.folder import BookFolder, days_in, open_book, pretty, supplements_of
from consolidator.ledger.formats import write_csv, write_parquet, write_table_csv, write_workbook
from consolidator.ledger.front_sheet import CAUTION, DECISION_RULE, NOT_PROVED
from consolidator.ledger.seal import chain_of, name_of, sealed_books
from consolidator.settings import Settings
from kiosk.ports import sync_folder

LEAF_COLUMNS: Final = ("table", "place", "page", "leaf")
SCRIPT: Final = "check_ledger.py"
RECIPE: Final = "check-a-ledger.md"


class Format(StrEnum):
    """How the tables are written beside the CSV, which is always there because the check reads it."""

    CSV = "csv"
    XLSX = "xlsx"
    PARQUET = "parquet"


@dataclass(frozen=True)
class Wanted:
    """What to export: some days, and of them all lots or one."""

    days: tuple[date, ...]
    lot: str | None
    formats: tuple[Format, ...] = (Format.CSV,)


def export(ledger: Path, wanted: Wanted, target: Path, *, settings: Settings | None = None) -> list[str]:
    """Write an export to the new folder `target` and return the names of the books in it.

    The caller holds the shared lock of the ledger.

    Raises:
        ExportRefused: the folder is there already, or the ledger holds nothing of what is wanted.
        LedgerDamaged: a book cannot be read.
    """
    settings = settings or Settings()
    if target.exists():
        raise _refused(target, "There is something of that name already.", "Name a folder that does not exist yet.")
    if len(wanted.days) > settings.export_days:
        raise _refused(
            target, f"It would hold {len(wanted.days)} days; {settings.export_days} at most.", "Ask for fewer."
        )
    books = [book for day in wanted.days for book in (open_book(ledger, day), *supplements_of(ledger, day))]
    if wanted.lot is not None:
        books = [book for book in books if wanted.lot in book.table("lots")["lot"].to_pylist()]
    if not books:
        what = f"pages of lot {wanted.lot}" if wanted.lot else "books"
        raise _refused(target, f"The ledger holds no {what} on those days.", "Look up the days and the lot again.")
    writing = target.with_name(f".{target.name}.writing")
    shutil.rmtree(writing, ignore_errors=True)
    try:
        writing.mkdir(parents=True)
        for book in books:
            _write_book(writing / _folder_name(book), book, wanted, settings)
        _write_around(writing, sealed_books(ledger), books, wanted.lot)
        for path in (*writing.rglob("*"), writing):
            sync_folder(path)
        writing.rename(target)
    except OSError as error:
        shutil.rmtree(writing, ignore_errors=True)
        raise _refused(
            target, f"The disk refused: {error.strerror or error}.", "Make room or name another place."
        ) from error
    return [_folder_name(book) for book in books]


def days_between(ledger: Path, first: date, last: date) -> tuple[date, ...]:
    """Return the days of the ledger from `first` to `last`, both included."""
    return tuple(day for day in days_in(ledger) if first <= day <= last)


def _write_book(folder: Path, book: BookFolder, wanted: Wanted, settings: Settings) -> None:
    folder.mkdir()
    (folder / "seal.json").write_bytes(pretty(dict(book.seal_file)))
    names = COLUMNS if wanted.lot is None else (*PAGE_TABLES, "lots")
    whole = {name: book.table(name) for name in names}
    picked = {name: np.flatnonzero(_is_wanted(table, wanted.lot)) for name, table in whole.items()}
    tables = {name: table.take(picked[name]) for name, table in whole.items()}
    if wanted.lot is None:
        (folder / "front-sheet.json").write_bytes(pretty(book.front_sheet))
    for name, table in tables.items():
        write_table_csv(folder / f"{name}.csv", table)
        if Format.PARQUET in wanted.formats:
            write_parquet(folder / f"{name}.parquet", table)
    if Format.XLSX in wanted.formats:
        write_workbook(folder / "ledger.xlsx", tables, settings)
    write_csv(folder / "leaves.csv", LEAF_COLUMNS, _leaf_rows(book, picked))


def _is_wanted(table: pa.Table, lot: str | None) -> npt.NDArray[np.bool_]:
    if lot is None:
        return np.ones(table.num_rows, dtype=np.bool_)
    contents = table["content"].to_pylist() if "content" in table.column_names else [""] * table.num_rows
    cells = zip(table["lot"].to_pylist(), contents, strict=True)
    return np.array([named == lot and lot_of_row(lot, content) == lot for named, content in cells], dtype=np.bool_)


def _leaf_rows(book: BookFolder, picked: Mapping[str, npt.NDArray[np.int64]]) -> Iterator[Sequence[str]]:
    """Yield the lines of leaves.csv: pages in page order, then the rows of the other tables.

    A page that was left out has neither table nor place on its line, only page and leaf. The table of lots keeps
    its places, so that its root can be checked; the other tables stand whole or not at all.
    """
    place = {(name, int(at)): place for name, rows in picked.items() for place, at in enumerate(rows, 1)}
    pages: list[tuple[str, int, bytes, str, str]] = []
    seen: Counter[str] = Counter()
    others: list[Sequence[str]] = []
    for row in book.leaves().to_pylist():
        name, page, leaf = row["table"], row["page"], row["leaf"]
        own = place.get((name, seen[name]))
        seen[name] += 1
        if page:
            series, number = page.rsplit("/", 1)
            pages.append((series, int(number), leaf, name if own else "", str(own or "")))
        elif name in picked:
            others.append((name, str(seen[name]), "", leaf.hex()))
    for series, number, leaf, name, at in sorted(pages):
        yield name, at, f"{series}/{number}", leaf.hex()
    yield from others


def _write_around(folder: Path, sealed: list[BookFolder], books: list[BookFolder], lot: str | None) -> None:
    numbers = [book.seal_file["seal"]["number"] for book in books if book.is_sealed]
    chain = chain_of(
        book for book in sealed if numbers and min(numbers) <= book.seal_file["seal"]["number"] <= max(numbers)
    )
    names = [_folder_name(book) for book in books]
    (folder / "scope.json").write_bytes(pretty({"format": FORMAT, "lot": lot, "books": names}))
    (folder / "seals.json").write_bytes(pretty(chain))
    _write_signatures(folder, chain)
    write_csv(folder / "columns.csv", DICTIONARY_COLUMNS, dictionary_rows())
    for name in (SCRIPT, RECIPE):
        (folder / name).write_bytes(resources.files("consolidator.ledger").joinpath(name).read_bytes())
    (folder / "read-me.txt").write_text(_read_me(books, lot), encoding="utf-8")


def _write_signatures(folder: Path, chain: Iterable[dict[str, Any]]) -> None:
    """Write what other programs check a signature with: the signed bytes, the signature, and the public key."""
    for told in chain:
        signatures = folder / "signatures"
        signatures.mkdir(exist_ok=True)
        name = f"seal-{told['seal']['number']}"
        (signatures / f"{name}.signed").write_bytes(canonical(told["seal"]))
        (signatures / f"{name}.sig").write_bytes(bytes.fromhex(told["signature"]))
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(told["key"]))
        pem = key.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo)
        (signatures / f"{name}.key.pem").write_bytes(pem)


def _read_me(books: list[BookFolder], lot: str | None) -> str:
    what = f"Pages of lot {lot}" if lot else "The ledger"
    lines = [
        f"{what}, {', '.join(name_of(book) for book in books)}, of plant {books[0].body['plant']}.",
        f"To check it: python3 {SCRIPT} . in this folder, or by hand as {RECIPE} says.",
        "The CSV files hold every cell as it was sealed; columns.csv says what each column means.",
        DECISION_RULE,
        NOT_PROVED,
        CAUTION,
        "This tool prepares records; only an authorised, named person certifies.",
        "Customer specification, drawing, contract and law come first; local codes and regulations apply.",
    ]
    if lot:
        lines.insert(
            2, "Pages of other lots are left out; for each stands its leaf hash in leaves.csv, and nothing else."
        )
        lines.insert(3, "It does not show that this lot has no pages on days that are not in it.")
    return "\n".join(lines) + "\n"


def _folder_name(book: BookFolder) -> str:
    return f"{book.day}-supplement-{book.supplement}" if book.supplement else str(book.day)


def _refused(target: Path, why: str, next_step: str) -> ExportRefused:
    return ExportRefused(f"No export was made at {target.name}.", why=why, next_step=next_step)
