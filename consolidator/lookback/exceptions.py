"""What a close of day says of gauges and masters found out: X07 for each lot, X08 for each master, X80 for each gauge.

Owns these three as rules in the shape that close of day runs. Readings of the day get their mark; readings of other
days, whose ledgers are closed, are named as pages on the day the trouble came to light.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Flags, Ints, natural_key
from consolidator.frame.words import many
from consolidator.lookback.look_back import LookBack, Read, look_back
from consolidator.lookback.lots import LotInQuestion, pieces_of
from consolidator.lookback.windows import Why, Window, Windows
from consolidator.lookback.words import say_lot, say_trouble
from consolidator.rules import Family, Found, Rule, Story

FOUND_OUT: Final = "X07"
MASTER_OUT: Final = "X08"
NO_AS_FOUND: Final = "X80"
NUMBERS: Final = (FOUND_OUT, MASTER_OUT, NO_AS_FOUND)
"""The kinds that come of a look-back."""
_FOR_THE_RECORD: Final = "D"
_NUMBER_BITS: Final = 34
"""A page number is below 10 to the 10."""


class _Looked:
    """What the look-backs of one night say, made once for all three rules."""

    def __init__(self, read: Read) -> None:
        self._read = read
        self._day: Day | None = None
        self._found: list[Found] = []
        self._stories: list[Story] = []

    def look(self, day: Day) -> None:
        """Look back upon what matters to a night, unless it was the last one."""
        if self._day is not day:
            backs = look_backs_of(day, self._read)
            self._day, self._found, self._stories = day, found_out(day, backs), stories(day, backs)

    def found(self, number: str, day: Day) -> list[Found] | list[Story]:
        """Return the readings of one kind."""
        self.look(day)
        return [each for each in self._found if each.number == number]

    def told(self, number: str, day: Day) -> list[Found] | list[Story]:
        """Return the stories of one kind."""
        self.look(day)
        return [each for each in self._stories if each.number == number]


def rules(read: Read) -> tuple[Rule, ...]:
    """Return the rules of X07, X08 and X80; `read` hands out readings of other days, as known at the close."""
    looked = _Looked(read)
    return tuple(Rule(number, partial(each, number)) for number in NUMBERS for each in (looked.found, looked.told))


def look_backs_of(day: Day, read: Read) -> list[LookBack]:
    """Return the look-backs that matter to a production day: come to light in it, or with a window reaching into it.

    What came to light after the day is known now of what was true then.
    """
    windows = Windows(day.world)
    return [
        look_back(day, number, read, found_at_ms=at_ms, windows=windows)
        for number in windows.troubled
        for at_ms in sorted({window.at_ms for window in windows.standing(number) if window.why.is_own})
        if _matters(day, windows, number, at_ms)
    ]


def _matters(day: Day, windows: Windows, number: str, at_ms: int) -> bool:
    if day.world.start_ms <= at_ms < day.world.end_ms:
        return True
    if (day.times.is_in_doubt & day.is_in_day).any():
        # It may have been made while a window stood that never reached into the day.
        return True
    numbers, waiting = {number}, [number]
    while waiting:
        more = [user for user in windows.users_of(waiting.pop()) if user not in numbers]
        numbers.update(more)
        waiting += more
    return any(
        (window.root, window.at_ms) == (number, at_ms)
        and window.start.ms < day.world.end_ms
        and window.end.ms > day.world.start_ms
        for each in numbers
        for window in windows.standing(each)
    )


@dataclass(frozen=True)
class _Told:
    """One exception of a look-back: its cause, and the lots it is about."""

    number: str
    cause: str
    lots: tuple[LotInQuestion, ...]
    sentence: str
    holds: tuple[str, ...]
    urgency: str | None
    """None: the kind's own."""


def _told(back: LookBack) -> Iterator[_Told]:
    """Give the exceptions of a look-back: of a master one, of a gauge one for each lot, and one for no as-found."""
    trouble, zone = back.trouble, back.found.day.world.zone
    assert trouble is not None
    words = say_trouble(trouble, zone)
    urgency = "A" if any(lot.urgency == "A" for lot in back.lots) else None
    held = tuple(lot.lot for lot in back.lots if lot.needs_hold)
    summed = f"{words}: {many(len(back.found), 'reading')} in question on {many(len(back.lots), 'lot')}"
    if back.is_master:
        to_check = sum(not user.is_settled for user in back.users)
        checks = f", {many(to_check, 'gauge')} to check against a sound master"
        yield _Told(MASTER_OUT, back.number, back.lots, f"{summed}{checks}.", held, urgency)
    else:
        for lot in back.lots:
            mine = (lot.lot,) if lot.needs_hold else ()
            sentence = f"{words}. {say_lot(lot, zone)}."
            yield _Told(FOUND_OUT, f"{back.number}, lot {lot.lot}", (lot,), sentence, mine, lot.urgency)
        if not back.lots and trouble.why is not Why.UNTAKEN:
            yield _Told(FOUND_OUT, back.number, (), f"{words}. No reading is in question.", (), _FOR_THE_RECORD)
    if trouble.why is Why.UNTAKEN and not (trouble.start.is_open and not back.lots):
        yield _Told(NO_AS_FOUND, back.number, back.lots, f"{summed}, nothing can be told of them.", held, urgency)


def found_out(day: Day, backs: Sequence[LookBack]) -> list[Found]:
    """Return the readings of the frame that are in question, each under the exception of its lot or master."""
    found: list[Found] = []
    for back in backs:
        same = _same_rows(day, back)
        for told in _told(back) if back.lots else ():
            rows = [row for lot in told.lots for row in same[lot.places].tolist() if row >= 0 and day.is_judged[row]]
            if told.number != NO_AS_FOUND and rows:
                found.append(_found(day, told, rows))
    return found


def _same_rows(day: Day, back: LookBack) -> Ints:
    """Return for each reading of a look-back the row of this frame that is the same page; -1 where none is."""
    pages, rows = back.found.day.pages, back.found.rows
    here = np.array([*(day.pages.series.code_of(label) for label in pages.series.labels), -2], np.int64)
    wanted = (here[pages.series.codes[rows]] << _NUMBER_BITS) + pages.number[rows]
    # Rows of a frame stand in page order, so their keys rise; two pages with one number stand side by side.
    keys = (day.pages.series.codes.astype(np.int64) << _NUMBER_BITS) + day.pages.number
    first = np.searchsorted(keys, wanted, side="left")
    same = np.full(len(rows), -1, np.int64)
    for place in np.flatnonzero(first < np.searchsorted(keys, wanted, side="right")).tolist():
        at = int(first[place])
        while at < len(keys) and keys[at] == wanted[place]:
            if day.pages.fingerprint[at] == pages.fingerprint[int(rows[place])]:
                same[place] = at
            at += 1
    return same


def _found(day: Day, told: _Told, rows: list[int]) -> Found:
    order = np.array(sorted(rows), np.int64)
    holds = np.zeros(len(day.pages), np.bool_)
    holds[order] = [day.pages.lot.at(row) in told.holds for row in order.tolist()]
    return Found(
        told.number,
        order,
        np.zeros(len(order), np.int64),
        (told.cause,),
        lambda _row: told.sentence,
        urgency=np.full(len(order), told.urgency == "A"),
        holds=holds,
    )


def stories(day: Day, backs: Sequence[LookBack]) -> list[Story]:
    """Return what came to light in the day, with the readings of other days named as pages.

    A trouble that came to light on another day only marks readings here: its own day tells of it.
    """
    found: list[Story] = []
    for back in backs:
        trouble = back.trouble
        if trouble is None or not day.world.start_ms <= trouble.at_ms < day.world.end_ms:
            continue
        same = _same_rows(day, back)
        is_own = (same >= 0) & day.is_in_day[same] if len(day.pages) else np.zeros(len(same), np.bool_)
        found += [_story(back, trouble, told, is_own) for told in _told(back)]
    return found


def _story(back: LookBack, trouble: Window, told: _Told, is_own: Flags) -> Story:
    """Return what is told of a trouble; `is_own` are the readings of the day, which are marked and counted with it."""
    frame = back.found.day
    places = [place for lot in told.lots for place in lot.places.tolist()]
    others = [place for place in places if told.number == NO_AS_FOUND or not is_own[place]]
    rows = back.found.rows[others].tolist()
    refs = {frame.pages.ref(row) for row in rows} | ({trouble.page} if trouble.page else set())
    stations = {station for lot in told.lots for station in lot.stations}
    return Story(
        number=told.number,
        cause=told.cause,
        sentence=told.sentence,
        opened_ms=trouble.at_ms,
        lots=tuple(sorted((lot.lot for lot in told.lots), key=natural_key)),
        stations=tuple(sorted(stations, key=natural_key)),
        pages=tuple(sorted(refs, key=natural_key)),
        holds=told.holds,
        urgency=told.urgency,
        pieces=pieces_of(frame, np.array(rows, np.int64)),
        family=Family.MASTER if told.number == MASTER_OUT else Family.GAUGE,
    )
