"""What befell each lot: closed, re-opened, shipped, put on hold by hand, brought to its final operation.

Owns the histories of lots, and telling pages on training lots from those of production. Knows no rules.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from consolidator.authority import Deed
from consolidator.frame.asof import Steps
from consolidator.frame.coded import Coded, Flags
from consolidator.frame.pages import Pages
from consolidator.frame.world import ActAt, World
from kiosk.lists import Lists
from kiosk.pages import Page
from kiosk.pages.desk import Disposition, Hold, HoldLift, LotClose, LotReopen, LotShip
from kiosk.pages.station import Changeover, JobOpen, SetUpStart


@dataclass(frozen=True)
class Training:
    """Which pages are about training lots: a new kiosk is tried out on them, and nothing of it is production.

    Acts on a gauge, such as a drop that was reported, are about the gauge and stay, whichever lot was open.
    """

    lots: frozenset[str]
    set_ups: frozenset[str]
    pages: frozenset[str]
    """Readings on such lots, and the acts on them, by which other acts name them."""

    @classmethod
    def of(cls, lists: Lists, readings: Pages, acts: Sequence[Page]) -> "Training":
        """Find the training lots of the lists, the set-ups for them, and the pages about either."""
        lots = frozenset(lot.number for lot in lists.lots if lot.is_training)
        if not lots:
            return cls(lots, frozenset(), frozenset())
        starts = [page.act for page in acts if isinstance(page.act, SetUpStart)]
        set_ups = frozenset(start.set_up for start in starts if start.lot in lots)
        rows = np.flatnonzero(readings.lot.is_one_of(*lots)).tolist()
        found = cls(lots, set_ups, frozenset(map(readings.ref, rows)))
        # What is signed under an act on a lot is found by the act's own page.
        return cls(lots, set_ups, found.pages | {page.ref for page in acts if found.has(page)})

    def of_readings(self, readings: Pages) -> Flags:
        """Tell which readings are on training lots."""
        return readings.lot.is_one_of(*self.lots)

    def has(self, page: Page) -> bool:
        """True when an act is on a training lot, on a set-up for one, or about a page that is."""
        act = page.act
        if isinstance(act, Changeover):
            return act.to_lot in self.lots and (act.from_lot is None or act.from_lot in self.lots)
        about = {getattr(act, "of", None), *getattr(act, "readings", ())}
        is_named = getattr(act, "lot", None) in self.lots or getattr(act, "set_up", None) in self.set_ups
        return is_named or not self.pages.isdisjoint(about)


@dataclass(frozen=True)
class LotHistory:
    """Histories of all lots named in a night's readings."""

    lot: Coded
    world: World

    @cached_property
    def closings(self) -> tuple[Steps, Flags, list[ActAt]]:
        """When each lot was closed and opened again: steps, whether it is closed from there, and the page."""
        news = [(act, close.lot, True) for act, close in self.world.acts.of(LotClose)]
        news += [(act, opened.lot, False) for act, opened in self.world.acts.of(LotReopen)]
        news.sort(key=lambda each: each[0].sort_key)
        steps = Steps.of([self.lot.code_of(lot) for _, lot, _ in news], [act.at_ms for act, _, _ in news])
        return steps, np.array([closed for _, _, closed in news], np.bool_), [act for act, _, _ in news]

    @cached_property
    def closed(self) -> frozenset[str]:
        """Lots that are closed at the moment of closing the day."""
        state: dict[str, bool] = {}
        news = [(act, close.lot, True) for act, close in self.world.acts.of(LotClose)]
        news += [(act, opened.lot, False) for act, opened in self.world.acts.of(LotReopen)]
        for act, lot, is_closed in sorted(news, key=lambda each: each[0].sort_key):
            if act.at_ms <= self.world.at_ms:
                state[lot] = is_closed
        return frozenset(lot for lot, is_closed in state.items() if is_closed)

    @cached_property
    def shipped(self) -> frozenset[str]:
        """Lots of which pieces left the plant."""
        return frozenset(ship.lot for act, ship in self.world.acts.of(LotShip) if act.at_ms <= self.world.at_ms)

    @cached_property
    def gone(self) -> frozenset[str]:
        """Lots of which every piece left the plant: as many as were closed, or else as the lot has."""
        pieces = {lot.number: lot.quantity for lot in self.world.lists.lots}
        pieces |= {close.lot: close.quantity for act, close in self.world.acts.of(LotClose)}
        shipped: dict[str, int] = {}
        for act, ship in self.world.acts.of(LotShip):
            if act.at_ms <= self.world.at_ms:
                shipped[ship.lot] = shipped.get(ship.lot, 0) + ship.quantity
        return frozenset(lot for lot, count in shipped.items() if count >= pieces.get(lot, count + 1))

    @cached_property
    def at_final(self) -> frozenset[str]:
        """Lots whose traveller was opened at an operation that a plan calls final."""
        final = {(p.part, p.revision, p.operation) for p in self.world.lists.plans if p.is_final}
        return frozenset(
            job.lot for _, job in self.world.acts.of(JobOpen) if (job.part, job.revision, job.operation) in final
        )

    @cached_property
    def holds_known(self) -> tuple[Steps, Flags, list[int]]:
        """When each lot was known to be on hold: steps, whether it is held from there, and since when.

        Anybody may put a lot on hold; only who had the authority at that minute takes it off (decision 0034).
        """
        news = [(self.world.start_ms, lot, True) for lot in sorted(self.world.carried_holds)]
        news += [(act.at_ms, hold.lot, True) for act, hold in self.world.acts.of(Hold)]
        ends = [(act, lift.lot, Deed.LIFT_HOLD) for act, lift in self.world.acts.of(HoldLift)]
        ends += [(act, done.lot, Deed.DISPOSE) for act, done in self.world.acts.of(Disposition) if done.ends_hold]
        news += [(act.at_ms, lot, False) for act, lot, deed in ends if self.world.may_sign(act, deed)]
        news.sort(key=lambda each: each[0])
        steps = Steps.of([self.lot.code_of(lot) for _, lot, _ in news], [ms for ms, _, _ in news])
        return steps, np.array([held for _, _, held in news], np.bool_), [ms for ms, _, _ in news]
