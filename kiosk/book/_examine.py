"""Reads one store from end to end, trusting nothing and changing nothing.

Owns what counts as torn and what counts as damage. Must not write.
"""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from kiosk.book._journal import Fault, Line, Mark, could_be_torn, follow, pages_among, read_lines
from kiosk.book._records import (
    COUNTER,
    IDENTITY,
    PAGES_FOLDER,
    RECEIPTS,
    Counter,
    Identity,
    Receipt,
    latest,
    read_identity,
    read_record,
)


class StoreFault(NamedTuple):
    """Bytes of one file of a store that are not as they were written; torn ones are the end of the last write."""

    file: str
    fault: Fault
    is_torn: bool

    def __str__(self) -> str:
        begin, end, why = self.fault
        return f"{self.file}, bytes {begin} to {end}: {why}"


class SegmentRead(NamedTuple):
    """One segment as found: SHA-256 of its file, first and last page, how many, and whether it begins after a gap."""

    digest: bytes
    first: int
    last: int
    pages: int
    begins_after_gap: bool


class Examined(NamedTuple):
    """All that one store holds, sound or not."""

    folder: Path
    identity: Identity
    segments: dict[int, SegmentRead]
    last: Mark | None
    counter: Counter
    receipts: list[Receipt]
    faults: list[StoreFault]

    @property
    def damage(self) -> list[StoreFault]:
        """Faults that no power cut explains."""
        return [fault for fault in self.faults if not fault.is_torn]

    @property
    def last_number(self) -> int:
        """The last page that can be read; 0 when there is none."""
        return self.last.number if self.last else 0


def find_identity(folder: Path) -> Identity | None:
    """Return which book the store in `folder` belongs to, or none when `book.json` is damaged.

    Raises:
        OSError: there is no such file, or it cannot be read.
        NewerFormat: the store was made by a newer version of the program.
    """
    return read_identity((folder / IDENTITY).read_bytes())


def examine(folder: Path, identity: Identity) -> Examined:
    """Return what the store of book `identity` in `folder` holds.

    Raises:
        OSError: the folder cannot be read.
        NewerFormat: a page was made by a newer version of the program.
    """
    faults: list[StoreFault] = []
    counters = _records(folder / COUNTER, Counter, faults)
    receipts = _records(folder / RECEIPTS, Receipt, faults)
    counter = counters[-1] if counters else Counter(number=0, head="0" * 64, session=0)
    segments, last = _examine_segments(folder, identity, counter, faults)
    reached = latest(receipts)
    begin = segments[min(segments)] if segments else None
    if begin and not begin.begins_after_gap and begin.first - 1 > (reached.through if reached else 0):
        why = f"pages before {begin.first} are gone without a receipt"
        faults.append(StoreFault(PAGES_FOLDER, Fault(0, 0, why), is_torn=False))
    return Examined(folder, identity, segments, last, counter, receipts, faults)


def readable_pages(folder: Path) -> Iterator[bytes]:
    """Yield the bytes of every page in a store that is still whole, sound store or not, `book.json` or not.

    For two persons who load what is left of a damaged kiosk; each page is whole by its fingerprint, no run is promised.
    """
    for path in sorted((folder / PAGES_FOLDER).glob("*.journal")):
        lines, _ = read_lines(path.read_bytes())
        yield from (line.content for line in lines)


def read_segment(folder: Path, identity: Identity, segment: int) -> dict[int, Line]:
    """Return the pages of one segment that can be read; empty when the file is not there."""
    path = identity.segment_path(folder, segment)
    if not path.exists():
        return {}
    lines, _ = read_lines(path.read_bytes())
    return pages_among(lines, identity, segment)


def _examine_segments(
    folder: Path, identity: Identity, counter: Counter, faults: list[StoreFault]
) -> tuple[dict[int, SegmentRead], Mark | None]:
    found = _segment_files(folder, identity, faults)
    segments: dict[int, SegmentRead] = {}
    last: Mark | None = None
    for segment in sorted(found):
        path = found[segment]
        file_bytes = _content(path, f"{PAGES_FOLDER}/{path.name}", faults)
        lines, broken = read_lines(file_bytes)
        followed = follow(lines, identity, segment, last if segments else None)
        is_end = segment == max(found)
        for fault in broken:
            is_lone = is_end and fault.end == len(file_bytes)
            never_told = not followed.last or counter.number <= followed.last.number
            is_torn = is_lone and (never_told or could_be_torn(file_bytes, fault))
            faults.append(StoreFault(f"{PAGES_FOLDER}/{path.name}", fault, is_torn))
        faults += [StoreFault(f"{PAGES_FOLDER}/{path.name}", fault, is_torn=False) for fault in followed.faults]
        if followed.pages:
            first, end = min(followed.pages), max(followed.pages)
            digest = hashlib.sha256(file_bytes).digest()
            segments[segment] = SegmentRead(digest, first, end, len(followed.pages), followed.begins_after_gap)
        elif not is_end:
            faults.append(StoreFault(f"{PAGES_FOLDER}/{path.name}", Fault(0, 0, "no page in it"), is_torn=False))
        last = followed.last
    return segments, last


def _segment_files(folder: Path, identity: Identity, faults: list[StoreFault]) -> dict[int, Path]:
    found: dict[int, Path] = {}
    if not (folder / PAGES_FOLDER).is_dir():
        faults.append(StoreFault(PAGES_FOLDER, Fault(0, 0, "the folder is gone"), is_torn=False))
        return found
    for path in sorted((folder / PAGES_FOLDER).iterdir()):
        number = int(path.stem) if path.stem.isdecimal() else 0
        segment = identity.segment_of(number) if number else 0
        if identity.segment_path(folder, segment) == path:
            found[segment] = path
        elif not path.name.endswith(".new"):
            why = "a file that does not belong here"
            faults.append(StoreFault(f"{PAGES_FOLDER}/{path.name}", Fault(0, 0, why), is_torn=False))
    return found


def _content(path: Path, name: str, faults: list[StoreFault]) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        # Told as damage, so that what can be read of the rest still counts, above all the counter.
        faults.append(StoreFault(name, Fault(0, 0, f"it cannot be read ({error.strerror})"), is_torn=False))
        return b""


def _records(path: Path, kind: type[Any], faults: list[StoreFault]) -> list[Any]:
    file_bytes = _content(path, path.name, faults)
    lines, broken = read_lines(file_bytes)
    faults += [StoreFault(path.name, fault, could_be_torn(file_bytes, fault)) for fault in broken]
    records = []
    for line in lines:
        record = read_record(kind, line.content)
        if record is None:
            fault = Fault(line.offset, line.offset + len(line.content), "a line that says something else")
            faults.append(StoreFault(path.name, fault, is_torn=False))
        else:
            records.append(record)
    return records
