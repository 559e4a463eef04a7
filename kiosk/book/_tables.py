"""One segment of a book as a TinyDB table whose insert costs the same for the first page and the last.

Owns how TinyDB sees pages. Must not know about stores or recovery; where a page goes is the writer's business.
"""

import io
from collections.abc import Callable, Mapping
from typing import Any, Final

import orjson
import rfc8785
from tinydb import TinyDB
from tinydb.storages import Storage
from tinydb.table import Document, Table

PAGES: Final = "pages"
"""Name of the one table of a segment; a document's id is its page number."""

Writer = Callable[[int, bytes], None]
"""Takes a page number and its canonical bytes, and returns only once they are kept."""


class SegmentStorage(Storage):
    """The pages of one segment, as their canonical bytes; a page is only ever added.

    What `read` hands out is made anew from the bytes each time, since TinyDB assigns into it.
    """

    def __init__(self, pages: dict[int, bytes], writer: Writer | None = None) -> None:
        self._pages = pages
        self._writer = writer

    def read(self) -> dict[str, dict[str, Any]]:
        """Return the segment's pages as TinyDB wants them."""
        return {PAGES: {str(number): orjson.loads(content) for number, content in list(self._pages.items())}}

    def write(self, data: dict[str, dict[str, Any]]) -> None:
        """Refuse: TinyDB writes whole tables, and a page that is kept is never changed or removed.

        Raises:
            io.UnsupportedOperation: always.
        """
        raise io.UnsupportedOperation("a page of a book is never changed or removed; keep a new page")

    def append(self, number: int, document: Mapping[str, Any]) -> None:
        """Add one page; it is in the table only once the writer has kept it."""
        if self._writer is None:
            raise io.UnsupportedOperation("a closed segment of a book takes no more pages")
        content = rfc8785.dumps(dict(document))
        self._writer(number, content)
        self._pages[number] = content


class PageTable(Table):
    """A TinyDB table that hands its storage the new page alone, instead of the whole table again.

    Nothing found is remembered: a page handed out twice must not carry what its first reader did to it.
    """

    def __init__(self, storage: Storage, name: str, cache_size: int = 0, persist_empty: bool = False) -> None:
        super().__init__(storage, name, cache_size, persist_empty)

    def insert(self, document: Mapping[str, Any]) -> int:
        """Add one page, its number as document id, and return the number."""
        number = int(document["number"])
        storage = self._storage
        assert isinstance(storage, SegmentStorage)
        storage.append(number, document)
        self.clear_cache()
        return number


class SegmentBase(TinyDB):
    """TinyDB over one segment."""

    table_class = PageTable
    default_table_name = PAGES


def open_segment(pages: dict[int, bytes], writer: Writer | None = None) -> SegmentBase:
    """Return a TinyDB over `pages` (number to canonical bytes); without a writer it is closed for good."""
    return SegmentBase(pages, writer, storage=SegmentStorage)


def found(segment: SegmentBase, query: Any) -> list[Document]:
    """Return the pages of a segment that fit a TinyDB query, in page order."""
    return segment.table(PAGES).search(query)
