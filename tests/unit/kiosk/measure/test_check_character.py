"""A typed number with one slip or one swap is refused, always."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.errors import NumberMistyped
from kiosk.measure.check_character import CHARACTERS, check_character, printed_number, read_typed

LETTERS = CHARACTERS[:-1]
NUMBERS = st.text(alphabet=LETTERS, min_size=1, max_size=24)


def test_a_published_number_has_its_published_check_character() -> None:
    """ISO/IEC 7064 MOD 37-2: G123489654321 takes Y (an example published with the standard's software; from memory)."""
    assert check_character("G123489654321") == "Y"


def test_the_arithmetic_of_the_standard_by_hand() -> None:
    """Hand calculation for 07: ((0 x 2 + 7) x 2) = 14, and 14 + 24 = 38 = 1 modulo 37, so the character is O."""
    assert check_character("07") == "O"


@pytest.mark.parametrize("number", ["G-107", "L-411", "M-14", "W-24", "L-2026-0007", "T9", "G-1O8"])
def test_every_slip_of_one_character_and_every_swap_of_neighbours_is_refused(number: str) -> None:
    """All 36 other characters in every place, the check character included, and every swap of two neighbours."""
    printed = [c for c in printed_number(number) if c != "-"]

    assert read_typed("".join(printed)) == number.replace("-", "")
    for place, right in enumerate(printed):
        for wrong in CHARACTERS:
            if wrong != right:
                _is_refused([*printed[:place], wrong, *printed[place + 1 :]])
        if place and printed[place - 1] != right:
            _is_refused([*printed[: place - 1], right, printed[place - 1], *printed[place + 1 :]])


@given(NUMBERS, st.data())
def test_no_slip_or_swap_ever_passes(number: str, data: st.DataObject) -> None:
    """The same promise for any number at all."""
    printed = list(number + check_character(number))
    place = data.draw(st.integers(0, len(printed) - 1))
    wrong = data.draw(st.sampled_from([c for c in CHARACTERS if c != printed[place]]))
    after = data.draw(st.integers(1, len(printed) - 1))

    _is_refused([*printed[:place], wrong, *printed[place + 1 :]])
    if printed[after - 1] != printed[after]:
        printed[after - 1], printed[after] = printed[after], printed[after - 1]
        _is_refused(printed)


def _is_refused(characters: list[str]) -> None:
    with pytest.raises(NumberMistyped):
        read_typed("".join(characters))


def test_a_number_typed_as_printed_is_taken_without_its_check_character() -> None:
    """Capitals or not, with the dashes as printed."""
    assert read_typed(printed_number("G-107")) == "G-107"
    assert read_typed(" " + printed_number("G-107").lower() + " ") == "G-107"


@pytest.mark.parametrize("typed", ["", "-", "7", "Ä-107", "*", "G*107A"])
def test_what_is_no_number_is_refused_with_a_next_step(typed: str) -> None:
    """The person is told to scan again or key the whole number."""
    with pytest.raises(NumberMistyped) as told:
        read_typed(typed)

    assert "Scan it again" in told.value.next_step
