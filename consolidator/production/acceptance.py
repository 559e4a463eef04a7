"""What a lot is accepted on: counting pieces and rejects among its final readings, held against the plan.

Owns which readings are final: lot acceptance and tests, and what is sampled at an operation that the plan calls final.
A blocked reading never fills a place (3.3.4); a bad one speaks against the lot all the same until its piece is measured
sound (3.3.5, 3.3.7). Knows no exception kinds.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Coded, Flags, Ints, first_rows, joined_key
from consolidator.frame.day import SAMPLE_WAITS_MS
from kiosk.pages.readings import SampleEnd
from kiosk.pages.words import SampleKind

ACCEPTING: Final = (SampleKind.ACCEPTANCE, SampleKind.TEST)
"""Kinds of sample that a lot is accepted on wherever they are taken."""
SAMPLED: Final = (SampleKind.RUN, SampleKind.LAST)
"""Kinds that it is accepted on at an operation that the plan calls final."""
AGAIN: Final = (SampleKind.RE_MEASURE, SampleKind.REFEREE)
"""Kinds that look at a piece again and count for it."""
_NEVER: Final = -(2**61)


@dataclass(frozen=True)
class Acceptance:
    """One characteristic of one lot: pieces with a counting final reading, rejects, and what the plan asks."""

    lot: str
    characteristic: str
    counting: int
    planned: int
    rejects: int
    allowed: int
    rows: tuple[int, ...]
    is_over: bool
    """Nothing more of it is to come: its last sample was ended, or half an hour went by."""

    @property
    def is_enough(self) -> bool:
        """True when nothing speaks against accepting the lot by it, as far as it has come."""
        return self.rejects <= self.allowed and (not self.is_over or self.counting >= self.planned)


def acceptances(day: Day, is_blocked: Flags) -> list[Acceptance]:
    """Return the acceptance of each lot and characteristic with final readings in the day, or that ended in it.

    `is_blocked` tells for each row whether the reading is no evidence.
    """
    rows, piece = _final_pieces(day)
    if not len(rows):
        return []
    group = joined_key([_from_zero(column, rows) for column in (day.pages.lot, day.pages.characteristic)])
    settled = _settled_ms(day, rows, group)
    is_over = settled <= day.world.at_ms
    here = np.zeros(len(settled), bool)
    here[group[day.is_in_day[rows]]] = True
    here |= (settled >= day.world.start_ms) & (settled < day.world.end_ms) & is_over
    counting, rejects = _counted(day, rows, piece, is_blocked)
    one_each = first_rows(piece)
    told = []
    for place in np.flatnonzero(here).tolist():
        members, pieces = rows[group == place], group[one_each] == place
        first = int(members[0])
        characteristic = day.plans.characteristics[int(day.plans.characteristic_row[members].max())]
        told.append(
            Acceptance(
                lot=day.pages.lot.at(first),
                characteristic=day.pages.characteristic.at(first),
                counting=int(counting[pieces].sum()),
                planned=characteristic.acceptance_n,
                rejects=int(rejects[pieces].sum()),
                allowed=characteristic.rejects_allowed,
                rows=tuple(members.tolist()),
                is_over=bool(is_over[place]),
            )
        )
    return told


def is_ended(day: Day, rows: Ints) -> Flags:
    """Tell for one row of each sample whether the sample's end was kept as a page."""
    pages = day.pages
    ends = day.world.acts.of(SampleEnd)
    ended = {(act.page.series, e.lot, e.operation, e.characteristic, e.sample) for act, e in ends}
    columns = (day.home, pages.lot, pages.operation, pages.characteristic)
    by_code = {(*(c.code_of(word) for c, word in zip(columns, end[:-1], strict=True)), end[-1]) for end in ended}
    told = zip(*(column.codes[rows].tolist() for column in columns), pages.sample[rows].tolist(), strict=True)
    return np.array([each in by_code for each in told], bool)


def is_final(day: Day) -> Flags:
    """Tell which readings a lot is accepted on, where the plan asks for a number of them."""
    kinds = day.pages.sample_kind
    asked = np.array([*(c.acceptance_n > 0 for c in day.plans.characteristics), False], bool)
    at_final = np.array([*(plan.is_final for plan in day.plans.plans), False], bool)[day.plans.plan_row]
    taken = kinds.is_one_of(*ACCEPTING) | (at_final & kinds.is_one_of(*SAMPLED))
    return np.asarray(asked[day.plans.characteristic_row] & taken)


def _final_pieces(day: Day) -> tuple[Ints, Ints]:
    """Return the final readings that stand and those that measure their pieces again, and which piece each is of."""
    pages, final = day.pages, is_final(day)
    may_be = final | pages.sample_kind.is_one_of(*AGAIN)
    rows = np.flatnonzero(may_be & day.is_judged & (day.replaced_by < 0))
    if not final[rows].any():
        return rows[:0], rows[:0]
    columns = [_from_zero(c, rows) for c in (day.home, pages.lot, pages.operation, pages.characteristic)]
    piece = joined_key([*columns, pages.sample[rows], pages.piece[rows]])
    has_final = np.zeros(int(piece.max()) + 1, bool)
    has_final[piece[final[rows]]] = True
    rows, piece = rows[has_final[piece]], piece[has_final[piece]]
    return rows, joined_key([piece])


def _settled_ms(day: Day, rows: Ints, group: Ints) -> Ints:
    """Return when each group had its last final reading and nothing more was to come of it."""
    final = is_final(day)[rows]
    rows, group = rows[final], group[final]
    order = np.lexsort((day.ms[rows], group))
    last = rows[order][np.append(np.flatnonzero(np.diff(group[order])), len(order) - 1)]
    settled = np.full(int(group.max()) + 1, _NEVER, np.int64)
    settled[np.unique(group)] = day.ms[last] + np.where(is_ended(day, last), 0, SAMPLE_WAITS_MS)
    return settled


def _counted(day: Day, rows: Ints, piece: Ints, is_blocked: Flags) -> tuple[Flags, Flags]:
    """Return for each piece whether it counts, and whether it is a reject."""
    size = int(piece.max()) + 1
    counts, bad = ~is_blocked[rows], day.verdicts.is_bad[rows]

    def has(mask: Flags) -> Flags:
        found = np.zeros(size, bool)
        found[piece[mask]] = True
        return found

    return has(counts), has(counts & bad) | (has(bad) & ~has(counts & ~bad))


def _from_zero(column: Coded, rows: Ints) -> Ints:
    return column.codes[rows].astype(np.int64) + 1
