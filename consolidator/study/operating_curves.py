"""How good a sampling plan is: chance of acceptance, what gets through, and the smallest plan that keeps a promise.

Owns operating characteristics (ISO 2859-1 clause 12), average outgoing quality, and plans found from two points.
Small lots are counted exactly (hypergeometric), long runs as binomial, faults per piece as Poisson.
Shares are between 0 and 1; an AQL in percent is divided by 100 by the caller.
"""

import math
from collections.abc import Callable, Sequence

import numpy as np
from pydantic import BaseModel
from scipy import optimize, stats

from consolidator.errors import NotComputed

LARGEST_SAMPLE = 100_000
"""Searches for a sample stop here, pieces: far beyond any lot that is sampled at all."""


class Outgoing(BaseModel, frozen=True):
    """The worst average quality that leaves a rectifying inspection, and the incoming share where it happens."""

    limit: float
    """AOQL, as a share."""
    at_share: float


class AttributesPlan(BaseModel, frozen=True):
    """A counted plan found by search."""

    sample_size: int
    acceptance_number: int


class VariablesPlan(BaseModel, frozen=True):
    """A measured plan: accept when the room from the mean to the limit is at least k standard deviations (ISO 3951)."""

    sample_size: int
    k: float


def acceptance(sample_size: int, allowed: int, share: float) -> float:
    """Chance that a lot from a long run with this share of bad pieces is accepted (binomial)."""
    _share(share)
    return float(stats.binom.cdf(allowed, sample_size, share))


def acceptance_of_lot(sample_size: int, allowed: int, *, lot_size: int, bad_pieces: int) -> float:
    """Chance that one lot holding exactly this many bad pieces is accepted (hypergeometric)."""
    if not 0 <= bad_pieces <= lot_size or not 1 <= sample_size <= lot_size:
        raise NotComputed(
            "No chance of acceptance was computed.",
            why=f"A sample of {sample_size} and {bad_pieces} bad pieces do not fit a lot of {lot_size}.",
            next_step="Give a sample and a number of bad pieces no larger than the lot.",
        )
    return float(stats.hypergeom.cdf(allowed, lot_size, bad_pieces, sample_size))


def acceptance_of_faults(sample_size: int, allowed: int, faults_a_piece: float) -> float:
    """Chance of acceptance when faults are counted, any number on one piece (Poisson)."""
    return float(stats.poisson.cdf(allowed, sample_size * faults_a_piece))


def acceptance_double(sizes: tuple[int, int], allowed: tuple[int, int], first_rejection: int, share: float) -> float:
    """Chance of acceptance of a double plan: a second sample is drawn between allowed and first_rejection."""
    _share(share)
    first, second = sizes
    chance = acceptance(first, allowed[0], share)
    for found in range(allowed[0] + 1, first_rejection):
        if found <= allowed[1]:
            chance += float(stats.binom.pmf(found, first, share)) * acceptance(second, allowed[1] - found, share)
    return chance


def acceptance_by_variables(sample_size: int, k: float, share: float, *, is_sigma_known: bool = False) -> float:
    """Chance of acceptance of a measured plan with one limit, for a bell curve with this share beyond it (ISO 3951)."""
    _share(share)
    if share in (0.0, 1.0):
        return 1.0 - share
    room = -float(stats.norm.ppf(share))
    root = math.sqrt(sample_size)
    if is_sigma_known:
        return float(stats.norm.cdf(root * (room - k)))
    return float(stats.nct.sf(root * k, sample_size - 1, root * room))


def operating_curve(sample_size: int, allowed: int, shares: Sequence[float]) -> tuple[float, ...]:
    """Chance of acceptance at each share of bad pieces, for drawing."""
    return tuple(acceptance(sample_size, allowed, share) for share in shares)


def lot_curve(sample_size: int, allowed: int, lot_size: int) -> tuple[float, ...]:
    """Chance of acceptance of one lot holding 0, 1, 2 ... up to all bad pieces."""
    return tuple(
        acceptance_of_lot(sample_size, allowed, lot_size=lot_size, bad_pieces=bad) for bad in range(lot_size + 1)
    )


def share_at(sample_size: int, allowed: int, chance: float) -> float:
    """The share of bad pieces accepted with this chance: 0.95 gives the producer's point, 0.10 the limiting one."""
    if not 0 < chance < 1:
        raise NotComputed(
            "No quality was computed.",
            why=f"A chance of {chance} was asked for; it lies between 0 and 1.",
            next_step="Ask for 0.95 (producer's point) or 0.10 (limiting quality), for example.",
        )
    if allowed >= sample_size:
        raise NotComputed(
            "No quality was computed.",
            why=f"A plan that allows {allowed} bad of {sample_size} accepts everything.",
            next_step="Give an acceptance number below the sample size.",
        )
    return float(stats.beta.ppf(1 - chance, allowed + 1, sample_size - allowed))


def poisson_mean_at(allowed: int, chance: float) -> float:
    """Mean number of faults in the sample that is accepted with this chance: half a chi-squared quantile."""
    return float(stats.chi2.ppf(1 - chance, 2 * (allowed + 1))) / 2


def poisson_sample(share: float, allowed: int, chance: float) -> int:
    """Sample that accepts this share of bad pieces with no more than this chance, by Poisson."""
    return math.ceil(poisson_mean_at(allowed, chance) / share)


def outgoing_quality(sample_size: int, allowed: int, share: float, lot_size: int | None = None) -> float:
    """Average share that leaves when rejected lots are sorted and made good: share x chance x (1 - n / N)."""
    left = 1.0 if lot_size is None else 1 - sample_size / lot_size
    return share * acceptance(sample_size, allowed, share) * left


def outgoing_limit(sample_size: int, allowed: int, lot_size: int | None = None) -> Outgoing:
    """AOQL: the greatest average outgoing share over all incoming ones (ISO 2859-1 clause 12.4)."""
    # The curve rises, then falls; a coarse walk finds the hill so that the search cannot stop beside it.
    grid = np.linspace(0.0, 1.0, 2001)[1:]
    curve = stats.binom.cdf(allowed, sample_size, grid) * grid
    top = float(grid[int(np.argmax(curve))])
    found = optimize.minimize_scalar(
        lambda share: -outgoing_quality(sample_size, allowed, share, lot_size),
        bounds=(max(top - 0.001, 0.0), min(top + 0.001, 1.0)),
        method="bounded",
        options={"xatol": 1e-10},
    )
    return Outgoing(limit=-float(found.fun), at_share=float(found.x))


def zero_failure_sample(confidence: float, share: float) -> int:
    """Pieces that must all be good to say with this confidence that no more than this share is bad (long run)."""
    if not 0 < confidence < 1 or not 0 < share < 1:
        raise NotComputed(
            "No sample was computed.",
            why=f"A confidence of {confidence} and a share of {share} were given; both lie between 0 and 1.",
            next_step="Give them as shares, for example 0.95 and 0.01.",
        )
    # A hair below the whole number must not cost a piece: 0.9 ** 2 is 0.81 exactly in print, not in floats.
    return math.ceil(math.log(1 - confidence) / math.log(1 - share) - 1e-9)


def zero_failure_sample_of_lot(confidence: float, lot_size: int, bad_pieces: int) -> int:
    """The smallest all-good sample that shows, with this confidence, fewer than this many bad pieces in one lot."""
    _between_lot(confidence, lot_size, bad_pieces)
    return _smallest(
        lambda n: acceptance_of_lot(n, 0, lot_size=lot_size, bad_pieces=bad_pieces) <= 1 - confidence, lot_size
    )


def find_attributes_plan(
    good: tuple[float, float], poor: tuple[float, float], lot_size: int | None = None
) -> AttributesPlan:
    """The smallest counted plan through two points, each (share of bad pieces, chance of acceptance).

    Good shares are accepted with at least, poor ones with at most, their chance. With a lot size the count is exact,
    the bad pieces being the share of the lot rounded to whole pieces.
    Raises: NotComputed when the points are not apart, or no plan within the lot does it.
    """
    _two_points(good, poor)

    def chance(n: int, c: int, share: float) -> float:
        if lot_size is None:
            return acceptance(n, c, share)
        return acceptance_of_lot(n, c, lot_size=lot_size, bad_pieces=round(share * lot_size))

    most = LARGEST_SAMPLE if lot_size is None else lot_size
    size = 1
    for allowed in range(most):
        size = max(size, allowed + 1)
        while size <= most and chance(size, allowed, poor[0]) > poor[1]:
            size += 1
        if size > most:
            break
        if chance(size, allowed, good[0]) >= good[1]:
            return AttributesPlan(sample_size=size, acceptance_number=allowed)
    raise NotComputed(
        "No sampling plan was found.",
        why=f"No sample of up to {most} pieces keeps both {good} and {poor}.",
        next_step="Move the two points further apart, or inspect every piece.",
    )


def find_variables_plan(
    good: tuple[float, float], poor: tuple[float, float], *, is_sigma_known: bool = False
) -> VariablesPlan:
    """The smallest measured plan through two points, each (share beyond the limit, chance of acceptance)."""
    _two_points(good, poor)

    def k_for(n: int) -> float:
        """The k that accepts the good share with exactly its chance."""
        room, root = -float(stats.norm.ppf(good[0])), math.sqrt(n)
        if is_sigma_known:
            return room - float(stats.norm.ppf(good[1])) / root
        return float(stats.nct.isf(good[1], n - 1, root * room)) / root

    size = _smallest(
        lambda n: n > 1 and acceptance_by_variables(n, k_for(n), poor[0], is_sigma_known=is_sigma_known) <= poor[1],
        LARGEST_SAMPLE,
    )
    return VariablesPlan(sample_size=size, k=k_for(size))


def _smallest(holds: Callable[[int], bool], most: int) -> int:
    """The smallest whole number from 1 that holds, for a condition that holds ever after."""
    high = 1
    while high < most and not holds(high):
        high = min(high * 2, most)
    low = high // 2
    while low + 1 < high:
        middle = (low + high) // 2
        low, high = (low, middle) if holds(middle) else (middle, high)
    return high


def _share(share: float) -> None:
    if not 0 <= share <= 1:
        raise NotComputed(
            "No chance of acceptance was computed.",
            why=f"A share of bad pieces of {share} was given; it lies between 0 and 1.",
            next_step="Divide a percentage by 100.",
        )


def _between_lot(confidence: float, lot_size: int, bad_pieces: int) -> None:
    if not 0 < confidence < 1 or not 1 <= bad_pieces <= lot_size:
        raise NotComputed(
            "No sample was computed.",
            why=f"A confidence of {confidence} and {bad_pieces} bad pieces in a lot of {lot_size} were given.",
            next_step="Give a confidence between 0 and 1, and from 1 bad piece up to the whole lot.",
        )


def _two_points(good: tuple[float, float], poor: tuple[float, float]) -> None:
    if not 0 < good[0] < poor[0] < 1 or not 0 < poor[1] < good[1] < 1:
        raise NotComputed(
            "No sampling plan was found.",
            why=f"The points {good} and {poor} are not a better share accepted oftener than a worse one.",
            next_step="Give (share, chance) of a good lot first, such as (0.01, 0.95), then of a poor one.",
        )
