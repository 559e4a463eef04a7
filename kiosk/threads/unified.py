"""Limits of inch threads: ASME B1.1 (UN, UNR) and ASME B1.15 (UNJ), with the standards' stepwise rounding.

Owns the tolerance formulas and the places each figure is rounded to. The order of rounding is part of the rule:
tolerances first, to four places, then sums of rounded figures (ASME B1.1, section 5 and the rounding appendix).
Knows nothing of how a designation is spelled.
"""

from dataclasses import dataclass
from decimal import Decimal, localcontext

from kiosk.measure.rounding import EXACT, root, round_half_even, round_half_up
from kiosk.threads.forms import (
    J_INTERNAL_MINOR_FACTOR,
    J_RADIUS_FACTORS,
    MINOR_DIAMETER_FACTOR,
    NO_LIMITS,
    PITCH_DIAMETER_FACTOR,
    Form,
    Limits,
    Thread,
    ThreadLimits,
    j_root,
    root_lines,
)

_TENTH = "0.0001"
_PITCH_SHARE = {"1A": "1.5", "2A": "1", "3A": "0.75", "1B": "1.95", "2B": "1.3", "3B": "0.975"}
"""Pitch-diameter tolerance over that of class 2A (ASME B1.1, 5.8.1 and 5.8.2)."""

_UNR_RADIUS = Decimal("0.10825318")
"""Least root radius of UNR over the pitch: 1/8 of the sharp height, as deep as its root lies below the flat one."""
_TABLED_AS = {
    Decimal("0.9375"): Decimal(1),
    Decimal("2.375"): Decimal("2.5"),
    Decimal("2.4375"): Decimal("2.5"),
    Decimal("5.75"): Decimal(6),
}
"""Sizes whose printed tolerances, where the length of engagement is nine pitches, are those of a larger size.

The printed tables show it; why they do is not said there (decision 0050)."""
_THREE_PLACES_FROM = Decimal("0.138")
"""Inch; from screw number 6 up the internal minor diameter is given to three places (ASME B1.1 tables)."""


@dataclass(frozen=True)
class _Steps:
    """The rounded figures every limit is summed from; inches."""

    engagement: Decimal
    basic_tolerance: Decimal
    allowance: Decimal
    pitch_tolerance: Decimal
    basic_pitch_diameter: Decimal


def unified_limits(thread: Thread) -> ThreadLimits:
    """Give the limits of an inch thread in inches, to the places the standard prints.

    The tolerance is made for the length of engagement named in the designation, else the standard's own:
    the diameter for UNC, UNF and constant pitches of 4, 6 and 8 threads, else nine pitches.
    Check: 1/4-20 UNC-2A pitch diameter .2164/.2127 in.
    """
    with localcontext(EXACT):
        steps = _steps(thread)
        return _internal(thread, steps) if thread.is_internal else _external(thread, steps)


def _steps(thread: Thread) -> _Steps:
    engagement = thread.engagement or standard_engagement(thread)
    is_nine_pitches = engagement == EXACT.multiply(9, thread.pitch)
    diameter = _TABLED_AS.get(thread.diameter, thread.diameter) if is_nine_pitches else thread.diameter
    basic = pitch_tolerance_2a(diameter, thread.pitch, engagement)
    share = Decimal(_PITCH_SHARE[thread.pitch_class])
    has_allowance = thread.pitch_class in ("1A", "2A")
    return _Steps(
        engagement=engagement,
        basic_tolerance=basic,
        allowance=_allowance(basic) if has_allowance else Decimal("0.0000"),
        pitch_tolerance=_tenths(basic * share),
        basic_pitch_diameter=_tenths(thread.diameter - _tenths(PITCH_DIAMETER_FACTOR * thread.pitch)),
    )


def _allowance(basic_tolerance: Decimal) -> Decimal:
    """Three tenths of the class 2A tolerance, that taken to five places first (5/8-11: .0016, as is printed)."""
    return round_half_even(Decimal("0.3") * round_half_up(basic_tolerance, "0.00001"), _TENTH)


def standard_engagement(thread: Thread) -> Decimal:
    """Give the length of engagement, inch, that ASME B1.1 bases its tables on for this series."""
    if thread.series in ("C", "F") or (thread.series == "" and thread.threads_per_inch in (4, 6, 8)):
        return thread.diameter
    return EXACT.multiply(9, thread.pitch)


def pitch_tolerance_2a(diameter: Decimal, pitch: Decimal, engagement: Decimal) -> Decimal:
    """Give the class 2A pitch-diameter tolerance, inch, to six places (ASME B1.1, 5.8.1).

    0.0015 D^(1/3) + 0.0015 LE^(1/2) + 0.015 P^(2/3). Check: 1/4-20, LE .25: .003731.
    """
    with localcontext(EXACT):
        by_size = Decimal("0.0015") * (root(diameter, 1, 3) + engagement.sqrt())
        return round_half_up(by_size + Decimal("0.015") * root(pitch, 2, 3), "0.000001")


def _external(thread: Thread, steps: _Steps) -> ThreadLimits:
    pitch_length = thread.pitch
    share = "0.090" if thread.pitch_class == "1A" else "0.060"
    major_tolerance = _tenths(Decimal(share) * root(pitch_length, 2, 3))
    major_upper = _tenths(thread.diameter) - steps.allowance
    pitch_upper = steps.basic_pitch_diameter - steps.allowance
    pitch = Limits(pitch_upper - steps.pitch_tolerance, pitch_upper)
    flat = Limits(None, major_upper - _tenths(MINOR_DIAMETER_FACTOR * pitch_length))
    rounded = Limits(None, major_upper - _unr_depth(pitch_length))
    radius = NO_LIMITS
    if thread.form is Form.UNR:
        radius = Limits(_tenths(_UNR_RADIUS * pitch_length), None)
    if thread.form is Form.UNJ:
        exact = thread.diameter - steps.allowance - PITCH_DIAMETER_FACTOR * pitch_length
        rounded = j_root(exact, pitch_length, steps.pitch_tolerance, _TENTH)
        radius = Limits(*(_tenths(factor * pitch_length) for factor in J_RADIUS_FACTORS))
    return ThreadLimits(
        thread=thread,
        standard=_standard(thread),
        basic_pitch_diameter=steps.basic_pitch_diameter,
        basic_minor_diameter=_basic_minor(thread),
        allowance=steps.allowance,
        major=Limits(major_upper - major_tolerance, major_upper),
        pitch=pitch,
        minor=flat if thread.form is Form.UN else rounded,
        minor_rounded=rounded,
        root_radius=radius,
        engagement=steps.engagement,
        derivation=(
            *_derive(thread, steps, pitch),
            f"major tolerance {share} P^(2/3) = {major_tolerance}",
            f"major {major_upper - major_tolerance} to {major_upper}",
            *root_lines(radius, rounded),
        ),
    )


def _unr_depth(pitch: Decimal) -> Decimal:
    """Major less rounded-root minor diameter of UNR: the depth of the flat root and H/8 more, each rounded.

    The standard's tables come out only when each is taken to five places first (10 threads: .10825 is .1082).
    """
    depth = Decimal(0)
    for factor in (MINOR_DIAMETER_FACTOR, _UNR_RADIUS):
        five_places = round_half_up(factor * pitch, "0.00001")
        depth += round_half_even(five_places, _TENTH)
    return depth


def _internal(thread: Thread, steps: _Steps) -> ThreadLimits:
    basic_minor = _basic_minor(thread)
    tolerance = _tenths(minor_tolerance(thread))
    lower, upper = basic_minor, basic_minor + tolerance
    if thread.form is Form.UNJ:
        # The J thread moves only the least minor diameter up; the largest stays that of UN (decision 0051).
        lower = _tenths(thread.diameter - J_INTERNAL_MINOR_FACTOR * thread.pitch)
    elif thread.diameter >= _THREE_PLACES_FROM:
        lower = round_half_up(lower, "0.001")
        upper = upper if thread.pitch_class == "3B" else round_half_up(upper, "0.001")
        if thread.pitch_class == "3B":
            lower = _tenths(lower)
    pitch = Limits(steps.basic_pitch_diameter, steps.basic_pitch_diameter + steps.pitch_tolerance)
    return ThreadLimits(
        thread=thread,
        standard=_standard(thread),
        basic_pitch_diameter=steps.basic_pitch_diameter,
        basic_minor_diameter=_basic_minor(thread),
        allowance=Decimal("0.0000"),
        major=Limits(_tenths(thread.diameter), None),
        pitch=pitch,
        minor=Limits(lower, upper),
        minor_rounded=NO_LIMITS,
        root_radius=NO_LIMITS,
        engagement=steps.engagement,
        derivation=(
            *_derive(thread, steps, pitch),
            f"minor basic D - 1.08253175 P = {basic_minor}, tolerance {tolerance}",
            f"minor {lower} to {upper}",
        ),
    )


def _basic_minor(thread: Thread) -> Decimal:
    return _tenths(thread.diameter - _tenths(MINOR_DIAMETER_FACTOR * thread.pitch))


def minor_tolerance(thread: Thread) -> Decimal:
    """Give the minor-diameter tolerance of an internal thread, inch, unrounded (ASME B1.1, 5.8.2)."""
    p = thread.pitch
    formula = Decimal("0.05") * root(p, 2, 3) + EXACT.divide(Decimal("0.03") * p, thread.diameter) - Decimal("0.002")
    largest = Decimal("0.394") * p
    by_pitch = Decimal("0.25") * p - Decimal("0.4") * p * p
    if thread.pitch_class != "3B":
        if thread.diameter >= Decimal("0.25"):
            return by_pitch if p <= Decimal("0.25") else Decimal("0.15") * p
        return max(min(formula, largest), by_pitch)
    # 13 threads per inch and finer have a floor of their own; 12 and coarser .120 P.
    is_fine = p <= EXACT.divide(1, 13)
    least = Decimal("0.23") * p - Decimal("1.5") * p * p if is_fine else Decimal("0.12") * p
    return max(min(formula, largest), least)


def _derive(thread: Thread, steps: _Steps, pitch: Limits) -> tuple[str, ...]:
    share = _PITCH_SHARE[thread.pitch_class]
    return (
        f"{_standard(thread)}, {thread.text}: D {thread.diameter} in, {thread.threads_per_inch} threads per inch",
        f"length of engagement {steps.engagement.normalize(EXACT):f} in",
        f"2A pitch-diameter tolerance .0015 D^(1/3) + .0015 LE^(1/2) + .015 P^(2/3) = {steps.basic_tolerance}",
        f"class {thread.pitch_class}: x {share} = {steps.pitch_tolerance}; allowance {steps.allowance}",
        f"basic pitch diameter D - .64951905 P = {steps.basic_pitch_diameter}",
        f"pitch diameter {pitch.lower} to {pitch.upper}",
    )


def _standard(thread: Thread) -> str:
    return "ASME B1.15" if thread.form is Form.UNJ else "ASME B1.1"


def _tenths(value: Decimal) -> Decimal:
    return round_half_up(value, _TENTH)
