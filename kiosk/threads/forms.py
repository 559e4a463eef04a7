"""What a thread is: its form, size and class, its limits, and the angle of its helix.

Owns the plain models that the rules of the inch and the metric standards fill.
Knows no standard's tables and no designation's spelling.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from kiosk.measure.rounding import EXACT, PI, arc_tangent, round_half_up

PITCH_DIAMETER_FACTOR = Decimal("0.64951905")
"""Basic major less basic pitch diameter, over the pitch: 3/4 of the sharp height (ISO 68-1, ASME B1.1)."""

MINOR_DIAMETER_FACTOR = Decimal("1.08253175")
"""Basic major less basic minor diameter, over the pitch: 5/4 of the sharp height (ISO 68-1, ASME B1.1)."""

J_RADIUS_FACTORS = (Decimal("0.15011"), Decimal("0.18042"))
"""Least and largest root radius of the external J thread over the pitch (ASME B1.15, ISO 5855-1)."""

J_ROOT_DEPTH_FACTORS = (Decimal("0.56581"), Decimal("0.50518"))
"""Pitch diameter less minor diameter at the least and at the largest root radius, over the pitch."""

J_INTERNAL_MINOR_FACTOR = Decimal("0.97427858")
"""Major less minor diameter of the internal J thread over the pitch: 9/8 of the sharp height."""


class Form(StrEnum):
    """The thread form: what the root and the crest look like."""

    UN = "UN"
    UNR = "UNR"
    UNJ = "UNJ"
    M = "M"
    MJ = "MJ"


@dataclass(frozen=True)
class Thread:
    """One thread, as its designation names it. Lengths in inch (UN, UNR, UNJ) or millimetre (M, MJ)."""

    text: str
    form: Form
    diameter: Decimal
    pitch: Decimal
    """Exact for millimetres; 1 / threads per inch to 28 digits for inch threads."""
    threads_per_inch: Decimal | None
    series: str
    """`C`, `F`, `EF`, `S` or empty (constant pitch) for inch threads; empty for metric."""
    pitch_class: str
    """Tolerance class of the pitch diameter: `3A`, `6g`."""
    crest_class: str
    """Tolerance class of the major (external) or minor (internal) diameter."""
    is_internal: bool
    is_left_hand: bool = False
    engagement: Decimal | None = None
    """Length of engagement named in the designation, in the thread's unit; None: the standard's own."""
    engagement_group: str = "N"
    """ISO group of length of engagement: S short, N normal, L long."""

    @property
    def is_inch(self) -> bool:
        """True for the Unified forms."""
        return self.form in (Form.UN, Form.UNR, Form.UNJ)

    @property
    def unit(self) -> str:
        """`in` or `mm`."""
        return "in" if self.is_inch else "mm"

    @property
    def has_controlled_root(self) -> bool:
        """True for the J forms, whose root radius has an upper and a lower limit."""
        return self.form in (Form.UNJ, Form.MJ)


@dataclass(frozen=True)
class Limits:
    """A lower and an upper limit, both belonging to the good side; None where the standard sets none."""

    lower: Decimal | None
    upper: Decimal | None

    @property
    def tolerance(self) -> Decimal | None:
        """Upper less lower, or None where one is missing."""
        if self.lower is None or self.upper is None:
            return None
        return self.upper - self.lower


NO_LIMITS = Limits(None, None)


@dataclass(frozen=True)
class ThreadLimits:
    """Every limit a standard gives for one thread, in the thread's own unit, and how each was reached."""

    thread: Thread
    standard: str
    basic_pitch_diameter: Decimal
    basic_minor_diameter: Decimal
    """Of the basic UN or M profile, without any tolerance."""
    allowance: Decimal
    """How far the whole thread stands off its basic size: below it for a bolt, above it for a nut."""
    major: Limits
    pitch: Limits
    minor: Limits
    """External: of the flat root (UN, M), of the rounded root (UNR, UNJ, MJ). Internal: of the hole."""
    minor_rounded: Limits
    """External: minor diameter at the rounded root (B1.1 UNR, d3 of B1.13M and ISO 724). Internal: none."""
    root_radius: Limits
    engagement: Decimal | None
    """Length of engagement the tolerance is made for; None where a table covers a range of lengths."""
    derivation: tuple[str, ...]
    """One line a step, for the people who approve the limits."""


def j_root(exact_pitch_diameter: Decimal, pitch: Decimal, tolerance: Decimal, step: str) -> Limits:
    """Give the minor diameter of an external J thread: its root arc lies between the two radii.

    `exact_pitch_diameter` is the largest one before it is rounded; the roots are rounded once, to `step`.
    """
    least_depth, most_depth = J_ROOT_DEPTH_FACTORS[1], J_ROOT_DEPTH_FACTORS[0]
    return Limits(
        round_half_up(exact_pitch_diameter - tolerance - most_depth * pitch, step),
        round_half_up(exact_pitch_diameter - least_depth * pitch, step),
    )


def root_lines(radius: Limits, minor: Limits) -> tuple[str, ...]:
    """Give the lines of a derivation that tell the root of an external thread."""
    lines = [f"minor diameter at the rounded root {minor.lower or '-'} to {minor.upper}"]
    if radius.lower is not None:
        lines.append(f"root radius {radius.lower} to {radius.upper or 'no upper limit'}")
    return tuple(lines)


def lead_angle_degrees(pitch_diameter: Decimal, lead: Decimal) -> Decimal:
    """Give the lead angle at the pitch diameter, arc tangent of lead / (pi x pitch diameter), in degrees.

    Both in one unit, larger than nothing; to 6 decimals of a degree. Check: 2-56, .0744 in: 4.3689 degrees
    (ASME B1.1 prints 4 deg 22 min).
    """
    tangent = EXACT.divide(lead, EXACT.multiply(PI, pitch_diameter))
    return round_half_up(EXACT.divide(EXACT.multiply(arc_tangent(tangent), Decimal(180)), PI), "0.000001")
