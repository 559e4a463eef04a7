"""Judging again is exact: held against Python's decimal arithmetic on random readings, errors and limits."""

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from consolidator.frame.verdicts import Bounds
from consolidator.lookback.again import Finding, in_unit, judge_again, neighbours, say_error, say_figure
from consolidator.lookback.visits import Point

figures = st.decimals(min_value=-2, max_value=2, places=6, allow_nan=False, allow_infinity=False)
errors = st.decimals(min_value=Decimal("-0.01"), max_value=Decimal("0.01"), places=6)


@given(figures, st.lists(errors, min_size=1, max_size=2), figures, figures, st.booleans())
def test_the_finding_is_the_worst_that_decimal_arithmetic_gives(
    value: Decimal, told: list[Decimal], one: Decimal, other: Decimal, was_bad: bool
) -> None:
    """A reading fails when any true value lies outside, ends included in the good side."""
    lower, upper = min(one, other), max(one, other)
    fails = any(not lower <= value - error <= upper for error in told)

    found = judge_again(
        Fraction(value), Bounds(Fraction(lower), Fraction(upper)), [Fraction(e) for e in told], was_bad=was_bad
    )

    kept = Finding.PASS if was_bad else Finding.INSIDE
    assert found.finding is (Finding.FAIL if fails else kept)
    assert found.error in [Fraction(e) for e in told]
    assert found.true is not None and found.error is not None
    assert found.true + found.error == Fraction(value)


@given(figures, errors, figures)
def test_no_error_is_lost_with_one_limit_only(value: Decimal, error: Decimal, upper: Decimal) -> None:
    """An upper limit alone: inside exactly when reading - error does not exceed it."""
    found = judge_again(Fraction(value), Bounds(None, Fraction(upper)), [Fraction(error)], was_bad=False)

    assert (found.finding is Finding.INSIDE) == (value - error <= upper)


@given(st.lists(figures, min_size=0, max_size=6, unique=True), figures)
def test_neighbours_are_the_nearest_points_on_both_sides(places: list[Decimal], shown: Decimal) -> None:
    """Held against a plain search; beyond the ends there are none."""
    points = tuple(Point(Fraction(at), Fraction(0), Fraction(1)) for at in sorted(places))
    below, above = [p for p in places if p <= shown], [p for p in places if p >= shown]

    found = [point.at for point in neighbours(points, Fraction(shown))]

    wanted = [] if not below or not above else sorted({max(below), min(above)})
    assert found == [Fraction(at) for at in wanted]


@given(figures)
def test_inches_and_millimetres_go_both_ways_without_loss(value: Decimal) -> None:
    """25.4 mm to the inch exactly (NIST Special Publication 811)."""
    there = in_unit(Fraction(value), "in", "mm")

    assert there == Fraction(value) * Fraction(254, 10)
    assert there is not None
    assert in_unit(there, "mm", "in") == Fraction(value)


def test_units_of_different_kinds_are_never_mixed() -> None:
    """Pounds are no inches."""
    assert in_unit(Fraction(1), "lbf", "in") is None


@given(figures)
def test_a_figure_is_said_with_all_its_decimals(value: Decimal) -> None:
    """What is said is the very figure."""
    assert Fraction(say_figure(Fraction(value))) == Fraction(value)


def test_a_figure_without_end_is_cut_and_marked() -> None:
    """One millimetre in inches is 0.0393700787401574…; it is cut, never rounded up to look better."""
    assert say_figure(Fraction(10, 254)) == "0.039370078740…"


def test_an_error_is_said_with_its_direction() -> None:
    """High, low, or true."""
    told = [say_error(Fraction(Decimal(text))) for text in ("0.0003", "-0.0003", "0")]

    assert told == ["high by 0.0003", "low by 0.0003", "true"]
