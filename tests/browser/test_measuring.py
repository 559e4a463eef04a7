"""A sample from badge to the last piece, touched, scanned and keyed as a person does."""

from collections.abc import Callable

import pytest

from kiosk.pages.readings import AskedAgain, Reading
from tests.browser.kiosks import Served
from tests.browser.person import Person

pytestmark = pytest.mark.browser
Somebody = Callable[..., Person]


def at_first_piece(person: Person) -> Person:
    """Badge in, open the lot, take the snap gauge, check its zero: piece 1 of BC1 is asked for."""
    person.scan("B-101")
    person.sees("Badged in: Ana")
    person.scan("L-411")
    person.sees("What is measured?")
    person.settle()
    person.pick("BC1")
    person.sees("scan the gauge")
    person.scan("G-220")
    person.sees("STOP. Zero G-220 on its master")
    person.settle()
    person.pick("Check G-220 now")
    person.touch("0", "Keep")
    person.sees("Good. G-220 may be used.")
    person.settle()
    return person


def test_five_pieces_with_a_snap_gauge_take_three_taps_each_and_are_on_disk(kiosk: Served, somebody: Somebody) -> None:
    """Deviation in divisions, its side, Keep; the master is .31225 and a division .00005, so 2 UNDER is .31215."""
    person = at_first_piece(somebody(kiosk))
    person.sees_not(".3120")

    for piece, taps in enumerate((("2", "UNDER"), ("1", "OVER"), ("0",), ("3", "UNDER"), ("5", "OVER")), start=1):
        person.touch(*taps, "Keep")
        person.sees(f"{piece} of 5 done" if piece < 5 else "all 5 done")
        person.sees(".3120")
        person.settle()
    person.pick("End the sample")
    person.sees("What is measured?")

    acts = [page.act for page in kiosk.pages()]
    values = [act.value for act in acts if isinstance(act, Reading)]
    assert values == ["0.31215", "0.31230", "0.31225", "0.31210", "0.31250"]
    assert acts[-1].kind == "sample end"


def test_a_reading_far_off_is_asked_about_without_a_hint_and_both_keyings_stay(
    kiosk: Served, somebody: Somebody
) -> None:
    """99 divisions are .00495 over on a tolerance of .0005: asked once, no figure and no limit on the screen."""
    person = at_first_piece(somebody(kiosk))

    person.touch("9", "9", "OVER", "Keep")
    person.sees("Look again and key the whole reading.")
    for hint in (".3120", ".3125", ".31225", ".3172"):
        person.sees_not(hint)
    person.touch("9", "UNDER", "Keep")
    person.sees("STOP. Out of tolerance. Tag the piece, stop, call.")

    acts = [page.act for page in kiosk.pages()]
    assert [act.keying.text for act in acts if isinstance(act, AskedAgain)] == ["+99"]
    kept = [act for act in acts if isinstance(act, Reading)]
    assert [(act.keyed, [one.text for one in act.earlier]) for act in kept] == [("-9", ["+99"])]


def test_a_go_ring_has_two_equal_keys_far_apart_and_turns_go_by_quarters(rolling: Served, somebody: Somebody) -> None:
    """Nothing is answered beforehand; 2 1/4 turns of the NOT GO ring are within the 3 allowed."""
    person = somebody(rolling)
    person.scan("B-102")
    person.sees("Badged in: Bo")
    person.scan("L-411")
    person.sees("What is measured?")
    person.settle()
    person.pick("BC5")
    person.scan("G-502")
    person.sees("Piece 1")
    person.settle()
    accept, reject = person.box("Accept"), person.box("Reject")
    person.touch("Accept")
    person.sees("1 of 5 done")
    person.settle()
    person.touch("Back")
    person.pick("BC6")
    person.scan("G-503")
    person.sees("Piece 1")
    person.settle()
    person.touch("1 turn more", "1 turn more", "¼ turn more", "Keep")
    person.sees("1 of 5 done")

    assert (accept.width, accept.height) == pytest.approx((reject.width, reject.height), abs=0.1)
    assert abs(reject.top - accept.top) - accept.height > 2 * 4 * 4.91
    kept = [page.act for page in rolling.pages() if isinstance(page.act, Reading)]
    assert [(act.keyed, str(act.verdict)) for act in kept] == [("Accept", "Accept"), ("2.25", "Accept")]


def test_a_whole_sample_is_done_from_a_number_pad_alone(kiosk: Served, somebody: Somebody) -> None:
    """Digits pick what is numbered; minus is UNDER, Enter keeps, the slash takes back, the star is More."""
    person = somebody(kiosk)
    person.type_keys("1", "1", "0", "2", "/", "1", "Enter")
    person.sees("Badged in: Ana")
    person.settle()
    person.type_keys("2")
    person.sees("What is measured?")
    person.type_keys("1", "4")
    person.sees("STOP. Zero G-220")
    person.type_keys("1", "0", "Enter")
    person.sees("Piece 1")
    person.type_keys("2", "-", "Enter")
    person.sees("1 of 5 done")
    person.type_keys("*")
    person.sees("What else?")
    person.type_keys("1")
    person.sees("I keyed it wrong: which piece?")
    person.type_keys("1", "3", "-", "Enter")
    person.sees("Kept: .31210")

    kept = [page.act for page in kiosk.pages() if isinstance(page.act, Reading)]
    assert [(act.keyed, act.typed) for act in kept] == [("-2", ("lot", "gauge")), ("-3", ("lot", "gauge"))]
    assert kept[1].replaces == next(page.number for page in kiosk.pages() if page.act == kept[0])


def test_two_hundred_scans_at_two_milliseconds_a_character_lose_nothing(kiosk: Served, somebody: Somebody) -> None:
    """Every scan of a badge is a page of its own, in order, from whatever screen is up."""
    person = somebody(kiosk)
    badges = [f"B-10{1 + number % 4}" for number in range(200)]

    for badge in badges:
        person.scan(badge)
    assert kiosk.comes_to(lambda pages: sum(page.act.kind == "badge in" for page in pages) == len(badges))

    found = [page.person for page in kiosk.pages() if page.act.kind == "badge in"]
    assert found == [badge.replace("B", "P") for badge in badges]


def test_piece_by_piece_the_screen_goes_on_to_the_next_characteristic_by_itself(
    kiosk: Served, somebody: Somebody
) -> None:
    """What was kept stays readable and says of what it is; a STOP waits; over a restart the work is where it was."""
    person = somebody(kiosk)
    person.scan("B-101")
    person.sees("Badged in")
    person.scan("L-411")
    person.sees("What is measured")
    person.settle()
    person.pick("All of them piece by piece")
    person.sees("One characteristic at a time")
    person.settle()
    person.pick("BC1")
    person.sees("BC1: scan the gauge")
    person.scan("G-108")
    person.sees("Piece 1")
    person.settle()
    person.touch(*".3122", "Keep")
    person.sees("BC2: scan the gauge")
    person.sees("That was BC1, piece 1.")
    person.scan("G-108")
    person.sees("Piece 1")
    person.settle()
    person.touch(*".2850", "Keep")
    person.sees("That was BC2, piece 1.")
    person.settle()
    person.pick("Go on")
    person.sees("1 of 5 done")
    person.page.reload()
    person.ready().sees("characteristic BC1 (invented). Piece 2")
