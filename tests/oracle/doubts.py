"""From when to when a gauge or master is in question, and what comes of a master (3.6, decisions 0085 and 0087)."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from kiosk.lists import Gauge, Master
from kiosk.lists.words import GaugeState
from kiosk.pages.desk import Calibration, GaugeStateChange, LookBackWindow
from kiosk.pages.readings import Check
from tests.oracle.authority import CALIBRATION, QUALITY, second_of
from tests.oracle.gauges import EVER, begin
from tests.oracle.night import ActAt, Night
from tests.oracle.times import moment_of, text_ms

FOUND_OUT, UNTAKEN, LOST, CALIBRATED, SET = "found out", "no as-found", "lost", "calibrated", "set"


@dataclass(frozen=True)
class Point:
    """One calibrated point: what the gauge showed there, and by how much it showed too much; none where not taken."""

    at: Fraction
    error: Fraction | None


@dataclass(frozen=True)
class Visit:
    """One visit to the calibration room; `left_ms` is none while only an as-found is in."""

    found_ms: int
    left_ms: int | None
    as_found: str
    as_left: str
    masters: tuple[str, ...]
    unit: str = ""
    points: tuple[Point, ...] = ()


@dataclass(frozen=True)
class Doubt:
    """What `number` measured from `start` on and before `end` is in question; `root` was found out at `root_ms`."""

    number: str
    why: str
    start: int
    end: int
    root: str
    root_ms: int
    via: str = ""
    unit: str = ""
    points: tuple[Point, ...] = ()
    is_settled: bool = False

    @property
    def stands(self) -> bool:
        """True while anything is in question by it."""
        return not self.is_settled and self.start < self.end

    def has(self, ms: int) -> bool:
        """True for a moment in question."""
        return self.stands and self.start <= ms < self.end


class Doubts:
    """The doubts of every gauge and master of a plant."""

    def __init__(self, night: Night) -> None:
        self._night = night
        rows: list[Gauge | Master] = [*night.lists.gauges, *night.lists.masters]
        self.numbers = {row.number for row in rows} | {row.gauge for row in night.lists.calibrations}
        self.numbers |= {done.gauge for _, done in night.of(Calibration)}
        self.numbers |= {change.gauge for _, change in night.of(GaugeStateChange)}
        self.numbers |= {check.gauge for _, check in night.of(Check)}
        self._known: dict[str, list[Doubt]] = {}
        visits = {number: self._visits(number) for number in self.numbers}
        for _ in range(len(self.numbers) + 2):  # until nothing more comes into question
            before = self._known
            self._known = {number: self._all(number, visits[number]) for number in self.numbers}
            if self._known == before:
                break

    def every(self) -> list[Doubt]:
        """Return all doubts, settled ones among them."""
        return [doubt for number in sorted(self.numbers) for doubt in self._known[number]]

    def _all(self, number: str, visits: list[Visit]) -> list[Doubt]:
        own = [self._narrowed(doubt) for doubt in self._own(number, visits)]
        return [*own, *self._by_calibration(number, visits), *self._by_setting(number, visits)]

    def _visits(self, number: str) -> list[Visit]:
        pages = [(act, done) for act, done in self._night.of(Calibration) if done.gauge == number]
        pages.sort(key=lambda each: (text_ms(each[1].done_at), each[0].order))
        visits: list[tuple[int, int, Visit]] = []
        place = 0
        while place < len(pages):
            act, done = pages[place]
            follows = pages[place + 1] if place + 1 < len(pages) else None
            if done.stage == "as-found" and follows is not None and follows[1].stage == "as-left":
                visits.append((text_ms(done.done_at), act.ms, _joined(act, done, *follows)))
                place += 2
            else:
                visits.append((text_ms(done.done_at), act.ms, _alone(done)))
                place += 1
        moments = {ms for _, _, visit in visits for ms in (visit.found_ms, visit.left_ms)}
        for row in self._night.lists.calibrations:
            ms = text_ms(row.done_at)
            if row.gauge == number and ms not in moments and ms <= self._night.at_ms:
                visits.append((ms, ms, Visit(ms, ms, row.as_found, row.as_left, row.masters)))
        return [visit for _, _, visit in sorted(visits, key=lambda each: each[:2])]

    def _in_question(self, master: str, ms: int) -> list[Doubt]:
        return [doubt for doubt in self._known.get(master, []) if doubt.has(ms)]

    def _unsound(self, visit: Visit) -> list[Doubt]:
        """Return the doubts of the masters of a visit as they stood when it was done."""
        ms = visit.found_ms if visit.left_ms is None else visit.left_ms
        return [doubt for master in visit.masters for doubt in self._in_question(master, ms)]

    def _own(self, number: str, visits: list[Visit]) -> Iterator[Doubt]:
        since = EVER
        for visit in visits:
            if visit.as_found in ("Out", "Not taken"):
                is_out = visit.as_found == "Out"
                why, end = FOUND_OUT if is_out else UNTAKEN, self._end(number, since, visit.found_ms)
                points = visit.points if is_out else ()
                yield Doubt(number, why, since, end, number, visit.found_ms, unit=visit.unit, points=points)
                since = visit.found_ms
            if self._unsound(visit):
                continue
            if visit.as_found == "Good" and visit.left_ms is None:
                since = visit.found_ms + 1  # what came before it, up to itself, is proved
            if visit.left_ms is not None and visit.as_left == "Good":
                since = visit.left_ms
        states = self._states(number)
        if states and states[-1][1] == GaugeState.LOST:
            lost_ms, _, known_ms = states[-1]
            if lost_ms > max((visit.found_ms for visit in visits), default=EVER):
                end = self._night.at_ms + 1 if lost_ms == EVER else self._end(number, since, lost_ms)
                yield Doubt(number, LOST, since, end, number, known_ms)

    def _states(self, number: str) -> list[tuple[int, str, int]]:
        """Return from when it was in which state, and when that became known.

        By registers, by pages that say so, and by a calibration that left good what waited for it.
        """
        news: list[tuple[int, int, str]] = []
        rows: list[Gauge | Master] = [*self._night.lists.gauges, *self._night.lists.masters]
        for row in rows:
            if row.number == number:
                news.append((begin(row.in_force_from), begin(row.in_force_from), row.state))
        for act, change in self._night.of(GaugeStateChange):
            if change.gauge == number:
                is_bad = GaugeState(change.state) is not GaugeState.IN_USE and change.since is not None
                since = min(act.ms, text_ms(change.since or "")) if is_bad else act.ms
                news.append((act.ms, since, change.state))
        for act, done in self._night.of(Calibration):
            if done.gauge == number and done.stage != "as-found" and done.as_left == "Good":
                news.append((act.ms, act.ms, "calibrated"))
        line: list[tuple[int, str, int]] = []
        for known, since, state in sorted(news, key=lambda each: each[0]):
            if state != "calibrated":
                line = [*(step for step in line if step[0] < since), (since, state, known)]
            elif line and line[-1][1] == GaugeState.AWAITING:
                line.append((since, GaugeState.IN_USE, known))
        return line

    def _end(self, number: str, start: int, ms: int) -> int:
        """Return when it was taken out of use after `start`: at `ms`, or earlier when it was stopped and stayed so."""
        out: int | None = None
        for since, state, _ in self._states(number):
            if since >= ms:
                break
            if state == GaugeState.IN_USE or since == EVER:
                out = None
            elif out is None:
                out = since
        return ms if out is None or out <= start else out

    def _narrowed(self, doubt: Doubt) -> Doubt:
        for act, told in self._night.of(LookBackWindow):
            if told.gauge != doubt.number or act.ms < doubt.root_ms:
                continue
            start, end = max(doubt.start, text_ms(told.begins_at)), min(doubt.end, text_ms(told.ends_at))
            if start < end and second_of(self._night, act, (CALIBRATION, QUALITY)) is not None:
                doubt = replace(doubt, start=start, end=end)
        return doubt

    def _by_calibration(self, number: str, visits: list[Visit]) -> Iterator[Doubt]:
        """Give what stands because of calibrations with masters in question, until one with sound masters."""
        begun: dict[tuple[str, int], Doubt] = {}
        for visit in visits:
            unsound = self._unsound(visit)
            if not unsound:
                yield from self._ended(begun.values(), visit)
                begun = {}
            elif visit.left_ms is not None:
                for doubt in unsound:
                    begun.setdefault((doubt.root, doubt.root_ms), self._come(number, CALIBRATED, visit.left_ms, doubt))
        yield from begun.values()

    def _by_setting(self, number: str, visits: list[Visit]) -> Iterator[Doubt]:
        """Give what stands because of zero and day checks on masters in question, until set or calibrated soundly."""
        told: list[tuple[int, int, Visit | str]] = [
            (act.ms, 1, master)
            for act, check in self._night.of(Check)
            if check.gauge == number and (master := check.master or self._register_master(number, act.ms)) is not None
        ]
        sound = [visit for visit in visits if not self._unsound(visit)]
        told += [(visit.found_ms if visit.left_ms is None else visit.left_ms, 0, visit) for visit in sound]
        begun: dict[tuple[str, int], Doubt] = {}
        for ms, _, what in sorted(told, key=lambda each: each[:2]):
            if isinstance(what, Visit):
                yield from self._ended(begun.values(), what)
                begun = {}
            elif unsound := self._in_question(what, ms):
                for doubt in unsound:
                    begun.setdefault((doubt.root, doubt.root_ms), self._come(number, SET, ms, doubt))
            else:
                yield from (replace(doubt, end=self._end(number, doubt.start, ms)) for doubt in begun.values())
                begun = {}
        yield from begun.values()

    def _register_master(self, number: str, ms: int) -> str | None:
        row = self._night.lists.gauge(number, moment_of(ms))
        return None if row is None else row.master

    def _come(self, number: str, why: str, ms: int, of: Doubt) -> Doubt:
        end = self._end(number, ms, self._night.at_ms + 1)
        return Doubt(number, why, ms, end, of.root, of.root_ms, via=of.number)

    def _ended(self, doubts: Iterable[Doubt], visit: Visit) -> Iterator[Doubt]:
        """Give doubts that a sound visit ends: settled when it was found good, or out, which is a doubt of its own."""
        for doubt in doubts:
            end = self._end(doubt.number, doubt.start, visit.found_ms)
            yield replace(doubt, end=end, is_settled=visit.as_found != "Not taken")


def _alone(done: Calibration) -> Visit:
    ms = text_ms(done.done_at)
    is_found_alone = done.stage == "as-found"
    return Visit(
        ms,
        None if is_found_alone else ms,
        done.as_found,
        "" if is_found_alone else done.as_left,
        done.masters,
        done.unit,
        tuple(Point(Fraction(p.at), None if p.as_found is None else Fraction(p.as_found)) for p in done.points),
    )


def _joined(found_act: ActAt, found: Calibration, left_act: ActAt, left: Calibration) -> Visit:
    """Return an as-found and the as-left after it as one visit; an as-found entered afterwards was not taken."""
    visit = _alone(found)
    is_late = found_act.ms > left_act.ms
    return replace(
        visit,
        left_ms=text_ms(left.done_at),
        as_left=left.as_left,
        masters=(*found.masters, *left.masters),
        as_found="Not taken" if is_late else visit.as_found,
        points=() if is_late else visit.points,
    )
