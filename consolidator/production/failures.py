"""Fatigue proofs that failed, the stretch of a set-up's life each throws doubt on, and pieces of another origin.

Owns how far a failed proof reaches: back to the set-up's last passed proof or else to its first start, whatever was
changed meanwhile, and on until it is touched or proven again. Knows no exception kinds.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from consolidator.frame import Day
from consolidator.frame.asof import EVER
from consolidator.frame.coded import Coded, Flags, first_rows, joined_key
from consolidator.frame.world import ActAt
from consolidator.production.proofs import has_failed, own_pieces, plan_of
from consolidator.production.set_ups import ON_MACHINE, Turn, lots_by_set_up, turns_of
from kiosk.pages.desk import TestPiece, TestRecord
from kiosk.pages.words import SampleKind

NEVER = -EVER


@dataclass(frozen=True)
class Failure:
    """A failed proof, the set-up and lots it is about, and the stretch in which its pieces were made."""

    act: ActAt
    record: TestRecord
    set_up: str
    """Empty where the record names none; then it is about its lot alone."""
    lots: tuple[str, ...]
    from_ms: int
    until_ms: int


def failures_of(day: Day) -> list[Failure]:
    """Return every failed fatigue proof held, oldest first."""
    turns: dict[str, list[Turn]] = {}
    for turn in turns_of(day):
        turns.setdefault(turn.set_up, []).append(turn)
    made, failures = lots_by_set_up(day), []
    for act, record in day.world.acts.of(TestRecord):
        if record.what != "fatigue" or not has_failed(plan_of(day.plans.characteristics, record), record):
            continue
        if record.set_up is None:
            failures.append(Failure(act, record, "", (record.lot,), NEVER, NEVER))
            continue
        from_ms, until_ms = _stretch(turns[record.set_up], act)
        lots = {record.lot, *made.get(record.set_up, ())}
        failures.append(Failure(act, record, record.set_up, tuple(sorted(lots)), from_ms, until_ms))
    return failures


def taken_in(day: Day, set_up: Coded, failure: Failure) -> Flags:
    """Tell which readings of the set-up were taken in the stretch a failed proof throws doubt on.

    A reading is of the set-up it names; one that names none is of that of its station when it was made on the machine.
    """
    if not failure.set_up:
        return np.zeros(len(day.pages), bool)
    is_in = (day.ms >= failure.from_ms) & (day.ms < failure.until_ms)
    is_of = day.pages.set_up.is_given | day.pages.sample_kind.is_one_of(*ON_MACHINE)
    return np.asarray(is_in & is_of & set_up.is_one_of(failure.set_up))


def foreign_pieces(day: Day) -> Iterator[tuple[ActAt, TestRecord, tuple[TestPiece, ...]]]:
    """Give every test record with the pieces that are not of its lot or not of its set-up."""
    made = lots_by_set_up(day)
    for act, record in day.world.acts.of(TestRecord):
        own = own_pieces(record, made.get(record.set_up or "", ()))
        foreign = tuple(piece for piece in record.pieces if piece not in own)
        if foreign:
            yield act, record, foreign


def tested_elsewhere(day: Day) -> Flags:
    """Tell which test readings name a set-up that never made their lot."""
    pages, made = day.pages, lots_by_set_up(day)
    mask = pages.sample_kind.is_one_of(SampleKind.TEST) & pages.set_up.is_given & pages.lot.is_given
    rows = np.flatnonzero(mask & day.is_judged)
    pair = joined_key([column.codes[rows].astype(np.int64) for column in (pages.set_up, pages.lot)])
    firsts = rows[first_rows(pair)].tolist()
    is_foreign = np.array([pages.lot.at(row) not in made.get(pages.set_up.at(row), ()) for row in firsts], bool)
    mask[rows] = is_foreign[pair]
    return np.asarray(mask)


def _stretch(turns: list[Turn], failed: ActAt) -> tuple[int, int]:
    """Return the stretch around a failed proof in the life of its set-up."""
    at = next(place for place, turn in enumerate(turns) if turn.act is failed)
    before = [turn for turn in turns[:at] if turn.is_passed]
    after = [turn for turn in turns[at + 1 :] if turn.is_touch or turn.is_passed]
    from_ms = before[-1].act.low_ms if before else EVER
    return from_ms, after[0].act.high_ms if after else NEVER
