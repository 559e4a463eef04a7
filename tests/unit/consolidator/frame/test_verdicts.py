"""Verdicts of a whole night, held to Python's exact fractions one reading at a time."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from consolidator.frame import make_day
from consolidator.frame.values import floor_nano, read_keyed
from consolidator.frame.verdicts import VERDICTS
from tests.unit.consolidator.held_builder import AT, DAY, HeldBuilder, deck

FIGURE = st.decimals("-3", "3", places=6, allow_nan=False, allow_infinity=False).map(lambda d: f"{d:f}")


@settings(max_examples=60, deadline=None)
@given(
    st.lists(FIGURE, min_size=1, max_size=20),
    FIGURE,
    FIGURE,
    st.sampled_from(["two-sided", "upper limit only", "lower limit only"]),
)
def test_every_raw_verdict_is_that_of_exact_fractions(keyed: list[str], one: str, other: str, kind: str) -> None:
    """Limits belong to the good side, nothing is rounded, no binary fraction decides."""
    lower, upper = sorted((one, other), key=Decimal)
    lists = deck()
    changed = {"kind": kind, "lower": lower, "upper": upper}
    rows = [c.model_dump() | changed if c.number == "BC1" else c.model_dump() for c in lists.characteristics]
    builder = HeldBuilder(deck(characteristics=rows))
    for at, text in enumerate(keyed):
        builder.reading(f"2026-03-09T09:{at:02d}:00.000-04:00", text)

    day = make_day(builder.held(), builder.lists, day=DAY, at_utc=AT)

    found = [str(VERDICTS[place]) for place in day.verdicts.raw_verdict.tolist()]
    low = Fraction(lower) if kind != "upper limit only" else None
    high = Fraction(upper) if kind != "lower limit only" else None
    expected = [
        "In tolerance"
        if (low is None or Fraction(text) >= low) and (high is None or Fraction(text) <= high)
        else "Out of tolerance"
        for text in keyed
    ]
    assert found == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (".3122", "0.3122"), ("+.00025", "0.00025"), ("-.0003", "-0.0003"), ("−1", "-1"), ("12,800", "12.800"),
        ("12.", "12"), ("-0.0", "0.0"), ("000000000012", "12"), ("", None), (".", None), ("1.2.3", None), ("1e3", None),
        ("1234567890", None), (".1234567891", None), ("١", None), ("NaN", None),
    ],
)  # fmt: skip
def test_keyed_text_is_one_plain_decimal_or_none(text: str, expected: str | None) -> None:
    """Comma and point are one key, no thousands marks, no exponents, at most nine digits each side."""
    value = read_keyed(text)

    assert (None if value is None else str(value)) == expected


@given(st.fractions(-9_000_000, 9_000_000))
def test_billionths_are_the_floor_and_say_when_something_was_cut(value: Fraction) -> None:
    """What does not fit whole billionths is rounded down and marked, so comparisons stay exact."""
    nano, is_cut = floor_nano(value)

    assert Fraction(nano, 10**9) <= value < Fraction(nano + 1, 10**9)
    assert is_cut is (Fraction(nano, 10**9) != value)


@pytest.mark.parametrize(
    ("keyed", "verdict"),
    [
        ("7.9248", "In tolerance"),
        ("7.92479", "Out of tolerance"),
        ("7.9375", "In tolerance"),
        ("7.93751", "Out of tolerance"),
    ],
)
def test_a_reading_in_millimetres_is_compared_exactly_with_inch_limits(keyed: str, verdict: str) -> None:
    """.3120 x 25.4 = 7.9248 and .3125 x 25.4 = 7.9375 exactly (1 in = 25.4 mm)."""
    builder = HeldBuilder()
    builder.reading("2026-03-09T09:00:00.000-04:00", keyed, unit="mm")

    day = make_day(builder.held(), builder.lists, day=DAY, at_utc=AT)

    assert str(VERDICTS[int(day.verdicts.verdict[0])]) == verdict
