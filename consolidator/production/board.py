"""The board of rolling set-ups that are not proven: why, since when, which lots, and the pieces rolled at risk.

Owns that board. Pieces are what the machine's counter and the end of a set-up tell; where nothing was counted none are
told, and the quantity of the lots is the most it can be.
"""

from dataclasses import dataclass

from consolidator.frame import Day
from consolidator.production.dies import Counted, die_counts
from consolidator.production.failures import failures_of
from consolidator.production.set_ups import Turn, lots_by_set_up, turns_of
from kiosk.pages.desk import TestRecord
from kiosk.pages.station import SetUpStart


@dataclass(frozen=True)
class WaitingSetUp:
    """One rolling set-up without a passed proof as it stands; times are UTC milliseconds."""

    set_up: str
    station: str
    part: str
    operation: str
    begun_ms: int
    since_ms: int
    """From when its pieces are at risk."""
    because: str
    """The exception that stands for it: X55 not yet proven, X57 changed since proof, X56 proof failed."""
    is_approved: bool
    lots: tuple[str, ...]
    pieces_rolled: int | None
    """Pieces counted since then; none where nobody counted."""
    pieces_of_lots: int
    """Pieces in all its lots: the most it can be."""


def waiting_set_ups(day: Day) -> list[WaitingSetUp]:
    """Return the board as known at the moment of the night: most pieces at risk first, then the oldest."""
    lives: dict[str, list[Turn]] = {}
    for turn in turns_of(day):
        lives.setdefault(turn.set_up, []).append(turn)
    failed = {failure.set_up for failure in failures_of(day)}
    made, counts = lots_by_set_up(day), die_counts(day)
    quantities = {lot.number: lot.quantity for lot in day.world.lists.lots}
    board = []
    for name, turns in lives.items():
        start = _start(day, turns)
        if turns[-1].is_proven or start is None or not _needs_proof(day, start):
            continue
        since_ms, lots = _since_ms(turns), made.get(name, set())
        mine = [count for count in counts if count.set_up == name]
        board.append(
            WaitingSetUp(
                set_up=name,
                station=next(turn.act.page.station for turn in turns if isinstance(turn.act.page.act, SetUpStart)),
                part=start.part,
                operation=start.operation,
                begun_ms=turns[0].begun_ms,
                since_ms=since_ms,
                because=_because(turns, has_failed=name in failed),
                is_approved=turns[-1].is_approved,
                lots=tuple(sorted(lots)),
                pieces_rolled=rolled_since(mine, since_ms),
                pieces_of_lots=sum(quantities.get(lot, 0) for lot in lots),
            )
        )
    return sorted(board, key=lambda each: (-(each.pieces_rolled or each.pieces_of_lots), each.since_ms, each.set_up))


def rolled_since(counts: list[Counted], since_ms: int) -> int | None:
    """Return the pieces counts of one set-up tell since a moment, from the last count before it; none without two."""
    rolled: int | None = None
    for run in sorted({count.run for count in counts}):
        mine = [count for count in counts if count.run == run]
        before = [count for count in mine if count.ms <= since_ms]
        base = before[-1] if before else mine[0]
        after = [count for count in mine if count.ms > base.ms]
        if after:
            rolled = (rolled or 0) + max(0, after[-1].pieces - base.pieces)
    return rolled


def _start(day: Day, turns: list[Turn]) -> SetUpStart | None:
    starts = [turn.act.page.act for turn in turns if isinstance(turn.act.page.act, SetUpStart)]
    return starts[-1] if starts else None


def _needs_proof(day: Day, start: SetUpStart) -> bool:
    plans = day.world.lists.plans
    return any(p.needs_fatigue_proof for p in plans if (p.part, p.operation) == (start.part, start.operation))


def _since_ms(turns: list[Turn]) -> int:
    """Return from when pieces are at risk: the touch after the last passed proof, or that proof where a later failed.

    A set-up that was never proven is at risk from its beginning.
    """
    since, passed = turns[0].act.at_ms, None
    is_open = True
    for turn in turns:
        if turn.is_proven:
            passed, is_open = (turn.act.at_ms if turn.is_passed else passed), False
        elif not is_open:
            is_test = isinstance(turn.act.page.act, TestRecord)
            since, is_open = (passed if is_test and passed is not None else turn.act.at_ms), True
    return since


def _because(turns: list[Turn], *, has_failed: bool) -> str:
    last_test = next((t for t in reversed(turns) if t.is_touch or isinstance(t.act.page.act, TestRecord)), None)
    if has_failed and last_test is not None and not last_test.is_touch:
        return "X56"
    return "X57" if turns[-1].change is not None else "X55"
