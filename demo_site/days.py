"""Ordinary production of the demo plant: samples every half hour, from a seed, with nothing wrong in them.

Owns what is measured where, and values that a process in control gives, on the grid of the gauge.
Must not know any planted fault; those come from files of their own and are put in order here.
"""

import random
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Final

from demo_site.plant import BEGINS, CREWS, DAYS, NUT, RUN, TESTS, ZONE, lot_running, operator, part_of
from demo_site.play.player import read_span
from demo_site.play.scenario import Event
from kiosk.times import DAY_START, read_plant_time, shift_of

SECOND: Final = timedelta(seconds=1)
MINUTE: Final = timedelta(minutes=1)
OFFSETS_MIN: Final = {"S11": 5, "S12": 13, "S13": 21, "S21": 5, "S24": 13, "S25": 21, "S31": 5, "S32": 13}
"""When in each half hour a station's sample begins, so that one person can look after several stations."""
WHOLE_DAY: Final = ((0, 24 * 60),)
QUICK_DAY: Final = ((0, 65), (480, 515), (960, 995))
"""Minutes of the production day in which a quick plant runs: a little of each shift."""
CARRIES_MIN: Final = (238, 478, 718, 958)
"""Minutes of the production day at which kiosks carry by themselves; they do too before each pass of the night."""


@dataclass(frozen=True)
class Way:
    """How one characteristic is measured: with what, keyed how, around which value and how far it varies."""

    gauges: dict[str, str]
    """Gauge by station."""
    pace_s: tuple[int, int]
    """Shortest and longest time from piece to piece."""
    middle: dict[str, str] = field(default_factory=dict)
    """The value in the middle, by part; none for a gauge that only accepts."""
    step: str = "0.0001"
    cells: int = 3
    """How many steps a value may lie from the middle; well inside the limits."""
    keyed_as: str = "value"
    words: tuple[str, ...] = ()


WAYS: Final = {
    "D1": Way({"S11": "G-201", "S12": "G-211", "S13": "G-221"}, (15, 20), {"B-1071": "0", "B-1094": "0.00005"},
              "0.00005", 2, "deviation"),
    "D2": Way({"S11": "G-101", "S12": "G-102", "S13": "G-103"}, (17, 24), {"B-1071": "0.2840", "B-1094": "0.3465"},
              "0.00005", 5),
    "F1": Way({"S21": "G-450"}, (30, 38), {"B-1071": "0.0009", "B-1094": "0.0008"}, "0.0001", 4),
    "F2": Way({"S21": "G-401"}, (20, 27), {"B-1071": "0.0014", "B-1094": "0.0013"}, "0.0001", 5),
    "T1": Way({"S24": "G-301", "S25": "G-302"}, (30, 37), {"B-1071": "0.3202", "B-1094": "0.3825"}, "0.00005", 7,
              "over wires"),
    "T2": Way({"S24": "G-501", "S25": "G-511"}, (16, 22), keyed_as="accept/reject", words=("Accept",)),
    "T3": Way({"S24": "G-502", "S25": "G-512"}, (15, 21), keyed_as="turns", words=("1", "1.5", "2")),
    "N1": Way({"S31": "G-411", "S32": "G-412"}, (20, 27), {NUT: "0.0016"}, "0.0001", 6),
    "N2": Way({"S31": "G-521", "S32": "G-531"}, (15, 19), keyed_as="accept/reject", words=("Accept",)),
    "N3": Way({"S31": "G-522", "S32": "G-532"}, (15, 18), keyed_as="accept/reject", words=("Accept",)),
    "H1": Way({"S02": "G-601"}, (33, 40), {"B-1071": "46.0", "B-1094": "46.1"}, "0.1", 7),
    "U1": Way({"S38": "G-701"}, (150, 240), {"B-1071": "14000", "B-1094": "21000"}, "1", 380),
    "U3": Way({"S38": "G-701"}, (90, 150), {NUT: "10500"}, "1", 320),
}  # fmt: skip
"""How each characteristic is measured."""
AT_STATION: Final = {
    "S02": ("H1",), "S38": ("U1",), "S21": ("F1", "F2"),
    **dict.fromkeys(("S11", "S12", "S13"), ("D1", "D2")),
    **dict.fromkeys(("S24", "S25"), ("T1", "T2", "T3")),
    **dict.fromkeys(("S31", "S32"), ("N1", "N2", "N3")),
}  # fmt: skip
"""What a sample at a station looks at, in order."""


class Production:
    """Ordinary values, from a seed: no run of equal ones and no slow drift, as neither would be ordinary."""

    def __init__(self, seed: int) -> None:
        self._dice = random.Random(seed)
        self._last: dict[tuple[str, str, str], list[str]] = defaultdict(list)
        self._sums: dict[tuple[str, str, str], list[Decimal]] = defaultdict(list)
        self._samples: Counter[tuple[str, str]] = Counter()

    def sample(self, station: str, characteristic: str, part: str, pieces: int) -> list[str]:
        """Return what is keyed for `pieces` pieces."""
        way, key = WAYS[characteristic], (station, characteristic, part)
        if way.words:
            return self._dice.choices(way.words, k=pieces)
        while True:
            values = [self._value(way, part) for _ in range(pieces)]
            total = sum(values, Decimal(0)) / pieces
            texts = [format(value, "f") for value in values]
            if _longest_run([*self._last[key], *texts]) <= 3 and not _drifts([*self._sums[key], total]):
                self._last[key], self._sums[key] = texts[-3:], [*self._sums[key][-4:], total]
                return texts

    def pace_s(self, characteristic: str) -> int:
        """Return how long one piece takes, in seconds."""
        return self._dice.randint(*WAYS[characteristic].pace_s)

    def _value(self, way: Way, part: str) -> Decimal:
        cells = round(self._dice.gauss(0, way.cells / 2.2))
        return Decimal(way.middle[part]) + max(-way.cells, min(way.cells, cells)) * Decimal(way.step)

    def round(self, station: str, lot: str, at: datetime, *, planned: int = 5) -> Iterator[Event]:
        """Give the readings of one sample of all characteristics of a station; samples of a lot there are numbered."""
        self._samples[station, lot] += 1
        number = str(self._samples[station, lot])
        for characteristic in AT_STATION[station]:
            event = self.readings(station, lot, characteristic, at, planned=planned, sample=number)
            yield event
            at += (planned * int(event.told["every"].split()[0]) + 8) * SECOND

    def readings(
        self, station: str, lot: str, characteristic: str, at: datetime, *, planned: int = 5, **also: str
    ) -> Event:
        """Return the readings of one characteristic as one event."""
        way = WAYS[characteristic]
        keyed = self.sample(station, characteristic, part_of(lot), planned)
        told = {
            "lot": lot, "characteristic": characteristic, "gauge": way.gauges[station], "as": way.keyed_as,
            "keyed": " ".join(keyed), "every": f"{self.pace_s(characteristic)} s",
        }  # fmt: skip
        name = f"{lot} {characteristic} {at:%d %H:%M:%S}"
        return Event(at, "reading", name, station, operator(station, at), told | also, f"{station} {at:%a %H:%M}")


def ordinary_days(seed: int, *, is_quick: bool) -> list[Event]:
    """Return three days of ordinary production, unordered: samples, stops, tests, carries."""
    production = Production(seed)
    events: list[Event] = []
    for day in DAYS:
        begin = datetime.combine(day, DAY_START, tzinfo=ZONE)
        for station, offset in OFFSETS_MIN.items():
            for first, last in QUICK_DAY if is_quick else WHOLE_DAY:
                events += _stretch(production, station, begin + first * MINUTE, (offset, last - first))
        for minutes in CARRIES_MIN:
            at = begin + minutes * MINUTE
            events += [_plain(at, "carry", station) for station in CREWS]
    for station, when, lot, characteristic in TESTS:
        at, pieces = read_plant_time(when, ZONE), 5 if characteristic == "H1" else 3
        kind = {} if characteristic == "H1" else {"kind": "test"}
        events.append(production.readings(station, lot, characteristic, at, planned=pieces, sample="1", **kind))
    return events


def _stretch(production: Production, station: str, begin: datetime, span: tuple[int, int]) -> Iterator[Event]:
    """Give the samples of one stretch of running, and the stop that ends it where it is no whole day."""
    offset, length = span
    for minutes in range(offset, length, 30):
        at = begin + minutes * MINUTE
        lot = lot_running(station, at)
        assert lot is not None
        yield from production.round(station, lot, at)
    if length < 24 * 60:
        yield _plain(begin + 2 * MINUTE, "run again", station)
        yield _plain(begin + length * MINUTE, "stop", station, reason="no material")


def in_working_order(events: Iterable[Event]) -> list[Event]:
    """Return events by time, with what people do around them: badge in, and clear the line when the lot changes.

    A reading without a person is the operator's. A changeover told by somebody is not told again.
    Several pieces in one event become an event each, at its own time, so that stations work side by side.
    """
    ordered: list[Event] = []
    here: dict[str, _Here] = defaultdict(_Here)
    single = (piece for event in events for piece in _pieces(event))
    for event in sorted(single, key=lambda each: each.at):
        if event.station is not None and event.do == "changeover":
            here[event.station].lot = event.told["to"]
        if event.station is not None and event.do == "reading":
            station = event.station
            event = replace(event, person=event.person or operator(station, event.at))
            ordered += _before(event, station, here[station])
        ordered.append(event)
    return ordered


def _pieces(event: Event) -> Iterator[Event]:
    """Give one event for each piece; they share the name, so that `name#2` is the second piece."""
    if event.do != "reading":
        yield event
        return
    every = read_span(event.told.get("every", "20 s"))
    for place, keyed in enumerate(event.told["keyed"].split()):
        yield replace(event, at=event.at + place * every, told=dict(event.told) | {"keyed": keyed})


@dataclass
class _Here:
    """Who stands at a station in which shift, and which lot lies there."""

    person: tuple[str | None, object] | None = None
    lot: str = ""


def _before(event: Event, station: str, here: _Here) -> Iterator[Event]:
    """Give what comes before a reading: the person's badge, and line clearance where the lot changes."""
    person, lot = (event.person, shift_of(event.at, ZONE)), event.told["lot"]
    if here.person != person:
        yield _plain(event.at - 40 * SECOND, "badge in", station, event.person)
    if here.lot not in ("", lot):
        told = {"from": here.lot, "to": lot, "line clear": "yes"}
        yield replace(_plain(event.at - 20 * SECOND, "changeover", station, event.person), told=told)
    here.person, here.lot = person, lot


def _plain(at: datetime, do: str, station: str, person: str | None = None, **told: str) -> Event:
    who = person or operator(station, at)
    return Event(at, do, f"{station} {do} {at:%d %H:%M:%S}", station, who, told, f"{station} {at:%a %H:%M}")


def _longest_run(texts: list[str]) -> int:
    longest = run = 1
    for before, now in pairwise(texts):
        run = run + 1 if now == before else 1
        longest = max(longest, run)
    return longest


def _drifts(means: list[Decimal]) -> bool:
    """True when the last five sample averages all rise or all fall; seven would be told as drifting."""
    steps = [now - before for before, now in pairwise(means[-5:])]
    return len(steps) == 4 and (all(step > 0 for step in steps) or all(step < 0 for step in steps))


def begins() -> datetime:
    """Return the moment at which the demo plant begins."""
    return read_plant_time(BEGINS, ZONE)


def stations_run() -> set[str]:
    """Return the stations at which lots run."""
    return {station for station, _, _ in RUN}
