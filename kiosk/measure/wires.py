"""Pitch diameter over three wires: from a reading to the pitch diameter it stands for, and back.

Owns the arithmetic of the wire method for threads of 60 degrees (Unified, metric and their J forms, which differ
in the root and not in the flanks the wires touch) and of 55 degrees (Whitworth), of best wires and of the range
of wires that still touch the flanks. ASME B1.2 (appendix on wires), ISO 1502; the factors as those print them.
Knows nothing of gauges, screens or limits.
All lengths of one call are in one unit, inch or millimetre, and so is the result.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from kiosk.errors import OutsideTheTable
from kiosk.measure.rounding import EXACT, PI, round_half_even
from kiosk.measure.units import INCH_IN_MM

FORMULA = "pitch diameter over wires, 60 degrees/1"
"""Name and number of the rule, kept with each pitch diameter; the number grows when the rule changes."""

_BILLIONTH = "1E-9"


@dataclass(frozen=True)
class Flanks:
    """What the angle of a thread makes of the wire formula M = E + wires x W - depth x P."""

    angle_degrees: int
    wires: Decimal
    """1 + 1 / sine of the half angle."""
    depth: Decimal
    """Half the cotangent of the half angle: the sharp height over the pitch."""
    best: Decimal
    """Best wire over the pitch: it touches the flanks at the pitch line. 1 / (2 cosine of the half angle)."""
    lead_factor: Decimal
    """Cosine times cotangent of the half angle, for the lead-angle correction."""


SIXTY = Flanks(60, Decimal(3), Decimal("0.866025"), Decimal("0.577350269"), Decimal("1.5"))
FIFTY_FIVE = Flanks(55, Decimal("3.1657"), Decimal("0.9605"), Decimal("0.563691"), Decimal("1.703932"))

_SMALLEST_WIRE = Decimal("0.56")
_LARGEST_WIRE = Decimal("0.90")
"""Over the pitch, 60 degrees: smaller sinks below the crests, larger touches above the flanks (common practice)."""

_CERTIFIED_AGREE_IN = Decimal("0.00002")
"""Inch; the wires of a set differ by no more (ASME B1.2)."""


def pitch_diameter_over_wires(measured_over_wires: Decimal, wire: Decimal, pitch: Decimal) -> Decimal:
    """Turn a reading over three wires into the pitch diameter: M - 3W + 0.866025 x pitch.

    All three in one unit, inch or millimetre; the result is in that unit, rounded half-even to 9 decimals
    (billionths of the unit). `wire` is the certified mean size of the set. `pitch` is exact: for an inch
    thread, 1 / threads per inch in a 28-digit context. Without lead-angle correction.

    Example: M .3198 in, W .02406 in, 24 threads an inch give .283704375 in.
    """
    return _pitch_diameter(measured_over_wires, wire, pitch, SIXTY)


def pitch_diameter_over_wires_55(measured_over_wires: Decimal, wire: Decimal, pitch: Decimal) -> Decimal:
    """Turn a reading over three wires into the pitch diameter of a 55 degree thread: M - 3.1657W + 0.9605 x pitch."""
    return _pitch_diameter(measured_over_wires, wire, pitch, FIFTY_FIVE)


def measurement_over_wires(
    pitch_diameter: Decimal, wire: Decimal, pitch: Decimal, flanks: Flanks = SIXTY, *, correction: Decimal = Decimal(0)
) -> Decimal:
    """Give what a micrometer reads over the wires for a pitch diameter, to 9 decimals, half-even.

    The inverse of `pitch_diameter_over_wires`; add `lead_angle_correction` where the plan asks for it.
    Check: E .2164 in, 20 threads, W .0289 in: .25980 in.
    """
    total = EXACT.add(pitch_diameter, EXACT.multiply(flanks.wires, wire))
    total = EXACT.subtract(total, EXACT.multiply(flanks.depth, pitch))
    return round_half_even(EXACT.add(total, correction), _BILLIONTH)


def basic_measurement_over_wires(
    diameter: Decimal, wire: Decimal, pitch: Decimal, *, is_sharp: bool = False
) -> Decimal:
    """Give what handbooks tabulate for a basic 60 degree thread of this major diameter, to 9 decimals.

    D - 1.5155 P + 3W for the truncated form (Unified, metric), D - 1.732051 P + 3W for the sharp V; the factors
    as printed there, so the last place may differ from the way over the pitch diameter.
    Check: 1 1/2-6, W .140 in: 1.6674 in.
    """
    factor = Decimal("1.732051") if is_sharp else Decimal("1.5155")
    total = EXACT.add(diameter, EXACT.multiply(SIXTY.wires, wire))
    return round_half_even(EXACT.subtract(total, EXACT.multiply(factor, pitch)), _BILLIONTH)


def corrected_pitch_diameter(measured_over_wires: Decimal, wire: Decimal, pitch: Decimal, *, basic: Decimal) -> Decimal:
    """Turn a reading into the pitch diameter with the lead-angle correction, only where the plan asks for it.

    `basic` is the basic pitch diameter, at which the lead angle is taken; single-start threads of 60 degrees.
    """
    plain = pitch_diameter_over_wires(measured_over_wires, wire, pitch)
    return round_half_even(EXACT.subtract(plain, lead_angle_correction(wire, pitch, basic)), _BILLIONTH)


def lead_angle_correction(wire: Decimal, lead: Decimal, pitch_diameter: Decimal, flanks: Flanks = SIXTY) -> Decimal:
    """Give what the lead angle adds to the reading: (W / 2) tan^2(lead angle) cos(a) cot(a), to 9 decimals.

    The form of ASME B1.2, appendix B, from memory. Check: 1/2-13 UNC, best wire .044412 in: .000099 in.
    """
    tangent = EXACT.divide(lead, EXACT.multiply(PI, pitch_diameter))
    half_wire = EXACT.divide(wire, 2)
    share = EXACT.multiply(EXACT.multiply(tangent, tangent), flanks.lead_factor)
    return round_half_even(EXACT.multiply(half_wire, share), _BILLIONTH)


def best_wire(pitch: Decimal, flanks: Flanks = SIXTY) -> Decimal:
    """Give the wire that touches the flanks at the pitch line, to 9 decimals: 0.57735 x pitch for 60 degrees.

    Check: 14 threads an inch .0412 in; pitch 1.5 mm .86603 mm.
    """
    return round_half_even(EXACT.multiply(flanks.best, pitch), _BILLIONTH)


def wire_range(pitch: Decimal) -> tuple[Decimal, Decimal]:
    """Give the smallest and the largest usable wire for 60 degrees: 0.56 and 0.90 x pitch, to 9 decimals."""
    return (
        round_half_even(EXACT.multiply(_SMALLEST_WIRE, pitch), _BILLIONTH),
        round_half_even(EXACT.multiply(_LARGEST_WIRE, pitch), _BILLIONTH),
    )


def is_usable_wire(wire: Decimal, pitch: Decimal) -> bool:
    """True when the wire touches the flanks of a 60 degree thread of this pitch; both ends belong to the good side."""
    smallest, largest = wire_range(pitch)
    return smallest <= wire <= largest


def mean_wire(sizes: Sequence[Decimal], *, unit: str) -> Decimal:
    """Give the mean of the certified sizes of a set of wires, to 9 decimals.

    Raises:
        OutsideTheTable: not three wires, or they differ by more than .00002 in (.000508 mm).
    """
    largest_spread = _CERTIFIED_AGREE_IN if unit == "in" else EXACT.multiply(_CERTIFIED_AGREE_IN, INCH_IN_MM)
    if len(sizes) != 3 or max(sizes) - min(sizes) > largest_spread:
        raise OutsideTheTable(
            f"No mean size for this set of {len(sizes)} wires.",
            why=f"A set is three wires that differ by no more than {largest_spread} {unit} (ASME B1.2).",
            next_step="Look at the certificate again, or take another set.",
        )
    total = EXACT.add(EXACT.add(sizes[0], sizes[1]), sizes[2])
    return round_half_even(EXACT.divide(total, 3), _BILLIONTH)


def pitch_diameter_by_setting_plug(
    measured: Decimal, measured_on_plug: Decimal, plug_pitch_diameter: Decimal
) -> Decimal:
    """Give the pitch diameter by comparison with a certified setting plug read the same way with the same wires.

    The wires and the lead angle drop out: certified pitch diameter + reading - reading on the plug. Exact.
    """
    return EXACT.add(plug_pitch_diameter, EXACT.subtract(measured, measured_on_plug))


def _pitch_diameter(measured: Decimal, wire: Decimal, pitch: Decimal, flanks: Flanks) -> Decimal:
    over = EXACT.subtract(measured, EXACT.multiply(flanks.wires, wire))
    return round_half_even(EXACT.add(over, EXACT.multiply(flanks.depth, pitch)), _BILLIONTH)
