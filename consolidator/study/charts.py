"""Control charts: centre lines, limits and signals (ISO 7870-2, NIST/SEMATECH e-Handbook 6.3).

Owns how a spread within samples is estimated, where the lines lie, and which patterns of points are a signal.
Every figure is in the unit of the readings, or a share, or a count, as its chart says; drawing is done elsewhere.
The rule sets are from memory: check them against the plant's own copies of the standards.
"""

import math
from collections.abc import Sequence
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, Field
from scipy import stats

from consolidator.errors import NotComputed
from consolidator.study.chart_constants import c4_for, constants_for

SIGMAS = 3.0
"""Distance of a control limit from its centre line, in standard deviations of the plotted figure."""

Samples = Sequence[Sequence[float]]


class Within(StrEnum):
    """Which estimate of the spread within samples; they differ, so each figure names its own."""

    MEAN_RANGE = "mean range / d2"
    MEAN_DEVIATION = "mean standard deviation / c4"
    POOLED = "root of the mean variance"
    POOLED_UNBIASED = "root of the mean variance / c4 of all degrees of freedom + 1"


class Plot(BaseModel, frozen=True):
    """Points in time order with their centre line and, for each point, its own standard deviation."""

    name: str
    values: tuple[float, ...]
    centre: float
    sigmas: tuple[float, ...]
    floor: float = -math.inf
    ceiling: float = math.inf

    def limits_at(self, position: int) -> tuple[float, float]:
        """Lower and upper control limit of the point at a position from 0; never beyond what the figure can be."""
        reach = SIGMAS * self.sigmas[position]
        return max(self.floor, self.centre - reach), min(self.ceiling, self.centre + reach)

    @property
    def distances(self) -> tuple[float, ...]:
        """Each point's distance from the centre line in its own standard deviations, as run rules need it."""
        pairs = zip(self.values, self.sigmas, strict=True)
        return tuple((value - self.centre) / sigma if sigma else 0.0 for value, sigma in pairs)


class PairedCharts(BaseModel, frozen=True):
    """A chart of location with its chart of spread, and the standard deviation of one reading behind both."""

    location: Plot
    spread: Plot
    deviation_within: float


class CusumStep(BaseModel, frozen=True):
    """The two running sums after one point, and whether either has passed the decision interval."""

    high: float
    low: float
    is_signal: bool


def deviation_within(samples: Samples, by: Within) -> float:
    """Standard deviation of one reading, estimated from the spread inside equal samples."""
    table = _table(samples)
    n = table.shape[1]
    deviations = table.std(axis=1, ddof=1)
    if by is Within.MEAN_RANGE:
        return float(np.ptp(table, axis=1).mean()) / constants_for(n).d2
    if by is Within.MEAN_DEVIATION:
        return float(deviations.mean()) / c4_for(n)
    pooled = math.sqrt(float((deviations**2).mean()))
    return pooled if by is Within.POOLED else pooled / c4_for(table.shape[0] * (n - 1) + 1)


def means_plot(samples: Samples, centre: float, deviation: float) -> Plot:
    """Means of samples against a centre and a spread that were settled earlier, such as those of an earlier run."""
    table = _table(samples)
    sigma = deviation / math.sqrt(table.shape[1])
    return Plot(name="means", values=_tuple(table.mean(axis=1)), centre=centre, sigmas=(sigma,) * len(table))


def xbar_r(samples: Samples) -> PairedCharts:
    """Means and ranges of equal samples: mean +/- A2 x mean range, D3 and D4 x mean range."""
    table = _table(samples)
    factors = constants_for(table.shape[1])
    ranges = np.ptp(table, axis=1)
    deviation = deviation_within(samples, Within.MEAN_RANGE)
    spread = Plot(
        name="ranges",
        values=_tuple(ranges),
        centre=float(ranges.mean()),
        sigmas=(factors.d3 * deviation,) * len(table),
        floor=0.0,
    )
    return PairedCharts(
        location=means_plot(samples, float(table.mean()), deviation), spread=spread, deviation_within=deviation
    )


def xbar_s(samples: Samples, by: Within = Within.MEAN_DEVIATION) -> PairedCharts:
    """Means and standard deviations of equal samples: mean +/- A3 x mean s, B3 and B4 x mean s."""
    table = _table(samples)
    c4 = c4_for(table.shape[1])
    deviations = table.std(axis=1, ddof=1)
    deviation = deviation_within(samples, by)
    spread = Plot(
        name="standard deviations",
        values=_tuple(deviations),
        centre=c4 * deviation,
        sigmas=(math.sqrt(1 - c4 * c4) * deviation,) * len(table),
        floor=0.0,
    )
    return PairedCharts(
        location=means_plot(samples, float(table.mean()), deviation), spread=spread, deviation_within=deviation
    )


def individuals(readings: Sequence[float], span: int = 2) -> PairedCharts:
    """Single readings and their moving ranges over `span` neighbours: mean +/- 3 x mean moving range / d2.

    Raises: NotComputed with fewer readings than one more than the span.
    """
    if len(readings) <= span:
        raise NotComputed(
            "No chart of individuals was computed.",
            why=f"{len(readings)} readings given, {span + 1} are needed for ranges of {span} neighbours.",
            next_step="Wait for more readings.",
        )
    values = np.asarray(readings, dtype=float)
    factors = constants_for(span)
    ranges = np.ptp(np.lib.stride_tricks.sliding_window_view(values, span), axis=1)
    deviation = float(ranges.mean()) / factors.d2
    location = Plot(
        name="readings", values=_tuple(values), centre=float(values.mean()), sigmas=(deviation,) * len(values)
    )
    spread = Plot(
        name="moving ranges",
        values=_tuple(ranges),
        centre=float(ranges.mean()),
        sigmas=(factors.d3 * deviation,) * len(ranges),
        floor=0.0,
    )
    return PairedCharts(location=location, spread=spread, deviation_within=deviation)


def p_chart(rejects: Sequence[int], inspected: Sequence[int]) -> Plot:
    """Share of rejects in each sample, limits for each sample's own size (binomial)."""
    found, sizes = _counts(rejects), _counts(inspected)
    share = _ratio(found.sum(), sizes.sum())
    sigmas = np.sqrt(share * (1 - share) / sizes)
    return Plot(
        name="share rejected", values=_tuple(found / sizes), centre=share, sigmas=_tuple(sigmas), floor=0.0, ceiling=1.0
    )


def np_chart(rejects: Sequence[int], inspected: int) -> Plot:
    """Number of rejects in samples of one size (binomial)."""
    found = _counts(rejects)
    centre = _ratio(found.sum(), len(found))
    share = _ratio(centre, inspected)
    sigma = math.sqrt(centre * (1 - share))
    return Plot(
        name="number rejected",
        values=_tuple(found),
        centre=centre,
        sigmas=(sigma,) * len(found),
        floor=0.0,
        ceiling=float(inspected),
    )


def c_chart(faults: Sequence[int]) -> Plot:
    """Number of faults in equal amounts of work (Poisson)."""
    found = _counts(faults)
    centre = _ratio(found.sum(), len(found))
    sigma = math.sqrt(centre)
    return Plot(name="faults", values=_tuple(found), centre=centre, sigmas=(sigma,) * len(found), floor=0.0)


def u_chart(faults: Sequence[int], amounts: Sequence[float]) -> Plot:
    """Faults for one unit of work, limits for each sample's own amount of work (Poisson)."""
    found, work = _counts(faults), np.asarray(amounts, dtype=float)
    centre = _ratio(found.sum(), work.sum())
    return Plot(
        name="faults a unit",
        values=_tuple(found / work),
        centre=centre,
        sigmas=_tuple(np.sqrt(centre / work)),
        floor=0.0,
    )


def cusum(values: Sequence[float], target: float, allowance: float, decision: float) -> tuple[CusumStep, ...]:
    """Running sums above and below a target; all four in the unit of the values (ISO 7870-4; e-Handbook 6.3.2.3).

    allowance (K) is half the shift that matters, decision (H) the sum that signals.
    """
    steps: list[CusumStep] = []
    high = low = 0.0
    for value in values:
        high = max(0.0, high + value - target - allowance)
        low = max(0.0, low + target - allowance - value)
        steps.append(CusumStep(high=high, low=low, is_signal=max(high, low) > decision))
    return tuple(steps)


class Pattern(StrEnum):
    """The shapes that rules look for."""

    BEYOND_ONE_SIDE = "beyond a distance, all on one side"
    BEYOND_EITHER_SIDE = "beyond a distance, either side"
    WITHIN = "within a distance, either side"
    TREND = "steadily rising or falling"
    ALTERNATING = "up and down in turn"


class RunRule(BaseModel, frozen=True):
    """One rule: `count` out of `span` points in a row show the pattern."""

    name: str
    pattern: Pattern
    count: int = Field(ge=1)
    span: int = Field(ge=1)
    sigmas: float = Field(default=0.0, ge=0)


class Signal(BaseModel, frozen=True):
    """A rule met: the point that completed the pattern, counted from 0, and the first point of its span."""

    rule: str
    position: int
    first: int


def _beyond(count: int, span: int, sigmas: float, words: str) -> RunRule:
    return RunRule(name=words, pattern=Pattern.BEYOND_ONE_SIDE, count=count, span=span, sigmas=sigmas)


BEYOND_LIMITS = _beyond(1, 1, 3, "1 point beyond 3 sigma")
TWO_OF_THREE = _beyond(2, 3, 2, "2 of 3 points beyond 2 sigma on one side")
FOUR_OF_FIVE = _beyond(4, 5, 1, "4 of 5 points beyond 1 sigma on one side")

WESTERN_ELECTRIC = (BEYOND_LIMITS, TWO_OF_THREE, FOUR_OF_FIVE, _beyond(8, 8, 0, "8 points in a row on one side"))
"""The four zone rules of 1956."""

NELSON = (
    BEYOND_LIMITS,
    _beyond(9, 9, 0, "9 points in a row on one side"),
    RunRule(name="6 points in a row rising or falling", pattern=Pattern.TREND, count=6, span=6),
    RunRule(name="14 points in a row up and down in turn", pattern=Pattern.ALTERNATING, count=14, span=14),
    TWO_OF_THREE,
    FOUR_OF_FIVE,
    RunRule(name="15 points in a row within 1 sigma", pattern=Pattern.WITHIN, count=15, span=15, sigmas=1),
    RunRule(
        name="8 points in a row beyond 1 sigma, either side",
        pattern=Pattern.BEYOND_EITHER_SIDE,
        count=8,
        span=8,
        sigmas=1,
    ),
)
"""The eight tests of 1984; ISO 8258:1991 has the same."""

ISO_7870_2 = (
    BEYOND_LIMITS,
    _beyond(7, 7, 0, "7 points in a row on one side"),
    RunRule(name="7 points in a row rising or falling", pattern=Pattern.TREND, count=7, span=7),
)
"""The rules of ISO 7870-2:2013 that can be computed; its fourth, any unusual pattern, is for the eye."""


def find_signals(distances: Sequence[float], rules: Sequence[RunRule] = WESTERN_ELECTRIC) -> tuple[Signal, ...]:
    """Every signal in time order; each rule looks only backwards from a point, never ahead.

    To judge a stretch of points rightly, give the `history_needed` points before it as well.
    """
    z = np.asarray(distances, dtype=float)
    signals = [
        Signal(rule=rule.name, position=at, first=max(0, at - rule.span + 1))
        for rule in rules
        for at in _positions(z, rule)
    ]
    return tuple(sorted(signals, key=lambda signal: signal.position))


def history_needed(rules: Sequence[RunRule] = WESTERN_ELECTRIC) -> int:
    """How many earlier points must come with a stretch so that no pattern is lost at its border."""
    return max(rule.span for rule in rules) - 1


def false_alarm_probability(sigmas: float = 3.0) -> float:
    """Chance that one point of an undisturbed, bell-shaped process lies beyond this distance on either side.

    One over it is the mean number of points between false alarms.
    """
    return 2 * float(stats.norm.sf(sigmas))


def _table(samples: Samples) -> NDArray[np.float64]:
    sizes = {len(sample) for sample in samples}
    if len(sizes) != 1 or min(sizes) < 2:
        raise NotComputed(
            "No chart was computed.",
            why=f"Samples of sizes {sorted(sizes)} were given; all must have one size of 2 or more.",
            next_step="Leave short samples out and say so, or chart single readings.",
        )
    return np.asarray(samples, dtype=float)


def _counts(counts: Sequence[int]) -> NDArray[np.float64]:
    if not counts or min(counts) < 0:
        raise NotComputed(
            "No chart of counts was computed.",
            why="No counts were given, or one is below zero.",
            next_step="Give one whole number for each sample.",
        )
    return np.asarray(counts, dtype=float)


def _ratio(above: float, below: float) -> float:
    if not below > 0:
        raise NotComputed(
            "No chart of counts was computed.",
            why="Nothing was inspected.",
            next_step="Give how many pieces each sample held.",
        )
    return float(above / below)


def _tuple(values: NDArray[np.float64]) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def _positions(z: NDArray[np.float64], rule: RunRule) -> list[int]:
    step = np.sign(np.diff(z))
    if rule.pattern is Pattern.TREND:
        # A rise or fall of n points is n - 1 steps one way.
        return sorted({*_ends(step > 0, rule.span - 1, offset=1), *_ends(step < 0, rule.span - 1, offset=1)})
    if rule.pattern is Pattern.ALTERNATING:
        return _ends(step[1:] * step[:-1] < 0, rule.span - 2, offset=2)
    if rule.pattern is Pattern.WITHIN:
        return _ends(np.abs(z) < rule.sigmas, rule.span, count=rule.count)
    if rule.pattern is Pattern.BEYOND_EITHER_SIDE:
        return _ends(np.abs(z) > rule.sigmas, rule.span, count=rule.count)
    above = _ends(z > rule.sigmas, rule.span, count=rule.count)
    below = _ends(z < -rule.sigmas, rule.span, count=rule.count)
    return sorted({*above, *below})


def _ends(met: NDArray[np.bool_], span: int, *, offset: int = 0, count: int | None = None) -> list[int]:
    """Positions that themselves meet the condition and close a span in which enough do."""
    if met.size == 0:
        return []
    needed = span if count is None else count
    # A pattern of "2 of 3" may stand complete on the second point of a record: missing points before it do not meet.
    padded = np.concatenate([np.zeros(span - 1, dtype=bool), met])
    windows = np.lib.stride_tricks.sliding_window_view(padded, span).sum(axis=1)
    return [int(at) + offset for at in np.flatnonzero(met & (windows >= needed))]
