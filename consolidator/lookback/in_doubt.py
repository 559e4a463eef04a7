"""Readings of earlier days that a drop or a failed check puts in doubt (X06): they stand in ledgers of their own.

The day on which the trouble came about tells of them and names them as pages, as a look-back does (decision 0088).
Owns reading these days. What is in doubt, and since when, is settled in `consolidator.upkeep.doubt`.
"""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from consolidator.frame import Day, make_day
from consolidator.frame.coded import Ints, natural_key
from consolidator.frame.world import moment_of
from consolidator.lookback.look_back import Read
from consolidator.lookback.lots import pieces_of
from consolidator.rules import Found, Rule, Story
from consolidator.rules.gauge import in_doubt
from consolidator.upkeep.doubt import Doubts, Trouble, found_out_after, last_before, shown_good, troubles_of

_NUMBER = "X06"
_DOUBT_MS = 48 * 3_600_000
"""Readings are asked for from so long before, for those whose own time is in doubt."""


def doubt_rule(read: Read) -> Rule:
    """Return X06 with the readings of earlier days; `read` hands them out, as known at the close."""
    return Rule(_NUMBER, partial(_found, read))


def _found(read: Read, day: Day) -> list[Found | Story]:
    return [*in_doubt(day), *_of_earlier_days(day, read)]


def _of_earlier_days(day: Day, read: Read) -> Iterator[Story]:
    start_ms, end_ms = day.world.start_ms, day.world.end_ms
    for trouble in troubles_of(day.world, lambda _number: 0):
        if not start_ms <= trouble.act.at_ms < end_ms:
            continue
        last = last_before(shown_good(day.world, trouble.gauge), trouble)
        if last is not None and last.at_ms >= start_ms:
            continue
        since = None if last is None else moment_of(last.at_ms - _DOUBT_MS)
        held = replace(day.world.held, readings=read(frozenset({trouble.gauge}), frozenset(), since))
        earlier = make_day(held, day.world.lists, day=day.world.day, at_utc=moment_of(day.world.at_ms))
        doubts = Doubts(earlier, of_all_days=True)
        rows = np.concatenate([np.zeros(0, np.int64), *(r for each, r in doubts.of_night() if each.act == trouble.act)])
        rows = rows[earlier.ms[rows] < start_ms]
        if len(rows):
            yield _story(earlier, trouble, doubts.say(trouble, int(rows[0]), rows), rows)


def _story(earlier: Day, trouble: Trouble, sentence: str, rows: Ints) -> Story:
    codes = earlier.pages.lot.codes[rows]
    lots = {earlier.pages.lot.at_code(code) for code in np.unique(codes).tolist()} - {""}
    is_worse = found_out_after(earlier.world, trouble.gauge, trouble.act) is not None
    return Story(
        number=_NUMBER,
        cause=trouble.gauge,
        sentence=sentence,
        opened_ms=trouble.act.at_ms,
        lots=tuple(sorted(lots, key=natural_key)),
        stations=tuple(sorted({earlier.pages.station.at(row) for row in rows.tolist()}, key=natural_key)),
        pages=tuple(sorted({earlier.pages.ref(row) for row in rows.tolist()} | {trouble.act.ref}, key=natural_key)),
        holds=() if is_worse else tuple(sorted(lots - earlier.lots.gone, key=natural_key)),
        pieces=sum(pieces_of(earlier, rows[codes == code]) for code in np.unique(codes)),
    )
