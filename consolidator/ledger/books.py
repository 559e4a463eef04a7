"""One book of the ledger: the tables of a day or of a supplement, and the body that is fingerprinted and sealed.

Pure: tables in, body out. Must not know where a book is kept, and must not judge anything.
What goes into which fingerprint stands in docs/reference/ledger-on-disk.md and decision 0040.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any, Final

import numpy as np
import pyarrow as pa

from consolidator.close import columns
from consolidator.ledger import merkle
from consolidator.ledger.check_ledger import FORMAT, PAGE_TABLES, fingerprint, leaf_hash, lot_of_row

COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "readings": columns.READING_COLUMNS,
    "acts": columns.ACT_COLUMNS,
    "exceptions": columns.EXCEPTION_COLUMNS,
    "touched": columns.TOUCHED_COLUMNS,
    "holds": columns.HOLD_COLUMNS,
    "kiosks": columns.KIOSK_COLUMNS,
    "lots": (*columns.LOT_COLUMNS, "fingerprint"),
    "lines": columns.LINE_COLUMNS,
}
"""The tables of a book and their columns, in their fixed order."""


@dataclass(frozen=True)
class Heading:
    """What stands over a book: whose it is, for which day, and from which moment and lists it was made."""

    plant: str
    day: date
    supplement: int
    """0 for the day itself, 1 and up for its supplements."""
    hours: int
    """23, 24 or 25."""
    closed_at: str
    """The moment of closing, plant local time with its offset."""
    lists_version: int


@dataclass(frozen=True)
class Book:
    """One book, ready to be written: nothing in it depends on the machine, the libraries or the order of arrival."""

    heading: Heading
    tables: Mapping[str, pa.Table]
    leaves: Mapping[str, bytes]
    """Leaf hashes of each table, packed 32 bytes a row."""
    front_sheet: Mapping[str, Any]
    lists_json: bytes
    body: Mapping[str, Any]
    ledger: str
    """The ledger fingerprint: SHA-256 of the body's canonical bytes."""


def make_book(
    heading: Heading,
    tables: Mapping[str, pa.Table],
    *,
    front_sheet: Mapping[str, Any],
    totals: Mapping[str, int],
    lists_json: bytes,
    chunk_rows: int,
) -> Book:
    """Return the book of a day: its tables with the combined fingerprint of each lot, and its body.

    Raises:
        TypeError: a column is not text; that is a bug of whoever made the tables.
    """
    whole = {name: tables[name].select(list(COLUMNS[name])) for name in COLUMNS if name != "lots"}
    whole["lots"] = with_fingerprints(tables["lots"], whole, chunk_rows)
    leaves = {name: merkle.leaf_hashes(whole[name], chunk_rows=chunk_rows) for name in COLUMNS}
    sheet = {**front_sheet, "lots": whole["lots"].select(["lot", "pages", "fingerprint"]).to_pylist()}
    body = {
        "format": FORMAT,
        "plant": heading.plant,
        "day": heading.day.isoformat(),
        "supplement": heading.supplement,
        "hours": heading.hours,
        "closed_at": heading.closed_at,
        "lists": {"version": heading.lists_version, "fingerprint": hashlib.sha256(lists_json).hexdigest()},
        "tables": _roots(whole, leaves),
        "kiosks": kiosk_runs(whole, leaves),
        "totals": dict(totals),
        "front_sheet": fingerprint(sheet),
    }
    return Book(heading, whole, leaves, sheet, lists_json, body, fingerprint(body))


def _roots(tables: Mapping[str, pa.Table], leaves: Mapping[str, bytes]) -> dict[str, Any]:
    filler = filler_leaf(tables)
    told: dict[str, Any] = {}
    for name, names in COLUMNS.items():
        packed = leaves[name] if name in (*PAGE_TABLES, "lots") else filler + leaves[name]
        told[name] = {"columns": list(names), "rows": tables[name].num_rows, "root": merkle.root(packed).hex()}
    return told


def filler_leaf(tables: Mapping[str, pa.Table]) -> bytes:
    """Return the leaf that stands before the rows of tables without pages, so that no row can be guessed from a root.

    Every page carries random filler, so nobody without the pages can know their fingerprints (decision 0041).
    """
    whole = hashlib.sha256()
    for name in PAGE_TABLES:
        for chunk in tables[name].column("fingerprint").cast(pa.string()).chunks:
            whole.update("".join(chunk.to_pylist()).encode("ascii"))
    return leaf_hash(["filler", whole.hexdigest()])


def kiosk_runs(tables: Mapping[str, pa.Table], leaves: Mapping[str, bytes]) -> dict[str, Any]:
    """Return, for each kiosk with pages, how many, their unbroken runs of numbers, and the root in page order."""
    names, codes = _coded([_texts(tables[name].column("kiosk")) for name in PAGE_TABLES])
    numbers = np.concatenate([_texts(tables[name].column("page")).cast(pa.int64()).to_numpy() for name in PAGE_TABLES])
    packed = b"".join(leaves[name] for name in PAGE_TABLES)
    # Two different pages may bear one number (X34); the first bytes of their leaves put them in order.
    first_bytes = np.frombuffer(packed, dtype=">u8").reshape(-1, 4)[:, 0]
    order = np.lexsort((first_bytes, numbers, codes))
    borders = np.searchsorted(codes[order], np.arange(len(names) + 1))
    told: dict[str, Any] = {}
    for name, (start, end) in zip(names, pairwise(borders), strict=True):
        mine = order[start:end]
        told[name] = {
            "pages": int(end - start),
            "runs": runs_of(np.unique(numbers[mine]).tolist()),
            "root": merkle.root(merkle.picked(packed, mine)).hex(),
        }
    return told


def _texts(column: pa.ChunkedArray) -> pa.ChunkedArray:
    return column.cast(pa.string())


def _coded(columns: list[pa.ChunkedArray]) -> tuple[list[str], Any]:
    """Return the distinct texts of the columns in sorted order, and for each cell which one it holds."""
    whole = pa.chunked_array([chunk for column in columns for chunk in column.chunks], pa.string())
    coded = whole.combine_chunks().dictionary_encode()
    array = coded.combine_chunks() if isinstance(coded, pa.ChunkedArray) else coded
    texts = np.array(array.dictionary.to_pylist(), dtype=object)
    order = np.argsort(texts)
    rank = np.empty(len(texts), dtype=np.int64)
    rank[order] = np.arange(len(texts))
    return texts[order].tolist(), rank[array.indices.to_numpy()]


def runs_of(numbers: list[int]) -> list[list[int]]:
    """Return sorted page numbers as runs, first and last of each."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return runs


def with_fingerprints(lots: pa.Table, tables: Mapping[str, pa.Table], chunk_rows: int) -> pa.Table:
    """Return the table of lots with the number of pages and the combined fingerprint of each, sorted by lot.

    A lot's combined fingerprint is the root over one-cell rows, one for each of its page fingerprints:
    readings in ledger order, then acts. Rows of pages that name a second lot belong to neither (decision 0041).
    """
    names, codes = _coded([_owners(tables[name]) for name in PAGE_TABLES])
    prints = [tables[name].select(["fingerprint"]) for name in PAGE_TABLES]
    packed = b"".join(merkle.leaf_hashes(table, chunk_rows=chunk_rows) for table in prints)
    order = np.argsort(codes, kind="stable")
    borders = np.searchsorted(codes[order], np.arange(len(names) + 1))
    rows = {row["lot"]: dict(row) for row in lots.to_pylist()}
    for name, (start, end) in zip(names, pairwise(borders), strict=True):
        if name:
            row = rows.setdefault(name, {})
            row["pages"] = str(end - start)
            row["fingerprint"] = merkle.root(merkle.picked(packed, order[start:end])).hex()
    for lot, row in rows.items():
        row["lot"] = lot
        if "fingerprint" not in row:
            row |= {"pages": "0", "fingerprint": merkle.EMPTY_ROOT.hex()}
    ordered = [rows[lot] for lot in sorted(rows)]
    return pa.table({name: pa.array([row.get(name, "") for row in ordered], pa.string()) for name in COLUMNS["lots"]})


def _owners(table: pa.Table) -> pa.ChunkedArray:
    owners = _texts(table.column("lot"))
    if "content" not in table.column_names:
        return owners
    cells = zip(owners.to_pylist(), table.column("content").to_pylist(), strict=True)
    return pa.chunked_array([[lot_of_row(lot, content) for lot, content in cells]], pa.string())
