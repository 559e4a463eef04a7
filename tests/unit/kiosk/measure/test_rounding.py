"""Rounding as the standards print, and the arc tangent."""

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.measure import rounding


def test_halves_go_up_or_to_the_even_digit_as_asked() -> None:
    """ASTM E29 names both; .00375 is .0038 up and .0038 to even, .10825 is .1083 up and .1082 to even."""
    assert rounding.round_half_up(Decimal(".10825"), "0.0001") == Decimal(".1083")
    assert rounding.round_half_even(Decimal(".10825"), "0.0001") == Decimal(".1082")


@pytest.mark.parametrize(
    ("value", "figures", "printed"),
    [("13050", 3, "13000"), ("8235", 3, "8240"), ("14.1825", 3, "14.2"), ("99.96", 3, "100")],
)
def test_significant_figures_are_kept_without_an_exponent(value: str, figures: int, printed: str) -> None:
    """As load and area tables print (ISO 898-1: M10 4.6 proof load 13 000 N, M8 8 240 N)."""
    assert f"{rounding.round_to_figures(Decimal(value), figures):f}".rstrip("0") == printed.rstrip("0")
    assert "E" not in str(rounding.round_to_figures(Decimal(value), figures))


def test_an_exact_root_stays_exact() -> None:
    """(1/64)^(2/3) is 1/16 exactly, on which a rounding of .00375 hangs."""
    assert rounding.root(Decimal(1) / 64, 2, 3) == Decimal("0.0625")


@given(st.floats(-50, 50))
def test_the_arc_tangent_is_the_libraries(value: float) -> None:
    """Held against the C library's arc tangent."""
    assert abs(float(rounding.arc_tangent(Decimal(value))) - math.atan(value)) < 1e-14


def test_what_is_no_number_is_no_rounding() -> None:
    """A programming fault ends at once."""
    with pytest.raises(ValueError, match="not a number"):
        rounding.round_to_figures(Decimal("NaN"), 3)
