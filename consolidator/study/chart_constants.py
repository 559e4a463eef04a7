"""The factors of control charts and gauge studies, computed from the normal distribution and never typed.

Owns d2, d3, c4 and everything made from them, for samples of 2 to 100 (ISO 7870-2, ASTM E2587, ISO 22514-7).
Published tables are rounded, some of them wrongly in the last digit; these are the exact figures.
"""

import functools
import math

import numpy as np
from pydantic import BaseModel
from scipy import special

from consolidator.errors import NotComputed

SMALLEST_SAMPLE = 2
LARGEST_SAMPLE = 100

_NODES = 120
_WIDEST_RANGE = 18.0
"""In standard deviations: the chance of a wider range among 100 pieces is below 1e-17."""


class Constants(BaseModel, frozen=True):
    """All factors for samples of one size; the names are the trade's own letters."""

    n: int
    d2: float
    d3: float
    c4: float

    @property
    def A(self) -> float:
        """Limits of means from a known standard deviation: 3 / root n."""
        return 3 / math.sqrt(self.n)

    @property
    def A2(self) -> float:
        """Limits of means from the mean range."""
        return 3 / (self.d2 * math.sqrt(self.n))

    @property
    def A3(self) -> float:
        """Limits of means from the mean standard deviation."""
        return 3 / (self.c4 * math.sqrt(self.n))

    @property
    def B3(self) -> float:
        """Lower limit of standard deviations from their mean; never below zero."""
        return max(0.0, 1 - 3 * self._spread_of_s / self.c4)

    @property
    def B4(self) -> float:
        """Upper limit of standard deviations from their mean."""
        return 1 + 3 * self._spread_of_s / self.c4

    @property
    def B5(self) -> float:
        """Lower limit of standard deviations from a known standard deviation; never below zero."""
        return max(0.0, self.c4 - 3 * self._spread_of_s)

    @property
    def B6(self) -> float:
        """Upper limit of standard deviations from a known standard deviation."""
        return self.c4 + 3 * self._spread_of_s

    @property
    def D1(self) -> float:
        """Lower limit of ranges from a known standard deviation; never below zero."""
        return max(0.0, self.d2 - 3 * self.d3)

    @property
    def D2(self) -> float:
        """Upper limit of ranges from a known standard deviation."""
        return self.d2 + 3 * self.d3

    @property
    def D3(self) -> float:
        """Lower limit of ranges from the mean range; never below zero."""
        return max(0.0, 1 - 3 * self.d3 / self.d2)

    @property
    def D4(self) -> float:
        """Upper limit of ranges from the mean range."""
        return 1 + 3 * self.d3 / self.d2

    @property
    def E2(self) -> float:
        """Limits of individual readings from the mean range of n neighbours: 3 / d2."""
        return 3 / self.d2

    @property
    def _spread_of_s(self) -> float:
        return math.sqrt(1 - self.c4**2)


def constants_for(n: int) -> Constants:
    """The factors for samples of n pieces, 2 to 100.

    Raises: NotComputed for any other n.
    """
    _sized(n)
    d2, d3 = _range_moments(n)
    return Constants(n=n, d2=d2, d3=d3, c4=c4_for(n))


def c4_for(n: int) -> float:
    """Mean of the standard deviation of n normal values over the true one; exact for any n from 2 up."""
    if n < SMALLEST_SAMPLE:
        _sized(n)
    return math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))


def d2_star(n: int, groups: int) -> float:
    """What the mean of a few ranges is divided by, root(d2^2 + d3^2 / groups), for gauge studies.

    One over it is the K1, K2 and K3 of the range method; with many groups it is d2.
    """
    _sized(n)
    d2, d3 = _range_moments(n)
    return math.sqrt(d2**2 + d3**2 / groups)


def _sized(n: int) -> None:
    if not SMALLEST_SAMPLE <= n <= LARGEST_SAMPLE:
        raise NotComputed(
            "No chart factors were computed.",
            why=f"A sample of {n} was asked for; factors are kept for {SMALLEST_SAMPLE} to {LARGEST_SAMPLE}.",
            next_step="Choose another sample size, or a chart of standard deviations for large samples.",
        )


@functools.lru_cache(maxsize=LARGEST_SAMPLE)
def _range_moments(n: int) -> tuple[float, float]:
    """Mean and standard deviation of the range of n standard normal values.

    P(R <= r) = n x integral of phi(x) [Phi(x + r) - Phi(x)]^(n-1) dx; the mean is the integral of its complement.
    """
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    r = (node + 1) * _WIDEST_RANGE / 2
    w = weight * _WIDEST_RANGE / 2
    # Equal steps over the whole line integrate a smooth bell-shaped function to rounding error.
    x = np.linspace(-10.0, 10.0, 301)
    phi = np.exp(-x * x / 2) / math.sqrt(2 * math.pi)
    within = special.ndtr(x + r[:, None]) - special.ndtr(x)
    beyond = 1 - n * np.sum(phi * within ** (n - 1), axis=1) * (x[1] - x[0])
    mean = float(np.sum(w * beyond))
    return mean, math.sqrt(float(np.sum(2 * w * r * beyond)) - mean**2)
