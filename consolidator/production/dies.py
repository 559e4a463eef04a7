"""How many pieces each die set had made when a reading was taken, told by set-ups and machine counters.

Owns that count. It begins with what the set-up's start says, or what the same dies were known to have made before if
that is more, and grows by the counter of the machine; a die change begins it anew. Knows no exception kinds.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from consolidator.frame import Day
from consolidator.frame.asof import Steps
from consolidator.frame.coded import Coded, Ints
from consolidator.frame.world import ActAt
from consolidator.production.set_ups import set_ups_of
from kiosk.pages.station import MachineCounter, SetUpChange, SetUpEnd, SetUpStart


class Counted(NamedTuple):
    """Pieces a die set was known to have made at a moment; `run` tells the spans between changes of dies apart."""

    set_up: str
    ms: int
    pieces: int
    run: int


@dataclass(frozen=True)
class DiePieces:
    """Each reading's set-up, all counts, and the last count before the reading and the first after (-1: none)."""

    set_up: Coded
    counts: list[Counted]
    before: Ints
    after: Ints
    """The next count of the same dies."""

    @classmethod
    def of(cls, day: Day) -> "DiePieces":
        """Return what is known of the dies behind a night's readings."""
        set_up, counts = set_ups_of(day), die_counts(day)
        steps = Steps.of([set_up.code_of(each.set_up) for each in counts], [each.ms for each in counts])
        before, after = steps.at(set_up.codes, day.ms), steps.after(set_up.codes, day.ms)
        runs = np.array([*(each.run for each in counts), -1], np.int64)
        return cls(set_up, counts, before, np.where(runs[after] == runs[before], after, -1))

    def pieces(self, place: Ints) -> Ints:
        """Return the pieces of counts named by place; none where there is no count."""
        return np.array([*(each.pieces for each in self.counts), -1], np.int64)[place]


def die_counts(day: Day) -> list[Counted]:
    """Return every count of the dies of each set-up, oldest first."""
    counting = _Counting()
    for act in day.world.acts.all:
        counting.take(act)
    return counting.counts


@dataclass
class _Running:
    """A set-up as it stands at a station, with the pieces its dies have made."""

    start: SetUpStart
    pieces: int
    begun_with: int | None
    """Pieces at the start of the set-up; none once other dies came in, for its end tells of all it ran."""
    run: int
    die_set: str | None


class _Counting:
    """Goes through the acts in order, and keeps what each die set had made."""

    def __init__(self) -> None:
        self.counts: list[Counted] = []
        self._at_station: dict[str, _Running] = {}
        self._known: dict[str, int] = {}
        """Pieces by die set, over all its set-ups."""
        self._counters: dict[tuple[str, str], int] = {}
        """Last reading of each machine's counter, by station and machine."""
        self._runs = 0

    def take(self, act: ActAt) -> None:
        """Take the next act."""
        what, station = act.page.act, act.page.station
        running = self._at_station.get(station)
        if isinstance(what, SetUpStart):
            self._begin(act, what)
        elif isinstance(what, MachineCounter):
            made = self._made(station, what)
            if running is not None and running.start.machine in (None, what.machine):
                self._count(act, running, running.pieces + made)
        elif isinstance(what, SetUpChange) and what.what == "die change":
            self._change_dies(act, what)
        elif isinstance(what, SetUpEnd):
            self._end(act, what)

    def _begin(self, act: ActAt, start: SetUpStart) -> None:
        known = 0 if start.die_set is None else self._known.get(start.die_set, 0)
        pieces = max(start.die_pieces_before, known)
        self._runs += 1
        running = _Running(start, pieces, pieces, self._runs, start.die_set)
        self._at_station[act.page.station] = running
        self._count(act, running, pieces)

    def _made(self, station: str, counter: MachineCounter) -> int:
        """Return the pieces since the counter was last read; one that shows less was set back to none in between.

        The first reading of a counter tells of none: how many were made before it is not known.
        """
        last = self._counters.get((station, counter.machine))
        self._counters[station, counter.machine] = counter.pieces
        if last is None:
            return 0
        return counter.pieces - last if counter.pieces >= last else counter.pieces

    def _change_dies(self, act: ActAt, change: SetUpChange) -> None:
        # Which dies came in is not told on the page: they begin at none.
        self._runs += 1
        changed = [running for running in self._at_station.values() if running.start.set_up == change.set_up]
        for running in changed:
            running.run, running.begun_with, running.die_set = self._runs, None, None
            self._count(act, running, 0)
        if not changed:  # told of a set-up that had ended: whoever still works by it has new dies
            self.counts.append(Counted(change.set_up, act.at_ms, 0, self._runs))

    def _end(self, act: ActAt, end: SetUpEnd) -> None:
        for station, running in list(self._at_station.items()):
            if running.start.set_up == end.set_up:
                told = 0 if running.begun_with is None else running.begun_with + (end.pieces_run or 0)
                self._count(act, running, max(running.pieces, told))
                del self._at_station[station]

    def _count(self, act: ActAt, running: _Running, pieces: int) -> None:
        running.pieces = pieces
        if running.die_set is not None:
            self._known[running.die_set] = max(self._known.get(running.die_set, 0), pieces)
        self.counts.append(Counted(running.start.set_up, act.at_ms, pieces, running.run))
