"""A random night: kiosks with their clocks, work in samples, and the acts of the desk around it."""

import random
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

from consolidator.intake.held import Altered, Conflict, Held, Kiosk, Unfit, Unknown
from kiosk.lists import Characteristic, Lists
from kiosk.times import day_bounds_utc
from tests.oracle.plants.books import Book, Shelf, local, moment
from tests.oracle.plants.desk import run_desk
from tests.oracle.plants.floor import check_gauges, check_of, rework, run_long, tell_lot
from tests.oracle.plants.found_out import find_out
from tests.oracle.plants.keyings import earlier_for, gauge_for, keyed_for
from tests.oracle.plants.lists import DAYS, OPERATORS, STATIONS, ZONE, make_lists

_MINUTE = 60_000
_HOUR = 60 * _MINUTE
_LOTS = ("L-1", "L-1", "L-1", "L-2")
_BEGINS = (-1.5, -0.5, 0, 0, 2, 10, 15.7, 16, 17.5, 18, 21, 22.4)
"""Hours after the production day begins."""
_VERDICTS = ("In tolerance", "Out of tolerance", "Accept", "Not judged")
_CLOCK_ERRORS = (0,) * 10 + (119, 120, 121, -121, 2820, -5400, 90_000, -7 * 86_400)
"""Seconds."""
TROUBLED = "t"
"""What ends the name of a plant in which gauges are found out."""


@dataclass(frozen=True)
class Plant:
    """One random plant: what is held, the lists, and how it is to be closed."""

    seed: int
    is_troubled: bool
    held: Held
    lists: Lists
    day: date
    at_utc: datetime
    carried: frozenset[str]

    @property
    def name(self) -> str:
        """What it is called by: its seed, and whether gauges are found out in it."""
        return f"{self.seed}{TROUBLED * self.is_troubled}"

    @property
    def reading_refs(self) -> set[str]:
        """Every reading by its page."""
        table = self.held.readings
        return {f"{s}/{n}" for s, n in zip(table["series"].to_pylist(), table["number"].to_pylist(), strict=True)}

    @classmethod
    def named(cls, name: str) -> "Plant":
        """Return the plant of a name."""
        return make_plant(int(name.removesuffix(TROUBLED)), is_troubled=name.endswith(TROUBLED))


def make_plant(seed: int, *, is_troubled: bool = False) -> Plant:
    """Return the plant of a seed; the same seed always gives the same plant.

    In a troubled one gauges and masters are found out besides, with their errors.
    """
    chance = random.Random(seed)
    day = chance.choice(DAYS)
    is_calm = chance.random() < 0.5
    lists = make_lists(chance, day, is_calm=is_calm)
    start, end = (round(each.timestamp() * 1000) for each in day_bounds_utc(day, ZONE))
    at_ms = end + chance.choice((5, 5, 5, 5, 245, 1440, -240)) * _MINUTE
    shelf = Shelf(chance, at_ms)
    desk = Book("desk-a", "desk", on_ms=start - 9 * 24 * _HOUR)
    together = chance.choice(_BEGINS) if chance.random() < 0.4 else None
    for place in range(chance.choice((1, 2, 2, 3))):
        station = STATIONS[place] if chance.random() < 0.85 else STATIONS[0]
        book = Book(f"{station}-{'abc'[place]}", station)
        begin = start + round((chance.choice(_BEGINS) if together is None else together) * _HOUR)
        _Kiosk(shelf, lists, book, begin, is_calm=is_calm).work()
    run_desk(shelf, desk, lists, day, (start, end))
    if is_troubled:
        find_out(random.Random(f"found out {seed}"), shelf, (start, end))
    _spoil(shelf, start)
    carried = frozenset(chance.choice((("L-1",), ("L-2", "L-9")))) if chance.random() < 0.15 else frozenset()
    return Plant(seed, is_troubled, shelf.held(), lists, day, moment(at_ms).astimezone(UTC), carried)


class _Kiosk:
    """One kiosk at work for a while around the production day."""

    def __init__(self, shelf: Shelf, lists: Lists, book: Book, begin_ms: int, *, is_calm: bool) -> None:
        self.shelf, self.lists, self.book, self.is_calm = shelf, lists, book, is_calm
        self.chance = shelf.chance
        self.now = begin_ms + self.chance.choice((0, 0, 1, -1, 30_000))
        book.on_ms = self.now - self.chance.choice((1, 60)) * _MINUTE
        book.error_ms = self.chance.choice((0,) * 40 + _CLOCK_ERRORS if is_calm else _CLOCK_ERRORS) * 1000
        self.station = book.station
        self.is_online = self.chance.random() < 0.75
        self.delay_ms = 1000
        self.person: str | None = "P-1"
        self.lot, self.operation = "L-1", "60"
        self.set_up: str | None = None
        self.sample = 0
        self.piece = 0

    def work(self) -> None:
        """Play some blocks of work, with what happens between them."""
        self._enrol()
        for _ in range(self.chance.choice((2, 3, 4))):
            self._begin_block()
            for _ in range(self.chance.choice((1, 2, 3))):
                self._round()
                self._between()
            if self.chance.random() < 0.12:
                run_long(self)
            if self.chance.random() < 0.15:
                rework(self, lambda what: keyed_for(self.chance, what))
            if self.chance.random() < (0.6 if self.is_online else 0.2):
                self.shelf.contact(self.book, self.now)
        if self.chance.random() < 0.25:
            self.shelf.contact(self.book, self.now + _HOUR)

    def _enrol(self) -> None:
        chance, at = self.chance, moment(self.shelf.at_ms)
        if chance.random() < 0.03:
            return
        withdrawn = moment(self.now + _HOUR) if chance.random() < 0.04 else None
        heard = chance.choice((None, at - timedelta(hours=4), at - timedelta(hours=4, seconds=1), at, at))
        arrived = chance.choice((None, None, at - timedelta(hours=1)))
        enrolled = datetime(2025, 1, 1, tzinfo=UTC)
        self.shelf.kiosks.append(Kiosk(self.book.series, self.book.station, "00", enrolled, withdrawn, heard, arrived))

    def keep(self, act: Mapping[str, Any], *, person: str | None = None) -> str:
        """Keep a page that is no reading."""
        return self.shelf.act(self.book, self.now, act, person=person or self.person, delay_ms=self.delay_ms)

    def _begin_block(self) -> None:
        """Choose who works what here, and log as much of it as this station logs."""
        chance = self.chance
        if chance.random() < 0.25:
            self._new_session()
        is_odd = not self.is_calm or chance.random() < 0.1
        self.person = chance.choice((*OPERATORS * 4, "P-77", None) if is_odd else OPERATORS)
        old = self.lot
        self.operation = chance.choice(("60", "60", "80", "80", "30", "40"))
        if self.operation == "30":
            self.lot = chance.choice((*("L-9",) * 7, "L-1")) if is_odd else "L-9"
        elif is_odd or self.lot == "L-9":
            self.lot = chance.choice((*_LOTS * 4, "L-77"))
        self.delay_ms = chance.choice((1000,) * 6 + (0, 3 * _HOUR, 30 * _HOUR))
        if old != self.lot and chance.random() < (0.95 if self.is_calm else 0.5):
            to_lot = chance.choice((self.lot, self.lot, old))
            self.keep({"kind": "changeover", "from_lot": chance.choice((old, None)), "to_lot": to_lot,
                       "is_line_clear": chance.random() < 0.9})  # fmt: skip
            self.now += chance.choice((0, _MINUTE))
        if chance.random() < 0.5:
            self.keep({"kind": "job open", "lot": self.lot, "operation": self.operation, "part": self._part(),
                       "revision": "C", "plan_version": "C1"})  # fmt: skip
        self._begin_set_up()
        check_gauges(self)
        tell_lot(self)
        self.now += chance.choice((_MINUTE, 5 * _MINUTE))

    def _new_session(self) -> None:
        self.now += self.chance.choice((2, 20)) * _MINUTE
        self.book.power_on(self.now)
        if self.chance.random() < 0.5:
            self.book.error_ms = self.chance.choice(_CLOCK_ERRORS) * 1000
        if self.chance.random() < 0.3:
            before = self.book.error_ms
            shown = local(self.now + before)
            self.book.error_ms = self.chance.choice((0, before + 600_000))
            after = local(self.now + self.book.error_ms)
            self.keep({"kind": "clock set", "before": shown, "after": after})

    def _begin_set_up(self) -> None:
        chance = self.chance
        if chance.random() < 0.45:
            if chance.random() < 0.3:
                self.set_up = None
            return
        self.set_up = f"SU-{self.book.series}-{self.book.number}"
        setter = chance.choice(("P-3", "P-4", "P-2"))
        begun = {"kind": "set-up start", "set_up": self.set_up, "lot": self.lot, "part": self._part(),
                 "revision": "C", "operation": self.operation, "set_by": setter,
                 "is_hot": chance.random() < (0.04 if self.is_calm else 0.2),
                 "die_set": chance.choice((None, "D-1")), "machine": f"MC-{self.station}",
                 "die_pieces_before": chance.choice((0, 0, 99, 100, 101, 480))}  # fmt: skip
        self.keep(begun, person=chance.choice((setter, "P-3")))
        self.now += chance.choice((0, 3)) * _MINUTE
        if chance.random() < 0.7:
            self._approve()

    def _approve(self) -> None:
        chance = self.chance
        approver = chance.choice(("I-1", "I-1", "I-1", "P-4", "P-3", "P-2", "C-1"))
        signature = {"person": approver, "name": approver, "role": "approver", "at": local(self.now),
                     "meaning": "approved", "sentence": "Approved.", "of": "0" * 64}  # fmt: skip
        approval = {"kind": "first-piece approval", "set_up": self.set_up, "part": self._part(), "revision": "C",
                    "operation": self.operation, "result": chance.choice(("Approved",) * 5 + ("Refused",))}  # fmt: skip
        if chance.random() < 0.5:
            self.keep(approval | {"signature": signature}, person="P-2")
        else:
            self.keep(approval, person=approver)
        self.now += chance.choice((0, 0, 1))

    def _part(self) -> str:
        return "N" if self.operation == "30" else "B"

    def planned(self) -> list[Characteristic]:
        """Return the characteristics of the operation under way, each once."""
        found: dict[str, Characteristic] = {}
        for what in self.lists.characteristics:
            if what.part == self._part() and what.operation == self.operation:
                found.setdefault(what.number, what)
        return list(found.values())

    def _round(self) -> None:
        """Measure one round of samples; most of what can go wrong with single readings goes wrong here."""
        chance = self.chance
        self.sample += 1
        planned = [what for what in self.planned() if chance.random() < 0.85]
        gap = chance.choice((1000, 2999, 3000, 8000, 20_000, 60_000))
        for what in planned[: chance.choice((1, 2, 3))]:
            gauge = gauge_for(chance, what, is_calm=self.is_calm)
            streak = self._keyed(what) if chance.random() < 0.2 else None
            count = chance.choice((what.sample_n or 1, what.sample_n or 1, 1, 2)) if streak is None else 9
            for _ in range(count):
                self.piece += 1
                self._piece(what, gauge, streak or self._keyed(what))
                self.now += gap
            if chance.random() < 0.3:
                self._end_sample(what)
            if chance.random() < 0.12:
                self._countersign(what)
        if chance.random() < 0.05:  # as long as a zero check lasts, or a moment longer
            self.now += 270 * _MINUTE - 60_000
        self.now += chance.choice((5, 19, 20, 29, 30, 34, 35, 41, 50, 75)) * _MINUTE - chance.choice((0, 30_000))

    def measure(self, what: Characteristic, gauge: tuple[str | None, str | None], keyed: Mapping[str, Any]) -> str:
        """Keep a reading of the next piece, in order but for what is keyed."""
        self.piece += 1
        told: dict[str, Any] = {
            "lot": self.lot, "operation": self.operation, "part": self._part(), "revision": what.revision,
            "plan_version": f"{what.revision}1", "set_up": self.set_up, "characteristic": what.number,
            "sample": self.sample, "sample_kind": "run", "piece": self.piece, "gauge": gauge[0], "master": gauge[1],
            "person": self.person, "source": "keyed", **keyed,
        }  # fmt: skip
        return self.shelf.reading(self.book, self.now, told, delay_ms=self.delay_ms)

    def _keyed(self, what: Characteristic) -> Mapping[str, Any]:
        return keyed_for(self.chance, what, is_calm=self.is_calm)

    def _piece(self, what: Characteristic, gauge: tuple[str | None, str | None], keyed: Mapping[str, Any]) -> None:
        chance = self.chance
        told = self._told(what, gauge, keyed)
        ref = self.shelf.reading(self.book, self.now, told, delay_ms=self.delay_ms)
        roll = chance.random()
        if roll < 0.03:  # tapped twice
            self.now += chance.choice((0, 2999, 3000, 3001))
            self.shelf.reading(self.book, self.now, told, delay_ms=self.delay_ms)
        elif roll < 0.12:  # keyed anew inside the sample
            self._key_anew(what, told)
        elif roll < 0.16:  # measured again elsewhere or later
            again = told | keyed_for(chance, what) | {"re_measure_of": ref}
            again |= {"sample_kind": chance.choice(("re-measure", "referee")), "person": "P-2"}
            self.now += _MINUTE
            self.shelf.reading(self.book, self.now, again, delay_ms=self.delay_ms)
        elif roll < 0.18:  # a page that never came
            self.book.turn_page()

    def _key_anew(self, what: Characteristic, told: dict[str, Any]) -> None:
        chance = self.chance
        for _ in range(chance.choice((1, 1, 2))):
            if chance.random() < 0.1:
                self._end_sample(what)
            self.now += 4000
            replaces = self.book.number if chance.random() < 0.9 else max(self.book.number - 1, 1)
            told = told | keyed_for(chance, what) | {"replaces": replaces}
            told["earlier"] = earlier_for(chance, what, told["keyed"])
            self.shelf.reading(self.book, self.now, told, delay_ms=self.delay_ms)

    def _told(
        self, what: Characteristic, gauge: tuple[str | None, str | None], keyed: Mapping[str, Any]
    ) -> dict[str, Any]:
        chance = self.chance
        told: dict[str, Any] = {
            "lot": self.lot,
            "operation": self.operation,
            "part": self._part(),
            "revision": what.revision if chance.random() < (0.99 if self.is_calm else 0.95) else "D",
            "plan_version": f"{what.revision}1",
            "set_up": self.set_up if chance.random() < 0.85 else None,
            "characteristic": what.number if chance.random() < 0.99 else "ZZ",
            "sample": self.sample,
            "sample_kind": chance.choice(("run",) * 12 + ("last piece", "first piece", "set-up piece", "test",
                                                           "lot acceptance")),
            "piece": self.piece,
            "position": chance.choice((None, None, None, "head")),
            "gauge": gauge[0],
            "master": gauge[1],
            "person": self.person,
            "source": chance.choice(("keyed",) * 10 + ("from instrument",)),
            "earlier": earlier_for(chance, what, keyed["keyed"]),
            "verdict": chance.choice((None,) * (200 if self.is_calm else 20) + _VERDICTS),
            **keyed,
        }  # fmt: skip
        if chance.random() < 0.15:
            hours = chance.choice((1, 1, 1, 72, 73) if self.is_calm else (1, 72, 73))
            told["lists_taken_at_ms"] = self.now + self.book.error_ms - hours * _HOUR
        if chance.random() < 0.05:
            told |= self._on_paper()
        return told | self._heat()

    def _on_paper(self) -> dict[str, Any]:
        taken = self.now - self.chance.choice((10, 600)) * _MINUTE
        return {
            "source": "from paper", "paper_taken_at": local(taken), "paper_taken_at_ms": taken, "paper_form": "F-1",
            "taken_by": self.chance.choice((None, "P-3", "P-1")), "read_back_by": self.chance.choice((None, "P-4")),
        }  # fmt: skip

    def _heat(self) -> dict[str, Any]:
        chance = self.chance
        told: dict[str, Any] = {}
        if chance.random() < 0.3:
            told["part_temperature"] = chance.choice(("76", "80", "80.1", "95", "26.6", "26.7"))
            told["gauge_temperature"] = chance.choice((None, "72", "70", "66", "22"))
            told["temperature_unit"] = "degC" if told["part_temperature"].startswith("26") else "degF"
        if chance.random() < 0.25:
            out = self.now + self.book.error_ms - chance.choice((5, 29, 30, 31)) * _MINUTE
            told["out_of_heat_at"], told["out_of_heat_at_ms"] = local(out), out
        return told

    def _end_sample(self, what: Characteristic) -> None:
        self.keep({"kind": "sample end", "lot": self.lot, "operation": self.operation, "characteristic": what.number,
                   "sample": self.sample, "planned": what.sample_n, "got": 1})  # fmt: skip

    def _countersign(self, what: Characteristic) -> None:
        trainee = self.person or "P-2"
        self.now += self.chance.choice((0, 20, 31)) * _MINUTE
        self.keep({"kind": "countersign", "trainee": trainee, "lot": self.lot, "operation": self.operation,
                   "characteristic": what.number, "sample": self.sample},
                  person=self.chance.choice(("P-1", "P-1", "P-3")))  # fmt: skip

    def _between(self) -> None:
        """Let something happen at the station between two rounds."""
        chance = self.chance
        gauge = chance.choice(("G-1", "G-2", "G-3", "G-3", "G-4", "G-8", "G-13", "G-14"))
        happenings: list[dict[str, Any]] = [
            {"kind": "gauge incident", "gauge": gauge, "what": "dropped"},
            check_of(chance, gauge),
            {"kind": "gauge movement", "gauge": gauge, "movement": chance.choice(("issued", "returned", "found")),
             "to_station": chance.choice((None, "S1", "S2"))},
            {"kind": "gauge scan", "gauge": gauge},
            {"kind": "stop", "reason": "break"},
            {"kind": "run again"},
            {"kind": "out of heat", "lot": self.lot, "out_at": local(self.now + self.book.error_ms - 25 * _MINUTE),
             "piece": chance.choice((None, None, self.piece + 1))},
            {"kind": "set-up change", "set_up": self.set_up or "SU-0",
             "what": chance.choice(("re-set", "die change", "hot or cold"))},
            {"kind": "set-up end", "set_up": self.set_up or "SU-0"},
        ]  # fmt: skip
        for happening in happenings:
            if chance.random() < (0.06 if self.is_calm else 0.12):
                self.keep(happening, person=chance.choice((self.person, "P-4")))
                self.now += chance.choice((0, 1, _MINUTE))
        if self.set_up is not None and chance.random() < 0.15:
            self._approve()


def _spoil(shelf: Shelf, start: int) -> None:
    """Give some plants two pages of one number, altered pages, and packets of books nobody knows."""
    chance = shelf.chance
    found = moment(start + chance.choice((2, 20, 30)) * _HOUR)
    if shelf.rows and chance.random() < 0.15:
        row = chance.choice(shelf.rows)
        twin = row | {"fingerprint": shelf.fingerprint(), "keyed": chance.choice((row["keyed"], ".3123"))}
        shelf.rows.append(twin)
        prints = tuple(sorted((row["fingerprint"], twin["fingerprint"])))
        shelf.conflicts.append(Conflict(row["series"], row["number"], prints, found))
    if shelf.acts and chance.random() < 0.05:
        page = chance.choice(shelf.acts).page
        shelf.conflicts.append(Conflict(page.series, page.number, ("1" * 64, "2" * 64), found))
    if shelf.rows and chance.random() < 0.1:
        row = chance.choice(shelf.rows)
        fingerprint = chance.choice((row["fingerprint"], "3" * 64))
        shelf.altered.append(Altered(row["series"], row["number"], fingerprint, Unfit.CHAIN, "made so", found))
    if chance.random() < 0.05:
        shelf.altered.append(Altered("S1-a", 999, "4" * 64, Unfit.CONTENT, "made so", found))
    if chance.random() < 0.05:
        series = chance.choice(("Z9-a", "S1-a"))
        shelf.unknown.append(Unknown(series, 1, 3, found, series == "S1-a", "f"))
