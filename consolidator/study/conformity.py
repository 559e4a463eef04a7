"""Does a measured value prove that the piece conforms, and how often would that decision be wrong.

Owns decision rules (ISO 14253-1, ILAC-G8), the probability of conformity and the risks (JCGM 106:2012),
and the ratio of tolerance to uncertainty.
Limits and readings are decimals, so nothing is rounded near a limit; probabilities are floats.
It judges one value against limits given to it; what a verdict does to a lot is not known here.
"""

import itertools
import math
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from pydantic import BaseModel, Field
from scipy import integrate, special, stats

from consolidator.errors import NotComputed
from kiosk.measure.limits import Limits


class Rule(StrEnum):
    """How measurement uncertainty is set against the limits."""

    SIMPLE = "simple acceptance"
    STRINGENT = "stringent acceptance"
    RELAXED = "relaxed acceptance"


class Zone(StrEnum):
    """Where a measured value lies once its uncertainty is counted."""

    CONFORMS = "conformity proven"
    DOUBT_LOW = "neither proven, at the lower limit"
    DOUBT_HIGH = "neither proven, at the upper limit"
    OUT_LOW = "nonconformity proven, below the lower limit"
    OUT_HIGH = "nonconformity proven, above the upper limit"


class Risks(BaseModel, frozen=True):
    """The two ways to be wrong, before a piece is measured (JCGM 106 clause 9), as probabilities."""

    consumer: float = Field(ge=0, le=1)
    """A piece that does not conform is accepted."""
    producer: float = Field(ge=0, le=1)
    """A piece that conforms is rejected."""


def width_of(limits: Limits) -> Decimal | None:
    """Upper minus lower limit; None when there is only one limit.

    Raises: NotComputed when there is none, or the lower lies above the upper.
    """
    if limits.lower is None and limits.upper is None:
        raise _wrong_limits("no limit was given")
    if limits.lower is None or limits.upper is None:
        return None
    if limits.lower > limits.upper:
        raise _wrong_limits(f"the lower limit {limits.lower} lies above the upper limit {limits.upper}")
    return limits.upper - limits.lower


def guard_band(expanded_uncertainty: Decimal, share: Decimal = Decimal(1)) -> Decimal:
    """Width of the guard band: a share of U; ISO 14253-1 takes the whole unless the parties agree otherwise."""
    return expanded_uncertainty * share


def acceptance_limits(limits: Limits, guard: Decimal, rule: Rule = Rule.STRINGENT) -> Limits:
    """The limits that a measured value is held against (JCGM 106 8.2 and 8.3).

    Stringent moves each limit inward by the guard band, relaxed outward, simple not at all.
    Raises: NotComputed when the guard bands leave no room between the limits.
    """
    width = width_of(limits)
    inward = {Rule.SIMPLE: Decimal(0), Rule.STRINGENT: guard, Rule.RELAXED: -guard}[rule]
    lower = None if limits.lower is None else limits.lower + inward
    upper = None if limits.upper is None else limits.upper - inward
    if lower is not None and upper is not None and lower > upper:
        raise NotComputed(
            "No acceptance limits were computed.",
            why=f"A guard band of {guard} at each limit is wider than the tolerance of {width}.",
            next_step="Measure with a smaller uncertainty, or agree a smaller guard band with the customer.",
        )
    return Limits(lower=lower, upper=upper)


def accepts(value: Decimal, limits: Limits, guard: Decimal, rule: Rule = Rule.SIMPLE) -> bool:
    """Whether the value is accepted under the rule; a value exactly on an acceptance limit is accepted."""
    return acceptance_limits(limits, guard, rule).has(value)


def zone_of(value: Decimal, limits: Limits, guard: Decimal) -> Zone:
    """Which of the ISO 14253-1 zones a value lies in, guard band on both sides of each limit.

    A value exactly on the border of the doubtful zone counts as proven, conforming or not.
    Where guard bands overlap in a narrow tolerance, the nearer limit names the doubt.
    """
    if limits.lower is not None and value <= limits.lower - guard and (guard or value < limits.lower):
        return Zone.OUT_LOW
    if limits.upper is not None and value >= limits.upper + guard and (guard or value > limits.upper):
        return Zone.OUT_HIGH
    near_low = limits.lower is not None and value < limits.lower + guard
    near_high = limits.upper is not None and value > limits.upper - guard
    if near_low and near_high:
        assert limits.lower is not None and limits.upper is not None
        near_low = value - limits.lower <= limits.upper - value
    if near_low:
        return Zone.DOUBT_LOW
    return Zone.DOUBT_HIGH if near_high else Zone.CONFORMS


def probability_of_conformity(value: float, standard_uncertainty: float, limits: Limits) -> float:
    """Probability that the true value lies within the limits, given what was measured (JCGM 106 clause 7.3 and 7.4).

    The knowledge of the true value is a bell curve about the measured value; no knowledge of the process is used.
    """
    _positive(standard_uncertainty, "standard uncertainty")
    width_of(limits)
    curve = stats.norm(value, standard_uncertainty)
    below = 1.0 if limits.upper is None else float(curve.cdf(float(limits.upper)))
    missing = 0.0 if limits.lower is None else float(curve.cdf(float(limits.lower)))
    return below - missing


def guard_factor(probability: float) -> float:
    """Guard band in standard uncertainties that gives this probability of conformity at one limit (JCGM 106 8.3.2)."""
    return float(stats.norm.ppf(probability))


def false_accept_at_limit(share_of_expanded: float, factor: float = 2.0) -> float:
    """Worst probability of accepting a bad piece, at the acceptance limit, for w = share x U (ILAC-G8 Table 1)."""
    return float(stats.norm.sf(share_of_expanded * factor))


def uncertainty_ratio(limits: Limits, expanded_uncertainty: Decimal, nominal: Decimal | None = None) -> Decimal:
    """Test uncertainty ratio: tolerance span over the span of the uncertainty, (upper - lower) / 2U (ASME B89.7.3.1).

    With one limit only, the distance from the nominal to the limit over U.
    Raises: NotComputed when U is not above zero, or one limit is given without a nominal.
    """
    _positive(float(expanded_uncertainty), "expanded uncertainty")
    width = width_of(limits)
    if width is not None:
        return width / (2 * expanded_uncertainty)
    if nominal is None:
        raise NotComputed(
            "No uncertainty ratio was computed.",
            why="There is only one limit, and no nominal to measure the tolerance from.",
            next_step="Give the nominal (zero for a runout).",
        )
    only = limits.lower if limits.upper is None else limits.upper
    assert only is not None
    return abs(only - nominal) / expanded_uncertainty


def global_risks(
    process_mean: float, process_deviation: float, standard_uncertainty: float, limits: Limits, acceptance: Limits
) -> Risks:
    """Chance that the next piece is wrongly accepted or wrongly rejected (JCGM 106 9.5.2 and 9.5.3).

    True values spread as a bell curve about the process mean; measured values as one about the true value.
    """
    _positive(process_deviation, "process standard deviation")
    _positive(standard_uncertainty, "standard uncertainty")
    scene = _Scene(process_mean, process_deviation, standard_uncertainty, acceptance)
    reach = 10 * process_deviation
    start, end = process_mean - reach, process_mean + reach
    low, high = (min(max(edge, start), end) for edge in _ends(limits))
    bad = scene.accepted_between(start, low) + scene.accepted_between(high, end)
    conforming = float(stats.norm.cdf(high, process_mean, process_deviation))
    conforming -= float(stats.norm.cdf(low, process_mean, process_deviation))
    good = conforming - scene.accepted_between(low, high)
    return Risks(consumer=min(max(bad, 0.0), 1.0), producer=min(max(good, 0.0), 1.0))


def risks_at_ratio(ratio: float, share_in_tolerance: float, guard_share: float = 0.0) -> Risks:
    """Risks for a centred process and symmetric tolerance, from the uncertainty ratio and the share that conforms.

    share_in_tolerance is the share of true values inside the limits; U is taken as two standard uncertainties;
    guard_share is the guard band as a share of U (0 = simple acceptance).
    Raises: NotComputed when the ratio is not above zero or the share not between 0 and 1.
    """
    _positive(ratio, "uncertainty ratio")
    if not 0 < share_in_tolerance < 1:
        raise NotComputed(
            "No risks were computed.",
            why=f"A share in tolerance of {share_in_tolerance} was given; it lies between 0 and 1.",
            next_step="Give the share of pieces that conform, for example 0.95.",
        )
    deviation = 1 / float(stats.norm.ppf((1 + share_in_tolerance) / 2))
    expanded = 1 / ratio
    edge = Decimal(repr(1 - guard_share * expanded))
    return global_risks(0.0, deviation, expanded / 2, Limits(Decimal(-1), Decimal(1)), Limits(-edge, edge))


class _Scene(NamedTuple):
    """A process, a measurement of it and the limits measured values are held against."""

    mean: float
    deviation: float
    standard_uncertainty: float
    acceptance: Limits

    def accepted_between(self, start: float, end: float) -> float:
        """Probability that a true value lies between start and end and its measured value is accepted."""
        # The integrand turns within a few standard uncertainties of each acceptance limit: cut the range there.
        turns = [edge for edge in _ends(self.acceptance) if math.isfinite(edge)]
        marks = {self.mean, *(edge + k * self.standard_uncertainty for edge in turns for k in (-3, 0, 3))}
        edges = [start, *sorted(mark for mark in marks if start < mark < end), end]
        return sum(float(integrate.quad(self._density, a, b)[0]) for a, b in itertools.pairwise(edges) if b > a)

    def _density(self, true: float) -> float:
        low, high = ((edge - true) / self.standard_uncertainty for edge in _ends(self.acceptance))
        z = (true - self.mean) / self.deviation
        weight = math.exp(-z * z / 2) / (self.deviation * math.sqrt(2 * math.pi))
        return weight * float(special.ndtr(high) - special.ndtr(low))


def _ends(limits: Limits) -> tuple[float, float]:
    low = -math.inf if limits.lower is None else float(limits.lower)
    return low, math.inf if limits.upper is None else float(limits.upper)


def _wrong_limits(why: str) -> NotComputed:
    return NotComputed(
        "No figure for conformity was computed.",
        why=f"As limits, {why}.",
        next_step="Give the limits as on the drawing, at least one of them.",
    )


def _positive(figure: float, name: str) -> None:
    if not figure > 0:
        raise NotComputed(
            "No figure for conformity was computed.",
            why=f"The {name} was {figure}; it must be above zero.",
            next_step=f"Give the {name} in the unit of the characteristic.",
        )
