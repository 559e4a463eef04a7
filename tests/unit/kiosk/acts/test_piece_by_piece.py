"""The order of measuring is the operator's: one characteristic after the other, or all of them piece by piece."""

from kiosk.acts import WAYS, Steps
from kiosk.pages.readings import Reading, SampleEnd
from kiosk.settings import Settings
from kiosk.station import Station
from tests.unit.kiosk.acts.at_a_screen import AtAScreen, measuring
from tests.unit.kiosk.plant import LISTS, ZONE


def piece_by_piece() -> AtAScreen:
    """Badge in, open L-411, choose piece by piece, measure the first piece of BC1 with a micrometer."""
    person = measuring().pick("All of them piece by piece").pick("BC1").scan("G-108")
    return person.key(".3122")


def readings(person: AtAScreen) -> list[tuple[str, int]]:
    """Return the readings kept, as characteristic and piece."""
    acts = [page.act for page in person.post.book.pages]
    return [(act.characteristic, act.piece) for act in acts if isinstance(act, Reading)]


def test_after_a_piece_the_next_characteristic_of_the_same_piece_is_asked_for() -> None:
    """BC1 piece 1, BC2 piece 1, BC1 piece 2 and so on, by itself; each gauge is scanned once."""
    person = piece_by_piece()
    assert person.steps.shown.title == "BC2: scan the gauge."

    person.scan("G-108")
    for keyed in (".2840", ".3123", ".2841", ".3121", ".2839", ".3122", ".2842", ".3124", ".2838"):
        person.key(keyed)

    assert readings(person) == [(what, piece) for piece in range(1, 6) for what in ("BC1", "BC2")]
    assert "Sample all in" in person.steps.shown.title


def test_what_was_kept_stays_on_the_screen_and_says_of_what_it_is() -> None:
    """The verdict of the piece before is read while the next gauge is taken up."""
    person = piece_by_piece().scan("G-108")

    assert "BC2 (invented). Piece 1" in person.steps.shown.title
    assert "Kept: .3122. In tolerance." in piece_by_piece().words
    assert "That was BC1, piece 1." in piece_by_piece().words
    assert person.steps.shown.count_words == "0 of 5 done \N{EN DASH} piece 1 next"


def test_all_samples_that_are_all_in_are_ended_with_one_key() -> None:
    """Five pieces with two characteristics are two samples, and one round."""
    person = piece_by_piece().scan("G-108")
    for keyed in (".2840", ".3123", ".2841", ".3121", ".2839", ".3122", ".2842", ".3124", ".2838"):
        person.key(keyed)

    person.pick("End the sample")

    ended = [page.act for page in person.post.book.pages if isinstance(page.act, SampleEnd)]
    assert {(act.characteristic, act.sample, act.got) for act in ended} == {("BC1", 1, 5), ("BC2", 1, 5)}
    assert person.steps.shown.title == "What is measured?"


def test_a_stop_waits_until_the_person_goes_on() -> None:
    """A piece out of tolerance is tagged before anything else is measured on it."""
    person = measuring().pick("All of them piece by piece").pick("BC1").scan("G-108").key(".3127")

    assert person.steps.shown.title == "That was BC1, piece 1."
    assert "STOP STOP. Out of tolerance" in person.words
    person.pick("Go on")
    assert person.steps.shown.title == "BC2: scan the gauge."


def test_the_choice_holds_over_a_restart_and_until_it_is_chosen_otherwise() -> None:
    """It stands in the book; after a power cut the screen is where the work was."""
    person = piece_by_piece().scan("G-108").key(".2840")
    book = person.post.book
    again = Station(book, LISTS, number="S12", clock=person.post.clock, zone=ZONE,
                    lists_taken_at=person.post.taken_at, pages=book.pages)  # fmt: skip
    steps = Steps(again, person.post.clock, WAYS, Settings())

    assert again.state.is_piece_by_piece
    assert "BC1 (invented). Piece 2" in steps.shown.title
    steps.hub()
    steps.press("pick order")
    assert not again.state.is_piece_by_piece


def test_a_piece_keyed_wrong_is_put_right_and_the_round_goes_on() -> None:
    """The first keying stays; the next characteristic is still the one whose turn it is."""
    person = piece_by_piece().scan("G-108").key(".2840")

    person.more("I keyed it wrong").pick("BC1, piece 1").key(".3124")
    assert readings(person)[-1] == ("BC1", 1)
    assert "BC1 (invented). Piece 2" in person.steps.shown.title

    person.more("I keyed it wrong").pick("BC2, piece 1").key(".2841")
    assert readings(person)[-1] == ("BC2", 1)
    assert "BC1 (invented). Piece 2" in person.steps.shown.title


def test_where_one_thing_is_measured_no_order_is_offered() -> None:
    """An order takes two."""
    assert "piece by piece" not in measuring("S31", "B-103", "L-500").words


def test_one_characteristic_at_a_time_goes_on_as_before() -> None:
    """Nobody who did not choose it is taken elsewhere."""
    person = measuring().pick("BC1").scan("G-108").key(".3122")

    assert "BC1 (invented). Piece 2" in person.steps.shown.title
