"""A look-back whole: windows, a finding for every reading, lots, the gauges that come of a master, and notices.

Pure but for `read`, which hands out readings of many days by the gauges and masters named.
Owns the order of the steps.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

import pyarrow as pa

from consolidator.errors import LookBackRefused
from consolidator.frame import Day, make_day
from consolidator.frame.asof import EVER
from consolidator.frame.world import moment_of
from consolidator.lookback.findings import Findings, findings
from consolidator.lookback.lots import LotInQuestion, lots_in_question
from consolidator.lookback.visits import OUT
from consolidator.lookback.windows import Why, Window, Windows
from consolidator.lookback.words import Notice, notices, say_trouble
from kiosk.lists import Gauge
from kiosk.pages.readings import Correction

Read = Callable[[frozenset[str], frozenset[str], datetime | None], pa.Table]
"""Returns the readings in which any of the gauges or masters is named, and the pages named, since a moment or ever."""
_LAST_VISITS: Final = 3
_OUT_OF_THEM: Final = 2
_DOUBT_MS: Final = 48 * 3_600_000
"""Readings are asked for from so long before a window, for those whose own time is in doubt."""


@dataclass(frozen=True)
class UserInQuestion:
    """A gauge or master that was set or calibrated with a master in question, and how that stands."""

    number: str
    windows: tuple[Window, ...]

    @property
    def is_settled(self) -> bool:
        """True when it was checked against a sound master since."""
        return all(window.settled for window in self.windows)


@dataclass(frozen=True)
class LookBack:
    """What a gauge or master found out touches. `windows` are its own; `users` come of it when it is a master."""

    number: str
    is_master: bool
    windows: tuple[Window, ...]
    users: tuple[UserInQuestion, ...]
    found: Findings
    lots: tuple[LotInQuestion, ...]
    notices: tuple[Notice, ...]
    notes: tuple[str, ...]

    @property
    def trouble(self) -> Window | None:
        """The window that the look-back is about; none when nothing is in question."""
        return self.windows[0] if self.windows else None


def look_back(
    day: Day, number: str, read: Read, *, found_at_ms: int | None = None, windows: Windows | None = None
) -> LookBack:
    """Return the look-back of a gauge or master, for the trouble that came to light at a moment; none: the last one.

    `day` gives acts, lists and the moment it is known at; its own readings do not matter.

    Raises:
        LookBackRefused: the number is in no register and in no calibration, or nothing came to light at that moment.
    """
    world = day.world
    windows = windows or Windows(world)
    own = _chosen(windows, number, found_at_ms)
    users = users_of(windows, own) if any(window.why.is_own for window in own) else ()
    every = [*own, *(window for user in users for window in user.windows if not window.settled)]
    held = replace(world.held, readings=_read(windows, every, read))
    made = make_day(held, world.lists, day=world.day, at_utc=moment_of(world.at_ms))
    found = findings(made, every)
    lots = lots_in_question(found)
    words = say_trouble(own[0], world.zone) if own else ""
    return LookBack(
        number=number,
        is_master=bool(users) or world.lists.master(number, moment_of(world.at_ms)) is not None,
        windows=tuple(own),
        users=users,
        found=found,
        lots=lots,
        notices=notices(lots, words, world.zone),
        notes=_notes(windows, number, own),
    )


def users_of(windows: Windows, own: list[Window]) -> tuple[UserInQuestion, ...]:
    """Return what was set or calibrated with a master inside its windows, and with those again, by number."""
    roots = {(window.root, window.at_ms) for window in own if window.why.is_own}
    waiting, users = [window.number for window in own], dict[str, UserInQuestion]()
    while waiting:
        for number in windows.users_of(waiting.pop(0)):
            if number in users:
                continue
            mine = tuple(w for w in windows.of(number) if w.via and (w.root, w.at_ms) in roots)
            if mine:
                users[number] = UserInQuestion(number, mine)
                waiting.append(number)
    return tuple(users[number] for number in sorted(users))


def _chosen(windows: Windows, number: str, found_at_ms: int | None) -> list[Window]:
    """Return the windows of what came to light last, or at the moment asked for; its own trouble first."""
    if number not in windows.states.numbers and number not in windows.visits:
        raise LookBackRefused(
            f"No look-back of {number}.",
            why="It is in no register, and no page tells of its state or of a calibration.",
            next_step="Look again and give the number engraved on the gauge or master.",
        )
    standing = windows.standing(number)
    moments = {window.at_ms for window in standing}
    if found_at_ms is not None and found_at_ms not in moments:
        raise LookBackRefused(
            f"No look-back of {number}.",
            why="Nothing came to light about it at that moment.",
            next_step="Leave the moment out; the last one is taken.",
        )
    at_ms = max(moments, default=None) if found_at_ms is None else found_at_ms
    mine = [window for window in standing if window.at_ms == at_ms]
    return sorted(mine, key=lambda window: (not window.why.is_own, window.start.ms, window.via))


def _read(windows: Windows, every: list[Window], read: Read) -> pa.Table:
    """Return the readings that windows may touch: of each number, and of gauges that the register sets on it."""
    world = windows.world
    if not every:
        return world.held.readings.slice(0, 0)
    numbers = {window.number for window in every}
    numbers |= {gauge.number for gauge in world.lists.gauges if {gauge.master, gauge.wires} & numbers}
    corrected = {told.of for _, told in world.acts.of(Correction) if told.field == "gauge" and told.new in numbers}
    start_ms = min(window.start.ms for window in every)
    since = None if start_ms == EVER else moment_of(start_ms - _DOUBT_MS)
    return read(frozenset(numbers), frozenset(corrected), since)


def _notes(windows: Windows, number: str, own: list[Window]) -> tuple[str, ...]:
    """Return what else is to be looked at: the interval, the swap partner, narrowings that wait."""
    notes = [
        f"Narrowing {page} changes nothing: it waits for its second signature, or lies elsewhere."
        for w in own
        for page in w.waiting
    ]
    row = windows.world.lists.gauge(number, moment_of(windows.world.at_ms))
    if not isinstance(row, Gauge) or not any(window.why is Why.OUT for window in own):
        return tuple(notes)
    last = [visit for visit in windows.visits.get(number, ()) if visit.found_ms <= own[0].at_ms][-_LAST_VISITS:]
    out = sum(visit.as_found == OUT for visit in last)
    if out >= _OUT_OF_THEM:
        halved = f" from {row.interval_days} to {row.interval_days // 2} days" if row.interval_days else ""
        notes.append(f"Found out {out} times in the last {len(last)} calibrations: halve its interval{halved}.")
    if row.swap_partner:
        notes.append(f"Swap partner {row.swap_partner}: check it if the cause may be the same.")
    return tuple(notes)
