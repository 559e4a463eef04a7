"""Random acts of the desk around a night: lots, holds, gauges, corrections, releases, seals."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from kiosk.lists import Lists
from tests.oracle.plants.books import Book, Shelf, local

_MINUTE = 60_000
_HOUR = 60 * _MINUTE
_ROOMS = (*((each, "degF") for each in ("68", "66", "70", "65.9", "70.1", "75", "64", "72")),
          *((each, "degC") for each in ("20", "21", "19", "21.1", "18.9", "23")))  # fmt: skip
"""At the reference temperature of 20 °C, near it, and too far from it."""
_SIGNERS = ("Q-1", "Q-1", "Q-2", "C-1", "P-1")


class _Desk:
    """The desk's own book under way."""

    def __init__(self, shelf: Shelf, book: Book, day: date, start: int) -> None:
        self.shelf, self.book, self.day, self.start = shelf, book, day, start
        self.chance = shelf.chance

    def moment(self) -> int:
        """Return a time for an act: often the very moment of a reading, or a millisecond beside it."""
        if self.shelf.true_ms and self.chance.random() < 0.6:
            return self.chance.choice(list(self.shelf.true_ms.values())) + self.chance.choice((-1, 0, 0, 1, _HOUR))
        return self.start + self.chance.randrange(-3 * 60, 24 * 60) * _MINUTE

    def reading(self) -> str:
        """Return a page to act upon, often one that was measured again."""
        again: list[str] = [row["re_measure_of"] for row in self.shelf.rows if row["re_measure_of"]]
        return self.chance.choice(again if again and self.chance.random() < 0.4 else list(self.shelf.true_ms))

    def lot(self) -> str:
        """Return a lot to act upon."""
        return self.chance.choice(("L-1", "L-2", "L-9"))

    def write(self, act: dict[str, Any], ms: int, person: str | None = None) -> str:
        """Keep a page of the desk."""
        return self.shelf.act(self.book, ms, act, person=person or self.chance.choice(_SIGNERS))

    def second(self, of: str, ms: int, person: str | None = None) -> None:
        """Sign a proposal as the second, mostly as one who may."""
        signer = person or self.chance.choice(("Q-1", "Q-2", "Q-2", "P-1"))
        self.write({"kind": "second signature", "of": of, "meaning": "approved"}, ms, signer)


def run_desk(shelf: Shelf, book: Book, lists: Lists, day: date, bounds: tuple[int, int]) -> None:
    """Write a random handful of the desk's acts, in order of time."""
    desk = _Desk(shelf, book, day, bounds[0])
    if not shelf.true_ms:
        return
    kinds: list[Callable[[_Desk, int], None]] = [
        _lots, _holds, _state, _calibration, _extension, _correction, _release, _test, _sign_off, _seal, _lost,
        _release, _calibration, _test, _other_test, _ship, _ways_back,
    ]  # fmt: skip
    chosen = [(desk.moment(), place, kind) for place, kind in enumerate(kinds) if shelf.chance.random() < 0.35]
    for ms, _, kind in sorted(chosen, key=lambda each: each[:2]):
        kind(desk, ms)


def _lots(desk: _Desk, ms: int) -> None:
    lot = desk.lot()
    desk.write({"kind": "lot close", "lot": lot, "quantity": 400}, ms, "Q-1")
    if desk.chance.random() < 0.4:
        opened = max(desk.moment(), ms + _MINUTE)
        desk.write({"kind": "lot re-open", "lot": lot, "reason": "late pages"}, opened, "Q-1")


def _holds(desk: _Desk, ms: int) -> None:
    lot = desk.lot()
    if desk.chance.random() < 0.7:
        desk.write({"kind": "hold", "lot": lot, "reason": "to be looked at"}, ms)
    if desk.chance.random() < 0.5:
        lifted = max(desk.moment(), ms)
        desk.write({"kind": "hold lift", "lot": lot, "reason": "looked at"}, lifted)
    elif desk.chance.random() < 0.5:
        ends = desk.chance.random() < 0.7
        act = {"kind": "disposition", "choice": "Scrap", "lot": lot, "part": "B", "pieces": 2, "reason": "bad",
               "method": "crushed", "witness": "P-1", "ends_hold": ends}  # fmt: skip
        desk.write(act, max(desk.moment(), ms))


def _gauge(desk: _Desk) -> str:
    return desk.chance.choice(("G-1", "G-2", "G-3", "G-3", "G-4", "G-5", "G-8", "G-14", "M-1"))


def _state(desk: _Desk, ms: int) -> None:
    gauge = _gauge(desk)
    state = desk.chance.choice(("Stopped", "Awaiting calibration", "Lost"))
    since = desk.chance.choice((None, local(ms - 2 * _HOUR), local(desk.moment())))
    act: dict[str, Any] = {"kind": "gauge state", "gauge": gauge, "state": state}
    desk.write(act | ({} if since is None else {"since": since}), ms, "C-1")
    if desk.chance.random() < 0.5:
        desk.write({"kind": "gauge state", "gauge": gauge, "state": "In use"}, max(desk.moment(), ms), "C-1")


def _calibration(desk: _Desk, ms: int) -> None:
    chance = desk.chance
    stage = chance.choice(("whole", "whole", "as-found", "as-left"))
    due = None if chance.random() < 0.4 else (desk.day + timedelta(days=chance.choice((0, 90)))).isoformat()
    act: dict[str, Any] = {
        "kind": "calibration", "gauge": _gauge(desk), "done_at": local(ms - chance.choice((0, 0, 20, 200)) * _MINUTE),
        "masters": chance.choice(((), ("M-1",), ("M-3",), ("M-1", "M-3"))), "procedure": "C-7", "unit": "in",
        "points": (), "stage": stage,
        "as_found": chance.choice(("Good", "Good", "Out", "Not taken")),
        "as_left": chance.choice(("Good",) * 4 + ("Out",)),
    }  # fmt: skip
    if chance.random() < 0.5:
        room, unit = chance.choice(_ROOMS)
        act |= {"room_temperature": room, "temperature_unit": unit, "soak_min": chance.choice((None, 0, 59, 60, 240))}
        if chance.random() < 0.7:
            low, high = ("66", "70") if unit == "degF" else ("19", "21")
            act |= {"room_low": low, "room_high": high, "soak_least_min": chance.choice((None, 60))}
    desk.write(act | ({} if due is None else {"due": due}), ms, "C-1")


def _extension(desk: _Desk, ms: int) -> None:
    act = {"kind": "extension", "gauge": _gauge(desk), "old_due": desk.day.isoformat(),
           "new_due": (desk.day + timedelta(days=30)).isoformat(), "reason": "r", "evidence": "e"}  # fmt: skip
    of = desk.write(act, ms, desk.chance.choice(("C-1", "C-1", "P-1")))
    if desk.chance.random() < 0.85:
        desk.second(of, max(desk.moment(), ms))


def _correction(desk: _Desk, ms: int) -> None:
    chance = desk.chance
    for _ in range(chance.choice((1, 2, 3))):
        ref = desk.reading()
        field, new = chance.choice((("value", ".3119"), ("value", ".3122"), ("value", "Reject"), ("value", ".2841"),
                                    ("value", "Accept"), ("value", ".0020"), ("value", "1700"), ("gauge", "G-1"),
                                    ("lot", "L-2")))  # fmt: skip
        act = {"kind": "correction", "of": ref, "field": field, "old": "x", "new": new, "reason": "keyed wrong",
               "words": "w"}  # fmt: skip
        of = desk.write(act, ms, chance.choice(("Q-1", "Q-2")))
        if chance.random() < 0.8:
            desk.second(of, max(ms, desk.moment()))
        ms = max(ms, desk.moment())


def _release(desk: _Desk, ms: int) -> None:
    """Release some readings, mostly as it should be: on a later page, by two who may."""
    chance, true_ms = desk.chance, desk.shelf.true_ms
    refs = sorted({desk.reading() for _ in range(chance.choice((4, 15)))}, key=lambda ref: (true_ms[ref], ref))
    shown = chance.choice((refs[-1:], refs[-1:], refs[:1], []))
    ms = true_ms[refs[-1]] + chance.choice((-_HOUR, 0, _HOUR, _HOUR))
    if chance.random() < 0.4:
        zero = {"kind": "check", "check_kind": "zero check", "gauge": _gauge(desk), "master": "M-3", "keyed": "0",
                "unit": "in", "error": "0", "limit": "0.00005", "verdict": "Good"}  # fmt: skip
        shown = [desk.write(zero, ms, "C-1")]
    act = {"kind": "release", "readings": tuple(refs), "evidence": tuple(shown), "reason": "as-found good"}
    of = desk.write(act, ms, chance.choice(("Q-1",) * 6 + ("Q-2", "C-1")))
    desk.second(of, ms + chance.choice((-1, 0, _MINUTE, _MINUTE)), "Q-2" if chance.random() < 0.6 else None)


def _test(desk: _Desk, ms: int) -> None:
    starts = [act.page.act for act in desk.shelf.acts if act.page.act.kind == "set-up start"]
    if not starts:
        return
    name = desk.chance.choice(starts).set_up
    count = desk.chance.choice((2, 3, 3, 3))
    figures = ("130000", "150000", "70000", "70000", "45000", "44999")
    cycles = [desk.chance.choice(figures[:4] if desk.chance.random() < 0.6 else figures) for _ in range(count)]
    pieces = [
        {"piece": f"T-{n}", "lot": "L-1", "set_up": name if desk.chance.random() < 0.95 else "SU-x", "result": each,
         "verdict": "In tolerance"}
        for n, each in enumerate(cycles)
    ]  # fmt: skip
    verdict = desk.chance.choice(("In tolerance",) * 5 + ("Out of tolerance",))
    act = {"kind": "test record", "number": "T-1", "what": "fatigue", "lot": "L-1", "part": "B",
           "characteristic": "BC10", "set_up": name, "method": "m", "frame": "f", "unit": "cycles", "pieces": pieces,
           "verdict": verdict}  # fmt: skip
    desk.write(act, ms, "Q-2")


def _sign_off(desk: _Desk, ms: int) -> None:
    for lot in ("L-1", "L-2", "L-9"):
        if desk.chance.random() < 0.6:
            desk.write({"kind": "operation sign-off", "lot": lot, "operation": "40"}, ms, "Q-2")
            ms += _MINUTE


def _seal(desk: _Desk, ms: int) -> None:
    day = desk.day - timedelta(days=desk.chance.choice((0, 0, 0, 1)))
    for supplement in range(desk.chance.choice((1, 2))):
        act = {"kind": "seal", "day": day.isoformat(), "supplement": supplement, "word": "Complete", "ledger": "0" * 64}
        desk.write(act, ms, "Q-1")
        ms += 2 * _HOUR


def _lost(desk: _Desk, ms: int) -> None:
    series = desk.chance.choice([name.rpartition("/")[0] for name in desk.shelf.true_ms])
    first = desk.chance.choice((1, 1, desk.chance.randrange(1, 30)))
    act = {"kind": "pages lost", "series": series, "first": first, "last": first + desk.chance.choice((5, 40, 200)),
           "reason": "store broken"}  # fmt: skip
    of = desk.write(act, ms, desk.chance.choice(("Q-1", "Q-1", "C-1")))
    desk.second(of, ms + _MINUTE)


def _other_test(desk: _Desk, ms: int) -> None:
    """Keep a tensile test or the hardness of a load, mostly of pieces of the lot it is told of."""
    chance, lot = desk.chance, desk.chance.choice(("L-1", "L-2"))
    what, characteristic, unit, result = chance.choice(
        (("tensile", "BC9", "lbf", "13000"), ("hardness load", "BC8", "HRC", "46.0"))
    )
    starts = [act.page.act for act in desk.shelf.acts if act.page.act.kind == "set-up start"]
    set_up = chance.choice([None, *(start.set_up for start in starts)])
    pieces = [
        {"piece": f"T-{n}", "lot": lot if chance.random() < 0.9 else "L-2", "result": result,
         "set_up": set_up if chance.random() < 0.9 else chance.choice((None, "SU-x")), "verdict": "In tolerance"}
        for n in range(2)
    ]  # fmt: skip
    act = {"kind": "test record", "number": f"T-{ms}", "what": what, "lot": lot, "part": "B",
           "characteristic": characteristic, "set_up": set_up, "method": "m", "frame": "G-15", "unit": unit,
           "pieces": pieces, "verdict": "In tolerance"}  # fmt: skip
    desk.write(act, ms, "Q-2")


def _ship(desk: _Desk, ms: int) -> None:
    act = {"kind": "lot ship", "lot": desk.lot(), "quantity": 100, "customer": "a customer (invented)", "order": "O-1"}
    desk.write(act, ms, "Q-1")


def _ways_back(desk: _Desk, ms: int) -> None:
    """Dispose of threads: scrap, what may never be, and tapping again more often than it may be."""
    chance = desk.chance
    for _ in range(chance.choice((1, 2, 3))):
        lot, part, what = chance.choice((("L-1", "B", "BC5"), ("L-2", "B", "BC1"), ("L-9", "N", "NC6"),
                                         ("L-9", "N", "NC6"), ("L-9", "N", "NC6")))  # fmt: skip
        act = {"kind": "disposition", "choice": chance.choice(("Scrap", "Rework to drawing", "Re-tap", "Re-tap")),
               "lot": lot, "part": part, "characteristic": what, "pieces": chance.choice((1, 12)), "reason": "bad",
               "tag": chance.choice((None, "T-1", "T-2"))}  # fmt: skip
        ms = max(ms, desk.moment()) if chance.random() < 0.5 else ms + _MINUTE
        desk.write(act, ms, chance.choice(("Q-1", "Q-2")))
