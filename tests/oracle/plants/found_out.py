"""Calibrations of a plant as they are entered: gauges and masters found out, with their errors point by point.

Drawn from a stream of its own, so that a plant without it stays what its seed made it.
"""

from collections.abc import Mapping
from datetime import timedelta
from random import Random
from typing import Any

from consolidator.intake.held import Kiosk
from tests.oracle.plants.books import Book, Shelf, local, moment

_MINUTE = 60_000
_HOUR = 60 * _MINUTE
_DAY = 24 * _HOUR
_POINTS: Mapping[str, tuple[str, tuple[str, ...], tuple[str, ...]]] = {
    "G-1": ("in", ("0", ".2835", ".2841", ".3120", ".3125", "1"), ("0", ".0001", "-.0001", ".0003", "-.0005")),
    "G-2": ("in", (".2", ".2835", ".2840", ".2845", ".3122", ".3125", ".32"), ("0", ".0001", "-.0002", ".0005")),
    "G-3": ("in", ("-.005", "-.00025", "0", ".00025", ".0003", ".005"), ("0", ".00005", "-.00005", ".0003", "-.0003")),
    "G-4": ("in", (".28", ".3187", ".3195", ".3198", ".33"), ("0", ".0002", "-.0008", ".002")),
    "G-5": ("in", (), ("0",)),
    "G-8": ("in", ("0", ".003", ".005", ".01", "2000"), ("0", ".0001", "-.0010", ".002")),
    "G-9": ("mm", ("0", "7.92", "7.931", "7.94", "25"), ("0", ".001", "-.009", ".01", ".0105")),
    "G-14": ("HRC", ("20", "44.0", "45.0", "48.0", "70"), ("0", ".1", "-1.0", "1.5")),
    "G-15": ("lbf", ("2000", "12800", "13000", "20000"), ("0", "1", "-200", "200", "201")),
    "M-1": ("in", (".31225",), ("0", ".00005", "-.0001", ".0003")),
    "M-2": ("mm", ("7.931",), ("0", ".001", "-.01")),
    "M-3": ("in", (".3123",), ("0", ".0002", "-.0002")),
    "W-24": ("in", (".02406",), ("0", ".00001", "-.0001", ".0004")),
    "HB-1": ("HRC", ("45.2",), ("0", ".5", "-2")),
}  # fmt: skip
"""Unit, points and errors: at readings and limits, so that a true value lies on a limit or a hair beyond it."""
_SAME = ("lot", "operation", "part", "revision", "plan_version", "characteristic", "sample", "sample_kind", "piece",
         "gauge", "master", "source", "keyed", "keyed_as", "unit")  # fmt: skip
"""What a reading at another station has of the first."""
_OTHER_UNITS = {"in": "mm", "mm": "in", "lbf": "kN", "HRC": "in"}
_MASTERS: tuple[tuple[str, ...], ...] = ((), ("M-1",), ("M-3",), ("W-24",), ("M-1", "M-3"), ("R-9",))


def find_out(chance: Random, shelf: Shelf, bounds: tuple[int, int]) -> None:
    """Let some gauges and masters be calibrated around the night, with what may follow."""
    if not shelf.true_ms:
        return
    room = _Room(chance, shelf, bounds[0])
    for _ in range(chance.choice((1, 2, 2, 3))):
        room.trouble()
    room.close_two_places()


class _Room:
    """The calibration room, with a book of its own."""

    def __init__(self, chance: Random, shelf: Shelf, start: int) -> None:
        self.chance, self.shelf, self.start = chance, shelf, start
        self.book = Book("desk-c", "desk", on_ms=start - 9 * _DAY)

    def trouble(self) -> None:
        """Let one gauge or master be found out, or nearly: what was known before it, the visit, and what follows."""
        chance = self.chance
        number = self._number()
        at = self._moment()
        if chance.random() < 0.6:
            self._calibrate(number, at - chance.choice((_HOUR, 4 * _HOUR, _DAY, 40 * _DAY)), as_left="Good")
        if chance.random() < 0.25:
            self._state(number, self._moment())
        self._visit(number, at)
        if chance.random() < 0.3:
            self._narrow(number, at)
        if chance.random() < 0.25:
            self._visit(number, max(self._moment(), at))
        if number.startswith(("M", "W", "H")):
            self._use(number, at)
        if chance.random() < 0.3:
            self._correct(number)
        if chance.random() < 0.4:
            lot = chance.choice(("L-1", "L-1", "L-2", "L-9"))
            self._write({"kind": "lot ship", "lot": lot, "quantity": chance.choice((100, 500)),
                         "customer": "a customer (invented)", "order": "O-1"}, self._moment(), "Q-1")  # fmt: skip

    def close_two_places(self) -> None:
        """Read with one gauge and one badge at another station as well; a closing names one of the two as wrong."""
        chance, shelf = self.chance, self.shelf
        if chance.random() < 0.5:
            return
        book = Book("S2-z", "S2", on_ms=self.start - 2 * _DAY)
        shelf.kiosks.append(Kiosk(book.series, book.station, "00", moment(book.on_ms), None, moment(shelf.at_ms), None))
        firsts = chance.sample(shelf.rows, min(len(shelf.rows), 6))
        for row in sorted(firsts, key=lambda each: shelf.true_ms[f"{each['series']}/{each['number']}"]):
            first = f"{row['series']}/{row['number']}"
            at = shelf.true_ms[first] + chance.choice((1, 30, 60, 61, 120, 121)) * 1000
            other = shelf.reading(book, at, {name: row[name] for name in _SAME} | {"person": row["person"]})
            for number, cause in (("X14", row["gauge"]), ("X67", "S1 and S2")):
                if chance.random() < 0.5:
                    wrong = chance.choice(((first,), (other,), (first, other), ()))
                    act = {"kind": "exception close", "exception": f"{number}:{cause}:2026-03-10", "evidence": wrong,
                           "reason": "asked both"}  # fmt: skip
                    self._write(act, at + _HOUR, chance.choice(("Q-1", "Q-2", "C-1", "P-1")))

    def _number(self) -> str:
        """Return what to calibrate: mostly something that readings were taken with."""
        used: list[str] = sorted(
            {row[name] for row in self.shelf.rows for name in ("gauge", "master")} & _POINTS.keys()
        )
        if used and self.chance.random() < 0.75:
            return self.chance.choice(used)
        return self.chance.choice(list(_POINTS))

    def _moment(self) -> int:
        """Return a time: the very moment of a reading, beside it, or at any hour around the night."""
        if self.chance.random() < 0.6:
            return self.chance.choice(list(self.shelf.true_ms.values())) + self.chance.choice((-1, 0, 1, _HOUR))
        return self.start + self.chance.randrange(-20, 30) * _HOUR

    def _write(self, act: Mapping[str, Any], ms: int, person: str = "C-1") -> str:
        return self.shelf.act(self.book, max(ms, self.book.on_ms), act, person=person)

    def _visit(self, number: str, at: int) -> None:
        """Calibrate in one go, or the as-found first, or in the wrong order, or without any as-found."""
        later = at + self.chance.choice((0, 1, _MINUTE, 2 * _HOUR))
        way = self.chance.random()
        if way < 0.45:
            self._calibrate(number, at)
        elif way < 0.7:
            self._calibrate(number, at, stage="as-found")
            if self.chance.random() < 0.6:
                self._calibrate(number, later, stage="as-left")
        elif way < 0.85:
            self._calibrate(number, later, stage="as-left", as_found="Not taken")
            if self.chance.random() < 0.7:
                self._calibrate(number, at, stage="as-found", told_at=later + _MINUTE)
        else:
            self._calibrate(number, at, as_found="Not taken")

    def _calibrate(self, number: str, at: int, *, told_at: int | None = None, **told: str) -> None:
        chance = self.chance
        unit, places, errors = _POINTS[number]
        points = [
            {"at": _plain(place), "permissible": "0.0001", "as_found": _plain(chance.choice(errors))}
            for place in places
            if chance.random() < 0.9
        ]
        for point in points:
            if chance.random() < 0.04:
                del point["as_found"]
        if told.get("as_found") == "Not taken" or chance.random() < 0.05:
            points = []
        act: dict[str, Any] = {
            "kind": "calibration", "gauge": number, "done_at": local(at), "procedure": "C-7",
            "masters": chance.choice(_MASTERS) if number != "M-3" else chance.choice(((), ("R-9",))),
            "unit": unit if chance.random() < 0.96 else _OTHER_UNITS[unit], "points": tuple(points),
            "as_found": chance.choice(("Out", "Out", "Out", "Good")),
            "as_left": chance.choice(("Good",) * 5 + ("Out",)),
        }  # fmt: skip
        if chance.random() < 0.5:
            act["due"] = str((moment(at) + timedelta(days=chance.choice((30, 90)))).date())
        entered = at + chance.choice((0, 0, 1, 20 * _MINUTE)) if told_at is None else told_at
        self._write(act | told, entered)

    def _state(self, number: str, ms: int) -> None:
        """Stop it or set it aside, perhaps as of an earlier moment, and perhaps put it back to use."""
        chance = self.chance
        state = chance.choice(("Stopped", "Awaiting calibration", "Awaiting calibration", "Lost"))
        act: dict[str, Any] = {"kind": "gauge state", "gauge": number, "state": state}
        if chance.random() < 0.4:
            act["since"] = local(ms - chance.choice((_MINUTE, 3 * _HOUR)))
        self._write(act, ms)
        if chance.random() < 0.5:
            back = ms + chance.choice((0, _MINUTE, 2 * _HOUR))
            self._write({"kind": "gauge state", "gauge": number, "state": "In use"}, back)

    def _narrow(self, number: str, at: int) -> None:
        chance = self.chance
        begins = self._moment() if chance.random() < 0.7 else at - 60 * _DAY
        ends = chance.choice((at, at + _HOUR, self._moment()))
        act = {"kind": "look-back window", "gauge": number, "begins_at": local(begins), "ends_at": local(ends),
               "reason": "a good check at the size in question"}  # fmt: skip
        ms = at + chance.choice((-1, 0, 30 * _MINUTE, 30 * _MINUTE))
        of = self._write(act, ms, chance.choice(("C-1", "C-1", "Q-1", "Q-2")))
        if chance.random() < 0.85:
            signer = chance.choice(("Q-1", "Q-2", "Q-2", "C-1"))
            second = {"kind": "second signature", "of": of, "meaning": "declared"}
            self._write(second, ms + chance.choice((-1, 0, _MINUTE)), signer)

    def _use(self, master: str, at: int) -> None:
        """Calibrate gauges with a master in question, check comparators on it, and perhaps do so soundly afterwards."""
        chance = self.chance
        for gauge in chance.sample(("G-1", "G-2", "G-3", "G-4", "G-9", "M-1", "M-2"), 3):
            ms = at - chance.choice((_MINUTE, 3 * _HOUR, _DAY, 30 * _DAY))
            if gauge != master and master != "W-24" and chance.random() < 0.6:
                self._calibrate_with(gauge, ms, (master,))
            if chance.random() < 0.3:
                self._calibrate_with(gauge, max(self._moment(), ms), chance.choice(((), ("R-9",), (master,))))
        for _ in range(chance.choice((0, 1, 2))):
            check = {"kind": "check", "check_kind": "zero check", "gauge": chance.choice(("G-3", "G-13", "G-3")),
                     "master": chance.choice((master, None, "M-3", "R-9")), "keyed": "0", "unit": "in", "error": "0",
                     "limit": "0.00005", "verdict": "Good"}  # fmt: skip
            self._write(check, self._moment(), chance.choice(("P-1", "C-1")))

    def _calibrate_with(self, gauge: str, ms: int, masters: tuple[str, ...]) -> None:
        act = {"kind": "calibration", "gauge": gauge, "done_at": local(ms), "masters": masters, "procedure": "C-7",
               "unit": "in", "points": (), "as_left": "Good",
               "as_found": self.chance.choice(("Good", "Good", "Good", "Out", "Not taken")),
               "stage": self.chance.choice(("whole", "whole", "whole", "as-found"))}  # fmt: skip
        self._write(act, ms)

    def _correct(self, number: str) -> None:
        """Correct readings: their figure, or the gauge they were taken with."""
        chance = self.chance
        field, new = chance.choice((("gauge", number), ("value", ".3122"), ("value", ".3124"), ("value", ".2843"),
                                    ("value", "+.0002"), ("value", ".3190"), ("value", "7.938")))  # fmt: skip
        of = chance.choice(list(self.shelf.true_ms))
        act = {"kind": "correction", "of": of, "field": field, "old": "x", "new": new, "reason": "keyed wrong",
               "words": "w"}  # fmt: skip
        ref = self._write(act, self._moment(), "Q-1")
        if chance.random() < 0.5:
            self._write({"kind": "second signature", "of": ref, "meaning": "approved"}, self._moment(), "Q-2")


def _plain(text: str) -> str:
    """Return a figure as a page holds it: a digit before the point."""
    return text.replace("-.", "-0.") if text.startswith("-.") else f"0{text}" if text.startswith(".") else text
