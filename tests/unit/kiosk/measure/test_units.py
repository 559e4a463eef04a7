"""Two units of one kind are compared exactly, and others never."""

from decimal import Decimal
from fractions import Fraction

import pytest

from kiosk.measure import units


@pytest.mark.parametrize(
    ("value", "unit", "other", "shared"),
    [
        (".3125", "in", "mm", "7.93750"),
        ("7.9375", "mm", "in", "7.9375"),
        ("1", "lbf", "N", "4.4482216152605"),
        ("2.5", "kN", "lbf", "2500"),
        ("45.2", "HRC", "HRC", "45.2"),
        ("250", "um", "in", "0.25"),
        ("10", "uin", "um", "0.000254"),
    ],
)
def test_figures_of_one_kind_meet_in_one_unit_exactly(value: str, unit: str, other: str, shared: str) -> None:
    """Factors of NIST Special Publication 811, appendix B (1 in = 25.4 mm, 1 lbf = 4.448 221 615 260 5 N, exact)."""
    assert units.in_one_unit(Decimal(value), unit, other=other) == Decimal(shared)


def test_units_of_two_kinds_are_never_compared() -> None:
    """A load is not a length, and a hardness scale is only itself."""
    for unit, other in [("in", "lbf"), ("HRC", "in"), ("HRC", "HV")]:
        assert not units.are_alike(unit, other)
        with pytest.raises(units.UnitsApart):
            units.in_one_unit(Decimal(1), unit, other=other)


def test_a_share_of_two_figures_is_exact() -> None:
    """Hand calculation: a division of 0.00254 mm is a fifth of .0005 in."""
    share = units.ratio(Decimal("0.00254"), "mm", to=Decimal(".0005"), to_unit="in")

    assert share == Fraction(1, 5)


def test_the_two_ways_of_a_unit_slip_are_exact() -> None:
    """Hand calculation: 7.93 mm is 7.93/25.4 in, a fraction no decimal holds; .3122 x 25.4 = 7.92988."""
    assert units.between_inch_and_mm(Decimal("7.93"))[0] == Fraction(793, 2540)
    assert units.between_inch_and_mm(Decimal(".3122"))[1] == Fraction(792988, 100000)


def test_a_wire_in_millimetres_serves_an_inch_reading() -> None:
    """Hand calculation: 0.611124 mm / 25.4 = .02406 in."""
    assert units.convert(Decimal("0.611124"), "mm", to_unit="in") == Decimal("0.02406")
    assert units.is_length("in") and not units.is_length("lbf")
