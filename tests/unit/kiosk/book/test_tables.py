"""Pages as TinyDB sees them."""

import io

import pytest
from tinydb import where

from kiosk.book._tables import PAGES, found, open_segment


def _document(number: int) -> dict[str, object]:
    return {"number": number, "act": {"kind": "remark", "words": f"remark {number}"}}


def test_an_insert_hands_over_the_new_page_alone() -> None:
    """Keeping the hundredth page writes one page, not a hundred."""
    handed: list[tuple[int, bytes]] = []
    table = open_segment({}, lambda number, content: handed.append((number, content))).table(PAGES)

    for number in range(1, 101):
        table.insert(_document(number))

    assert [number for number, _ in handed] == list(range(1, 101))
    assert handed[99][1] == b'{"act":{"kind":"remark","words":"remark 100"},"number":100}'


def test_a_page_the_writer_refused_is_not_in_the_table() -> None:
    """The table never shows what is not on the disk."""

    def refuse(number: int, content: bytes) -> None:
        raise OSError(f"{number}")

    segment = open_segment({}, refuse)
    with pytest.raises(OSError, match="1"):
        segment.table(PAGES).insert(_document(1))

    assert found(segment, where("number") == 1) == []


def test_no_way_of_tinydb_changes_or_removes_a_page() -> None:
    """Update, remove, truncate and drop are refused, and the page is as it was."""
    segment = open_segment({1: b'{"number":1}'}, lambda number, content: None)
    table = segment.table(PAGES)

    for change in (
        lambda: table.update({"number": 2}),
        lambda: table.remove(where("number") == 1),
        table.truncate,
        segment.drop_tables,
    ):
        with pytest.raises(io.UnsupportedOperation, match="never changed or removed"):
            change()

    assert [dict(page) for page in table] == [{"number": 1}]


def test_a_closed_segment_takes_no_more_pages() -> None:
    """A full segment is closed for good."""
    with pytest.raises(io.UnsupportedOperation, match="closed segment"):
        open_segment({}).table(PAGES).insert(_document(1))
