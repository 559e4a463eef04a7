"""The segments of a book on the shelf: the open one as a TinyDB table, the closed ones read when asked for.

Owns finding pages again. Must not number or chain them.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any, NamedTuple

from tinydb.table import Document

from kiosk.book._journal import pages_among, read_lines
from kiosk.book._opening import Opened
from kiosk.book._records import Identity
from kiosk.book._store import Store
from kiosk.book._tables import SegmentBase, Writer, found, open_segment
from kiosk.errors import BookDamaged
from kiosk.said import say


class _Extent(NamedTuple):
    first: int
    last: int
    pages: int


class Shelf:
    """All segments of one book; the open one is in memory, a closed one is read and checked at each use."""

    def __init__(self, opened: Opened, stores: list[Store], writer: Writer) -> None:
        self._identity: Identity = opened.identity
        self._stores = stores
        self._writer = writer
        self._closed = {n: _Extent(read.first, read.last, read.pages) for n, read in opened.seen.segments.items()}
        self._open_number = max(self._closed, default=0)
        self._open_pages: dict[int, bytes] = self._read(self._open_number) if self._closed else {}
        self._closed.pop(self._open_number, None)
        self._open: SegmentBase = open_segment(self._open_pages, writer)

    @property
    def first_number(self) -> int:
        """The first page still here; 0 when there is none."""
        first = min((extent.first for extent in self._closed.values()), default=0)
        return first or min(self._open_pages, default=0)

    def insert(self, number: int, document: Mapping[str, Any]) -> None:
        """Put one page, already numbered and chained, into the open segment; a full segment is closed for good."""
        segment = self._identity.segment_of(number)
        if segment != self._open_number:
            pages = self._open_pages
            if pages:
                self._closed[self._open_number] = _Extent(min(pages), max(pages), len(pages))
            self._open_number, self._open_pages = segment, {}
            self._open = open_segment(self._open_pages, self._writer)
        self._open.table("pages").insert(document)

    def pages(self, first: int, last: int) -> Iterator[tuple[int, bytes]]:
        """Yield number and canonical bytes of every page from `first` to `last` that is here, in order."""
        for segment in self._segments_between(first, last):
            pages = self._in(segment)
            for number in sorted(pages):
                if first <= number <= last:
                    yield number, pages[number]

    def search(self, query: Any, first: int, last: int) -> Iterator[Document]:
        """Yield every page from `first` to `last` that fits a TinyDB query, in order."""
        for segment in self._segments_between(first, last):
            base = self._open if segment == self._open_number else open_segment(self._in(segment))
            yield from (page for page in found(base, query) if first <= page.doc_id <= last)

    def forget(self, through: int, remove: Callable[[int], None]) -> int:
        """Forget every closed segment that ends at or before page `through`; return how many pages went."""
        going = [n for n in sorted(self._closed) if self._closed[n].last <= through]
        for segment in going:
            remove(segment)
        return sum(self._closed.pop(segment).pages for segment in going)

    def _segments_between(self, first: int, last: int) -> list[int]:
        here = [n for n, extent in list(self._closed.items()) if extent.first <= last and extent.last >= first]
        return sorted([*here, self._open_number])

    def _in(self, segment: int) -> dict[int, bytes]:
        return dict(self._open_pages) if segment == self._open_number else self._read(segment)

    def _read(self, segment: int) -> dict[int, bytes]:
        words: list[str] = []
        for store in sorted(self._stores, key=lambda store: not store.is_in_use):
            if store.state in ("away", "damaged"):
                continue
            path = self._identity.segment_path(store.folder, segment)
            try:
                lines, _ = read_lines(path.read_bytes())
            except OSError as error:
                store.stop("away", f"{path.name} cannot be read ({error.strerror})")
                words.append(f"{store.name} store: {store.words}")
                continue
            pages = pages_among(lines, self._identity, segment)
            if len(pages) >= self._closed[segment].pages:
                return {number: line.content for number, line in pages.items()}
            store.stop("damaged", f"{path.name} no longer holds what was written")
            words.append(f"{store.name} store: {store.words}")
        raise BookDamaged(
            say("Pages of segment {n} of book {series} not read.", n=segment + 1, series=self._identity.series),
            why=say("{words}.", words="; ".join(words)) if words else say("No store can be read."),
            next_step=say("Keep both stores as they are and call the quality manager; other pages can still be read."),
        )
