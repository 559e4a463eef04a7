"""Scanner and number pad on one line of key strokes: told apart by their pace, nothing invented, nothing lost.

Paces of hands and scanners are common practice, no source: a scanner set up as a keyboard types 1-20 ms a character,
a practised hand on a number pad seldom under 60 ms a key.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.devices.keystrokes import CutShort, Found, Pressed, Scanned, Stroke, Strokes, read_burst

LABEL = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-."
"""Characters of the plant's labels."""


def strokes(text: str, *, gap_ms: float, start_ms: float = 1000.0, end: str = "Enter") -> list[Stroke]:
    """Return the strokes of `text`, one every `gap_ms`, with an end."""
    keys = [*text, *([end] if end else [])]
    return [Stroke(key, start_ms + place * gap_ms) for place, key in enumerate(keys)]


def pressed(keys: str) -> tuple[Pressed, ...]:
    """Return single keys of a person."""
    return tuple(Pressed(key) for key in keys)


@pytest.mark.parametrize("end", ["Enter", "Tab"])
@pytest.mark.parametrize("gap_ms", [0.5, 2, 20, 35])
def test_a_burst_with_its_end_is_one_code(gap_ms: float, end: str) -> None:
    """Whatever the scanner ends with, its code comes out whole and its end is no key of a person."""
    assert read_burst(strokes("1042.7", gap_ms=gap_ms, end=end)) == (Scanned("1042.7"),)


def test_digits_slower_than_a_scanner_are_a_person_s() -> None:
    """One millisecond beyond a scanner's longest pause they are keys, and Enter keeps."""
    assert read_burst(strokes("125", gap_ms=36)) == (*pressed("125"), Pressed("keep"))


def test_a_code_with_a_letter_may_pause_longer() -> None:
    """A hiccup of the machine does not break a code that no number pad could have typed."""
    assert read_burst(strokes("LOT-7", gap_ms=120)) == (Scanned("LOT-7"),)


def test_two_keys_rolled_over_are_a_person_s() -> None:
    """A hand that rolls from one key to the next comes as close as a scanner, for two keys."""
    assert read_burst(strokes("25", gap_ms=20)) == (*pressed("25"), Pressed("keep"))


def test_a_person_s_keys_before_a_scan_stay_keys() -> None:
    """A figure begun on the pad is not lost when somebody scans."""
    told = [*strokes("12", gap_ms=150, end=""), *strokes("G-107", gap_ms=2, start_ms=2000)]

    assert read_burst(told) == (*pressed("12"), Scanned("G-107"))


def test_a_tab_of_a_person_means_nothing() -> None:
    """Only a scanner ends with Tab; a hand that hits it keeps nothing."""
    assert read_burst(strokes("12", gap_ms=150, end="Tab")) == pressed("12")


def test_a_comma_is_a_point() -> None:
    """Both keys do the same thing."""
    assert read_burst(strokes("0,5", gap_ms=150, end="")) == pressed("0.5")


@pytest.mark.parametrize("text", ["48213", "G-107", "LOT-2041-7"])
def test_a_burst_without_its_end_is_neither_code_nor_digits(text: str) -> None:
    """Part of a number may be another number: it is told as cut short, and no digit of it reaches a pad."""
    taking = Strokes()

    found = [*taking.take(strokes(text, gap_ms=2, end="")), *taking.settle(), *taking.settle(), *taking.settle()]

    assert found == [CutShort(text)]


def test_a_held_beginning_is_told_as_cut_short_when_other_keys_follow() -> None:
    """The digits in it are not taken for keys of the person who presses one afterwards."""
    taking = Strokes()
    taking.take(strokes("LOT-10", gap_ms=2, end=""))

    assert taking.take([Stroke("5", 9000.0)]) == (CutShort("LOT-10"), Pressed("5"))


def test_a_code_cut_in_two_on_the_way_is_put_together() -> None:
    """The page hands strokes on in pieces; where it cut does not matter."""
    taking, whole = Strokes(), strokes("G-107", gap_ms=3)

    assert taking.take(whole[:3]) == ()
    assert taking.settle() == ()
    assert taking.take(whole[3:]) == (Scanned("G-107"),)


def test_nothing_handed_on_changes_nothing() -> None:
    """An empty piece between two halves of a code is no rest of it."""
    taking, whole = Strokes(), strokes("G-107", gap_ms=3)
    taking.take(whole[:3])

    assert taking.take([]) == ()
    assert taking.take(whole[3:]) == (Scanned("G-107"),)


def test_a_backspace_in_a_burst_is_no_character_of_a_code() -> None:
    """A scanner has no such key: what holds one is no code."""
    told = [Stroke("1", 0.0), Stroke("Backspace", 5.0), Stroke("2", 10.0), Stroke("Enter", 15.0)]

    assert read_burst(told) == (Pressed("1"), Pressed("back one"), Pressed("2"), Pressed("keep"))


def test_two_hundred_scans_back_to_back_all_arrive() -> None:
    """At 2 ms a character with no pause between, every code comes out, in order."""
    codes = [f"LOT-{number:04d}" for number in range(200)]
    at_ms, told = 0.0, []
    for code in codes:
        told += strokes(code, gap_ms=2, start_ms=at_ms)
        at_ms = told[-1].at_ms + 2

    assert read_burst(told) == tuple(Scanned(code) for code in codes)


@st.composite
def sessions(draw: st.DrawFn) -> tuple[list[Stroke], tuple[Found, ...], list[int]]:
    """Draw what scanner and hand do one after the other, what it means, and where the page cuts it."""
    at_ms, told, meant = 0.0, list[Stroke](), list[Found]()
    for is_scan in draw(st.lists(st.booleans(), min_size=1, max_size=6)):
        at_ms += draw(st.integers(130, 3000))
        if is_scan:
            code = draw(st.sampled_from("GLMPS")) + draw(st.text(LABEL, min_size=2, max_size=39))
            gaps = draw(st.lists(st.integers(1, 35), min_size=len(code), max_size=len(code)))
            end = draw(st.sampled_from(["Enter", "Tab"]))
            for key, gap in zip([*code, end], [0, *gaps], strict=True):
                at_ms += gap
                told.append(Stroke(key, at_ms))
            meant.append(Scanned(code))
        else:
            key = draw(st.sampled_from([*"0123456789.+-", "Enter"]))
            told.append(Stroke(key, at_ms))
            meant.append(Pressed("keep" if key == "Enter" else key))
    cuts = draw(st.lists(st.integers(0, len(told)), max_size=6))
    return told, tuple(meant), sorted(cuts)


@given(sessions())
def test_hand_and_scanner_in_any_order_cut_anywhere_mean_the_same(
    session: tuple[list[Stroke], tuple[Found, ...], list[int]],
) -> None:
    """However the strokes are cut on the way, what comes out is what was done, in order, once each."""
    told, meant, cuts = session
    taking, found = Strokes(), list[Found]()
    for start, end in zip([0, *cuts], [*cuts, len(told)], strict=True):
        found += taking.take(told[start:end])

    assert tuple(found) == meant


@given(st.lists(st.tuples(st.sampled_from([*LABEL, "Enter", "Tab", "Backspace"]), st.integers(0, 200)), max_size=40))
def test_no_character_appears_that_nobody_typed(typed: list[tuple[str, int]]) -> None:
    """Whatever the pace, each character of a code and each digit of a person was a stroke, and in that order."""
    at_ms, told = 0.0, []
    for key, gap_ms in typed:
        at_ms += gap_ms
        told.append(Stroke(key, at_ms))
    taking = Strokes()
    found = [*taking.take(told), *taking.settle(), *taking.settle()]
    characters = "".join(
        one.key if isinstance(one, Pressed) else one.code for one in found
        if not isinstance(one, Pressed) or len(one.key) == 1
    )  # fmt: skip
    every = iter(key for key, _ in typed if len(key) == 1)

    assert all(character in every for character in characters)
