"""What heat does to a length: correction to 20 degrees Celsius, its uncertainty, how far a hot part reads large.

Owns coefficients of expansion by material and the arithmetic on them (ISO 1: lengths are stated at 20 degrees).
A correction is a figure to doubt a reading with. It never turns a reading made hot into evidence of acceptance.
Lengths in any one unit; temperatures in degrees Celsius; coefficients in millionths per kelvin.
"""

from dataclasses import dataclass
from decimal import Decimal

from kiosk.errors import OutsideTheTable
from kiosk.measure.rounding import EXACT

REFERENCE_C = Decimal(20)
"""ISO 1; 68 degrees Fahrenheit."""

_MILLIONTH = Decimal("0.000001")


@dataclass(frozen=True)
class Expansion:
    """How a material expands; the half width is how far its true coefficient may lie off, either way."""

    material: str
    per_million_k: Decimal
    half_width: Decimal
    source: str


MATERIALS: dict[str, Expansion] = {
    row[0]: Expansion(row[0], Decimal(row[1]), Decimal(row[2]), row[3])
    for row in (
        ("steel gauge", "11.5", "1.0", "ISO 3650: gauge blocks 11.5 +- 1.0, from memory"),
        ("low alloy steel", "12.3", "1.2", "handbooks, 4140 and 4340, 20 to 100 C, from memory"),
        ("hot-work tool steel", "11.9", "1.2", "handbooks, H-11, from memory"),
        ("martensitic stainless", "10.8", "0.9", "handbook range 5.5 to 6.5 per F; high end read, low end from memory"),
        ("austenitic stainless", "17.0", "1.2", "handbook range 9.0 to 10.2 per F; low end read, high end from memory"),
        (
            "age-hardening stainless",
            "12.3",
            "2.5",
            "handbook range 5.5 to 8.2 per F; high end read, low end from memory",
        ),
        ("iron-nickel alloy A-286", "16.4", "0.8", "handbooks, 20 to 100 C, from memory"),
        ("nickel alloy 718", "13.0", "0.7", "handbooks, 20 to 100 C, from memory"),
        ("titanium 6-4", "8.6", "0.5", "handbooks, 20 to 100 C, from memory"),
        ("aluminium", "22.9", "1.9", "handbook range 11.7 to 13.7 per F, read"),
        ("magnesium", "27.0", "1.8", "handbook range 14 to 16 per F, read"),
        ("brass", "19.4", "1.5", "handbook range 10.0 to 11.6 per F; low end read, high end from memory"),
        ("tungsten carbide", "4.3", "0.6", "gauge makers' figures, from memory"),
        ("zirconia", "10.0", "1.0", "gauge makers' figures, from memory"),
    )
}
"""By material. A plan may state its own; the half width is never smaller than the spread between handbooks."""


def expansion_of(material: str) -> Expansion:
    """Give the coefficient kept for a material.

    Raises:
        OutsideTheTable: the material is not kept here.
    """
    if material not in MATERIALS:
        raise OutsideTheTable(
            f"No coefficient of expansion for {material!r}.",
            why=f"Kept are {', '.join(sorted(MATERIALS))}.",
            next_step="Take one of these, or have the plan state the coefficient and its half width.",
        )
    return MATERIALS[material]


def to_celsius(fahrenheit: Decimal) -> Decimal:
    """Give degrees Celsius, (F - 32) / 1.8, to 28 digits. Check: 68 F is 20 C."""
    return EXACT.divide(EXACT.subtract(fahrenheit, Decimal(32)), Decimal("1.8"))


def to_fahrenheit(celsius: Decimal) -> Decimal:
    """Give degrees Fahrenheit, 1.8 C + 32, exact."""
    return EXACT.add(EXACT.multiply(celsius, Decimal("1.8")), Decimal(32))


def per_kelvin(per_million_f: Decimal) -> Decimal:
    """Give a coefficient stated per degree Fahrenheit in millionths per kelvin: times 1.8, exact."""
    return EXACT.multiply(per_million_f, Decimal("1.8"))


def expansion(length: Decimal, per_million_k: Decimal, temperature_c: Decimal) -> Decimal:
    """Give how much longer a length is than at 20 C, in its own unit, unrounded.

    Check: 50 mm of steel (11.5) at 23 C: .001725 mm.
    """
    return EXACT.multiply(length, _strain(per_million_k, temperature_c))


def length_at_20(length: Decimal, per_million_k: Decimal, temperature_c: Decimal) -> Decimal:
    """Give the length at 20 C of what measured `length` at a temperature, by a scale true at 20 C, unrounded.

    Check: 10 mm (11.5) at 30 C: 9.99885 mm.
    """
    return EXACT.divide(length, EXACT.add(1, _strain(per_million_k, temperature_c)))


def reads_large_by(length: Decimal, part: Expansion, part_c: Decimal, *, gauge: Expansion, gauge_c: Decimal) -> Decimal:
    """Give how far a part reads large: L [part's strain - gauge's strain], in the unit of the length, unrounded.

    Positive: the reading is larger than the part is at 20 C, so it hides undersize.
    Check: 50 mm, both 11.5, part 40 C, gauge 22 C: .01035 mm.
    """
    apart = EXACT.subtract(_strain(part.per_million_k, part_c), _strain(gauge.per_million_k, gauge_c))
    return EXACT.multiply(length, apart)


def correction_uncertainty(
    length: Decimal, material: Expansion, temperature_c: Decimal, *, temperature_half_width_k: Decimal
) -> Decimal:
    """Give the standard uncertainty of a correction to 20 C, in the unit of the length, unrounded.

    Both half widths are taken as rectangular (divided by root 3) and independent (GUM 4.3.7, 5.1.2):
    u^2 = L^2 [(T - 20)^2 u(a)^2 + a^2 u(T)^2 + u(a)^2 u(T)^2], the last term because T - 20 may be nothing.
    """
    third = EXACT.divide(1, 3)
    coefficient = EXACT.multiply(material.per_million_k, _MILLIONTH)
    half_width = EXACT.multiply(material.half_width, _MILLIONTH)
    coefficient_square = EXACT.multiply(EXACT.multiply(half_width, half_width), third)
    temperature_square = EXACT.multiply(EXACT.multiply(temperature_half_width_k, temperature_half_width_k), third)
    off = EXACT.subtract(temperature_c, REFERENCE_C)
    total = EXACT.multiply(EXACT.multiply(off, off), coefficient_square)
    total = EXACT.add(total, EXACT.multiply(EXACT.multiply(coefficient, coefficient), temperature_square))
    total = EXACT.add(total, EXACT.multiply(coefficient_square, temperature_square))
    return EXACT.multiply(abs(length), EXACT.sqrt(total))


def _strain(per_million_k: Decimal, temperature_c: Decimal) -> Decimal:
    warmer = EXACT.subtract(temperature_c, REFERENCE_C)
    return EXACT.multiply(EXACT.multiply(per_million_k, _MILLIONTH), warmer)
