"""A keyed figure becomes the exact decimal of the paper, or is asked for again."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.errors import NotANumber
from kiosk.measure import decimals

FIGURES = st.from_regex(r"-?(0|[1-9][0-9]{0,8})(\.[0-9]{1,9})?", fullmatch=True)


@pytest.mark.parametrize(
    ("keyed", "figure"),
    [
        (".3122", "0.3122"),
        ("12.800", "12.800"),
        ("12,800", "12.800"),
        ("0.31220", "0.31220"),
        ("+.00025", "0.00025"),
        ("-.00030", "-0.00030"),
        ("\u2212.00030", "-0.00030"),
        ("12800", "12800"),
        ("007.90", "7.90"),
        ("5.", "5"),
        ("-0.00", "0.00"),
        (" .3122 ", "0.3122"),
    ],
)
def test_a_figure_as_on_paper_is_kept_with_its_zeros(keyed: str, figure: str) -> None:
    """Comma is point, a leading zero is added, trailing zeros stay. Hand written from the plant's rule on figures."""
    assert decimals.read_figure(keyed) == figure


@pytest.mark.parametrize(
    "keyed",
    ["", ".", "-", "1,234.5", "1'234", "1 234", "1e3", "NaN", "Infinity", "--1", "٣", "1234567890", "0.0000000001"],
)
def test_anything_but_one_plain_number_is_asked_for_again(keyed: str) -> None:
    """No thousands marks, no exponents, no foreign digits, never a guess."""
    with pytest.raises(NotANumber) as told:
        decimals.read_figure(keyed)

    assert told.value.next_step == "Look again and key the whole reading."


@given(FIGURES)
def test_a_figure_equals_the_decimal_of_the_standard_library(text: str) -> None:
    """The canonical text means the same number as Python's own decimal reader makes of what was keyed."""
    assert decimals.to_decimal(decimals.read_figure(text)) == Decimal(text)


@given(FIGURES)
def test_billionths_and_back_lose_nothing(text: str) -> None:
    """A frame's int64 holds every figure that can be keyed, exactly; checked against integer text arithmetic."""
    value = decimals.to_decimal(decimals.read_figure(text))

    nano = decimals.to_nano(value)

    assert nano == int(format(value.quantize(Decimal("1.000000000")), "f").replace(".", ""))
    assert decimals.from_nano(nano) == value


def test_a_ten_thousandth_is_a_hundred_thousand_billionths() -> None:
    """Hand calculation: 0.31255 in is 312 550 000 billionths of an inch."""
    assert decimals.to_nano(Decimal("0.31255")) == 312_550_000
    assert str(decimals.from_nano(312_550_000)) == "0.31255"


@pytest.mark.parametrize("text", ["0.0000000001", "9223372036.854775808"])
def test_what_billionths_cannot_hold_is_refused(text: str) -> None:
    """Finer than a billionth or beyond 64 bits is an error, never a rounded value."""
    with pytest.raises(ValueError, match="64 bits"):
        decimals.to_nano(Decimal(text))


@pytest.mark.parametrize(
    ("value", "step", "is_whole"),
    [
        ("0.3122", "0.0001", True),
        ("0.31225", "0.0001", False),
        ("0.31225", "0.00005", True),
        ("-0.00030", "0.00005", True),
        ("0", "0.1", True),
        ("12800", "10", True),
        ("12805", "10", False),
    ],
)
def test_a_whole_number_of_divisions_is_told_exactly(value: str, step: str, is_whole: bool) -> None:
    """Hand calculation: .31225 lies between two divisions of .0001 and on one of .00005."""
    assert decimals.is_whole_number_of(Decimal(value), Decimal(step)) is is_whole


@given(FIGURES, st.from_regex(r"[1-9][0-9]{0,3}(\.[0-9]{1,6})?", fullmatch=True))
def test_divisions_agree_with_integer_arithmetic(text: str, step: str) -> None:
    """The same answer as dividing both in billionths."""
    value, least = Decimal(text), Decimal(step)

    assert decimals.is_whole_number_of(value, least) is (decimals.to_nano(value) % decimals.to_nano(least) == 0)


def test_sums_and_products_are_exact_however_long() -> None:
    """Hand calculation: .31225 + .00030 = .31255 and .31255 x 25.4 = 7.938770."""
    assert decimals.add(Decimal(".31225"), Decimal(".00030")) == Decimal("0.31255")
    assert decimals.subtract(Decimal(".31225"), Decimal(".00030")) == Decimal("0.31195")
    assert decimals.multiply(Decimal(".31255"), Decimal("25.4")) == Decimal("7.938770")


def test_a_written_figure_never_has_an_exponent() -> None:
    """A page's figure is plain digits."""
    assert decimals.write_figure(Decimal("1E+3")) == "1000"
    assert decimals.write_figure(Decimal("-0.00")) == "0.00"
    assert decimals.write_figure(Decimal("2E-9")) == "0.000000002"
