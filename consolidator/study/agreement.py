"""How well people agree with each other and with a reference, and how well a gauge agrees with known sizes.

Owns kappa for accept/reject work (Cohen 1960 and 1968, Fleiss 1971, AIAG MSA III-C), and bias and linearity
(AIAG MSA III-B).
Bias is in the unit of the gauge: indicated minus reference.
"""

import math
from collections.abc import Sequence
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel
from scipy import stats

from consolidator.errors import NotComputed
from consolidator.study.uncertainty import Line, coverage_factor, fit_line, scatter


class Weights(StrEnum):
    """How a near miss between ordered categories counts."""

    NONE = "any difference counts in full"
    LINEAR = "by steps between categories"
    QUADRATIC = "by the square of steps"


class Kappa(BaseModel, frozen=True):
    """Agreement beyond chance: 1 is full agreement, 0 what chance alone would give."""

    kappa: float
    standard_error: float
    """For an interval about kappa."""
    standard_error_by_chance: float
    """For the question whether there is any agreement at all."""
    agreement: float
    agreement_by_chance: float

    @property
    def z(self) -> float:
        """Distance from no agreement in standard errors."""
        return self.kappa / self.standard_error_by_chance

    def interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Confidence interval of kappa."""
        reach = float(stats.norm.ppf((1 + confidence) / 2)) * self.standard_error
        return self.kappa - reach, self.kappa + reach


class Screening(BaseModel, frozen=True):
    """One appraiser's accept/reject calls on pieces whose true state is known (AIAG MSA III-C)."""

    pieces: int
    effective: int
    """Pieces called alike every time and rightly."""
    repeated: int
    """Pieces called alike every time, rightly or not."""
    misses: int
    """Calls that accepted a bad piece."""
    bad_calls: int
    false_alarms: int
    """Calls that rejected a good piece."""
    good_calls: int

    @property
    def effectiveness(self) -> float:
        """Share of pieces called rightly every time."""
        return self.effective / self.pieces

    @property
    def repeatability(self) -> float:
        """Share of pieces called alike every time."""
        return self.repeated / self.pieces

    @property
    def miss_rate(self) -> float:
        """Share of calls on bad pieces that accepted; 0 when there were no bad pieces."""
        return self.misses / self.bad_calls if self.bad_calls else 0.0

    @property
    def false_alarm_rate(self) -> float:
        """Share of calls on good pieces that rejected; 0 when there were no good pieces."""
        return self.false_alarms / self.good_calls if self.good_calls else 0.0


class Bias(BaseModel, frozen=True):
    """Bias at one size with its test and interval (AIAG MSA III-B, independent sample method)."""

    count: int
    mean: float
    bias: float
    repeatability: float
    t: float
    low: float
    high: float

    @property
    def is_significant(self) -> bool:
        """Whether zero lies outside the 95 % interval."""
        return not self.low <= 0 <= self.high


class Linearity(BaseModel, frozen=True):
    """How bias changes with size: a straight line through all biases."""

    line: Line
    r_squared: float
    t_slope: float
    t_intercept: float
    t_critical: float

    @property
    def is_linear_error(self) -> bool:
        """Whether the bias grows or falls with size beyond chance, at 95 %."""
        return abs(self.t_slope) > self.t_critical

    @property
    def is_offset(self) -> bool:
        """Whether the line misses zero at size zero beyond chance, at 95 %."""
        return abs(self.t_intercept) > self.t_critical

    def bias_interval(self, size: float) -> tuple[float, float]:
        """The 95 % interval of the line's bias at a size; zero outside it means the gauge is biased there."""
        reach = self.t_critical * self.line.uncertainty_at(size)
        return self.line.at(size) - reach, self.line.at(size) + reach


def kappa(table: Sequence[Sequence[float]], weights: Weights = Weights.NONE) -> Kappa:
    """Cohen's kappa from a square table of counts: rows one appraiser, columns the other (or the reference).

    Standard errors are those of Fleiss, Cohen and Everitt (1969).
    Raises: NotComputed for a table that is empty or not square, or when all calls fall in one category.
    """
    counts = np.asarray(table, dtype=float)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or counts.sum() <= 0:
        raise NotComputed(
            "No kappa was computed.",
            why="The table of calls is empty or not square.",
            next_step="Count the calls of both appraisers in the same categories.",
        )
    share = counts / counts.sum()
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    credit = _credit(len(share), weights)
    observed, chance = float((credit * share).sum()), float((credit * np.outer(rows, columns)).sum())
    if chance >= 1:
        raise NotComputed(
            "No kappa was computed.",
            why="All calls fell in one category, so chance alone gives full agreement.",
            next_step="Take pieces of both kinds, some near the limits, and repeat the study.",
        )
    # Mean credit of each row and column, as in Fleiss, Cohen and Everitt's two variances.
    mean_credit = (credit @ columns)[:, None] + credit.T @ rows
    spread = float((share * (credit - mean_credit * (1 - (observed - chance) / (1 - chance))) ** 2).sum())
    value = (observed - chance) / (1 - chance)
    variance = (spread - (value - chance * (1 - value)) ** 2) / (counts.sum() * (1 - chance) ** 2)
    by_chance = float((np.outer(rows, columns) * (credit - mean_credit) ** 2).sum())
    variance_by_chance = (by_chance - chance**2) / (counts.sum() * (1 - chance) ** 2)
    return Kappa(
        kappa=value,
        standard_error=math.sqrt(max(variance, 0.0)),
        standard_error_by_chance=math.sqrt(max(variance_by_chance, 0.0)),
        agreement=observed,
        agreement_by_chance=chance,
    )


def cross_table(first: Sequence[object], second: Sequence[object]) -> list[list[int]]:
    """Two appraisers' calls on the same pieces as a square table of counts, categories in order of their words."""
    if len(first) != len(second):
        raise NotComputed(
            "No table of calls was made.",
            why=f"One appraiser made {len(first)} calls and the other {len(second)}.",
            next_step="Give one call of each appraiser for every piece.",
        )
    kinds = sorted({*first, *second}, key=str)
    at = {kind: position for position, kind in enumerate(kinds)}
    table = [[0] * len(kinds) for _ in kinds]
    for one, other in zip(first, second, strict=True):
        table[at[one]][at[other]] += 1
    return table


def fleiss_kappa(counts: Sequence[Sequence[float]], is_chance_uniform: bool = False) -> float:
    """Agreement of several appraisers: each row a piece, each column how many appraisers chose that category.

    is_chance_uniform takes every category as equally likely by chance (Randolph 2005) instead of by its own share.
    Raises: NotComputed when rows hold different numbers of calls, or chance alone gives full agreement.
    """
    table = np.asarray(counts, dtype=float)
    raters = table.sum(axis=1)
    if table.ndim != 2 or not np.allclose(raters, raters[0]) or raters[0] <= 1:
        raise NotComputed(
            "No kappa was computed.",
            why="The pieces were not all called the same number of times, at least twice.",
            next_step="Have every appraiser call every piece the same number of times.",
        )
    n = float(raters[0])
    observed = float((((table**2).sum(axis=1) - n) / (n * (n - 1))).mean())
    shares = table.sum(axis=0) / table.sum()
    chance = 1 / table.shape[1] if is_chance_uniform else float((shares**2).sum())
    if chance >= 1:
        raise NotComputed(
            "No kappa was computed.",
            why="All calls fell in one category, so chance alone gives full agreement.",
            next_step="Take pieces of both kinds, some near the limits, and repeat the study.",
        )
    return (observed - chance) / (1 - chance)


def screen(calls: Sequence[Sequence[bool]], is_good: Sequence[bool]) -> Screening:
    """How one appraiser's repeated calls (True = accepted) stand against what the pieces are, piece by piece.

    Raises: NotComputed when pieces and calls differ in number.
    """
    if len(calls) != len(is_good) or not calls or any(len(row) == 0 for row in calls):
        raise NotComputed(
            "No screening figures were computed.",
            why=f"{len(calls)} pieces have calls and {len(is_good)} have a reference.",
            next_step="Give every piece its reference and at least one call.",
        )
    pairs = list(zip(calls, is_good, strict=True))
    return Screening(
        pieces=len(pairs),
        effective=sum(all(call == good for call in row) for row, good in pairs),
        repeated=sum(len(set(row)) == 1 for row, _ in pairs),
        misses=sum(sum(row) for row, good in pairs if not good),
        bad_calls=sum(len(row) for row, good in pairs if not good),
        false_alarms=sum(len(row) - sum(row) for row, good in pairs if good),
        good_calls=sum(len(row) for row, good in pairs if good),
    )


def bias_at(indications: Sequence[float], reference: float, repeatability: float | None = None) -> Bias:
    """Bias of repeated indications of one master; repeatability from a gauge study if given, else their own spread.

    Raises: NotComputed with fewer than two indications, or when neither spread is above zero.
    """
    found = scatter(indications)
    spread = found.standard_deviation if repeatability is None else repeatability
    if spread <= 0:
        raise NotComputed(
            "No test of bias was computed.",
            why="The indications do not vary at all, so their mean has no known uncertainty.",
            next_step="Give the repeatability from a gauge study, or read one digit finer.",
        )
    error = spread / math.sqrt(found.count)
    bias = found.mean - reference
    reach = coverage_factor(found.degrees_of_freedom) * error
    return Bias(
        count=found.count,
        mean=found.mean,
        bias=bias,
        repeatability=spread,
        t=bias / error,
        low=bias - reach,
        high=bias + reach,
    )


def linearity(references: Sequence[float], biases: Sequence[float]) -> Linearity:
    """Straight line of bias over size, one bias for every single indication (AIAG MSA III-B).

    Raises: NotComputed with fewer than three points or one size only.
    """
    line = fit_line(references, biases)
    total = float(np.sum((np.asarray(biases) - np.mean(biases)) ** 2))
    return Linearity(
        line=line,
        r_squared=1 - line.squared_residuals / total if total else 0.0,
        t_slope=_ratio(line.slope, line.slope_uncertainty),
        t_intercept=_ratio(line.intercept, line.intercept_uncertainty),
        t_critical=coverage_factor(line.degrees_of_freedom),
    )


def _credit(size: int, weights: Weights) -> NDArray[np.float64]:
    steps = np.abs(np.subtract.outer(np.arange(size), np.arange(size))).astype(float)
    if weights is Weights.NONE:
        return np.eye(size)
    far = max(size - 1, 1)
    return 1 - (steps / far if weights is Weights.LINEAR else (steps / far) ** 2)


def _ratio(figure: float, error: float) -> float:
    return figure / error if error else (math.inf if figure else 0.0)
