"""Gauge studies: how much of a spread is the gauge, how much the people, how much the pieces.

Owns crossed studies by ranges and by analysis of variance with interaction, and nested studies of pieces that a test
destroys (AIAG MSA 4th edition, III; ISO 22514-7). The order of collection is `kiosk.studies`.
Readings are in the unit of the characteristic. Who approves a gauge on these figures is not known here.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel
from scipy import stats

from consolidator.errors import NotComputed
from consolidator.study.chart_constants import constants_for, d2_star

STUDY_SPAN = 6.0
"""Standard deviations that stand for a whole spread when it is set against a tolerance."""
POOL_ABOVE = 0.25
"""The interaction is pooled with the repeatability when its p-value is above this (AIAG MSA)."""
FACTOR_DECIMALS = 4
"""Decimals of K1, K2 and K3 in the tables of the range method."""
KINDS_FACTOR = 1.41
"""Root 2, as the trade rounds it, for the number of distinct categories."""

Crossed = Sequence[Sequence[Sequence[float]]]
"""Readings as [part][appraiser][trial], complete and balanced."""


class Row(BaseModel, frozen=True):
    """One line of an analysis of variance."""

    source: str
    degrees_of_freedom: int
    sum_of_squares: float

    @property
    def mean_square(self) -> float:
        """Sum of squares over degrees of freedom; zero when there are none."""
        return self.sum_of_squares / self.degrees_of_freedom if self.degrees_of_freedom else 0.0


class Shares(BaseModel, frozen=True):
    """The standard deviations a study finds, and what they come to."""

    method: str
    repeatability: float
    """Equipment variation (EV): one person, one piece, again."""
    appraisers: float
    """Appraiser variation (AV), without the interaction."""
    interaction: float
    parts: float
    """Part variation (PV)."""
    remarks: tuple[str, ...] = ()

    @property
    def reproducibility(self) -> float:
        """Appraisers and their interaction with the parts, together."""
        return math.hypot(self.appraisers, self.interaction)

    @property
    def gauge(self) -> float:
        """Repeatability and reproducibility together (GRR)."""
        return math.hypot(self.repeatability, self.reproducibility)

    @property
    def total(self) -> float:
        """Gauge and parts together (TV)."""
        return math.hypot(self.gauge, self.parts)

    @property
    def categories(self) -> int | None:
        """Number of distinct categories (ndc): 1.41 x parts / gauge, cut to a whole number, at least 1.

        None when the gauge shows no spread at all: then it is usually too coarse to show any.
        """
        return max(1, math.floor(KINDS_FACTOR * self.parts / self.gauge)) if self.gauge else None

    def percent_of_total(self, deviation: float) -> float:
        """A standard deviation of this study as a percentage of the total one; 0 when nothing varies."""
        return 100 * deviation / self.total if self.total else 0.0

    def percent_contribution(self, deviation: float) -> float:
        """A variance of this study as a percentage of the total one."""
        return self.percent_of_total(deviation) ** 2 / 100

    def percent_of_tolerance(self, tolerance: float, deviation: float | None = None) -> float:
        """Six standard deviations (of the gauge unless given) as a percentage of the tolerance (P/T)."""
        _above_zero(tolerance)
        return 100 * STUDY_SPAN * (self.gauge if deviation is None else deviation) / tolerance


class Variance(BaseModel, frozen=True):
    """A whole analysis of variance: its table, the test of the interaction, and the shares that come out of it."""

    rows: tuple[Row, ...]
    interaction_f: float | None
    interaction_p: float | None
    is_pooled: bool
    shares: Shares

    def row(self, source: str) -> Row:
        """The line of one source, by its name."""
        return next(row for row in self.rows if row.source == source)

    def f_against_repeatability(self, source: str) -> float:
        """A source's mean square over the repeatability's, as AIAG MSA prints it; infinite if that is zero."""
        below = self.row("repeatability").mean_square
        return self.row(source).mean_square / below if below else math.inf


def crossed_table(readings: Sequence[tuple[str, str, float]]) -> NDArray[np.float64]:
    """Readings as (part, appraiser, value), in the order taken, as a full table [part][appraiser][trial].

    Raises: NotComputed naming the first cell that holds fewer readings than the fullest one.
    """
    parts = list(dict.fromkeys(part for part, _, _ in readings))
    appraisers = list(dict.fromkeys(appraiser for _, appraiser, _ in readings))
    cells: dict[tuple[str, str], list[float]] = {(p, a): [] for p in parts for a in appraisers}
    for part, appraiser, value in readings:
        cells[part, appraiser].append(value)
    trials = max((len(cell) for cell in cells.values()), default=0)
    for (part, appraiser), cell in cells.items():
        if len(cell) < trials:
            raise NotComputed(
                "The gauge study was not computed.",
                why=f"Appraiser {appraiser} has {len(cell)} of {trials} readings on part {part}.",
                next_step="Have the missing readings taken, or leave that part out of the study.",
            )
    return np.array([[cells[part, appraiser] for appraiser in appraisers] for part in parts], dtype=float)


def k1(trials: int) -> float:
    """Factor from the mean range of trials to repeatability: 1 / d2, to four decimals as the method prints it."""
    # Rounded on purpose, so that a sheet worked by hand agrees; see decision 0062.
    return round(1 / constants_for(trials).d2, FACTOR_DECIMALS)


def k2(means: int) -> float:
    """Factor from one range of means to their standard deviation (K2 for appraisers, K3 for parts): 1 / d2*."""
    return round(1 / d2_star(means, groups=1), FACTOR_DECIMALS)


def by_ranges(table: Crossed | NDArray[np.float64]) -> Shares:
    """Shares by average and range (AIAG MSA III-B), with K1, K2 and K3 for any number of each."""
    values = _balanced(table)
    parts, appraisers, trials = values.shape
    repeatability = float(np.ptp(values, axis=2).mean()) * k1(trials)
    part_deviation = float(np.ptp(values.mean(axis=(1, 2)))) * k2(parts)
    if appraisers == 1:
        return Shares(
            method="ranges", repeatability=repeatability, appraisers=0.0, interaction=0.0, parts=part_deviation
        )
    difference = float(np.ptp(values.mean(axis=(0, 2)))) * k2(appraisers)
    square = difference**2 - repeatability**2 / (parts * trials)
    return Shares(
        method="ranges",
        repeatability=repeatability,
        appraisers=math.sqrt(max(square, 0.0)),
        interaction=0.0,
        parts=part_deviation,
        remarks=_negative([("appraiser", square)]),
    )


def by_variance(table: Crossed | NDArray[np.float64], pool_above: float = POOL_ABOVE) -> Variance:
    """Shares by two-way analysis of variance with interaction (AIAG MSA III-B, ISO 22514-7).

    Parts and appraisers are taken as drawn at random. The interaction is pooled when its p-value is above pool_above.
    A negative variance counts as zero and is named in the remarks.
    """
    values = _balanced(table)
    parts, appraisers, trials = values.shape
    grand = values.mean()
    cell = values.mean(axis=2)
    part_mean, person_mean = cell.mean(axis=1), cell.mean(axis=0)
    squares = {
        "parts": appraisers * trials * float(np.sum((part_mean - grand) ** 2)),
        "appraisers": parts * trials * float(np.sum((person_mean - grand) ** 2)),
        "interaction": trials * float(np.sum((cell - part_mean[:, None] - person_mean + grand) ** 2)),
        "repeatability": float(np.sum((values - cell[:, :, None]) ** 2)),
    }
    freedom = {
        "parts": parts - 1,
        "appraisers": appraisers - 1,
        "interaction": (parts - 1) * (appraisers - 1),
        "repeatability": parts * appraisers * (trials - 1),
    }
    rows = tuple(Row(source=s, degrees_of_freedom=freedom[s], sum_of_squares=squares[s]) for s in squares)
    interaction, repeat = rows[2], rows[3]
    f = p = None
    if appraisers > 1 and repeat.mean_square > 0:
        f = interaction.mean_square / repeat.mean_square
        p = float(stats.f.sf(f, interaction.degrees_of_freedom, repeat.degrees_of_freedom))
    is_pooled = appraisers == 1 or (p is not None and p > pool_above) or squares["interaction"] == 0
    shares = _crossed_shares(rows, values.shape, is_pooled)
    return Variance(rows=rows, interaction_f=f, interaction_p=p, is_pooled=is_pooled, shares=shares)


def nested(table: Crossed | NDArray[np.float64]) -> Variance:
    """Shares when each appraiser has pieces of their own, as a destructive test needs: [appraiser][part][trial].

    The pieces of one "part" are taken as alike; what they differ by counts as repeatability.
    """
    values = _balanced(table, of="appraisers, parts and trials")
    appraisers, parts, trials = values.shape
    cell = values.mean(axis=2)
    person_mean = cell.mean(axis=1)
    rows = (
        Row(
            source="appraisers",
            degrees_of_freedom=appraisers - 1,
            sum_of_squares=parts * trials * float(np.sum((person_mean - values.mean()) ** 2)),
        ),
        Row(
            source="parts",
            degrees_of_freedom=appraisers * (parts - 1),
            sum_of_squares=trials * float(np.sum((cell - person_mean[:, None]) ** 2)),
        ),
        Row(
            source="repeatability",
            degrees_of_freedom=appraisers * parts * (trials - 1),
            sum_of_squares=float(np.sum((values - cell[:, :, None]) ** 2)),
        ),
    )
    person, part, repeat = (row.mean_square for row in rows)
    variances = {
        "appraiser": (person - part) / (parts * trials) if appraisers > 1 else 0.0,
        "part": (part - repeat) / trials,
    }
    shares = Shares(
        method="nested analysis of variance",
        repeatability=math.sqrt(repeat),
        appraisers=_root(variances["appraiser"]),
        interaction=0.0,
        parts=_root(variances["part"]),
        remarks=_negative(list(variances.items())),
    )
    return Variance(rows=rows, interaction_f=None, interaction_p=None, is_pooled=False, shares=shares)


def _crossed_shares(rows: tuple[Row, ...], shape: tuple[int, ...], is_pooled: bool) -> Shares:
    parts, appraisers, trials = shape
    part, person, interaction, repeat = rows
    error = repeat.mean_square
    if is_pooled:
        freedom = interaction.degrees_of_freedom + repeat.degrees_of_freedom
        error = (interaction.sum_of_squares + repeat.sum_of_squares) / freedom
    against = error if is_pooled else interaction.mean_square
    variances = {
        "appraiser": (person.mean_square - against) / (parts * trials) if appraisers > 1 else 0.0,
        "interaction": 0.0 if is_pooled else (interaction.mean_square - error) / trials,
        "part": (part.mean_square - against) / (appraisers * trials),
    }
    remarks = _negative(list(variances.items()))
    return Shares(
        method="analysis of variance, interaction pooled" if is_pooled else "analysis of variance with interaction",
        repeatability=math.sqrt(error),
        appraisers=_root(variances["appraiser"]),
        interaction=_root(variances["interaction"]),
        parts=_root(variances["part"]),
        remarks=remarks,
    )


def _root(variance: float) -> float:
    return math.sqrt(max(variance, 0.0))


def _negative(variances: Sequence[tuple[str, float]]) -> tuple[str, ...]:
    return tuple(f"{name} variance came out below zero and counts as zero" for name, value in variances if value < 0)


def _balanced(table: Crossed | NDArray[np.float64], of: str = "parts, appraisers and trials") -> NDArray[np.float64]:
    try:
        values = np.asarray(table, dtype=float)
    except ValueError:
        values = np.empty((0,))
    if values.ndim != 3 or values.shape[0] < 1 or values.shape[2] < 2 or values.shape[0] * values.shape[1] < 2:
        raise NotComputed(
            "The gauge study was not computed.",
            why=f"The readings do not fill a table of {of} with 2 trials or more.",
            next_step="Have every appraiser measure every part the same number of times, at least twice.",
        )
    return values


def _above_zero(tolerance: float) -> None:
    if not tolerance > 0:
        raise NotComputed(
            "No share of the tolerance was computed.",
            why=f"The tolerance was {tolerance}.",
            next_step="Give the tolerance of the characteristic, upper minus lower limit.",
        )
