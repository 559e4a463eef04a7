"""Pitch diameter over three wires, for 60 degree threads.

Owns the arithmetic between a reading over wires and the pitch diameter it stands for.
Knows nothing of gauges, screens or limits.
"""

from decimal import ROUND_HALF_EVEN, Context, Decimal

FORMULA = "pitch diameter over wires, 60 degrees/1"
"""Name and number of the rule, kept with every pitch diameter computed by it; the number grows when the rule changes."""

PITCH_FACTOR = Decimal("0.866025")
"""cos 30 degrees as the standards print it (ASME B1.2): the sharp thread height over the pitch."""

_EXACT = Context(prec=28, rounding=ROUND_HALF_EVEN)
_BILLIONTH = Decimal("1e-9")


def pitch_diameter_over_wires(measured_over_wires: Decimal, wire: Decimal, pitch: Decimal) -> Decimal:
    """Turn a reading over three wires into the pitch diameter: M - 3W + 0.866025 x pitch.

    All three in one unit, inch or millimetre; the result is in that unit, rounded half-even to 9 decimals
    (billionths of the unit). `wire` is the certified mean size of the set. `pitch` is exact: for an inch
    thread, 1 / threads per inch in a 28-digit context.

    Example: M .3198 in, W .02406 in, 24 threads an inch give .283704375 in.
    """
    three_wires = _EXACT.multiply(3, wire)
    over = _EXACT.subtract(measured_over_wires, three_wires)
    return _EXACT.quantize(_EXACT.add(over, _EXACT.multiply(PITCH_FACTOR, pitch)), _BILLIONTH)
