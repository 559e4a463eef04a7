"""A gauge study as its pages tell it: the order made again from its page, and the keying that stands for each turn.

Owns which keying stands and what does not fit. Must not know how a study is reckoned or printed.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from consolidator.desk.held_pages import ArchivedPages
from consolidator.errors import NotComputed
from consolidator.intake import Intake
from kiosk.pages import Page
from kiosk.pages.studies import GaugeStudyEnd, GaugeStudyOrder, GaugeStudyReading
from kiosk.studies import Turn, collection_order


@dataclass(frozen=True)
class Taken:
    """One turn with the keying that stands for it; `earlier` are the pages it took the place of."""

    turn: Turn
    keyed: str
    value: Decimal
    at: str
    page: str
    earlier: tuple[str, ...] = ()


@dataclass(frozen=True)
class CollectedStudy:
    """A gauge study with every reading held of it; `notes` say what is missing, ended short, or does not fit."""

    order: GaugeStudyOrder
    page: str
    leader: str
    ordered_at: str
    ended_at: str | None
    planned: int
    taken: tuple[Taken, ...]
    notes: tuple[str, ...]

    @property
    def readings(self) -> list[tuple[str, str, float]]:
        """Piece, appraiser and value in the order of the rounds, as `consolidator.study.gauge_study` takes them."""
        return [(each.turn.part, each.turn.appraiser, float(each.value)) for each in self.taken]


def held_studies(intake: Intake) -> list[Page]:
    """Return every study page that the plant holds."""
    kinds = (GaugeStudyOrder, GaugeStudyReading, GaugeStudyEnd)
    return [held.page for held in ArchivedPages(intake).acts(kinds)]


def collect(pages: Iterable[Page], number: str) -> CollectedStudy:
    """Return the study of this number; where several bear it, the one ordered last.

    Raises:
        NotComputed: no order of this number is held.
    """
    held = sorted(pages, key=lambda page: (page.series, page.number))
    orders = [page for page in held if isinstance(page.act, GaugeStudyOrder) and page.act.study == number]
    if not orders:
        raise NotComputed(
            f"No gauge study {number} is held.",
            why="No kiosk has carried an order of this number yet.",
            next_step="Look at the number, or carry the kiosk where it was collected.",
        )
    page = max(orders, key=lambda each: each.kiosk_time)
    order = page.act
    assert isinstance(order, GaugeStudyOrder)
    turns = collection_order(order.pieces, order.appraisers, order.trials, page.filler)
    notes = [f"{each.ref} orders a study of this number too; it is not this one" for each in orders if each is not page]
    taken = _taken(held, page.ref, {turn.number: turn for turn in turns}, notes)
    ends = [each for each in held if isinstance(each.act, GaugeStudyEnd) and each.act.order == page.ref]
    missing = len(turns) - len(taken)
    if missing:
        notes.append(f"{missing} of {len(turns)} readings are not held")
    notes += [
        f"ended short: {each.act.why_short}"
        for each in ends
        if isinstance(each.act, GaugeStudyEnd) and each.act.why_short
    ]
    notes += [] if ends else ["its leader has not ended it, as far as pages were carried"]
    return CollectedStudy(
        order=order, page=page.ref, leader=page.person or "", ordered_at=page.kiosk_time,
        ended_at=ends[-1].kiosk_time if ends else None, planned=len(turns), taken=taken, notes=tuple(notes),
    )  # fmt: skip


def _taken(held: list[Page], order: str, turns: dict[int, Turn], notes: list[str]) -> tuple[Taken, ...]:
    """Return the last keying of each turn, in the order of the turns; what does not fit the order is noted."""
    found: dict[int, Taken] = {}
    for page in held:
        act = page.act
        if not isinstance(act, GaugeStudyReading) or act.order != order:
            continue
        turn = turns.get(act.turn)
        if turn is None or (turn.trial, turn.place, turn.appraiser) != (act.trial, act.place, page.person):
            notes.append(f"{page.ref} does not fit the order of this study and is left out")
            continue
        before = found.get(act.turn)
        earlier = () if before is None else (*before.earlier, before.page)
        found[act.turn] = Taken(turn, act.keyed, Decimal(act.value), page.kiosk_time, page.ref, earlier)
    return tuple(found[number] for number in sorted(found))
