"""Rounding as the standards round, and the few functions the arithmetic of the trade needs beyond + - x /.

Owns the 28-digit context every computed figure is worked in, and the ways a published figure is rounded.
Limits and readings are never rounded: `kiosk.measure.decimals` compares them as they stand.
"""

from decimal import ROUND_HALF_EVEN, ROUND_HALF_UP, Context, Decimal

EXACT = Context(prec=28, rounding=ROUND_HALF_EVEN)
"""The arithmetic of every computed figure: 28 digits, whatever the caller's own context is."""

PI = Decimal("3.141592653589793238462643383280")


def round_half_up(value: Decimal, step: str) -> Decimal:
    """Round to the step given, halves away from zero, as the tables of the thread standards do."""
    return value.quantize(Decimal(step), rounding=ROUND_HALF_UP, context=EXACT)


def round_half_even(value: Decimal, step: str) -> Decimal:
    """Round to the step given, halves to the even digit."""
    return value.quantize(Decimal(step), rounding=ROUND_HALF_EVEN, context=EXACT)


def round_to_figures(value: Decimal, figures: int) -> Decimal:
    """Round to so many significant figures, halves to the even digit, written without an exponent."""
    rounded = Context(prec=figures, rounding=ROUND_HALF_EVEN).plus(value)
    return rounded.quantize(Decimal(1), context=EXACT) if _exponent(rounded) > 0 else rounded


def root(value: Decimal, power: int, of: int) -> Decimal:
    """Give value^(power / of), settled to 20 decimals so that (1/64)^(2/3) is .0625 and not a hair less."""
    return round_half_up(EXACT.power(value, EXACT.divide(power, of)), "1E-20")


def arc_tangent(value: Decimal) -> Decimal:
    """Give the arc tangent in radians, by halving the angle until it is small and then by the series."""
    halvings = 0
    while abs(value) > Decimal("0.05"):
        hypotenuse = EXACT.sqrt(EXACT.add(1, EXACT.multiply(value, value)))
        value = EXACT.divide(value, EXACT.add(1, hypotenuse))
        halvings += 1
    square, power, total = EXACT.multiply(value, value), value, value
    for odd in range(3, 40, 2):
        power = EXACT.multiply(power, -square)
        total = EXACT.add(total, EXACT.divide(power, odd))
    return EXACT.multiply(total, 2**halvings)


def _exponent(value: Decimal) -> int:
    exponent = value.as_tuple().exponent
    if not isinstance(exponent, int):
        raise ValueError(f"{value} is not a number")
    return exponent
