"""Units of the trade and the exact factors between them.

Owns which units are of one kind and bringing two figures to one unit without rounding.
Knows nothing of limits or gauges.
"""

from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from typing import Final

from kiosk.measure.decimals import multiply

INCH_IN_MM: Final = Decimal("25.4")
"""Exact: the inch of 1959 (NIST Special Publication 811, appendix B)."""

_SMALLEST: Final = {
    "in": ("length", Decimal("25.4")),
    "mm": ("length", Decimal(1)),
    "um": ("length", Decimal("0.001")),
    "uin": ("length", Decimal("0.0000254")),
    "m": ("length", Decimal(1000)),
    "lbf": ("force", Decimal("4.4482216152605")),
    "N": ("force", Decimal(1)),
    "kN": ("force", Decimal(1000)),
}
"""Kind, and how many millimetres or newtons one of the unit is, exactly (NIST Special Publication 811, appendix B)."""

_ROUNDED: Final = Context(prec=28, rounding=ROUND_HALF_EVEN)


class UnitsApart(ValueError):
    """Two units cannot be compared exactly."""


def is_length(unit: str) -> bool:
    """True for the units of length known here."""
    return unit in _SMALLEST and _SMALLEST[unit][0] == "length"


def are_alike(unit: str, other: str) -> bool:
    """True when figures in the two units can be compared exactly."""
    if unit == other:
        return True
    return unit in _SMALLEST and other in _SMALLEST and _SMALLEST[unit][0] == _SMALLEST[other][0]


def in_one_unit(value: Decimal, unit: str, *, other: str) -> Decimal:
    """Return `value` as a figure that can be compared with one in unit `other` brought here by the same call.

    Equal units: the value as it is. Otherwise both come to millimetres or newtons, which is exact in either direction.

    Raises:
        UnitsApart: the two units are not of one kind.
    """
    if unit == other:
        return value
    if not are_alike(unit, other):
        raise UnitsApart(f"{unit} and {other} cannot be compared")
    return multiply(value, _SMALLEST[unit][1])


def ratio(value: Decimal, unit: str, *, to: Decimal, to_unit: str) -> Fraction:
    """Return `value` (in `unit`) over `to` (in `to_unit`), exactly.

    Raises:
        UnitsApart: the two units are not of one kind.
        ZeroDivisionError: `to` is zero.
    """
    return Fraction(in_one_unit(value, unit, other=to_unit)) / Fraction(in_one_unit(to, to_unit, other=unit))


def between_inch_and_mm(value: Decimal) -> tuple[Fraction, Fraction]:
    """Return `value` divided by 25.4 and multiplied by 25.4, exactly: the two ways a unit slip can go."""
    return Fraction(value) / Fraction(INCH_IN_MM), Fraction(value) * Fraction(INCH_IN_MM)


def convert(value: Decimal, unit: str, *, to_unit: str) -> Decimal:
    """Return `value` in `to_unit`, exact where the target divides evenly, else to 28 digits.

    For figures that are computed on (a wire set in mm used on an inch reading), never for a comparison.

    Raises:
        UnitsApart: the two units are not of one kind.
    """
    if unit == to_unit:
        return value
    shared = in_one_unit(value, unit, other=to_unit)
    return _ROUNDED.divide(shared, _SMALLEST[to_unit][1])
