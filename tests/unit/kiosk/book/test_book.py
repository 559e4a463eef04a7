"""The book: keeping, finding again, carrying, forgetting."""

from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as tried
from hypothesis import strategies as st
from tinydb import where

from kiosk.book import Book
from kiosk.errors import BookAlreadyThere, BookInUse, PageNotHere, ReceiptDoesNotFit
from kiosk.pages import FIRST_PREVIOUS, canonical_bytes, fingerprint
from kiosk.pages.station import PowerOn
from kiosk.pages.words import ClockState
from kiosk.times import read_time, write_time
from tests.unit.kiosk.book.small_books import Kiosk, chain_breaks, files_of, remark
from tests.unit.kiosk.plant import local


def test_a_new_book_begins_with_its_power_on(tmp_path: Path) -> None:
    """Page 1 says that the kiosk was switched on, and follows from nothing."""
    with Kiosk(tmp_path).create() as book:
        first = book.page(1)

    assert (first.number, first.session, first.previous) == (1, 1, FIRST_PREVIOUS)
    assert isinstance(first.act, PowerOn)
    assert [store.state for store in first.act.stores] == ["good", "good"]


def test_a_page_kept_carries_all_that_it_was_kept_with(tmp_path: Path) -> None:
    """The envelope says which book, which number, when, who, by which lists."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        taken_at = write_time(local("2026-03-10 22:00:00"))
        page = book.keep(
            remark(1),
            person="1201",
            lists_version=7,
            lists_taken_at=taken_at,
            clock_state=ClockState.OFF,
            station="S13",
        )

        assert (page.number, page.station, page.person, page.lists_version) == (2, "S13", "1201", 7)
        assert (page.lists_taken_at, page.clock_state) == (taken_at, ClockState.OFF)
        assert (page.kiosk_time, page.running_ms) == (write_time(kiosk.clock.now()), kiosk.clock.running_ms())
        assert book.head == fingerprint(canonical_bytes(page))
        assert book.last_number == 2


def test_pages_are_an_unbroken_chain_over_segments_and_power_ons(tmp_path: Path) -> None:
    """Number by number each page holds the fingerprint of the one before, checked with json and hashlib alone."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(12)

    with kiosk.open() as book:
        book.keep(remark(99), person=None)
        contents = [content for _, content in book.pages()]

    assert len(contents) == 15
    assert chain_breaks(contents) == []


def test_both_stores_hold_the_same_bytes(tmp_path: Path) -> None:
    """Every page is written twice, alike."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(12)

    assert files_of(kiosk.stores[0]) == files_of(kiosk.stores[1])


def test_switching_on_again_makes_the_next_session(tmp_path: Path) -> None:
    """Running time starts again at each power-on, and the session says so."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(3)

    with kiosk.open() as book:
        page = book.page(book.last_number)

    assert (page.number, page.session, page.running_ms) == (5, 2, 500)
    assert isinstance(page.act, PowerOn)
    assert (page.act.last_number, page.act.recovered) == (4, "")


def test_stored_bytes_are_the_canonical_ones(tmp_path: Path) -> None:
    """What is carried and hashed is what RFC 8785 makes of the page."""
    with Kiosk(tmp_path).create() as book:
        book.keep(remark(1), person="1201")

        assert all(content == canonical_bytes(page) for page, content in book.pages())


def test_a_query_finds_pages_in_open_and_closed_segments(tmp_path: Path) -> None:
    """The whole book can be asked, not only its newest part."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(12)

    with kiosk.open() as book:
        every = book.search(where("act")["kind"] == "remark")
        some = book.search(where("act")["words"] == "remark 2", first=1, last=4)
        none = book.search(where("act")["words"] == "remark 2", first=5)

    assert [page.doc_id for page in every] == list(range(2, 14))
    assert [page["number"] for page in some] == [4]
    assert none == []


def test_what_a_query_hands_out_can_be_scribbled_on(tmp_path: Path) -> None:
    """A reader who changes what was found changes nothing in the book."""
    query = where("number") == 1
    with Kiosk(tmp_path).create() as book:
        book.search(query)[0]["person"] = "somebody"

        assert "person" not in book.search(query)[0]


def test_a_page_that_is_not_here_is_told(tmp_path: Path) -> None:
    """A wrong number is answered with what the book holds."""
    with Kiosk(tmp_path).create() as book, pytest.raises(PageNotHere, match="pages 1 to 1"):
        book.page(2)


def test_the_second_program_is_refused_and_the_first_goes_on(tmp_path: Path) -> None:
    """Two writers would give one number to two pages."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        with pytest.raises(BookInUse, match="Close the other program"):
            kiosk.open()

        assert book.keep(remark(1), person=None).number == 2


def test_a_closed_book_can_be_opened_by_the_next_program(tmp_path: Path) -> None:
    """Closing gives the book free."""
    kiosk = Kiosk(tmp_path)
    kiosk.create().close()

    with kiosk.open() as book:
        assert book.session == 2


def test_a_book_is_never_made_over_another(tmp_path: Path) -> None:
    """Enrolling twice cannot wipe pages."""
    kiosk = Kiosk(tmp_path)
    pages = kiosk.filled(2)

    with pytest.raises(BookAlreadyThere):
        kiosk.create()

    with kiosk.open() as book:
        assert [page for page, _ in book.pages(1, 3)] == pages


def test_a_book_only_half_made_can_be_made_again(tmp_path: Path) -> None:
    """A power cut while enrolling leaves nothing that must be cleared by hand."""
    kiosk = Kiosk(tmp_path)
    kiosk.disk.break_folder(kiosk.stores[1])
    with pytest.raises(Exception, match="make the book again"):
        kiosk.create()
    kiosk.disk.mend_folder(kiosk.stores[1])

    with kiosk.create() as book:
        assert [store.state for store in book.stores] == ["good", "good"]


def test_nothing_is_carried_before_a_receipt_and_the_rest_after_it(tmp_path: Path) -> None:
    """The run of pages not carried is what is behind the furthest receipt."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        pages = [book.keep(remark(count), person=None) for count in range(3)]
        assert book.not_carried() == (1, 4)

        book.receipt(2, fingerprint(canonical_bytes(pages[0])), write_time(kiosk.clock.now()))
        assert book.not_carried() == (3, 4)

        book.receipt(4, book.head, write_time(kiosk.clock.now()))
        assert book.not_carried() is None


def test_a_receipt_survives_the_power_cut_and_counts_once(tmp_path: Path) -> None:
    """What was carried is known at the next power-on; the same receipt by stick and by network is one."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for _ in range(2):
            book.receipt(1, book.head, write_time(kiosk.clock.now()))

    with kiosk.open() as book:
        assert book.not_carried() == (2, 2)
        assert len(book.receipts) == 1


@pytest.mark.parametrize("through", [1, 2, 3])
def test_a_receipt_that_does_not_fit_marks_nothing(tmp_path: Path, through: int) -> None:
    """A receipt for another page, or for one not yet written, is refused."""
    with Kiosk(tmp_path).create() as book:
        book.keep(remark(1), person=None)

        with pytest.raises(ReceiptDoesNotFit, match="Nothing was marked"):
            book.receipt(through, "a" * 64, "2026-03-11T02:00:00.000-04:00")

        assert book.not_carried() == (1, 2)


def test_a_page_is_forgotten_thirty_days_after_its_receipt_and_only_then(tmp_path: Path) -> None:
    """Whole closed segments go, the open one stays, and the next power-on finds nothing wrong."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for count in range(12):
            book.keep(remark(count), person=None)
        at = kiosk.clock.now()
        book.receipt(13, book.head, write_time(at))

        assert book.forget_old(at + timedelta(days=29, hours=23)) == 0
        assert book.forget_old(at + timedelta(days=30)) == 10
        assert book.first_number == 11

    with kiosk.open() as book:
        assert [page.number for page, _ in book.pages()] == [11, 12, 13, 14]
        assert book.notices == ()
        assert book.not_carried() == (14, 14)


def test_nothing_is_forgotten_without_a_receipt(tmp_path: Path) -> None:
    """However old a page is, it stays until the consolidator has it."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        for count in range(12):
            book.keep(remark(count), person=None)

        assert book.forget_old(kiosk.clock.now() + timedelta(days=4_000)) == 0
        assert book.first_number == 1


def test_a_clock_set_back_is_told_and_order_and_running_time_stay_right(tmp_path: Path) -> None:
    """The page is kept with the time the kiosk shows; numbers and running time tell the true order."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        kiosk.clock.wait(60)
        before = book.keep(remark(1), person=None)
        kiosk.clock.moment -= timedelta(hours=5)
        kiosk.clock.elapsed_ms += 30_000

        after = book.keep(remark(2), person=None)

        assert read_time(after.kiosk_time) < read_time(before.kiosk_time)
        assert after.running_ms - before.running_ms == 30_000
        assert after.previous == fingerprint(canonical_bytes(before))
        assert [notice.what for notice in book.notices if "set back" in notice.what]
        assert "Set the clock" in book.notices[0].next_step


def test_the_hour_that_happens_twice_is_no_clock_set_back(tmp_path: Path) -> None:
    """On 2026-11-01 New York goes from 01:59 -04:00 to 01:00 -05:00 (IANA time zone data); no notice is due."""
    kiosk = Kiosk(tmp_path)
    kiosk.clock.moment = local("2026-11-01 01:59:30")
    with kiosk.create() as book:
        kiosk.clock.wait(60)

        page = book.keep(remark(1), person=None)

        assert page.kiosk_time == "2026-11-01T01:00:30.000-05:00"
        assert book.notices == ()


def test_a_running_count_that_jumps_back_never_makes_a_page_older(tmp_path: Path) -> None:
    """Within one power-on the running time never falls."""
    kiosk = Kiosk(tmp_path)
    with kiosk.create() as book:
        before = book.keep(remark(1), person=None)
        kiosk.clock.elapsed_ms = 0

        assert book.keep(remark(2), person=None).running_ms == before.running_ms


def test_a_page_longer_than_any_page_is_refused(tmp_path: Path) -> None:
    """A fault elsewhere cannot fill the disk with one page."""
    kiosk = Kiosk(tmp_path)
    kiosk.settings = kiosk.settings.model_copy(update={"page_limit_bytes": 700})
    with kiosk.create() as book:
        with pytest.raises(Exception, match="the most is 700"):
            book.keep(remark(0).model_copy(update={"words": "x" * 700}), person=None)

        assert book.keep(remark(1), person=None).number == 2


STEPS = st.lists(st.sampled_from(["keep", "keep", "keep", "open", "receipt", "forget"]), max_size=25)


@given(STEPS)
@tried(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_every_page_kept_is_found_again(tmp_path_factory: pytest.TempPathFactory, steps: list[str]) -> None:
    """Whatever is kept, carried, forgotten and switched off in between: a page is here or was forgotten by right."""
    kiosk = Kiosk(tmp_path_factory.mktemp("book"))
    book = kiosk.create()
    kept = {1: book.page(1)}
    carried = 0
    for count, step in enumerate(steps):
        kiosk.clock.wait(11 * 86_400)
        if step == "keep":
            page = book.keep(remark(count), person="1201")
            kept[page.number] = page
        elif step == "open":
            book.close()
            book = kiosk.open()
            kept[book.last_number] = book.page(book.last_number)
        elif step == "receipt":
            book.receipt(book.last_number, book.head, write_time(kiosk.clock.now()))
            carried = book.last_number
        else:
            book.forget_old(kiosk.clock.now())

    here = _pages_by_number(book)
    book.close()

    assert here == {number: page for number, page in kept.items() if number in here}
    assert set(kept) - set(here) <= set(range(1, carried + 1))
    assert sorted(here) == list(range(min(here), max(kept) + 1))


def _pages_by_number(book: Book) -> dict[int, object]:
    return {page.number: page for page, _ in book.pages()}
