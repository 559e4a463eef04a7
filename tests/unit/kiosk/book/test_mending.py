"""Mending that itself meets trouble: disks that fail meanwhile, holes in what is to be taken over, odd files."""

import errno
import shutil
from datetime import timedelta
from pathlib import Path

import pytest
import rfc8785

from kiosk.book import Book, examine, find_identity
from kiosk.book._journal import read_lines, write_line
from kiosk.book._records import Identity, read_identity
from kiosk.errors import BookDamaged, StoreNotRenewed
from kiosk.pages import fingerprint
from kiosk.pages.station import PowerOn
from kiosk.times import write_time
from tests.unit.kiosk.book.small_books import Kiosk, files_of, remark

FIRST = "pages/0000000001.journal"
LAST = "pages/0000000006.journal"


def _states(book: Book) -> list[str]:
    return [store.state for store in book.stores]


def _identity(kiosk: Kiosk) -> Identity:
    identity = find_identity(kiosk.stores[0])
    assert identity
    return identity


def _tear(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-40])


def test_odd_files_in_a_store_are_damage_and_stay(tmp_path: Path) -> None:
    """What this program did not write it neither reads nor removes."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(12)
    for number, (name, content) in enumerate(
        [("pages/notes.txt", b"x"), ("pages/0000000007.journal", b""), (LAST, b""), ("counter.journal", b"")]
    ):
        copy = tmp_path / f"copy-{number}"
        shutil.copytree(kiosk.stores[0], copy)
        (copy / name).write_bytes(content or write_line(b'{"something":"else"}'))

        assert name in {fault.file for fault in examine(copy, _identity(kiosk)).damage}


def test_an_empty_segment_in_the_middle_is_damage(tmp_path: Path) -> None:
    """Pages that ought to be there are missed, whatever the file's length."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(12)
    (kiosk.stores[0] / LAST).write_bytes(b"")

    assert LAST in {fault.file for fault in examine(kiosk.stores[0], _identity(kiosk)).damage}


def test_an_identity_that_says_impossible_things_is_damage() -> None:
    """A true fingerprint over nonsense is still nonsense."""
    body: dict[str, str | int] = {"format": 1, "plant": "PL-1", "series": "", "station": "S12", "segment_pages": 0}

    assert read_identity(rfc8785.dumps({**body, "check": fingerprint(rfc8785.dumps(body))})) is None
    assert read_identity(b'{"check":"x","length":1e400}') is None


def test_a_disk_that_fails_while_torn_bytes_are_set_aside_leaves_them_where_they_are(tmp_path: Path) -> None:
    """The other store goes on, and the torn end is set aside at a later power-on."""
    kiosk = Kiosk(tmp_path)
    pages = kiosk.filled(7)
    _tear(kiosk.stores[0] / LAST)
    before = files_of(kiosk.stores[0])
    kiosk.disk.break_folder(kiosk.stores[0], errno.EROFS)

    with kiosk.open() as book:
        assert _states(book) == ["read-only", "good"]
        assert [page for page, _ in book.pages()][:8] == pages
    assert files_of(kiosk.stores[0]) == before

    kiosk.disk.mend_folder(kiosk.stores[0])
    with kiosk.open() as book:
        assert _states(book) == ["good", "good"]
    assert list((kiosk.stores[0] / "set-aside").glob("*.torn"))


def test_a_disk_that_fills_up_while_catching_up_leaves_the_store_out_of_use(tmp_path: Path) -> None:
    """A store half brought up is never written behind the gap; later it is brought up whole."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(3)
    kiosk.stores[1].rename(tmp_path / "in a pocket")
    with kiosk.open() as book:
        for count in range(12):
            book.keep(remark(count), person=None)
    (tmp_path / "in a pocket").rename(kiosk.stores[1])
    kiosk.disk.break_folder(kiosk.stores[1] / "pages" / "0000000011.journal.new", errno.ENOSPC)

    with kiosk.open() as book:
        assert _states(book) == ["good", "full"]

    kiosk.disk.mend_folder(kiosk.stores[1] / "pages" / "0000000011.journal.new")
    with kiosk.open() as book:
        assert _states(book) == ["good", "good"]
    assert files_of(kiosk.stores[0]) == files_of(kiosk.stores[1])


def _card_behind_and_built_in_damaged(kiosk: Kiosk, tmp_path: Path) -> int:
    """Pages 6 to 10 lie in the built-in store alone, and its page 2 is damaged; return the last number."""
    kiosk.filled(3)
    kiosk.stores[1].rename(tmp_path / "in a pocket")
    with kiosk.open() as book:
        for count in range(5):
            book.keep(remark(count), person=None)
        last = book.last_number
    (tmp_path / "in a pocket").rename(kiosk.stores[1])
    return last


def test_a_hole_in_what_a_damaged_store_holds_ends_the_taking_over_there(tmp_path: Path) -> None:
    """Pages behind the hole cannot be proved to follow; they stay as evidence and their numbers stay given out."""
    kiosk = Kiosk(tmp_path)
    last = _card_behind_and_built_in_damaged(kiosk, tmp_path)
    path = kiosk.stores[0] / LAST
    content = bytearray(path.read_bytes())
    hole = read_lines(bytes(content))[0][2]
    content[hole.offset + 100] ^= 1
    path.write_bytes(bytes(content))

    with kiosk.open() as book:
        assert _states(book) == ["damaged", "good"]
        assert [page.number for page, _ in book.pages()][:8] == [1, 2, 3, 4, 5, 6, 7, last + 1]
        act = book.page(last + 1).act
        assert isinstance(act, PowerOn)
        assert f"Pages 8 to {last} were given out" in act.recovered


def test_a_leader_that_cannot_be_written_takes_nothing_over_and_loses_nothing(tmp_path: Path) -> None:
    """What only the damaged store holds stays there, and its numbers are not given out again."""
    kiosk = Kiosk(tmp_path)
    last = _card_behind_and_built_in_damaged(kiosk, tmp_path)
    content = bytearray((kiosk.stores[0] / FIRST).read_bytes())
    content[100] ^= 1
    (kiosk.stores[0] / FIRST).write_bytes(bytes(content))
    evidence = files_of(kiosk.stores[0])
    kiosk.disk.break_folder(kiosk.stores[1], errno.ENOSPC)

    with kiosk.open() as book:
        assert _states(book) == ["damaged", "full"]
        assert book.last_number == last
    assert files_of(kiosk.stores[0]) == evidence

    kiosk.disk.mend_folder(kiosk.stores[1])
    with kiosk.open() as book:
        assert [page.number for page, _ in book.pages()][:last] == list(range(1, last + 1))


def test_a_foreign_page_in_the_chain_of_the_other_store_is_not_taken(tmp_path: Path) -> None:
    """A page that does not follow from its neighbours is no page of this book, however whole its line is."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(7)
    shutil.copytree(kiosk.stores[1], tmp_path / "copy")
    for store in kiosk.stores:
        lines, _ = read_lines((store / LAST).read_bytes())
        (store / LAST).write_bytes(b"".join(write_line(line.content) for line in lines[:-1]))
    kiosk.open().close()
    shutil.rmtree(kiosk.stores[1])
    (tmp_path / "copy").rename(kiosk.stores[1])
    path = kiosk.stores[1] / LAST
    lines, _ = read_lines(path.read_bytes())
    altered = lines[-1].content.replace(b"remark 6", b"remark 9")
    path.write_bytes(b"".join(write_line(content) for content in [*(line.content for line in lines[:-1]), altered]))

    with kiosk.open() as book:
        assert _states(book) == ["good", "damaged"]
        assert "Its page 8 does not fit" in book.notices[0].why


def test_forgetting_with_a_card_away_is_finished_when_it_comes_back(tmp_path: Path) -> None:
    """A store that fails while forgetting is told; nothing is half forgotten for good."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for count in range(12):
            book.keep(remark(count), person=None)
        book.receipt(1, fingerprint(next(content for _, content in book.pages(1))), write_time(kiosk.clock.now()))
        kiosk.clock.wait(60)
        book.receipt(13, book.head, write_time(kiosk.clock.now()))
        kiosk.disk.break_folder(kiosk.stores[1], errno.EIO)

        assert book.forget_old(kiosk.clock.now() + timedelta(days=30)) == 10
        assert _states(book) == ["good", "away"]

    kiosk.disk.mend_folder(kiosk.stores[1])
    with kiosk.open() as book:
        assert (book.first_number, _states(book)) == (11, ["good", "good"])
        assert len(book.receipts) == 2


def test_a_receipt_no_store_takes_marks_nothing(tmp_path: Path) -> None:
    """What the consolidator holds is asked again at the next contact."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for store in kiosk.stores:
            kiosk.disk.break_folder(store)

        with pytest.raises(Exception, match="the receipt for page 1"):
            book.receipt(1, book.head, write_time(kiosk.clock.now()))

        assert book.not_carried() == (1, 1)


def test_a_receipt_for_a_lost_page_is_known_by_the_page_after_it(tmp_path: Path) -> None:
    """The page itself is gone, yet the book still knows its fingerprint."""
    kiosk = Kiosk(tmp_path)
    pages = kiosk.filled(7)
    for store in kiosk.stores:
        _tear(store / LAST)

    with kiosk.open() as book:
        book.receipt(
            8,
            fingerprint(rfc8785.dumps(pages[7].model_dump(mode="json", exclude_none=True))),
            "2026-03-11T02:00:00.000-04:00",
        )

        assert book.not_carried() == (9, 9)


def test_a_segment_gone_from_both_stores_while_open_is_told(tmp_path: Path) -> None:
    """Files another hand removed are missed at the first reading."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for count in range(7):
            book.keep(remark(count), person=None)
        for store in kiosk.stores:
            (store / FIRST).unlink()

        with pytest.raises(BookDamaged, match="cannot be read"):
            book.page(1)


def test_a_card_that_fails_while_it_is_made_anew_is_told(tmp_path: Path) -> None:
    """Half a card is no card, and making it again is possible."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(7)
    shutil.rmtree(kiosk.stores[1])
    with kiosk.open() as book:
        for part in ("counter.journal.new", "pages"):
            kiosk.disk.break_folder(kiosk.stores[1] / part, errno.ENOSPC)
            with pytest.raises(StoreNotRenewed, match="No space left"):
                book.renew_store("removable")
            kiosk.disk.mend_folder(kiosk.stores[1] / part)
            assert _states(book)[0] == "good"

        book.renew_store("removable")
        assert _states(book) == ["good", "good"]


def test_a_store_folder_that_is_a_file_is_a_store_away(tmp_path: Path) -> None:
    """Whatever lies in its place, the other store is used."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(3)
    shutil.rmtree(kiosk.stores[1])
    kiosk.stores[1].write_bytes(b"")

    with kiosk.open() as book:
        assert _states(book) == ["good", "away"]
        assert book.room().free_bytes > 0
