"""A book whose files were torn, damaged, mixed up or lost: what is recovered, and what is told."""

import errno
import json
import shutil
from pathlib import Path

import pytest
import rfc8785

from kiosk.book import Book, examine, find_identity, readable_pages
from kiosk.book._journal import read_lines, write_line
from kiosk.errors import BookDamaged, ForeignStore, NewerFormat, NoBookHere, NotKept, StoreNotRenewed
from kiosk.pages import Page, canonical_bytes, fingerprint
from kiosk.pages.station import PowerOn, StoreChange
from tests.unit.kiosk.book.small_books import Kiosk, chain_breaks, files_of, remark

FIRST = "pages/0000000001.journal"
LAST = "pages/0000000006.journal"


def _flip(path: Path, place: int) -> None:
    content = bytearray(path.read_bytes())
    content[place] ^= 1
    path.write_bytes(bytes(content))


def _cut(path: Path, by: int) -> bytes:
    content = path.read_bytes()
    path.write_bytes(content[:-by])
    return content[:-by]


def _all(book: Book) -> list[Page]:
    return [page for page, _ in book.pages()]


def _power_on(book: Book, number: int) -> PowerOn:
    act = book.page(number).act
    assert isinstance(act, PowerOn)
    return act


def _states(book: Book) -> list[str]:
    return [store.state for store in book.stores]


@pytest.mark.parametrize("which", [0, 1])
def test_a_torn_last_line_is_set_aside_and_the_page_comes_from_the_other_store(tmp_path: Path, which: int) -> None:
    """No byte is deleted, the note says where it lies, and both stores tell the same again."""
    kiosk = Kiosk(tmp_path)
    pages = kiosk.filled(7)
    store = kiosk.stores[which]
    left = _cut(store / LAST, 40)
    torn = left[read_lines(left)[1][0].offset :]

    with kiosk.open() as book:
        assert _all(book)[:8] == pages
        recovered = _power_on(book, 9).recovered
        assert _states(book) == ["good", "good"]
        assert "mended" in book.notices[0].what

    aside = next((store / "set-aside").glob("*.torn"))
    assert aside.read_bytes() == torn
    assert aside.stem in recovered
    assert aside.stem in json.loads(aside.with_suffix(".note.json").read_bytes())["note"]
    assert files_of(kiosk.stores[0])[LAST] == files_of(kiosk.stores[1])[LAST]


@pytest.mark.parametrize("file", [FIRST, "counter.journal", "receipts.journal", "book.json"])
def test_damage_before_the_end_stops_that_store_and_keeps_the_evidence(tmp_path: Path, file: str) -> None:
    """The other store is used, nothing in the damaged one is touched, and a page says so."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as made:
        for count in range(7):
            made.keep(remark(count), person=None)
        for page, content in list(made.pages(2, 3)):
            made.receipt(page.number, fingerprint(content), page.kiosk_time)
        pages = _all(made)
    _flip(kiosk.stores[0] / file, 100)
    evidence = files_of(kiosk.stores[0])

    with kiosk.open() as book:
        assert _states(book) == ["damaged", "good"]
        assert _all(book)[:8] == pages
        change = book.page(book.last_number).act
        assert isinstance(change, StoreChange)
        assert (change.store.name, change.store.state) == ("built-in", "damaged")
        assert file in change.words
        assert "renewed" in book.notices[0].next_step

    assert files_of(kiosk.stores[0]) == evidence


def test_both_stores_damaged_stops_and_says_what_to_do(tmp_path: Path) -> None:
    """Nothing is guessed and nothing is written; the readable pages can still be loaded by two persons."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(7)
    for store in kiosk.stores:
        _flip(store / FIRST, 100)
    evidence = [files_of(store) for store in kiosk.stores]

    with pytest.raises(BookDamaged, match="Write nothing to either store") as told:
        kiosk.open()

    assert "bytes 0 to" in told.value.why
    assert [files_of(store) for store in kiosk.stores] == evidence


def test_what_two_damaged_stores_still_hold_can_be_loaded(tmp_path: Path) -> None:
    """Damage in different places costs no page, whatever became of book.json."""
    kiosk = Kiosk(tmp_path)
    pages = kiosk.filled(7)
    _flip(kiosk.stores[0] / FIRST, 100)
    _flip(kiosk.stores[1] / LAST, 100)
    (kiosk.stores[1] / "book.json").unlink()

    found = {content for store in kiosk.stores for content in readable_pages(store)}

    assert found == {canonical_bytes(page) for page in pages}


def test_one_store_damaged_and_the_other_away_stops_too(tmp_path: Path) -> None:
    """A damaged store alone is not believed."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(7)
    _flip(kiosk.stores[0] / FIRST, 100)
    kiosk.stores[1].rename(tmp_path / "in a pocket")

    with pytest.raises(BookDamaged, match="removable: no book in its folder"):
        kiosk.open()


def test_pages_only_a_damaged_store_holds_are_taken_over_from_it(tmp_path: Path) -> None:
    """The card was out while pages were kept, then the built-in store went bad in an old place: nothing is lost."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(3)
    kiosk.stores[1].rename(tmp_path / "in a pocket")
    with kiosk.open() as book:
        for count in range(4):
            book.keep(remark(count), person=None)
        pages = _all(book)
    (tmp_path / "in a pocket").rename(kiosk.stores[1])
    _flip(kiosk.stores[0] / FIRST, 100)

    with kiosk.open() as book:
        assert _states(book) == ["damaged", "good"]
        assert _all(book)[: len(pages)] == pages
        assert "taken over from the built-in store" in _power_on(book, len(pages) + 1).recovered


def test_a_store_that_was_away_is_brought_up_to_the_other(tmp_path: Path) -> None:
    """A card put back is whole again at the next power-on, over several segments."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(3)
    kiosk.stores[1].rename(tmp_path / "in a pocket")
    with kiosk.open() as book:
        assert _states(book) == ["good", "away"]
        for count in range(12):
            book.keep(remark(count), person=None)
    (tmp_path / "in a pocket").rename(kiosk.stores[1])

    with kiosk.open() as book:
        assert _states(book) == ["good", "good"]
        assert "removable store was brought from page 4" in _power_on(book, book.last_number).recovered

    assert files_of(kiosk.stores[0]) == files_of(kiosk.stores[1])


def test_a_store_away_while_pages_were_forgotten_forgets_them_too(tmp_path: Path) -> None:
    """What was carried and forgotten does not come back with an old card."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(7)
    kiosk.stores[1].rename(tmp_path / "in a pocket")
    with kiosk.open() as book:
        book.receipt(book.last_number, book.head, "2026-03-11T02:00:00.000-04:00")
        kiosk.clock.wait(31 * 86_400)
        assert book.forget_old(kiosk.clock.now()) == 5
    (tmp_path / "in a pocket").rename(kiosk.stores[1])

    with kiosk.open() as book:
        assert (book.first_number, _states(book)) == (6, ["good", "good"])

    assert files_of(kiosk.stores[0]) == files_of(kiosk.stores[1])


def test_numbers_come_from_the_counter_when_the_last_pages_are_gone_from_both_stores(tmp_path: Path) -> None:
    """No number is given out twice: what is missing stays missing, is told, and the chain goes on over it."""
    kiosk = Kiosk(tmp_path)
    pages = kiosk.filled(7)
    for store in kiosk.stores:
        lines, _ = read_lines((store / LAST).read_bytes())
        (store / LAST).write_bytes(b"".join(write_line(line.content) for line in lines[:1]))

    with kiosk.open() as book:
        assert [page.number for page in _all(book)] == [1, 2, 3, 4, 5, 6, 9]
        power_on = book.page(9)
        assert isinstance(power_on.act, PowerOn)
        assert "Pages 7 to 8 were given out" in power_on.act.recovered
        assert power_on.previous == fingerprint(rfc8785.dumps(pages[7].model_dump(mode="json", exclude_none=True)))
        book.keep(remark(1), person=None)

    with kiosk.open() as book:
        assert (book.last_number, _states(book)) == (11, ["good", "good"])


def test_all_pages_gone_from_both_stores_still_gives_out_no_number_twice(tmp_path: Path) -> None:
    """Even an emptied shelf knows how far it had got."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(12)
    for store in kiosk.stores:
        for path in (store / "pages").iterdir():
            path.unlink()

    with kiosk.open() as book:
        assert [page.number for page in _all(book)] == [14]
    with kiosk.open() as book:
        assert [page.number for page in _all(book)] == [14, 15]


def test_pages_lost_here_and_found_on_a_card_put_back_are_whole_again(tmp_path: Path) -> None:
    """Both ends were lost, but an older copy of the card turns up that still holds them."""
    kiosk = Kiosk(tmp_path)
    pages = kiosk.filled(7)
    shutil.copytree(kiosk.stores[1], tmp_path / "copy")
    for store in kiosk.stores:
        _cut(store / LAST, 40)
    kiosk.open().close()
    shutil.rmtree(kiosk.stores[1])
    (tmp_path / "copy").rename(kiosk.stores[1])

    with kiosk.open() as book:
        assert _all(book)[:8] == pages
        assert _states(book) == ["good", "good"]
        assert chain_breaks([content for _, content in book.pages()]) == []


def test_two_stores_that_tell_different_pages_are_not_mixed(tmp_path: Path) -> None:
    """The one that reaches further goes on; the other is kept as evidence."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(3)
    shutil.copytree(kiosk.stores[1], tmp_path / "copy")
    kiosk.open().close()
    kiosk.stores[0].rename(tmp_path / "built-in")
    shutil.rmtree(kiosk.stores[1])
    (tmp_path / "copy").rename(kiosk.stores[1])
    with kiosk.open() as book:
        book.keep(remark(77), person=None)
        reached = book.last_number
    (tmp_path / "built-in").rename(kiosk.stores[0])
    evidence = files_of(kiosk.stores[0])

    with kiosk.open() as book:
        assert _states(book) == ["damaged", "good"]
        assert book.last_number > reached
        assert "does not fit" in book.notices[0].why

    assert files_of(kiosk.stores[0]) == evidence


def test_another_kiosk_s_card_is_left_alone(tmp_path: Path) -> None:
    """A card put into the wrong kiosk is named and never written."""
    kiosk, other = Kiosk(tmp_path / "one"), Kiosk(tmp_path / "two")
    kiosk.filled(3)
    Book.create(
        other.stores, plant="PL-1", series="S13-a", station="S13", clock=other.clock, chance=kiosk._chance
    ).close()
    shutil.rmtree(kiosk.stores[1])
    other.stores[1].rename(kiosk.stores[1])
    before = files_of(kiosk.stores[1])

    with kiosk.open() as book:
        assert _states(book) == ["good", "away"]
        assert "belongs to book S13-a" in book.notices[0].why

    assert files_of(kiosk.stores[1]) == before


def test_a_card_changed_for_another_kiosk_s_while_running_is_never_written(tmp_path: Path) -> None:
    """Not even at the moment when a new segment begins."""
    kiosk, other = Kiosk(tmp_path / "one"), Kiosk(tmp_path / "two")
    with kiosk.create() as book:
        for count in range(4):
            book.keep(remark(count), person=None)
        Book.create(
            other.stores, plant="PL-1", series="S13-a", station="S13", clock=other.clock, chance=kiosk._chance
        ).close()
        kiosk.stores[1].rename(tmp_path / "in a pocket")
        other.stores[1].rename(kiosk.stores[1])
        before = files_of(kiosk.stores[1])

        assert book.keep(remark(9), person=None).number == 6

        assert _states(book) == ["good", "away"]
        assert files_of(kiosk.stores[1]) == before


def test_the_wrong_book_altogether_is_refused_by_name(tmp_path: Path) -> None:
    """A kiosk that is to open its own series opens no other."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(1)

    with pytest.raises(ForeignStore, match="the stores hold book S12-a"):
        kiosk.open(series="S14-a")


def test_no_book_at_all_is_told(tmp_path: Path) -> None:
    """Empty folders are no book, and none is made by opening."""
    kiosk = Kiosk(tmp_path)
    kiosk.stores[0].mkdir()

    with pytest.raises(NoBookHere, match="Put the removable store back"):
        kiosk.open()

    assert list(kiosk.stores[0].iterdir()) == []


def test_a_page_of_a_newer_program_is_refused_by_name_and_left_alone(tmp_path: Path) -> None:
    """What this program does not know it does not touch."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(3)
    for store in kiosk.stores:
        lines, _ = read_lines((store / FIRST).read_bytes())
        newer = rfc8785.dumps({**json.loads(lines[-1].content), "format": 2, "new": True})
        with (store / FIRST).open("ab") as file:
            file.write(write_line(newer))
    before = [files_of(store) for store in kiosk.stores]

    with pytest.raises(NewerFormat, match="page format 2"):
        kiosk.open()

    assert [files_of(store) for store in kiosk.stores] == before


@pytest.mark.parametrize(
    ("number", "state"),
    [(errno.ENOSPC, "full"), (errno.EROFS, "read-only"), (errno.EIO, "away"), (errno.ENODEV, "away")],
)
def test_a_store_that_fails_is_out_of_use_and_the_page_is_kept_in_the_other(
    tmp_path: Path, number: int, state: str
) -> None:
    """The failure is a page of its own, the failed write is not tried again, and reopening makes both alike."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        book.keep(remark(0), person=None)
        kiosk.disk.break_folder(kiosk.stores[1], number, after_bytes=50)
        kiosk.disk.writes.clear()

        page = book.keep(remark(1), person=None)
        book.keep(remark(2), person=None)

        tried = [path for path, _ in kiosk.disk.writes if path.is_relative_to(kiosk.stores[1])]
        assert tried == [kiosk.stores[1] / FIRST]
        assert _states(book) == ["good", state]
        change = book.page(page.number + 1).act
        assert isinstance(change, StoreChange)
        assert (change.store.name, change.store.state) == ("removable", state)

    kiosk.disk.mend_folder(kiosk.stores[1])
    with kiosk.open() as book:
        assert _states(book) == ["good", "good"]
    assert files_of(kiosk.stores[0])[LAST] == files_of(kiosk.stores[1])[LAST]


def test_a_failed_sync_of_the_counter_takes_the_store_out_of_use(tmp_path: Path) -> None:
    """A number counted in one store alone is counted; the other is not trusted any more."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        kiosk.disk.break_folder(kiosk.stores[0] / "counter.journal", errno.EIO)

        assert book.keep(remark(1), person=None).number == 2
        assert _states(book) == ["away", "good"]

    kiosk.disk.mend_folder(kiosk.stores[0] / "counter.journal")
    with kiosk.open() as book:
        assert (book.last_number, _states(book)) == (4, ["good", "good"])


def test_no_store_left_says_so_and_loses_nothing_kept(tmp_path: Path) -> None:
    """The page is refused, what is on the screen stays there, and the next power-on finds all that was kept."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        page = book.keep(remark(0), person=None)
        for store in kiosk.stores:
            kiosk.disk.break_folder(store, errno.EIO, after_bytes=10)

        with pytest.raises(NotKept, match="nothing kept before is lost"):
            book.keep(remark(1), person=None)
        for store in kiosk.stores:
            kiosk.disk.mend_folder(store)
        with pytest.raises(NotKept):
            book.keep(remark(1), person=None)

    with kiosk.open() as book:
        assert book.page(page.number) == page
        assert book.last_number == 3


def test_the_second_store_failing_on_the_first_one_s_failure_page_is_told_in_full(tmp_path: Path) -> None:
    """A page that lies in one store alone, unrecorded, is not called kept."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for _ in range(3):
            book.keep(remark(0), person=None)
        kiosk.disk.break_folder(kiosk.stores[1])
        kiosk.disk.break_folder(kiosk.stores[0] / "counter.journal.new")
        # The failure's page is the first of the next segment, whose counter file is written afresh.

        with pytest.raises(NotKept, match="Not kept safely: page 5"):
            book.keep(remark(1), person=None)

    kiosk.disk.mend_folder(kiosk.stores[1])
    kiosk.disk.mend_folder(kiosk.stores[0] / "counter.journal.new")
    with kiosk.open() as book:
        assert (book.page(5).act, book.last_number) == (remark(1), 7)


def test_a_full_disk_is_told_long_before_and_refused_before_the_last_bytes(tmp_path: Path) -> None:
    """Below 90 days of room a notice; below the reserve no reading, and making room is enough to go on."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        # 1 200 pages of 2 000 bytes a day in each of two stores on one disk are 4.8 MB a day, by hand.
        for store in kiosk.stores:
            kiosk.disk.free[store] = 5_000_000 + 90 * 4_800_000
        assert (book.room().days_left, book.notices) == (90, ())

        for store in kiosk.stores:
            kiosk.disk.free[store] -= 1
        assert book.room().days_left == 89
        assert "89 more days" in book.notices[0].what

        for store in kiosk.stores:
            kiosk.disk.free[store] = 400_000
        with pytest.raises(NotKept, match=r"0\.4 MB are free, 5\.0 MB are needed\. The reading is still on the screen"):
            book.keep(remark(1), person=None)

        kiosk.disk.free.clear()
        assert book.keep(remark(1), person=None).number == 2


def test_one_store_nearly_full_leaves_the_other_working(tmp_path: Path) -> None:
    """The small card is taken out of use before it is quite full, and a page says so."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        kiosk.disk.free[kiosk.stores[1]] = 400_000

        page = book.keep(remark(1), person=None)

        assert _states(book) == ["good", "full"]
        assert isinstance(book.page(page.number + 1).act, StoreChange)


def test_a_book_on_disks_that_take_nothing_can_still_be_read_and_carried(tmp_path: Path) -> None:
    """With both disks full or read-only the pages are not locked in."""
    kiosk = Kiosk(tmp_path)
    pages = kiosk.filled(7)
    for store in kiosk.stores:
        kiosk.disk.break_folder(store, errno.EROFS)

    with kiosk.open() as book:
        assert _states(book) == ["read-only", "read-only"]
        assert _all(book) == pages
        assert book.not_carried() == (1, 8)
        assert [notice for notice in book.notices if notice.what == "Not kept: page 9."]


def test_a_card_pulled_out_while_running_is_told_and_readings_go_on(tmp_path: Path) -> None:
    """The empty mount point left behind is not taken for the card."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for count in range(4):
            book.keep(remark(count), person=None)
        kiosk.stores[1].rename(tmp_path / "in a pocket")
        kiosk.stores[1].mkdir()

        assert book.keep(remark(9), person=None).number == 6

        assert _states(book) == ["good", "away"]
        assert list(kiosk.stores[1].iterdir()) == []
        assert "Put the store back" in book.notices[0].next_step


def test_a_file_another_hand_shortened_stops_the_store_at_once(tmp_path: Path) -> None:
    """Nothing is appended behind a hole."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        book.keep(remark(0), person=None)
        _cut(kiosk.stores[0] / FIRST, 200)

        book.keep(remark(1), person=None)

        assert _states(book) == ["damaged", "good"]


def test_a_segment_that_rots_while_the_book_is_open_is_read_from_the_other_store(tmp_path: Path) -> None:
    """Each reading of a closed segment checks it again."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for count in range(7):
            book.keep(remark(count), person=None)
        pages = _all(book)
        _flip(kiosk.stores[0] / FIRST, 100)

        assert _all(book) == pages
        assert _states(book) == ["damaged", "good"]

        _flip(kiosk.stores[1] / FIRST, 100)
        with pytest.raises(BookDamaged, match="other pages can still be read"):
            book.page(1)
        assert book.page(8) == pages[7]


def test_a_new_card_is_made_from_the_good_store(tmp_path: Path) -> None:
    """What lay in its place is set aside whole, and both stores are alike again without switching off."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(7)
    _flip(kiosk.stores[1] / FIRST, 100)
    evidence = files_of(kiosk.stores[1])

    with kiosk.open() as book:
        book.renew_store("removable")
        book.keep(remark(9), person=None)
        assert _states(book) == ["good", "good"]

    for file, content in evidence.items():
        assert (kiosk.stores[1] / "set-aside" / "whole-1" / file).read_bytes() == content
    fresh = {name: content for name, content in files_of(kiosk.stores[1]).items() if not name.startswith("set-aside")}
    assert fresh == files_of(kiosk.stores[0])


def test_a_store_is_not_made_from_nothing_nor_over_another_book(tmp_path: Path) -> None:
    """Without a good store, or over another kiosk's card, nothing is done."""
    kiosk, other = Kiosk(tmp_path / "one"), Kiosk(tmp_path / "two")
    Book.create(
        other.stores, plant="PL-1", series="S13-a", station="S13", clock=other.clock, chance=kiosk._chance
    ).close()
    kiosk.filled(3)
    shutil.rmtree(kiosk.stores[1])

    with kiosk.open() as book:
        with pytest.raises(StoreNotRenewed, match="no other store"):
            book.renew_store("built-in")
        other.stores[1].rename(kiosk.stores[1])
        before = files_of(kiosk.stores[1])
        with pytest.raises(StoreNotRenewed, match="holds book S13-a"):
            book.renew_store("removable")

    assert files_of(kiosk.stores[1]) == before


def test_a_store_with_a_file_missing_is_damaged_not_empty(tmp_path: Path) -> None:
    """A lost folder, counter or segment never passes for a short book."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(12)
    identity = find_identity(kiosk.stores[0])
    assert identity

    for name in ("counter.journal", LAST, FIRST, "pages"):
        copy = tmp_path / name.replace("/", "-")
        shutil.copytree(kiosk.stores[0], copy)
        shutil.rmtree(copy / name) if name == "pages" else (copy / name).unlink()
        assert examine(copy, identity).damage, name


def test_lines_that_are_no_pages_of_this_book_are_damage(tmp_path: Path) -> None:
    """Foreign, doubled, reordered and left-out lines are each found, though every line is whole."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(4)
    identity = find_identity(kiosk.stores[0])
    assert identity
    path = kiosk.stores[0] / FIRST
    contents = [line.content for line in read_lines(path.read_bytes())[0]]
    foreign = rfc8785.dumps({**json.loads(contents[1]), "series": "S13-a"})
    far = rfc8785.dumps({**json.loads(contents[1]), "number": 900})
    bare = rfc8785.dumps({"plant": "PL-1", "series": "S12-a"})

    for rows in (
        [contents[0], foreign, *contents[2:]],
        [contents[0], contents[0], *contents[1:]],
        [contents[0], contents[2], contents[1], *contents[3:]],
        [contents[0], *contents[2:]],
        [*contents, b"[]"],
        [*contents, b"no JSON"],
        [*contents, bare],
        [*contents, far],
        contents[1:],
    ):
        path.write_bytes(b"".join(write_line(content) for content in rows))
        assert examine(kiosk.stores[0], identity).damage
