"""After a power cut the same work stands on the screen, made from nothing but the book's pages."""

from kiosk.pages.station import SetUpStart
from kiosk.station import Entry, KeptReading, State, Station
from tests.unit.kiosk import plant
from tests.unit.kiosk.plant import Post


def again(post: Post) -> Station:
    """The station after the power came back: a new object over the same pages."""
    return Station(
        post.book, plant.LISTS, number=post.work.number, clock=post.clock, zone=plant.ZONE,
        lists_taken_at=post.taken_at, pages=tuple(post.book.pages),
    )  # fmt: skip


def test_the_sample_waits_at_its_next_piece() -> None:
    """3 of 5 done, piece 4 next, gauge in hand, person at the station: nothing is asked twice."""
    post = Post().measuring()
    for keyed in (".3121", ".3122", ".3128"):
        post.kept("BC1", keyed)

    work = again(post)
    answer = work.key("BC1", ".3123")

    assert isinstance(answer, KeptReading)
    assert answer.page.act.piece == 4  # type: ignore[union-attr]
    sample = work.state.sample_of("BC1")
    assert sample is not None and (sample.got, sample.planned) == (4, 5)


def test_a_question_asked_survives_and_is_not_asked_again() -> None:
    """The first keying was in the book before the answer came."""
    post = Post().measuring()
    post.kept("BC1", ".3122")
    post.asked("BC1", "3.122")

    answer = again(post).key("BC1", "3.122")

    assert isinstance(answer, KeptReading)
    assert answer.judged.reasons == ("X17", "X23", "X26")


def test_the_whole_state_is_that_of_the_pages() -> None:
    """A morning with nearly everything in it: the state from the pages is the state that was."""
    post = Post("S24")
    work = post.work
    work.badge_in("P-107")
    work.open_job("L-411", "80")
    work.begin_set_up(
        SetUpStart(set_up="SU-1", lot="L-411", part="B-3124", revision="C", operation="80", set_by="P-107")
    )
    work.badge_in("P-104")
    work.approve_first_piece("SU-1", "P-104", is_approved=True)
    work.badge_in("P-102")
    work.take_gauge("BC4", "G-301", master="W-24")
    work.begin_sample("BC4")
    post.kept("BC4", ".3198")
    work.key_anew("BC4", 1, ".3199")
    work.take_gauge("BC5", "G-502")
    work.begin_sample("BC5")
    post.kept("BC5", "Accept")
    work.report_incident("G-503")
    work.move_gauge("G-505", "issued")
    work.out_of_heat()
    work.stop("break")
    work.change_over("L-412", is_line_clear=True)
    work.end_sample("BC5")
    work.remark("done", about="S24-a/1")

    assert again(post).state == post.work.state


def test_an_empty_book_is_a_station_nobody_stands_at() -> None:
    """The first screen."""
    assert again(Post()).state == State()


def test_a_gauge_in_hand_at_the_cut_is_asked_again_only_after_half_an_hour() -> None:
    """The running time begins anew with the power; the kiosk's clock decides across the cut."""
    import pytest

    from kiosk.errors import GaugeAskedAgain

    post = Post().measuring()
    post.kept("BC1", ".3122")
    post.clock.wait(29 * 60)
    post.clock.elapsed_ms = 5_000
    soon = again(post).key("BC1", ".3123", Entry())
    post.clock.wait(31 * 60)

    assert isinstance(soon, KeptReading)
    with pytest.raises(GaugeAskedAgain):
        again(post).key("BC1", ".3124")
