"""A plan names a feature of a thread in words and gets its limits, or is refused."""

from decimal import Decimal

import pytest

from kiosk.errors import OutsideTheTable, ThreadNotUnderstood
from kiosk.threads.characteristics import characteristic_limits, is_same_thread
from kiosk.threads.forms import Limits


def test_a_named_pitch_diameter_has_the_limits_of_its_thread_and_tells_how() -> None:
    """.3125-24 UNJF-3A: .2827 to .2854 in (formula by hand: .75 x .003659 = .0027)."""
    found = characteristic_limits("Pitch diameter of .3125-24 UNJF-3A")

    assert found.limits == Limits(Decimal(".2827"), Decimal(".2854"))
    assert (found.unit, found.standard) == ("in", "ASME B1.15")
    assert any(".0027" in line for line in found.derivation)


@pytest.mark.parametrize(
    ("words", "lower", "upper"),
    [
        ("major diameter of M10x1.5-6g", "9.732", "9.968"),
        ("minor diameter of 1/4-20 UNC-2B", ".196", ".207"),
        ("root radius of MJ8x1-4h6h", ".1501", ".1804"),
        ("root radius of M8x1-6g", ".1250", None),
    ],
)
def test_every_feature_has_its_own_limits(words: str, lower: str, upper: str | None) -> None:
    """ISO 965-1, ASME B1.1 and ISO 5855 (published tables; P / 8 by hand)."""
    limits = characteristic_limits(words).limits

    assert limits == Limits(Decimal(lower), None if upper is None else Decimal(upper))


@pytest.mark.parametrize(
    "words", ["", "pitch diameter", "length of M10-6g", "head height of M10-6g", "root radius of 1/4-20 UNC-2A"]
)
def test_words_that_name_no_limited_feature_are_refused(words: str) -> None:
    """Nothing is guessed, and the refusal shows a right one."""
    with pytest.raises(ThreadNotUnderstood) as refusal:
        characteristic_limits(words)

    assert "pitch diameter of .3125-24 UNJF-3A" in refusal.value.next_step


def test_a_size_the_standard_has_not_is_refused_by_name_too() -> None:
    """M8x2 has no row in ISO 965-1."""
    with pytest.raises(OutsideTheTable):
        characteristic_limits("pitch diameter of M8x2-6g")


@pytest.mark.parametrize(
    ("one", "other", "is_same"),
    [
        ("5/16-24 UNJF-3A", ".3125-24 UNJF-3A", True),
        ("M10-6g", "M10x1.50-6g6g", True),
        ("10-32 UNF-2A", "#10-32 UNF-2A", True),
        (".3125-24 UNJF-3A", ".3125-24 UNF-3A", False),
        (".3125-24 UNJF-3A", ".3125-24 UNJF-2A", False),
        (".3125-24 UNJF-3A", ".3125-24 UNJF-3B", False),
        ("1/4-20 UNC-2A", "1/4-20 UNC-2A-LH", False),
        ("1/4-20 UNC-2A", "1/4-20 UNC-2A LE .75", False),
    ],
)
def test_two_spellings_of_one_thread_are_one_and_two_threads_are_two(one: str, other: str, is_same: bool) -> None:
    """A gauge for another form, class or hand does not fit the part, however its label is spelled."""
    assert is_same_thread(one, other) is is_same
