"""Which lot, part revision, characteristic and plan stood for each reading at its effective time.

Owns the joins with parts, plans and lots. Knows nothing of gauges or standing.
"""

from dataclasses import dataclass

import numpy as np

from consolidator.frame.asof import Steps
from consolidator.frame.coded import Coded, Codes, Ints
from consolidator.frame.gauges import since_ms
from consolidator.frame.pages import Pages
from kiosk.lists import Characteristic, Lists, Lot, Part, Plan


@dataclass(frozen=True)
class Plans:
    """For each reading the place of what stood, -1 where nothing did; and the rows those places point into."""

    lots: list[Lot]
    lot_row: Ints
    parts: list[Part]
    part_row: Ints
    part_steps: Steps
    revision: Coded
    """The revision in force; the page's own where the part is not in the lists."""
    characteristics: list[Characteristic]
    characteristic_row: Ints
    """Under the revision in force."""
    characteristic_steps: Steps
    characteristic_code: Ints
    old_characteristic_row: Ints
    """Under the revision the page names."""
    plans: list[Plan]
    plan_row: Ints


def plans_of(pages: Pages, ms: Ints, lists: Lists) -> Plans:
    """Return what the lists say of each reading at its effective time."""
    lots = list(lists.lots)
    lot_place = {lot.number: place for place, lot in enumerate(lots)}
    parts = list(lists.parts)
    part_steps = Steps.of(
        [pages.part.code_of(part.number) for part in parts], [since_ms(part.in_force_from) for part in parts]
    )
    part_row = part_steps.at(pages.part.codes, ms)
    revision = _revision_in_force(pages, parts, part_row)
    characteristics, plans = list(lists.characteristics), list(lists.plans)
    joined = _Triples(pages.part, revision, pages.characteristic)
    steps = joined.steps([(c.part, c.revision, c.number, c.in_force_from) for c in characteristics])
    old = _Triples(pages.part, pages.revision, pages.characteristic)
    old_steps = old.steps([(c.part, c.revision, c.number, c.in_force_from) for c in characteristics])
    planned = _Triples(pages.part, revision, pages.operation)
    plan_steps = planned.steps([(p.part, p.revision, p.operation, p.in_force_from) for p in plans])
    return Plans(
        lots=lots,
        lot_row=pages.lot.spread(lambda lot: lot_place.get(lot, -1), -1),
        parts=parts,
        part_row=part_row,
        part_steps=part_steps,
        revision=revision,
        characteristics=characteristics,
        characteristic_row=steps.at(joined.code, ms),
        characteristic_steps=steps,
        characteristic_code=joined.code,
        old_characteristic_row=old_steps.at(old.code, ms),
        plans=plans,
        plan_row=plan_steps.at(planned.code, ms),
    )


def _revision_in_force(pages: Pages, parts: list[Part], part_row: Ints) -> Coded:
    words = sorted({part.revision for part in parts} | set(pages.revision.labels))
    place = {word: at for at, word in enumerate(words)}
    of_part = np.array([*(place[part.revision] for part in parts), -1], np.int32)
    of_page = pages.revision.spread(lambda word: place[word], -1)
    codes: Codes = np.where(part_row >= 0, of_part[part_row], of_page).astype(np.int32)
    return Coded(codes, tuple(words))


class _Triples:
    """A code for each distinct triple of three columns, so that three words are one key of a history."""

    def __init__(self, first: Coded, second: Coded, third: Coded) -> None:
        self._columns = (first, second, third)
        self._sizes = (len(second.labels) + 1, len(third.labels) + 1)
        raw = self._join(*(column.codes.astype(np.int64) for column in self._columns))
        self._known, code = np.unique(raw, return_inverse=True)
        self.code: Ints = code.astype(np.int64)

    def steps(self, rows: list[tuple[str, str, str, str | None]]) -> Steps:
        """Return the history of rows given as three words and a time of force."""
        codes, times = [], []
        for first, second, third, in_force_from in rows:
            each = [column.code_of(word) for column, word in zip(self._columns, (first, second, third), strict=True)]
            codes.append(-1 if min(each) < 0 else self._code_of(self._join(*(np.array([code]) for code in each))[0]))
            times.append(since_ms(in_force_from))
        return Steps.of(codes, times)

    def _join(self, first: Ints, second: Ints, third: Ints) -> Ints:
        return ((first + 1) * self._sizes[0] + second + 1) * self._sizes[1] + third + 1

    def _code_of(self, raw: np.int64) -> int:
        at = int(np.searchsorted(self._known, raw))
        return at if at < len(self._known) and self._known[at] == raw else -1
