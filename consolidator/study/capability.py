"""How well a process fits its tolerance: performance, capability, their bounds and the words beside them.

Owns Pp/Ppk and Cp/Cpk (ISO 22514-2 and -4), their confidence bounds, and one-sided figures by the readings' own shape.
A figure never stands without its number of readings.
It counts no verdicts and drops no readings: the caller gives counting readings only, in time order, and the counts.
"""

import math
from enum import StrEnum

import numpy as np
from pydantic import BaseModel, Field
from scipy import stats

from consolidator.errors import NotComputed
from consolidator.study import shapes
from consolidator.study.charts import Within, deviation_within, find_signals, individuals, means_plot
from consolidator.study.conformity import width_of
from consolidator.study.shapes import Shape
from kiosk.measure.limits import Limits

SHOWN_FROM = 25
"""Fewer readings than this give no capability figure at all."""
FIRM_FROM = 100
"""From SHOWN_FROM up to here a figure is only indicative."""

MOVING_RANGE_FREEDOM = 0.605
"""Degrees of freedom a reading adds to a mean moving range of 2: 1 / (2 x 0.8264).

0.8264 / (n - 1) is the relative variance (d3^2 + 2 cov) / d2^2 of that mean for a bell curve."""


class Worth(StrEnum):
    """What the number of readings allows to be said."""

    NOT_ENOUGH = "not enough readings"
    INDICATIVE = "indicative"
    FIRM = "firm"


class Index(BaseModel, frozen=True):
    """One figure with its two-sided 95 % interval and its one-sided 95 % lower bound."""

    value: float
    low: float
    high: float
    lower_bound: float


class Question(BaseModel, frozen=True):
    """The readings of one part, characteristic, station and period, with what is known about them."""

    readings: tuple[float, ...]
    """Counting readings in time order, in the unit of the limits."""
    limits: Limits
    sample_size: int = Field(default=1, ge=1)
    """Readings taken together; 1 when they are taken singly."""
    blocked_count: int = Field(default=0, ge=0)
    reject_count: int = Field(default=0, ge=0)
    shape: Shape | None = None
    """None: the bell curve for two limits, the best fitting own shape for one limit."""
    gauge_share: float | None = None
    """Gauge study's share of the spread (its standard deviation over the total one), if a study exists."""
    is_sorted: bool = False
    is_piled_up: bool = False


class Summary(BaseModel, frozen=True):
    """What may be printed about a characteristic's capability; figures are None where they may not be shown."""

    count: int
    blocked_count: int
    reject_count: int
    worth: Worth
    smallest: float | None = None
    largest: float | None = None
    mean: float | None = None
    deviation_overall: float | None = None
    deviation_within: float | None = None
    shape: Shape | None = None
    misfit: float | None = None
    """Anderson-Darling distance of the readings from the shape; the smaller the better."""
    pp: Index | None = None
    ppk: Index | None = None
    cp: Index | None = None
    cpk: Index | None = None
    is_stable: bool | None = None
    remarks: tuple[str, ...] = ()


def pp(limits: Limits, deviation: float) -> float:
    """Tolerance over six standard deviations; Cp when the deviation is the one within samples (ISO 22514-2)."""
    width = width_of(limits)
    if width is None:
        raise NotComputed(
            "No Pp was computed.",
            why="There is only one limit, so there is no tolerance to compare with.",
            next_step="Use Ppk.",
        )
    return float(width) / (6 * _above_zero(deviation))


def ppk_sides(limits: Limits, mean: float, deviation: float) -> tuple[float | None, float | None]:
    """Room to the lower and to the upper limit over three standard deviations; None where there is no limit."""
    three = 3 * _above_zero(deviation)
    low = None if limits.lower is None else (mean - float(limits.lower)) / three
    high = None if limits.upper is None else (float(limits.upper) - mean) / three
    return low, high


def ppk(limits: Limits, mean: float, deviation: float) -> float:
    """The smaller room; Cpk when the deviation is the one within samples (ISO 22514-2)."""
    return min(side for side in ppk_sides(limits, mean, deviation) if side is not None)


def cpm(limits: Limits, mean: float, deviation: float, target: float) -> float:
    """Tolerance over six root mean square distances from the target."""
    return pp(limits, math.hypot(_above_zero(deviation), mean - target))


def off_centre(limits: Limits, mean: float) -> float:
    """k: distance of the mean from the middle of the tolerance, over half the tolerance (e-Handbook 6.1.6)."""
    half = pp(limits, 1.0) * 3
    middle = (float(limits.lower or 0) + float(limits.upper or 0)) / 2
    return abs(mean - middle) / half


def pp_index(value: float, degrees_of_freedom: float) -> Index:
    """Pp or Cp with its bounds from the chi-squared distribution of the variance (ISO 22514-4)."""

    def bound(probability: float) -> float:
        return value * math.sqrt(float(stats.chi2.ppf(probability, degrees_of_freedom)) / degrees_of_freedom)

    return Index(value=value, low=bound(0.025), high=bound(0.975), lower_bound=bound(0.05))


def ppk_index(value: float, count: int, degrees_of_freedom: float | None = None) -> Index:
    """Ppk or Cpk with its bounds by Bissell's normal approximation (ISO 22514-4).

    degrees_of_freedom are those of the standard deviation: count - 1 unless given.
    """
    freedom = count - 1 if degrees_of_freedom is None else degrees_of_freedom
    error = math.sqrt(1 / (9 * count) + value * value / (2 * freedom))
    return shapes_index(value, error)


def shapes_index(value: float, error: float) -> Index:
    """A figure with its standard error as an index with bounds from the normal distribution."""
    two, one = float(stats.norm.ppf(0.975)), float(stats.norm.ppf(0.95))
    return Index(value=value, low=value - two * error, high=value + two * error, lower_bound=value - one * error)


def worth_of(count: int) -> Worth:
    """Whether this many readings may speak at all, only indicate, or stand."""
    if count < SHOWN_FROM:
        return Worth.NOT_ENOUGH
    return Worth.INDICATIVE if count < FIRM_FROM else Worth.FIRM


def summarise(question: Question) -> Summary:
    """Everything that may be printed about one characteristic's capability.

    Below 25 readings no figure; Cp and Cpk only when the run plot shows no signal;
    with one limit the readings' own shape is used.
    """
    count = len(question.readings)
    worth = worth_of(count)
    start = Summary(
        count=count,
        blocked_count=question.blocked_count,
        reject_count=question.reject_count,
        worth=worth,
        smallest=min(question.readings, default=None),
        largest=max(question.readings, default=None),
        remarks=_remarks(question),
    )
    if worth is Worth.NOT_ENOUGH:
        return start
    values = np.asarray(question.readings, dtype=float)
    overall = float(values.std(ddof=1))
    if overall == 0:
        return start.model_copy(
            update={
                "mean": float(values.mean()),
                "deviation_overall": 0.0,
                "remarks": (*start.remarks, "all readings are alike: no capability figure"),
            }
        )
    found = {"mean": float(values.mean()), "deviation_overall": overall}
    return start.model_copy(update=found | _performance(question, overall) | _capability(question))


def _performance(question: Question, overall: float) -> dict[str, object]:
    count, mean = len(question.readings), float(np.mean(question.readings))
    one_sided = width_of(question.limits) is None
    shape = question.shape or (Shape.BEST if one_sided else Shape.NORMAL)
    if shape is Shape.NORMAL:
        index = ppk_index(ppk(question.limits, mean, overall), count)
        both = None if one_sided else pp_index(pp(question.limits, overall), count - 1)
        return {"shape": shape, "ppk": index, "pp": both, "misfit": shapes.misfit_normal(question.readings)}
    try:
        fitted = shapes.fit(question.readings, shape)
        value, error = shapes.performance(fitted, question.readings, question.limits)
    except NotComputed as refused:
        # The rest of the summary still stands; the reason is printed where the figure would be.
        return {"shape": shape, "remarks": (*_remarks(question), str(refused))}
    return {"shape": fitted.shape, "misfit": fitted.misfit, "ppk": shapes_index(value, error)}


def _capability(question: Question) -> dict[str, object]:
    """Spread within samples, whether the run plot is quiet, and Cp/Cpk if it is and the bell curve is meant."""
    n = question.sample_size
    whole = len(question.readings) // n
    if n == 1:
        chart = individuals(question.readings)
        deviation, plot, freedom = chart.deviation_within, chart.location, MOVING_RANGE_FREEDOM * (whole - 1)
    else:
        samples = [question.readings[i * n : (i + 1) * n] for i in range(whole)]
        deviation = deviation_within(samples, Within.POOLED)
        plot = means_plot(samples, float(np.mean(samples)), deviation)
        freedom = float(whole * (n - 1))
    is_stable = not find_signals(plot.distances)
    shown: dict[str, object] = {"deviation_within": deviation, "is_stable": is_stable}
    is_bell = question.shape is Shape.NORMAL or (question.shape is None and width_of(question.limits) is not None)
    if not is_stable or not is_bell or deviation == 0:
        return shown
    cpk = ppk(question.limits, float(np.mean(question.readings)), deviation)
    shown["cpk"] = ppk_index(cpk, len(question.readings), freedom)
    if width_of(question.limits) is not None:
        shown["cp"] = pp_index(pp(question.limits, deviation), freedom)
    return shown


def _remarks(question: Question) -> tuple[str, ...]:
    remarks = []
    if question.is_sorted:
        remarks.append("pieces were sorted 100 %: the figures show the sorting, not the process")
    if question.is_piled_up:
        remarks.append("readings pile up at a limit: measure 10 pieces again blind before believing any figure")
    if question.gauge_share is not None:
        remarks.append(f"gauge's share of the spread: {100 * question.gauge_share:.1f} %")
    return tuple(remarks)


def _above_zero(deviation: float) -> float:
    if not deviation > 0:
        raise NotComputed(
            "No capability figure was computed.",
            why=f"The standard deviation was {deviation}; readings that do not vary have no capability.",
            next_step="Check that the gauge reads finely enough for this tolerance.",
        )
    return deviation
