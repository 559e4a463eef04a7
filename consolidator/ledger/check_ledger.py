"""Check an exported ledger: that nothing was added, removed, changed or moved since it was sealed.

Needs Python 3.10 or newer and nothing else, no network, and nobody's program; it reads, and changes nothing.
The same steps for a sheet of paper stand in check-a-ledger.md beside it.

    python3 check_ledger.py FOLDER        exit 0: good; 3: damage found; 2: this is no exported ledger

What it can not show: that a person really measured the piece, or that a figure was read rightly.
"""

import csv
import hashlib
import json
import sys
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

FORMAT = 1
GOOD, MISUSE, DAMAGE = 0, 2, 3
PAGE_TABLES = ("readings", "acts")
LOT_FIELDS = ("lot", "from_lot", "to_lot")
MOST_SHOWN = 50
WORDS = {"readings": "reading", "acts": "act"}

csv.field_size_limit(16 * 1024 * 1024)


class Line(NamedTuple):
    """One line of leaves.csv: a fingerprint, and where its row stands; without a table the page was left out."""

    table: str
    place: int
    page: str
    leaf: bytes


class Table(NamedTuple):
    """One table as it lies before us: a leaf hash for each row, and what is needed to name a row."""

    columns: Sequence[str]
    leaves: Sequence[bytes]
    pages: Sequence[str]
    lots: Sequence[str]
    fingerprints: Sequence[str]


class Book(NamedTuple):
    """One sealed day, or one supplement of it, or the part of it that was exported."""

    name: str
    seal_file: dict[str, Any]
    tables: dict[str, Table]
    lines: list[Line]
    lot_rows: list[dict[str, str]]
    front_sheet: dict[str, Any] | None
    only_lot: str | None


def canonical(value: Any) -> bytes:
    """Return the RFC 8785 bytes of a value made of texts, whole numbers, lists and objects with plain names."""
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode("utf-8")


def fingerprint(value: Any) -> str:
    """Return SHA-256 of a value's canonical bytes, in hexadecimal digits."""
    return hashlib.sha256(canonical(value)).hexdigest()


def leaf_hash(cells: Iterable[str]) -> bytes:
    """Return the leaf hash of one row: SHA-256 of a zero byte and the row's canonical bytes (RFC 9162, 2.1.1)."""
    return hashlib.sha256(b"\x00" + canonical(list(cells))).digest()


def root_hash(leaves: Sequence[bytes]) -> str:
    """Return the root over leaf hashes (RFC 9162, 2.1.1), in hexadecimal digits."""
    level = list(leaves)
    if not level:
        return hashlib.sha256().hexdigest()
    while len(level) > 1:
        odd = level[-1:] if len(level) % 2 else []
        level = [hashlib.sha256(b"\x01" + a + b).digest() for a, b in zip(level[::2], level[1::2], strict=False)] + odd
    return level[0].hex()


def lot_of_row(lot: str, content: str = "") -> str:
    """Return the lot a row belongs to; none when the act names a second lot, for then it is nobody's alone."""
    named = {lot}
    waiting: list[Any] = [json.loads(content)] if lot and content else []
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            named.update(text for key, text in value.items() if key in LOT_FIELDS and isinstance(text, str))
            waiting += value.values()
        elif isinstance(value, list):
            waiting += value
    return lot if len(named) == 1 else ""


def filler_leaf(tables: dict[str, Table]) -> bytes:
    """Return the first leaf of the tables that hold no pages: it keeps anybody from guessing a row from a root."""
    whole = hashlib.sha256()
    for name in PAGE_TABLES:
        for text in tables[name].fingerprints:
            whole.update(text.encode("ascii"))
    return leaf_hash(["filler", whole.hexdigest()])


def compare_rows(name: str, table: Table, lines: Sequence[Line]) -> list[str]:
    """Return what differs between the rows of a table and its lines in leaves.csv, each named."""
    listed = sorted((line for line in lines if line.table == name), key=lambda line: line.place)
    places: dict[bytes, list[int]] = {}
    for at in range(len(listed) - 1, -1, -1):
        places.setdefault(listed[at].leaf, []).append(at)
    faults: list[str] = []
    strange: list[int] = []
    expected = 0
    for at, leaf in enumerate(table.leaves):
        free = places.get(leaf)
        if free is None:
            strange.append(at)
        elif not free or free[-1] < expected:
            faults.append(f"{_row(name, at + 1, table.pages[at])} stands out of order or twice.")
        else:
            place = free.pop()
            faults += _between(name, table, listed, (expected, place), strange)
            expected, strange = place + 1, []
    return faults + _between(name, table, listed, (expected, len(listed)), strange)


def _between(
    name: str, table: Table, listed: Sequence[Line], gap: tuple[int, int], strange: Sequence[int]
) -> list[str]:
    start, end = gap
    changed = min(end - start, len(strange))
    faults = [
        f"{_row(name, listed[start + k].place, listed[start + k].page)} was altered: it does not fit its fingerprint."
        for k in range(changed)
    ]
    faults += [
        f"{_row(name, at + 1, table.pages[at])} was added: no fingerprint stands for it." for at in strange[changed:]
    ]
    if end - start > changed:
        faults.append(_missing(name, listed, start + changed, end))
    return faults


def _missing(name: str, listed: Sequence[Line], start: int, end: int) -> str:
    before = _row(name, listed[start - 1].place, listed[start - 1].page) if start else ""
    after = _row(name, listed[end].place, listed[end].page) if end < len(listed) else ""
    word = "page" if name in PAGE_TABLES else "line"
    count = f"one {word} is" if end - start == 1 else f"{end - start} {word}s are"
    where = f"between {before} and {after}" if before and after else f"after {before}" if before else f"before {after}"
    lost = ", ".join(line.page or f"line {line.place}" for line in listed[start : min(end, start + 5)])
    return f"{count} missing {where or 'from the whole table'}: {lost}{' …' if end - start > 5 else ''}."


def _row(name: str, place: int, page: str) -> str:
    word = WORDS.get(name)
    return f"{word} {place} (page {page})" if word else f"line {place} of {name}"


def check_runs(body: dict[str, Any], lines: Sequence[Line]) -> list[str]:
    """Return where the unbroken run of a kiosk's pages is broken, or its fingerprints were changed."""
    by_kiosk: dict[str, list[tuple[int, bytes]]] = {}
    for line in lines:
        if line.page:
            series, number = line.page.rsplit("/", 1)
            by_kiosk.setdefault(series, []).append((int(number), line.leaf))
    unknown = sorted(by_kiosk.keys() - body["kiosks"].keys())
    faults = [f"pages of {series} stand here, and the seal knows of none." for series in unknown]
    for series, told in body["kiosks"].items():
        found = sorted(by_kiosk.get(series, []))
        numbers = Counter(number for number, _ in found)
        sealed = Counter(n for first, last in told["runs"] for n in range(first, last + 1))
        gone = sorted(sealed.keys() - numbers.keys())
        if gone:
            faults.append(f"the run of {series} is broken {_around(gone[0], numbers)}.")
        elif numbers.keys() - sealed.keys() or len(found) != told["pages"]:
            faults.append(f"the run of {series} holds {len(found)} pages; {told['pages']} were sealed.")
        elif root_hash([leaf for _, leaf in found]) != told["root"]:
            faults.append(f"a fingerprint of {series} was altered, pages {found[0][0]} to {found[-1][0]}.")
    return faults


def _around(gone: int, numbers: Counter[int]) -> str:
    before = max((n for n in numbers if n < gone), default=None)
    after = min((n for n in numbers if n > gone), default=None)
    if before is None or after is None:
        return f"at page {gone}"
    return f"between page {before} and page {after}"


def check_tables(book: Book) -> list[str]:
    """Return which tables do not come to the root that was sealed."""
    faults: list[str] = []
    for name, told in book.seal_file["body"]["tables"].items():
        if name == "lots":
            lines = sorted((line for line in book.lines if line.table == name), key=lambda line: line.place)
            leaves: Sequence[bytes] = [line.leaf for line in lines]
        elif book.only_lot is not None:
            continue
        elif name not in book.tables:
            faults.append(f"the table {name} is missing.")
            continue
        else:
            leaves = book.tables[name].leaves
            if name not in PAGE_TABLES:
                leaves = [filler_leaf(book.tables), *leaves]
        if root_hash(leaves) != told["root"]:
            faults.append(f"the table {name} does not come to its sealed root.")
    return faults


def check_lots(book: Book) -> list[str]:
    """Return which lots do not hold the number of pages, or the combined fingerprint, that was sealed for them."""
    pages: dict[str, list[bytes]] = {}
    for name in PAGE_TABLES:
        table = book.tables[name]
        for lot, text in zip(table.lots, table.fingerprints, strict=True):
            if lot:
                pages.setdefault(lot, []).append(leaf_hash([text]))
    known = {row["lot"] for row in book.lot_rows}
    listed = {line.leaf for line in book.lines if line.table == "lots"}
    faults = [f"pages of lot {lot} stand here without its line in lots.csv." for lot in pages if lot not in known]
    for row in book.lot_rows:
        if leaf_hash(row.values()) not in listed:
            faults.append(f"the line of lot {row['lot']} in lots.csv was altered.")
            continue
        found = pages.get(row["lot"], [])
        if str(len(found)) != row["pages"]:
            faults.append(f"lot {row['lot']} holds {len(found)} pages; {row['pages']} were sealed.")
        elif root_hash(found) != row["fingerprint"]:
            faults.append(f"the pages of lot {row['lot']} do not come to its sealed combined fingerprint.")
    return faults


def check_book(book: Book) -> list[str]:
    """Return everything that is wrong with one book; an empty list when it is whole and unaltered."""
    seal_file = book.seal_file
    faults: list[str] = []
    for name, table in sorted(book.tables.items()):
        if list(table.columns) != seal_file["body"]["tables"][name]["columns"]:
            faults.append(f"the columns of {name} were altered or moved.")
        faults += compare_rows(name, table, book.lines)
    faults += check_runs(seal_file["body"], book.lines)
    # The roots say the same thing less exactly; they speak only where no row could be named.
    if not faults:
        faults += check_tables(book) + check_lots(book)
    if book.front_sheet is not None and fingerprint(book.front_sheet) != seal_file["body"]["front_sheet"]:
        faults.append("the front sheet was altered.")
    if fingerprint(seal_file["body"]) != seal_file["ledger"]:
        faults.append("the seal's body was altered: it does not come to the ledger fingerprint.")
    if seal_file["state"] == "sealed" and seal_file["seal"]["ledger"] != seal_file["ledger"]:
        faults.append("the seal belongs to another ledger.")
    return [f"{book.name}: {fault}" for fault in faults]


def check_chain(seals: Sequence[dict[str, Any]]) -> tuple[list[str], list[str]]:
    """Return (what is wrong, what could not be checked) with a run of seals, oldest first."""
    faults: list[str] = []
    notes: list[str] = []
    before: dict[str, Any] | None = None
    for told in seals:
        seal, name = told["seal"], seal_name(told["seal"])
        if fingerprint(seal) != told["fingerprint"]:
            faults.append(f"{name}: the seal was altered.")
        if before is not None and seal["before"] != fingerprint(before["seal"]):
            faults.append(f"The chain of seals is broken between {seal_name(before['seal'])} and {name}.")
        if before is not None and told["key"] != before["key"]:
            notes.append(f"{name}: sealed with another key than {seal_name(before['seal'])}; ask the plant why.")
        verdict = signature_verdict(told)
        if verdict == "bad":
            faults.append(f"{name}: the signature does not fit the seal.")
        elif verdict == "not checked" and not notes:
            notes.append("Signatures were not checked here: see 'the signature' in check-a-ledger.md.")
        before = told
    return faults, notes


def seal_name(seal: dict[str, Any]) -> str:
    """Return the day a seal stands for, and its supplement."""
    return f"{seal['day']} supplement {seal['supplement']}" if seal["supplement"] else str(seal["day"])


def signature_verdict(told: dict[str, Any]) -> str:
    """Return good, bad, or not checked when the package `cryptography` is not installed (Ed25519, RFC 8032)."""
    try:
        from cryptography.exceptions import InvalidSignature
        from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey
    except ImportError:
        return "not checked"
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(told["key"]))
        key.verify(bytes.fromhex(told["signature"]), canonical(told["seal"]))
    except (InvalidSignature, ValueError):
        return "bad"
    return "good"


def read_table(path: Path) -> tuple[Table, list[dict[str, str]]]:
    """Return one CSV table (RFC 4180) as leaf hashes, and its rows by column name when it is the table of lots."""
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))
    names, cells = rows[0], rows[1:]
    at = {name: place for place, name in enumerate(names)}

    def column(name: str) -> list[str]:
        return [row[at[name]] for row in cells] if name in at else [""] * len(cells)

    pages = [f"{kiosk}/{number}" for kiosk, number in zip(column("kiosk"), column("page"), strict=True)]
    if path.stem not in PAGE_TABLES:
        pages = [""] * len(cells)
    lots = [lot_of_row(lot, content) for lot, content in zip(column("lot"), column("content"), strict=True)]
    table = Table(names, [leaf_hash(row) for row in cells], pages, lots, column("fingerprint"))
    return table, [dict(zip(names, row, strict=True)) for row in cells] if path.stem == "lots" else []


def read_book(folder: Path, name: str, only_lot: str | None) -> Book:
    """Return one book of an export."""
    seal_file = json.loads((folder / "seal.json").read_text(encoding="utf-8"))
    if seal_file["format"] > FORMAT:
        raise ValueError(f"{name} has ledger format {seal_file['format']}; this check knows formats up to {FORMAT}")
    tables: dict[str, Table] = {}
    lot_rows: list[dict[str, str]] = []
    for table_name in seal_file["body"]["tables"]:
        path = folder / f"{table_name}.csv"
        if path.exists():
            table, rows = read_table(path)
            lot_rows += rows
            if table_name != "lots" or only_lot is None:
                tables[table_name] = table
    with (folder / "leaves.csv").open(newline="", encoding="utf-8") as file:
        lines = [
            Line(t, int(place or 0), page, bytes.fromhex(leaf)) for t, place, page, leaf in list(csv.reader(file))[1:]
        ]
    front = folder / "front-sheet.json"
    sheet = json.loads(front.read_text(encoding="utf-8")) if front.exists() else None
    return Book(name, seal_file, tables, lines, lot_rows, sheet, only_lot)


def check_export(folder: Path) -> tuple[list[str], list[str]]:
    """Return (what is wrong, what else there is to say) with a whole export."""
    scope = json.loads((folder / "scope.json").read_text(encoding="utf-8"))
    if scope["format"] > FORMAT:
        raise ValueError(f"the export has format {scope['format']}; this check knows formats up to {FORMAT}")
    seals = json.loads((folder / "seals.json").read_text(encoding="utf-8"))
    faults, notes = check_chain(seals)
    sealed_as = {(told["seal"]["day"], told["seal"]["supplement"]): told["fingerprint"] for told in seals}
    for name in scope["books"]:
        if not (folder / name / "seal.json").exists():
            faults.append(f"{name}: this book is missing.")
            continue
        book = read_book(folder / name, name, scope["lot"])
        faults += check_book(book)
        expected = sealed_as.get((book.seal_file["body"]["day"], book.seal_file["body"]["supplement"]))
        if book.seal_file["state"] == "sealed":
            if fingerprint(book.seal_file["seal"]) != expected:
                faults.append(f"{name}: its seal is not in the chain of seals.")
        elif expected is not None:
            faults.append(f"{name}: it was sealed, and this copy says that it was not.")
        else:
            notes.append(f"{name}: not sealed yet; what stands there may still change.")
        rows = ", ".join(f"{len(table.leaves)} {key}" for key, table in sorted(book.tables.items()))
        notes.append(f"{name}: {rows}; {sum(1 for line in book.lines if line.page)} pages in the runs.")
    for key in sorted({told["key"] for told in seals}):
        notes.append(f"Sealed with the key {key}: compare it with the one in the plant's bound book.")
    return faults, notes


def main(arguments: Sequence[str]) -> int:
    """Check the folder named, say what was found, and return the exit code."""
    if len(arguments) != 1 or not (Path(arguments[0]) / "scope.json").exists():
        sys.stderr.write("Name the folder of an exported ledger: python3 check_ledger.py FOLDER\n")
        return MISUSE
    try:
        faults, notes = check_export(Path(arguments[0]))
    except (ValueError, KeyError, IndexError, OSError) as error:
        faults, notes = [f"a file cannot be read: {error!r}."], []
    for note in notes:
        sys.stdout.write(f"  {note}\n")
    for fault in faults[:MOST_SHOWN]:
        sys.stdout.write(f"DAMAGE  {fault}\n")
    if len(faults) > MOST_SHOWN:
        sys.stdout.write(f"DAMAGE  and {len(faults) - MOST_SHOWN} more.\n")
    sys.stdout.write("Damage found.\n" if faults else "Good: nothing was added, removed, changed or moved.\n")
    return DAMAGE if faults else GOOD


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
