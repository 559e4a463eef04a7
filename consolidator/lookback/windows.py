"""From when to when the readings of a gauge or master are in question, and why.

A window begins with the last calibration that was left in tolerance, or with a later good check against a sound
master, and ends when the gauge was taken out of use. What was set or calibrated with a master inside the master's
window is in question itself, and so is what was calibrated with that.
Owns the windows. Knows no readings.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from enum import StrEnum

from consolidator.authority import Deed
from consolidator.frame.asof import EVER
from consolidator.frame.gauges import master_of_check
from consolidator.frame.world import World, text_ms
from consolidator.lookback.out_of_use import States
from consolidator.lookback.visits import NOT_TAKEN, OUT, Point, Visit, visits_of
from kiosk.pages.desk import LookBackWindow
from kiosk.pages.readings import Check


class Why(StrEnum):
    """What put the readings of a gauge or master in question."""

    OUT = "found out at calibration"
    UNTAKEN = "no as-found taken"
    LOST = "lost"
    CALIBRATED = "calibrated with a master in question"
    SET = "set with a master in question"

    @property
    def is_own(self) -> bool:
        """False for what comes of a master."""
        return self in (Why.OUT, Why.UNTAKEN, Why.LOST)


@dataclass(frozen=True)
class Border:
    """One end of a window: UTC milliseconds, what happened then, and the page that says so."""

    ms: int
    words: str
    page: str = ""

    @property
    def is_open(self) -> bool:
        """True when nothing is known that a window could begin with."""
        return self.ms == EVER


@dataclass(frozen=True)
class Window:
    """Readings of `number` from `start` on and before `end` are in question."""

    number: str
    why: Why
    start: Border
    end: Border
    at_ms: int
    """When the trouble came to light, its own or that of the master it comes of."""
    root: str
    """The gauge or master that was found out; itself, or the first of the chain it comes of."""
    via: str = ""
    """The master it was set or calibrated with; empty for a trouble of its own."""
    page: str = ""
    unit: str = ""
    points: tuple[Point, ...] = ()
    """Errors as found: its own, or of the master it was set on, which its values share."""
    settled: str = ""
    """How the doubt was settled against a sound master; empty while it stands."""
    narrowed_by: tuple[str, ...] = ()
    """Pages of the narrowing and of its second signature."""
    waiting: tuple[str, ...] = ()
    """Narrowings that change nothing: their second signature is missing, or the window lies elsewhere."""

    def has(self, ms: int) -> bool:
        """True when a moment lies inside."""
        return self.start.ms <= ms < self.end.ms


@dataclass
class _Open:
    """A doubt that came of a master and is not settled yet."""

    start: Border
    via: Window


@dataclass
class Windows:
    """The windows of every gauge and master, as known at one moment."""

    world: World
    visits: dict[str, list[Visit]] = field(init=False)
    states: States = field(init=False)
    _checks: dict[str, list[tuple[int, str, str]]] = field(init=False)
    _users: dict[str, set[str]] = field(init=False)
    _found: dict[str, list[Window]] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.visits, self.states = visits_of(self.world), States(self.world)
        self._checks, self._users = {}, {}
        for act, check in self.world.acts.of(Check):
            if (master := master_of_check(self.world, act, check)) is not None:
                self._checks.setdefault(check.gauge, []).append((act.at_ms, master, act.ref))
                self._users.setdefault(master, set()).add(check.gauge)
        for number, visits in self.visits.items():
            for master in (master for visit in visits for master in visit.masters):
                self._users.setdefault(master, set()).add(number)
        self._settle()

    def of(self, number: str) -> list[Window]:
        """Return every window of a gauge or master: its own troubles and what comes of masters, settled or not."""
        return self._found.get(number, [])

    def _settle(self) -> None:
        """Find the windows of all numbers, and again of what was set or calibrated with those that changed.

        More in question never makes less in question, so that it comes to rest, whatever the order, and masters
        calibrated with one another do no harm. Bad lists may swing for ever; after as many rounds as there are
        numbers what was found last stands.
        """
        changed: Iterable[str] = {*self.visits, *self.states.numbers, *self._checks}
        for _ in range(len(self._users) + 2):
            found = {number: self._windows(number) for number in sorted(changed)}
            changed = {
                user
                for number, windows in found.items()
                if windows != self.of(number)
                for user in self._users.get(number, ())
            }
            self._found.update(found)
            if not changed:
                break

    def _windows(self, number: str) -> list[Window]:
        own = [self._narrowed(window) for window in self._own(number)]
        return [*own, *self._calibrated(number), *self._set(number)]

    def standing(self, number: str) -> list[Window]:
        """Return the windows of a number whose doubt still stands and that are not empty."""
        return [window for window in self.of(number) if not window.settled and window.start.ms < window.end.ms]

    def users_of(self, master: str) -> list[str]:
        """Return every gauge and master that was ever set or calibrated with `master`."""
        return sorted(self._users.get(master, ()))

    @property
    def troubled(self) -> list[str]:
        """Return the numbers that have a trouble of their own, in order."""
        return sorted(number for number, found in self._found.items() if any(window.why.is_own for window in found))

    def _doubts(self, master: str, ms: int) -> list[Window]:
        return [window for window in self.standing(master) if window.has(ms)]

    def _unsound(self, visit: Visit) -> list[Window]:
        ms = visit.found_ms if visit.left_ms is None else visit.left_ms
        return [window for master in visit.masters for window in self._doubts(master, ms)]

    def _own(self, number: str) -> Iterator[Window]:
        start = Border(EVER, "no calibration left in tolerance is known before it")
        last_ms = EVER
        for visit in self.visits.get(number, ()):
            is_sound = not self._unsound(visit)
            if visit.as_found in (OUT, NOT_TAKEN):
                why = Why.OUT if visit.as_found == OUT else Why.UNTAKEN
                yield self._window(visit, why, start)
                start = Border(visit.found_ms, "as-found before", visit.page)
            elif visit.is_good_check and is_sound:
                # It proves what came before it, up to itself.
                start = Border(visit.found_ms + 1, "found good against a sound master", visit.page)
            if visit.is_left_good and visit.left_ms is not None and is_sound:
                start = Border(visit.left_ms, "last calibration left in tolerance", visit.page)
            last_ms = visit.found_ms
        lost = self.states.lost(number)
        if lost is not None and lost.since_ms > last_ms:
            lost_ms = self.world.at_ms + 1 if lost.since_ms == EVER else lost.since_ms
            end = self._end(number, start, Border(lost_ms, "lost", lost.source))
            yield Window(number, Why.LOST, start, end, lost.known_ms, number, page=lost.source)

    def _window(self, visit: Visit, why: Why, start: Border) -> Window:
        return Window(
            number=visit.number,
            why=why,
            start=start,
            end=self._end(visit.number, start, Border(visit.found_ms, str(why), visit.page)),
            at_ms=visit.found_ms,
            root=visit.number,
            page=visit.page,
            unit=visit.unit,
            points=visit.points if why is Why.OUT else (),
        )

    def _end(self, number: str, start: Border, end: Border) -> Border:
        """Return when it was taken out of use after `start`: at `end`, or earlier, when it was stopped and stayed so.

        What was out of use before and measured all the same is in question until `end`.
        """
        went = self.states.out_since(number, end.ms)
        is_earlier = went is not None and went.since_ms > start.ms
        return Border(went.since_ms, went.state.lower(), went.source) if went is not None and is_earlier else end

    def _narrowed(self, window: Window) -> Window:
        for act, told in self.world.acts.of(LookBackWindow):
            if told.gauge != window.number or act.at_ms < window.at_ms:
                continue
            begins_ms, ends_ms = text_ms(told.begins_at), text_ms(told.ends_at)
            second = self.world.second_of(act, Deed.NARROW_WINDOW)
            start_ms, end_ms = max(window.start.ms, begins_ms), min(window.end.ms, ends_ms)
            if second is None or start_ms >= end_ms:
                window = replace(window, waiting=(*window.waiting, act.ref))
                continue
            words = f"narrowed by two signatures: {told.reason}"
            window = replace(
                window,
                start=window.start if start_ms == window.start.ms else Border(start_ms, words, act.ref),
                end=window.end if end_ms == window.end.ms else Border(end_ms, words, act.ref),
                narrowed_by=(*window.narrowed_by, act.ref, second.ref),
            )
        return window

    def _calibrated(self, number: str) -> Iterator[Window]:
        """Give what is in question because it was calibrated with a master in question, until calibrated soundly."""
        open_doubts: dict[tuple[str, int], _Open] = {}
        for visit in self.visits.get(number, ()):
            unsound = self._unsound(visit)
            if not unsound:
                yield from self._closed(number, Why.CALIBRATED, open_doubts, visit)
            elif visit.left_ms is not None:
                start = Border(visit.left_ms, f"calibrated with {unsound[0].number}", visit.page)
                _open(open_doubts, unsound, start)
        yield from self._left_open(number, Why.CALIBRATED, open_doubts)

    def _set(self, number: str) -> Iterator[Window]:
        """Give what is in question because it was set on a master in question, until set or calibrated soundly."""
        told: list[tuple[int, str, str, Visit | None]] = [(*check, None) for check in self._checks.get(number, ())]
        for visit in self.visits.get(number, ()) if told else ():
            if not self._unsound(visit):
                told.append((visit.found_ms if visit.left_ms is None else visit.left_ms, "", visit.page, visit))
        open_doubts: dict[tuple[str, int], _Open] = {}
        for ms, master, page, sound in sorted(told, key=lambda each: (each[0], each[3] is None)):
            if sound is not None:
                yield from self._closed(number, Why.SET, open_doubts, sound)
            elif unsound := self._doubts(master, ms):
                _open(open_doubts, unsound, Border(ms, f"set with {master}", page))
            else:
                end = Border(ms, f"set with {master}, which is sound", page)
                yield from (self._of_master(number, Why.SET, each, end) for each in open_doubts.values())
                open_doubts.clear()
        yield from self._left_open(number, Why.SET, open_doubts)

    def _closed(self, number: str, why: Why, doubts: dict[tuple[str, int], _Open], visit: Visit) -> Iterator[Window]:
        """Give the doubts that a sound visit ends; found good, it settles them, found out, they become its own."""
        end = Border(visit.found_ms, "calibrated with a sound master", visit.page)
        settled = {OUT: "found out", NOT_TAKEN: ""}.get(visit.as_found, "found good")
        words = f"{settled} against a sound master" if settled else ""
        for each in doubts.values():
            yield replace(self._of_master(number, why, each, end), settled=words)
        doubts.clear()

    def _left_open(self, number: str, why: Why, doubts: dict[tuple[str, int], _Open]) -> Iterator[Window]:
        end = Border(self.world.at_ms + 1, "not checked against a sound master yet")
        yield from (self._of_master(number, why, each, end) for each in doubts.values())

    def _of_master(self, number: str, why: Why, doubt: _Open, end: Border) -> Window:
        via, end = doubt.via, self._end(number, doubt.start, end)
        own = Window(number, why, doubt.start, end, via.at_ms, via.root, via=via.number, page=via.page)
        return replace(own, unit=via.unit, points=via.points) if why is Why.SET else own


def _open(doubts: dict[tuple[str, int], _Open], unsound: list[Window], start: Border) -> None:
    for window in unsound:
        doubts.setdefault((window.root, window.at_ms), _Open(start, window))
