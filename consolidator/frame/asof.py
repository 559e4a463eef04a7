"""What stood at a moment: steps of a history looked up for a million rows at once.

Owns one composite key of code and time, and one search in it. Knows nothing of gauges or lots.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from consolidator.frame.coded import Codes, Flags, Ints

_KEY_BITS = 62
EVER = -(2**61)
"""A step that stands from the beginning."""


@dataclass(frozen=True)
class Steps:
    """A history: from `ms` on, code `code` stands at step number its place; sorted by code, then time.

    Two steps of one code at one time: the later in the order given stands.
    """

    codes: Ints
    ms: Ints
    place: Ints
    """Where each sorted step stood in the order given."""

    @classmethod
    def of(cls, codes: list[int], ms: list[int]) -> "Steps":
        """Return the history made of steps in any order; negative codes are left out."""
        code_array, ms_array = np.array(codes, dtype=np.int64), np.array(ms, dtype=np.int64)
        order = np.lexsort((np.arange(len(codes)), ms_array, code_array))
        order = order[code_array[order] >= 0]
        return cls(code_array[order], ms_array[order], order.astype(np.int64))

    def at(self, codes: Codes | Ints, ms: Ints) -> Ints:
        """Return for each row the place of the step that stands at `ms`; -1 where none does."""
        found = self._last(codes, ms)
        return np.where(found >= 0, _pick(self.place, found), -1)

    def after(self, codes: Codes | Ints, ms: Ints) -> Ints:
        """Return for each row the place of the first step later than `ms`; -1 where none comes."""
        last = self._position(codes, ms)
        following = np.minimum(last, max(len(self.codes) - 1, 0))
        is_same = (last < len(self.codes)) & (_pick(self.codes, following) == codes)
        return np.where(is_same, _pick(self.place, following), -1)

    def differs_between(self, codes: Codes | Ints, spans: tuple[Ints, Ints], state: NDArray[Any]) -> Flags:
        """Tell for each row whether `state` (one for each step as given) takes another value inside its span.

        Before the first step of a code the state is that of none, which differs from all.
        """
        if not len(self.codes):
            return np.zeros(len(codes), dtype=np.bool_)
        stood = np.ones(len(self.codes), np.bool_)
        stood[:-1] = (self.codes[1:] != self.codes[:-1]) | (self.ms[1:] != self.ms[:-1])
        steps = np.flatnonzero(stood)  # of several steps at one moment only the last one ever stood
        codes_of, state_of = self.codes[steps], state[self.place][steps]
        is_change = np.zeros(len(self.codes), dtype=np.int64)
        is_change[steps] = 1
        is_change[steps[1:]] = (codes_of[1:] != codes_of[:-1]) | (state_of[1:] != state_of[:-1])
        changes = np.concatenate(([0], np.cumsum(is_change)))
        low, high = self._position(codes, spans[0]), self._position(codes, spans[1])
        return np.asarray(changes[high] - changes[low] > 0)

    def _last(self, codes: Codes | Ints, ms: Ints) -> Ints:
        found = self._position(codes, ms) - 1
        is_same = (found >= 0) & (_pick(self.codes, np.maximum(found, 0)) == codes)
        return np.where(is_same, found, -1)

    def _position(self, codes: Codes | Ints, ms: Ints) -> Ints:
        """Return how many steps come before or at (code, ms) in the sorted history."""
        wide = codes.astype(np.int64) + 1
        if not len(wide) or not len(self.codes):
            return np.zeros(len(wide), dtype=np.int64)
        first, last = int(ms.min()), int(ms.max())
        bits = (last - first + 2).bit_length()
        largest = max(int(wide.max()), int(self.codes[-1]) + 1)
        if largest.bit_length() + bits > _KEY_BITS:
            return self._position_by_rank(wide, ms)
        steps = ((self.codes + 1) << bits) + (np.clip(self.ms, first - 1, last + 1) - (first - 1))
        rows = (wide << bits) + (ms - (first - 1))
        return np.searchsorted(steps, rows, side="right").astype(np.int64)

    def _position_by_rank(self, wide: Ints, ms: Ints) -> Ints:
        """The same where code and time do not fit one key: times give way to their ranks."""
        ranks = np.unique(np.concatenate((self.ms, ms)))
        bits = len(ranks).bit_length() + 1
        steps = ((self.codes + 1) << bits) + np.searchsorted(ranks, self.ms)
        rows = (wide << bits) + np.searchsorted(ranks, ms)
        return np.searchsorted(steps, rows, side="right").astype(np.int64)


def _pick(values: Ints, places: Ints) -> Ints:
    """Return `values` at `places`; zeros when there are no values at all."""
    return values[places] if len(values) else np.zeros(len(places), dtype=np.int64)
