"""Measurement uncertainty: its parts, how they combine, and how far the result reaches.

Owns the arithmetic of the Guide to the expression of uncertainty in measurement (JCGM 100:2008, "GUM").
Every quantity is in the unit of its own result; nothing here knows gauges, limits or verdicts.
"""

import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np
import uncertainties
from numpy.typing import NDArray
from pydantic import BaseModel, Field
from scipy import stats

from consolidator.errors import NotComputed

Draw = Callable[[np.random.Generator, int], NDArray[np.float64]]
"""Draws so many values of one quantity from a generator."""

INFINITE = math.inf
"""Degrees of freedom of a part that is taken as exactly known."""


class Part(BaseModel, frozen=True):
    """One line of an uncertainty budget: a standard uncertainty, how strongly it acts, and how well it is known."""

    name: str
    standard_uncertainty: float = Field(ge=0)
    sensitivity: float = 1.0
    degrees_of_freedom: float = Field(default=INFINITE, gt=0)

    @property
    def contribution(self) -> float:
        """What this part adds to the result, in the unit of the result: |sensitivity| x standard uncertainty."""
        return abs(self.sensitivity) * self.standard_uncertainty


class Combined(BaseModel, frozen=True):
    """A combined standard uncertainty with its effective degrees of freedom."""

    standard_uncertainty: float
    degrees_of_freedom: float
    parts: tuple[Part, ...] = ()

    def expanded(self, coverage_probability: float = 0.95) -> float:
        """Expanded uncertainty U = k x u, k from the t distribution at truncated degrees of freedom (GUM G.4.1)."""
        return coverage_factor(self.degrees_of_freedom, coverage_probability) * self.standard_uncertainty


class Scatter(BaseModel, frozen=True):
    """What repeated indications say: mean, spread of one, uncertainty of the mean (GUM 4.2, type A)."""

    count: int
    mean: float
    standard_deviation: float
    standard_uncertainty: float

    @property
    def degrees_of_freedom(self) -> int:
        """One less than the number of indications."""
        return self.count - 1


class Line(BaseModel, frozen=True):
    """A straight line through points by least squares, with the uncertainty of its two numbers (GUM H.3)."""

    intercept: float
    slope: float
    intercept_uncertainty: float
    slope_uncertainty: float
    correlation: float
    squared_residuals: float
    degrees_of_freedom: int

    @property
    def residual_deviation(self) -> float:
        """Standard deviation of the points about the line."""
        return math.sqrt(self.squared_residuals / self.degrees_of_freedom)

    def at(self, x: float) -> float:
        """The line's value at x."""
        return self.intercept + self.slope * x

    def uncertainty_at(self, x: float) -> float:
        """Standard uncertainty of the line's value at x, with both numbers and their correlation (GUM H.3.4)."""
        a, b = self.intercept_uncertainty, self.slope_uncertainty
        return math.sqrt(a * a + (x * b) ** 2 + 2 * x * a * b * self.correlation)


class Simulated(BaseModel, frozen=True):
    """What drawing gives: mean, standard uncertainty and the shortest coverage interval."""

    mean: float
    standard_uncertainty: float
    low: float
    high: float


class Propagated(BaseModel, frozen=True):
    """What formulas give when their inputs are uncertain: values, standard uncertainties, correlations between them."""

    values: tuple[float, ...]
    standard_uncertainties: tuple[float, ...]
    correlations: tuple[tuple[float, ...], ...]


def scatter(indications: Sequence[float]) -> Scatter:
    """Mean, standard deviation and type A uncertainty of at least two repeated indications.

    Raises: NotComputed when fewer than two are given.
    """
    if len(indications) < 2:
        raise NotComputed(
            "No spread was computed.",
            why=f"{len(indications)} indication given, at least 2 are needed.",
            next_step="Repeat the measurement and give every indication.",
        )
    deviation = float(np.std(indications, ddof=1))
    count = len(indications)
    return Scatter(
        count=count,
        mean=float(np.mean(indications)),
        standard_deviation=deviation,
        standard_uncertainty=deviation / math.sqrt(count),
    )


def from_rectangle(half_width: float) -> float:
    """Standard uncertainty of a quantity that lies anywhere within +/- half_width (GUM 4.3.7): a / root 3."""
    return half_width / math.sqrt(3)


def from_triangle(half_width: float) -> float:
    """Standard uncertainty when the middle of +/- half_width is the likeliest (GUM 4.3.9): a / root 6."""
    return half_width / math.sqrt(6)


def from_trapezoid(half_width: float, top_share: float) -> float:
    """Standard uncertainty of a trapezoid; top_share is its flat top over its base, 0 to 1 (GUM 4.3.9)."""
    return half_width * math.sqrt((1 + top_share**2) / 6)


def from_swing(amplitude: float) -> float:
    """Standard uncertainty of a quantity swinging as a sine, such as a room's temperature: a / root 2 (GUM H.1.3.4)."""
    return amplitude / math.sqrt(2)


def from_expanded(expanded: float, factor: float = 2.0) -> float:
    """Standard uncertainty behind a certificate's expanded uncertainty and its coverage factor (GUM 4.3.3)."""
    return expanded / factor


def from_least_count(least_count: float) -> float:
    """Standard uncertainty of reading to the least count: a rectangle of half a count each way (GUM F.2.2.1)."""
    return from_rectangle(least_count / 2)


def from_product(first: float, second: float, scale: float = 1.0) -> float:
    """Standard uncertainty of scale x two quantities that both average zero (GUM 5.1.2 note: first order misses it)."""
    return abs(scale) * first * second


def combine(parts: Sequence[Part], correlations: Mapping[tuple[str, str], float] | None = None) -> Combined:
    """Combine the parts of a budget into one standard uncertainty (GUM 5.1.2 and 5.2.2).

    correlations gives the coefficient of a pair of named parts; a pair left out counts as uncorrelated.
    Effective degrees of freedom are Welch-Satterthwaite's (GUM G.4.1), which assumes uncorrelated parts.
    """
    variance = sum(part.contribution**2 for part in parts)
    signed = {part.name: part.sensitivity * part.standard_uncertainty for part in parts}
    for (first, second), coefficient in (correlations or {}).items():
        variance += 2 * coefficient * signed[first] * signed[second]
    combined = math.sqrt(max(variance, 0.0))
    return Combined(
        standard_uncertainty=combined,
        degrees_of_freedom=effective_degrees_of_freedom(combined, parts),
        parts=tuple(parts),
    )


def effective_degrees_of_freedom(combined: float, parts: Sequence[Part]) -> float:
    """Welch-Satterthwaite: combined^4 over the sum of contribution^4 / degrees of freedom (GUM G.2b)."""
    weight = sum(part.contribution**4 / part.degrees_of_freedom for part in parts)
    return combined**4 / weight if weight > 0 else INFINITE


def coverage_factor(degrees_of_freedom: float, coverage_probability: float = 0.95) -> float:
    """Coverage factor k of a two-sided interval: Student's t at truncated degrees of freedom (GUM G.4.1, Table G.2)."""
    tail = (1 + coverage_probability) / 2
    if math.isinf(degrees_of_freedom):
        return float(stats.norm.ppf(tail))
    return float(stats.t.ppf(tail, max(1, math.floor(degrees_of_freedom))))


def trapezoid_coverage_factor(top_share: float, coverage_probability: float = 0.95) -> float:
    """Coverage factor when one trapezoid rules the result (EA-4/02 Supplement, S10): below k of a bell curve.

    Raises: NotComputed when the probability reaches down into the flat top, where this formula does not hold.
    """
    slope_share = (1 - coverage_probability) * (1 - top_share**2)
    reach = 1 - math.sqrt(slope_share)
    if reach < top_share:
        raise NotComputed(
            "No coverage factor was computed.",
            why=f"A probability of {coverage_probability} lies inside the flat top of {top_share} of the trapezoid.",
            next_step="Ask for a higher probability, or treat the part as a rectangle.",
        )
    return reach / math.sqrt((1 + top_share**2) / 6)


def correlation(x: Sequence[float], y: Sequence[float]) -> float:
    """Correlation coefficient of two quantities observed together, also that of their means (GUM 5.2.3)."""
    return float(np.corrcoef(np.asarray(x, dtype=float), np.asarray(y, dtype=float))[0, 1])


def propagate(
    model: Callable[..., Sequence[uncertainties.UFloat]],
    estimates: Sequence[float],
    standard_uncertainties: Sequence[float],
    correlations: Sequence[Sequence[float]] | None = None,
) -> Propagated:
    """Values, standard uncertainties and correlations of formulas of several quantities, first order (GUM 5.2.2, H.2).

    model takes the quantities and returns a sequence of results; it is written with ordinary arithmetic and with
    `uncertainties.umath` for functions. correlations is the full matrix of coefficients, None for independent ones.
    """
    matrix = np.eye(len(estimates)) if correlations is None else np.asarray(correlations, dtype=float)
    pairs = list(zip(estimates, standard_uncertainties, strict=True))
    results = model(*uncertainties.correlated_values_norm(pairs, matrix))
    between = uncertainties.correlation_matrix(list(results))
    return Propagated(
        values=tuple(float(result.nominal_value) for result in results),
        standard_uncertainties=tuple(float(result.std_dev) for result in results),
        correlations=tuple(tuple(float(each) for each in row) for row in between),
    )


def simulate(
    model: Callable[..., NDArray[np.float64]],
    draws: Sequence[Draw],
    seed: int,
    *,
    coverage_probability: float = 0.95,
    trials: int = 200_000,
) -> Simulated:
    """Carry whole distributions through a formula by drawing (JCGM 101:2008), where first order is not enough.

    draws are one for each quantity, from `draw_t` and its kin or the caller's own; one seed gives one answer.
    The interval is the shortest that holds the coverage probability (JCGM 101 7.7).
    """
    generator = np.random.default_rng(seed)
    results = np.sort(np.asarray(model(*(draw(generator, trials) for draw in draws)), dtype=float))
    held = math.ceil(coverage_probability * trials)
    start = int(np.argmin(results[held - 1 :] - results[: trials - held + 1]))
    return Simulated(
        mean=float(results.mean()),
        standard_uncertainty=float(results.std(ddof=1)),
        low=float(results[start]),
        high=float(results[start + held - 1]),
    )


def draw_t(mean: float, standard_uncertainty: float, degrees_of_freedom: float = INFINITE) -> Draw:
    """Scaled and shifted t for few degrees of freedom, the bell curve for infinite ones (JCGM 101 6.4.7 and 6.4.9)."""
    if math.isinf(degrees_of_freedom):
        return lambda generator, n: generator.normal(mean, standard_uncertainty, n)
    return lambda generator, n: mean + standard_uncertainty * generator.standard_t(degrees_of_freedom, n)


def draw_rectangle(middle: float, half_width: float, blur: float = 0.0) -> Draw:
    """Anywhere within the half width, itself only known within +/- blur (JCGM 101 6.4.2 and 6.4.3)."""

    def drawn(generator: np.random.Generator, n: int) -> NDArray[np.float64]:
        low = middle - half_width - blur + 2 * blur * generator.random(n)
        return low + (2 * middle - 2 * low) * generator.random(n)

    return drawn


def draw_swing(middle: float, amplitude: float) -> Draw:
    """A sine of unknown phase (JCGM 101 6.4.6)."""
    return lambda generator, n: middle + amplitude * np.sin(2 * math.pi * generator.random(n))


def fit_line(x: Sequence[float], y: Sequence[float]) -> Line:
    """Least-squares line through points, with the uncertainties of its two numbers and their correlation (GUM H.3).

    Raises: NotComputed with fewer than three points, or all at one x.
    """
    at, value = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    centred = at - at.mean() if len(at) else at
    spread = float(np.sum(centred**2))
    if len(at) < 3 or spread == 0.0:
        raise NotComputed(
            "No line was fitted.",
            why=f"{len(at)} points at {len(set(x))} places given; 3 points at 2 places are needed.",
            next_step="Measure at more places along the range.",
        )
    slope = float(np.sum(centred * value) / spread)
    intercept = float(value.mean() - slope * at.mean())
    squared = float(np.sum((value - intercept - slope * at) ** 2))
    freedom = len(at) - 2
    variance = squared / freedom
    mean_square = float(np.mean(at**2))
    return Line(
        intercept=intercept,
        slope=slope,
        intercept_uncertainty=math.sqrt(variance * mean_square / spread),
        slope_uncertainty=math.sqrt(variance / spread),
        correlation=-float(at.mean()) / math.sqrt(mean_square) if mean_square else 0.0,
        squared_residuals=squared,
        degrees_of_freedom=freedom,
    )
