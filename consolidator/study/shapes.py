"""Shapes other than the bell curve, for readings that have one limit only.

Owns fitting Rayleigh, folded normal, Weibull and lognormal shapes, how badly each fits, and the percentile method of
ISO 22514-2 (room from the median to the limit over the room from the median to the far 0.135 % point).
"""

import math
from collections.abc import Callable, Sequence
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel
from scipy import optimize, stats

from consolidator.errors import NotComputed
from kiosk.measure.limits import Limits

FAR_SHARE = 0.99865
"""The share of pieces inside the far point: what three standard deviations leave of a bell curve."""

_HOPELESS = 1e12
"""Stands for an infinite loss, which a search could not compare."""

_Parameters = NDArray[np.float64]


class Shape(StrEnum):
    """How readings are taken to be spread."""

    NORMAL = "bell curve"
    RAYLEIGH = "Rayleigh"
    FOLDED_NORMAL = "folded normal"
    WEIBULL = "Weibull"
    LOGNORMAL = "lognormal"
    BEST = "the best fitting of its own shapes"


class Fitted(BaseModel, frozen=True):
    """A shape fitted by greatest likelihood."""

    shape: Shape
    logs: tuple[float, ...]
    """Natural logarithms of the parameters, as fitted."""
    likelihood_loss: float
    """Akaike's figure: 2 x parameters - 2 x log likelihood; the smaller the better."""
    misfit: float
    """Anderson-Darling distance."""


def _law(shape: Shape, logs: Sequence[float] | _Parameters) -> "stats.distributions.rv_frozen":
    first = math.exp(logs[0])
    if shape is Shape.RAYLEIGH:
        return stats.rayleigh(scale=first)
    second = math.exp(logs[1])
    if shape is Shape.FOLDED_NORMAL:
        return stats.foldnorm(first / second, scale=second)
    if shape is Shape.WEIBULL:
        return stats.weibull_min(second, scale=first)
    return stats.lognorm(second, scale=first)


def fit(readings: Sequence[float], shape: Shape) -> Fitted:
    """Fit one shape, or the best of all, to readings that are zero or above.

    Raises: NotComputed when a reading is below zero, when zeros rule the shape out, or nothing varies.
    """
    values = np.asarray(readings, dtype=float)
    if values.size < 2 or values.min() < 0 or np.ptp(values) == 0:
        raise NotComputed(
            "No shape was fitted.",
            why="These shapes need readings of zero or above that vary.",
            next_step="Check the characteristic's kind: a runout is never below zero.",
        )
    if shape is Shape.NORMAL:
        raise ValueError("the bell curve needs no fit: its own mean and standard deviation are the answer")
    if shape is not Shape.BEST:
        return _fit_one(values, shape)
    shapes = [Shape.RAYLEIGH, Shape.FOLDED_NORMAL]
    if values.min() > 0:
        shapes += [Shape.WEIBULL, Shape.LOGNORMAL]
    return min((_fit_one(values, each) for each in shapes), key=lambda fitted: fitted.likelihood_loss)


def performance(fitted: Fitted, readings: Sequence[float], limits: Limits) -> tuple[float, float]:
    """Ppk by percentiles and its standard error, for the limit or the worse of two limits (ISO 22514-2).

    The error follows the curvature of the likelihood (delta method): good for the 25 and more readings that are shown.
    Raises: NotComputed when the likelihood has no clear peak.
    """
    values = np.asarray(readings, dtype=float)
    logs = np.asarray(fitted.logs)

    def index(at: _Parameters) -> float:
        law = _law(fitted.shape, at)
        middle = float(law.median())
        rooms = []
        if limits.upper is not None:
            rooms.append((float(limits.upper) - middle) / (float(law.ppf(FAR_SHARE)) - middle))
        if limits.lower is not None:
            rooms.append((middle - float(limits.lower)) / (middle - float(law.ppf(1 - FAR_SHARE))))
        return min(rooms)

    slope = optimize.approx_fprime(logs, index, 1e-6)
    information = _curvature(lambda at: _loss(at, values, fitted.shape), logs)
    if not np.all(np.linalg.eigvalsh(information) > 0):
        raise NotComputed(
            "No bound was computed.",
            why=f"The likelihood of the {fitted.shape} shape has no clear peak for these readings.",
            next_step="Name another shape in the plan, or wait for more readings.",
        )
    return index(logs), math.sqrt(float(slope @ np.linalg.solve(information, slope)))


def misfit_normal(readings: Sequence[float]) -> float:
    """Anderson-Darling distance of readings from the bell curve of their own mean and standard deviation."""
    values = np.asarray(readings, dtype=float)
    return _anderson_darling(stats.norm(values.mean(), values.std(ddof=1)).cdf(np.sort(values)))


def _fit_one(values: NDArray[np.float64], shape: Shape) -> Fitted:
    logs = _greatest_likelihood(values, shape)
    loss = _loss(logs, values, shape)
    return Fitted(
        shape=shape,
        logs=tuple(float(each) for each in logs),
        likelihood_loss=2 * len(logs) + 2 * loss,
        misfit=_anderson_darling(_law(shape, logs).cdf(np.sort(values))),
    )


def _greatest_likelihood(values: NDArray[np.float64], shape: Shape) -> _Parameters:
    if shape is Shape.RAYLEIGH:
        return np.array([math.log(math.sqrt(float(np.mean(values**2)) / 2))])
    if values.min() == 0 and shape is not Shape.FOLDED_NORMAL:
        raise NotComputed(
            f"No {shape} shape was fitted.",
            why="Some readings are zero, which this shape does not allow.",
            next_step="Use the folded normal or the Rayleigh shape.",
        )
    if shape is Shape.LOGNORMAL:
        logs = np.log(values)
        return np.array([float(logs.mean()), math.log(float(logs.std()))])
    mean, deviation = float(values.mean()), float(values.std())
    start = np.log([mean, deviation]) if shape is Shape.FOLDED_NORMAL else np.log([mean, mean / deviation])
    closely = {"xatol": 1e-7, "fatol": 1e-9}
    found = optimize.minimize(_loss, start, args=(values, shape), method="Nelder-Mead", options=closely)
    return np.asarray(found.x, dtype=float)


def _loss(logs: _Parameters, values: NDArray[np.float64], shape: Shape) -> float:
    """Minus the log likelihood; a try far from the readings overflows and counts as hopeless."""
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        loss = -float(np.sum(_law(shape, logs).logpdf(values)))
    return loss if math.isfinite(loss) else _HOPELESS


def _curvature(loss: Callable[[_Parameters], float], at: _Parameters, step: float = 1e-3) -> NDArray[np.float64]:
    size = len(at)
    matrix = np.empty((size, size))
    moves = np.eye(size) * step
    for i in range(size):
        for j in range(size):
            corners = (
                loss(at + moves[i] + moves[j])
                - loss(at + moves[i] - moves[j])
                - loss(at - moves[i] + moves[j])
                + loss(at - moves[i] - moves[j])
            )
            matrix[i, j] = corners / (4 * step * step)
    return matrix


def _anderson_darling(shares: NDArray[np.float64]) -> float:
    n = len(shares)
    safe = np.clip(shares, 1e-300, 1 - 1e-16)
    weights = 2 * np.arange(1, n + 1) - 1
    return float(-n - np.sum(weights * (np.log(safe) + np.log1p(-safe[::-1]))) / n)
