"""The lots a look-back touches: their worst finding, where their pieces are, and what must be done. Shipped first.

Owns the order of lots and what each needs. Pure.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Coded, Ints, joined_key, natural_key
from consolidator.lookback.again import FINDINGS, Finding
from consolidator.lookback.findings import Findings
from kiosk.pages.desk import LotClose, LotShip

_NEEDS_HOLD: Final = (Finding.FAIL, Finding.CANNOT)


class Where(StrEnum):
    """Where the pieces of a lot that are still here are."""

    FLOOR = "on the floor"
    STOCK = "in stock"
    GONE = "shipped"


@dataclass(frozen=True)
class Shipped:
    """Pieces that left: how many, to whom, on which order, when (UTC milliseconds)."""

    quantity: int
    customer: str
    order: str
    at_ms: int
    page: str
    certificate: str = ""


@dataclass(frozen=True)
class Reached:
    """The largest error either way that was taken out of readings of one characteristic, in its unit."""

    characteristic: str
    name: str
    unit: str
    low: Fraction | None
    high: Fraction | None


@dataclass(frozen=True)
class LotInQuestion:
    """One lot with readings in question; `places` point into the findings, in page order."""

    lot: str
    part: str
    places: Ints
    counts: dict[Finding, int]
    already_bad: int
    """Readings among those that would now fail that were out of tolerance as they were read."""
    pieces: int
    """Pieces measured, not pieces of the lot."""
    quantity: int | None
    """Pieces of the lot: as closed, else as started; none where the lot is not in the register."""
    shipments: tuple[Shipped, ...]
    here: int | None
    """Pieces not shipped; none where the quantity is not known."""
    where: Where
    characteristics: tuple[Reached, ...]
    stations: tuple[str, ...]
    first_ms: int
    last_ms: int

    @property
    def worst(self) -> Finding:
        """The worst finding of any of its readings."""
        return next(finding for finding in FINDINGS if self.counts[finding])

    @property
    def needs_hold(self) -> bool:
        """True when a reading of it would now fail or cannot be told."""
        return self.worst in _NEEDS_HOLD

    @property
    def urgency(self) -> str:
        """A when pieces of it left that may be bad, else B."""
        return "A" if self.shipments and self.needs_hold else "B"

    @property
    def action(self) -> str:
        """What must be done with the lot."""
        if not self.needs_hold:
            return "one signature, with this table attached"
        if self.shipments:
            return "hold; disposition by two signatures; customer notice to prepare, the quality manager sends it"
        return "hold; disposition by two signatures"

    @property
    def order(self) -> tuple[int, int, int, tuple[tuple[int, int, str], ...]]:
        """Shipped first, then closed, then running; the worst first in each."""
        state = 0 if self.shipments else (1 if self.where is Where.STOCK else 2)
        return state, FINDINGS.index(self.worst), -len(self.places), natural_key(self.lot)


def lots_in_question(found: Findings) -> tuple[LotInQuestion, ...]:
    """Return the lots that readings in question belong to, in the order in which they must be worked."""
    return tuple(sorted(_lots(found), key=lambda lot: lot.order))


def _lots(found: Findings) -> Iterator[LotInQuestion]:
    day, rows = found.day, found.rows
    if not len(rows):
        return
    codes = day.pages.lot.codes[rows]
    order = np.argsort(codes, kind="stable")
    borders = np.flatnonzero(np.append(True, codes[order][1:] != codes[order][:-1]))
    shipments = _shipments(day)
    closed_with = {
        close.lot: close.quantity for act, close in day.world.acts.of(LotClose) if act.at_ms <= day.world.at_ms
    }
    for start, end in zip(borders.tolist(), [*borders[1:].tolist(), len(rows)], strict=True):
        places = np.sort(order[start:end])
        lot = day.pages.lot.at(int(rows[places[0]]))
        known = day.world.lists.lot(lot)
        quantity = closed_with.get(lot, None if known is None else known.quantity)
        gone = shipments.get(lot, ())
        here = None if quantity is None else max(0, quantity - sum(each.quantity for each in gone))
        yield LotInQuestion(
            lot=lot,
            part=day.pages.part.at(int(rows[places[0]])),
            places=places,
            counts={finding: int((found.rank[places] == at).sum()) for at, finding in enumerate(FINDINGS)},
            already_bad=_already_bad(found, places),
            pieces=pieces_of(day, rows[places]),
            quantity=quantity,
            shipments=gone,
            here=here,
            where=_where(day, lot, gone, here),
            characteristics=tuple(_reached(found, places)),
            stations=_words(day.pages.station, rows[places]),
            first_ms=int(day.ms[rows[places]].min()),
            last_ms=int(day.ms[rows[places]].max()),
        )


def _where(day: Day, lot: str, gone: tuple[Shipped, ...], here: int | None) -> Where:
    if gone and here == 0:
        return Where.GONE
    return Where.STOCK if lot in day.lots.closed else Where.FLOOR


def _shipments(day: Day) -> dict[str, tuple[Shipped, ...]]:
    gone: dict[str, tuple[Shipped, ...]] = {}
    for act, ship in day.world.acts.of(LotShip):
        if act.at_ms <= day.world.at_ms:
            one = Shipped(ship.quantity, ship.customer, ship.order, act.at_ms, act.ref, ship.certificate or "")
            gone[ship.lot] = (*gone.get(ship.lot, ()), one)
    return gone


def _already_bad(found: Findings, places: Ints) -> int:
    failing = places[found.rank[places] == FINDINGS.index(Finding.FAIL)]
    return int(found.day.verdicts.is_bad[found.rows[failing]].sum())


def pieces_of(day: Day, rows: Ints) -> int:
    """Return how many different pieces readings are of."""
    columns = (day.home.codes, day.pages.operation.codes)
    key = joined_key([*(c[rows].astype(np.int64) + 1 for c in columns), day.pages.sample[rows], day.pages.piece[rows]])
    return int(key.max(initial=-1)) + 1


def _words(column: Coded, rows: Ints) -> tuple[str, ...]:
    found = {column.at_code(code) for code in np.unique(column.codes[rows]).tolist()}
    return tuple(sorted(found - {""}, key=natural_key))


def _reached(found: Findings, places: Ints) -> Iterator[Reached]:
    day = found.day
    codes = day.pages.characteristic.codes[found.rows[places]]
    for code in np.unique(codes).tolist():
        mine = places[codes == code]
        told = [found.told[at] for at in np.unique(found.told_place[mine]).tolist()]
        errors = [each.error for each in told if each.error is not None]
        place = int(day.plans.characteristic_row[found.rows[mine[0]]])
        known = day.plans.characteristics[place] if place >= 0 else None
        yield Reached(
            characteristic=day.pages.characteristic.at_code(code),
            name="" if known is None else known.name,
            unit=day.pages.unit.at(int(found.rows[mine[0]])) if known is None else known.unit,
            low=min(errors, default=None),
            high=max(errors, default=None),
        )
