"""Strength of threaded parts: stress areas, loads and stresses, and the least values of property classes and grades.

Owns both usual stress-area formulas, ISO 898-1 (with the loads its tables print) and SAE J429.
Knows nothing of a test, a frame or a verdict. Torque, preload and joint design are outside it.
Metric: mm, mm2, N, MPa. Inch: in, in2, lbf, psi.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from kiosk.errors import OutsideTheTable
from kiosk.measure.rounding import EXACT, PI, round_to_figures


class AreaFormula(StrEnum):
    """Which stress area: a report names it, for they differ by up to a part in a hundred."""

    ISO_898 = "ISO 898-1: pi/4 (d - 0.938194 P)^2, the mean of pitch and rounded minor diameter"
    UNIFIED = "ASME B1.1: 0.7854 (D - 0.9743/n)^2"
    UNIFIED_PITCH = (
        "ASME B1.1: pi (E/2 - 0.16238/n)^2, by the pitch diameter; for steel over 100 000 psi E is the least"
    )


def stress_area(diameter: Decimal, pitch: Decimal, formula: AreaFormula) -> Decimal:
    """Give the tensile stress area, square of the unit given, unrounded (28 digits).

    `diameter` is the nominal diameter, for UNIFIED_PITCH the pitch diameter E. `pitch` is 1/n for inch threads.
    Check: M10x1.5 58.0 mm2; 1/4-20 .0318 in2.
    """
    if formula is AreaFormula.ISO_898:
        core = EXACT.subtract(diameter, EXACT.multiply(Decimal("0.938194"), pitch))
        return EXACT.multiply(EXACT.divide(PI, 4), EXACT.multiply(core, core))
    if formula is AreaFormula.UNIFIED:
        core = EXACT.subtract(diameter, EXACT.multiply(Decimal("0.9743"), pitch))
        return EXACT.multiply(Decimal("0.7854"), EXACT.multiply(core, core))
    half = EXACT.subtract(EXACT.divide(diameter, 2), EXACT.multiply(Decimal("0.16238"), pitch))
    return EXACT.multiply(PI, EXACT.multiply(half, half))


def nominal_stress_area_mm2(diameter_mm: Decimal, pitch_mm: Decimal) -> Decimal:
    """Give the nominal stress area of ISO 898-1, mm2, to the three figures its tables print. Check: M5 14.2."""
    return round_to_figures(stress_area(diameter_mm, pitch_mm, AreaFormula.ISO_898), 3)


def stress_from_load(load: Decimal, area: Decimal) -> Decimal:
    """Give the stress, load over stress area: N over mm2 gives MPa, lbf over in2 gives psi. Unrounded."""
    return EXACT.divide(load, area)


def load_from_stress(stress: Decimal, area: Decimal) -> Decimal:
    """Give the load, stress times stress area: MPa times mm2 gives N, psi times in2 gives lbf. Unrounded."""
    return EXACT.multiply(stress, area)


@dataclass(frozen=True)
class PropertyClass:
    """One column of ISO 898-1:2013 table 3 for one range of diameters; None where the standard has no value."""

    name: str
    tensile_min_mpa: Decimal
    yield_min_mpa: Decimal
    """Lower yield (4.6, 5.6), 0.2 % proof (8.8 and up), or 0.0048 d proof of the full-size bolt (4.8, 5.8, 6.8)."""
    proof_mpa: Decimal
    elongation_min_percent: Decimal | None
    reduction_min_percent: Decimal | None
    vickers: tuple[Decimal, Decimal]
    rockwell_c: tuple[Decimal, Decimal] | None
    surface_vickers_max: Decimal | None
    impact_min_j: Decimal | None
    """At -20 degrees Celsius."""


_CLASSES = """
3.6  330  190 180 25 -  95  250 -  -  -   -
4.6  400  240 225 22 -  120 220 -  -  -   -
4.8  420  340 310 -  -  130 220 -  -  -   -
5.6  500  300 280 20 -  155 220 -  -  -   27
5.8  520  420 380 -  -  160 220 -  -  -   -
6.8  600  480 440 -  -  190 250 -  -  -   -
8.8  800  640 580 12 52 250 320 22 32 -   27
8.8+ 830  660 600 12 52 255 335 23 34 -   27
9.8  900  720 650 10 48 290 360 28 37 -   27
10.9 1040 940 830 9  48 320 380 32 39 390 27
12.9 1220 1100 970 8 44 385 435 39 44 435 -
"""
"""ISO 898-1:2013 table 3, from memory, compared with the published rows; 3.6 is of an edition withdrawn since."""

_SURFACE_OVER_CORE_HV = Decimal(30)

_PRINTED_OTHERWISE = {
    "ultimate": {
        "M3x0.5 5.6": 2510,
        "M5x0.8 8.8": 11350,
        "M6x1 5.8": 10400,
        "M8x1.25 8.8": 29200,
        "M8x1.25 12.9": 44600,
        "M16x2 6.8": 94000,
        "M16x2 8.8": 125000,
        "M22x2.5 8.8": 252000,
        "M27x3 3.6": 152000,
        "M33x3.5 4.8": 292000,
        "M39x4 12.9": 1200000,
    },
    "proof": {
        "M3x0.5 10.9": 4180,
        "M3.5x0.6 8.8": 3940,
        "M4x0.7 8.8": 5100,
        "M5x0.8 8.8": 8230,
        "M6x1 8.8": 11600,
        "M8x1.25 4.8": 11400,
        "M10x1.5 8.8": 33700,
        "M14x2 10.9": 95500,
        "M16x2 8.8": 91000,
        "M22x2.5 10.9": 252000,
        "M27x3 5.6": 128000,
    },
}
"""Newtons, coarse pitch: where ISO 898-1 prints a load one step off its own stress times its own area."""


def property_class(name: str, diameter_mm: Decimal) -> PropertyClass:
    """Give the ISO 898-1 values of a property class for a diameter (8.8 changes above 16 mm).

    Raises:
        OutsideTheTable: no such class, or the diameter is outside M1.6 to M39 (9.8: to M16).
    """
    rows = {row.split()[0]: row.split()[1:] for row in _CLASSES.strip().splitlines()}
    largest = Decimal(16) if name == "9.8" else Decimal(39)
    if name not in rows or name.endswith("+") or not Decimal("1.6") <= diameter_mm <= largest:
        raise OutsideTheTable(
            f"No values for property class {name} at {diameter_mm} mm.",
            why=f"ISO 898-1 has {', '.join(key for key in rows if key[-1] != '+')}, M1.6 to M39 (9.8: to M16).",
            next_step="Look at the head marking and the drawing again.",
        )
    row = [None if figure == "-" else Decimal(figure) for figure in rows[_row_name(name, diameter_mm)]]
    tensile, least_yield, proof, elongation, reduction, vickers_low, vickers_high, *rest = row
    rockwell_low, rockwell_high, surface, impact = rest
    return PropertyClass(
        name=name,
        tensile_min_mpa=tensile or Decimal(0),
        yield_min_mpa=least_yield or Decimal(0),
        proof_mpa=proof or Decimal(0),
        elongation_min_percent=elongation,
        reduction_min_percent=reduction,
        vickers=(vickers_low or Decimal(0), vickers_high or Decimal(0)),
        rockwell_c=(rockwell_low, rockwell_high) if rockwell_low and rockwell_high else None,
        surface_vickers_max=surface,
        impact_min_j=impact,
    )


def _row_name(name: str, diameter_mm: Decimal) -> str:
    return "8.8+" if name == "8.8" and diameter_mm > 16 else name


def is_surface_hardness_good(surface_hv: Decimal, core_hv: Decimal, least: PropertyClass) -> bool:
    """True when the surface is at most 30 HV over the core and, for 10.9 and 12.9, within its own limit."""
    is_near_core = surface_hv - core_hv <= _SURFACE_OVER_CORE_HV
    return is_near_core and (least.surface_vickers_max is None or surface_hv <= least.surface_vickers_max)


def ultimate_load_n(name: str, diameter_mm: Decimal, pitch_mm: Decimal) -> Decimal:
    """Give the least ultimate tensile load of ISO 898-1, newtons, as its tables print it. Check: M10 10.9: 60300."""
    return _load_n("ultimate", property_class(name, diameter_mm).tensile_min_mpa, name, diameter_mm, pitch_mm)


def proof_load_n(name: str, diameter_mm: Decimal, pitch_mm: Decimal) -> Decimal:
    """Give the proof load of ISO 898-1, newtons, as its tables print it. Check: M10 10.9: 48100."""
    return _load_n("proof", property_class(name, diameter_mm).proof_mpa, name, diameter_mm, pitch_mm)


def _load_n(kind: str, stress_mpa: Decimal, name: str, diameter_mm: Decimal, pitch_mm: Decimal) -> Decimal:
    """Stress times the three-figure area, to three figures; or what the table prints instead."""
    thread = f"M{diameter_mm.normalize(EXACT):f}x{pitch_mm.normalize(EXACT):f}"
    printed = _PRINTED_OTHERWISE[kind].get(f"{thread} {name}")
    if printed is not None:
        return Decimal(printed)
    return round_to_figures(EXACT.multiply(stress_mpa, nominal_stress_area_mm2(diameter_mm, pitch_mm)), 3)


@dataclass(frozen=True)
class Grade:
    """One row of SAE J429; stresses in psi, core hardness on the Rockwell scale named by its letter."""

    name: str
    over_in: Decimal
    up_to_in: Decimal
    proof_psi: Decimal
    yield_min_psi: Decimal | None
    tensile_min_psi: Decimal
    elongation_min_percent: Decimal | None
    reduction_min_percent: Decimal | None
    core_min: str
    core_max: str


_GRADES = """
1   0.25  1.5   33 36  60  18 35 B70 B100
2   0.25  0.75  55 57  74  18 35 B80 B100
2   0.75+ 1.5   33 36  60  18 35 B70 B100
4   0.25  1.5   65 100 115 10 35 C22 C32
5   0.25  1     85 92  120 14 35 C25 C34
5   1+    1.5   74 81  105 14 35 C19 C30
5.2 0.25  1     85 92  120 14 35 C26 C36
7   0.25  1.5   105 115 133 12 35 C28 C34
8   0.25  1.5   120 130 150 12 35 C33 C39
8.2 0.25  1     120 130 150 10 35 C33 C39
"""
"""SAE J429, thousands of psi, from memory, compared with the published rows. `+`: over, not from."""


def sae_grade(name: str, diameter_in: Decimal) -> Grade:
    """Give the SAE J429 values of a grade for a diameter in inches (grades 2 and 5 change with size).

    Raises:
        OutsideTheTable: no such grade, or none for this diameter.
    """
    for line in _GRADES.strip().splitlines():
        grade, low, high, *figures = line.split()
        over, up_to = Decimal(low.rstrip("+")), Decimal(high)
        is_above = diameter_in > over if low.endswith("+") else diameter_in >= over
        if grade == name and is_above and diameter_in <= up_to:
            proof, least_yield, tensile, elongation, reduction = (Decimal(figure) for figure in figures[:5])
            return Grade(
                name=grade,
                over_in=over,
                up_to_in=up_to,
                proof_psi=proof * 1000,
                yield_min_psi=least_yield * 1000,
                tensile_min_psi=tensile * 1000,
                elongation_min_percent=elongation,
                reduction_min_percent=reduction,
                core_min=figures[5],
                core_max=figures[6],
            )
    raise OutsideTheTable(
        f"No values for SAE grade {name} at {diameter_in} in.",
        why="SAE J429 as kept here has grades 1, 2, 4, 5, 5.2, 7, 8 and 8.2 from 1/4 to 1 1/2 in (5.2, 8.2: to 1 in).",
        next_step="Look at the head marking and the drawing again.",
    )
