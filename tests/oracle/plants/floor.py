"""What happens at a station between readings: checks, heats, counts, rework, and long runs of samples.

Everything here is a page that some rule hangs on; most are in order, some just miss it.
"""

from collections.abc import Callable, Mapping
from fractions import Fraction
from random import Random
from typing import Any, Protocol

from kiosk.lists import Characteristic
from kiosk.lists.words import CharacteristicKind

_MINUTE = 60_000
COMPARATORS = ("G-3", "G-13")
TESTERS = ("G-14", "G-15")


class Work(Protocol):
    """A kiosk at work, as far as what happens beside the readings needs it."""

    chance: Random
    now: int
    is_calm: bool
    person: str | None
    station: str
    lot: str
    operation: str
    set_up: str | None
    sample: int
    piece: int

    def keep(self, act: Mapping[str, Any], *, person: str | None = None) -> str:
        """Keep a page."""
        ...

    def measure(self, what: Characteristic, gauge: tuple[str | None, str | None], keyed: Mapping[str, Any]) -> str:
        """Keep a reading of the next piece as it is, without slips."""
        ...

    def planned(self) -> list[Characteristic]:
        """Return the characteristics of the operation under way."""
        ...


def check_of(chance: Random, gauge: str) -> dict[str, Any]:
    """Return a zero check, or a day check where the gauge needs one: good, at its limit, or failed by a hair."""
    is_tester = gauge in TESTERS
    unit, step = ("HRC", "0.1") if gauge == "G-14" else ("lbf", "1") if is_tester else ("in", "0.00001")
    limit = 10 if is_tester else chance.choice((5, 5, 5, 8, 11))
    named = () if is_tester else chance.choice(((), ("B:BC1",), ("N:NC5",), ("N:NC1", "B:BC2"), ("B:ZZ", "N:NC2")))
    error = chance.choice((0, 0, 0, 1, -2, 4, -5, 6, limit, -limit, limit + 1, -limit - 1))
    kind = "day check" if is_tester and chance.random() < 0.97 else "zero check"
    master = {"G-14": "HB-1", "G-15": None}.get(gauge, chance.choice(("M-1", "M-1", "M-3", None)))
    return {
        "kind": "check", "check_kind": kind, "gauge": gauge, "master": master, "keyed": "0", "unit": unit,
        "error": _figure(error * Fraction(step)), "limit": _figure(limit * Fraction(step)),
        "verdict": "Good" if abs(error) <= limit else "Failed", "characteristics": named,
    }  # fmt: skip


def check_gauges(work: Work) -> None:
    """Check what is going to be used, as a person does who begins; now and then somebody else did, or nobody."""
    usual = 0.85 if work.is_calm else 0.5
    for gauge in TESTERS if work.operation == "40" else COMPARATORS:
        if work.chance.random() > usual:
            continue
        for _ in range(work.chance.choice((1, 1, 1, 2))):
            person = work.person if work.chance.random() < 0.9 else "P-4"
            work.keep(check_of(work.chance, gauge), person=person)
            work.now += work.chance.choice((0, 1, _MINUTE))


def tell_lot(work: Work) -> None:
    """Scan the heat, count pieces, read the machine's counter."""
    chance = work.chance
    if chance.random() < 0.12:
        work.keep({"kind": "heat scan", "lot": work.lot, "heat": chance.choice(("H-1", "H-1", "H-2", "H-9"))})
    for _ in range(chance.choice((1, 1, 2)) if chance.random() < 0.15 else 0):
        good, scrap, test = chance.choice((480, 490)), chance.choice((10, 20)), chance.choice((0, 3))
        in_hand = 500 - good - scrap - test + chance.choice((0, 0, 1, -1))
        work.keep({"kind": "piece count", "lot": work.lot, "operation": work.operation, "pieces_in": 500,
                   "good": good, "scrap": scrap, "test": test, "in_hand": max(in_hand, 0)})  # fmt: skip
        work.now += chance.choice((1, _MINUTE))
    if chance.random() < 0.15:
        work.keep({"kind": "machine counter", "machine": f"MC-{work.station}", "at": chance.choice(("start", "end")),
                   "pieces": chance.choice((0, 90, 100, 101, 480, 600))})  # fmt: skip


def run_long(work: Work) -> None:
    """Take a long run of samples of one characteristic: rising or falling, or heaped up beside a limit."""
    figures = [
        w for w in work.planned() if w.kind is CharacteristicKind.TWO_SIDED and w.number in ("BC1", "BC2", "BC8")
    ]
    if not figures:
        return
    what = work.chance.choice(figures)
    if work.chance.random() < 0.75:
        _drift(work, what)
    else:
        _heap(work, what)


_STEPS = {"BC1": Fraction(1, 10**5), "BC2": Fraction(1, 10**5), "BC8": Fraction(1, 10)}
_BEST = {"BC1": ("G-2", None), "BC2": ("G-2", None), "BC8": ("G-14", None)}


def _drift(work: Work, what: Characteristic) -> None:
    chance, step = work.chance, _STEPS[what.number]
    way, middle = chance.choice((1, 1, -1)), (Fraction(what.lower or 0) + Fraction(what.upper or 0)) / 2
    value, break_at = middle - way * 4 * step, chance.choice((None, None, None, 3, 6))
    for place in range(chance.choice((6, 7, 7, 8, 9))):
        work.sample += 1
        value += way * step if place != break_at else chance.choice((0, -way * step))
        for piece in range(2):
            swing = 0 if chance.random() < 0.8 else chance.choice((step, -step))
            work.measure(what, _BEST[what.number], {"keyed": _figure(value + swing * (1 - 2 * piece)),
                                                    "keyed_as": "value", "unit": what.unit})  # fmt: skip
            work.now += 4000
        work.now += chance.choice((5, 29)) * _MINUTE


def _heap(work: Work, what: Characteristic) -> None:
    """Put many figures into the cell just inside a limit, a third as many into the next two, and hardly any outside."""
    chance = work.chance
    gauge, cell = (("G-14", None), Fraction(1, 10)) if what.number == "BC8" else (("G-2", None), Fraction(1, 20_000))
    is_upper = chance.random() < 0.5
    limit, way = Fraction((what.upper if is_upper else what.lower) or 0), -1 if is_upper else 1
    inside, next_two = chance.choice(
        ((12, (4, 4)), (12, (4, 4)), (10, (3, 3)), (9, (1, 1)), (11, (4, 4)), (15, (6, 4)))
    )
    cells = [0] * inside + [1] * next_two[0] + [2] * next_two[1] + ([-1] if chance.random() < 0.25 else [])
    cells += [4] * chance.choice((200 - len(cells), 201 - len(cells), 205, 60))
    if chance.random() < 0.8:
        chance.shuffle(cells)
    work.sample += 1
    for place in cells:
        work.measure(what, gauge, {"keyed": _figure(limit + way * place * cell), "keyed_as": "value",
                                   "unit": what.unit})  # fmt: skip
        work.now += chance.choice((4000, 8000))


def rework(work: Work, words: Callable[[Characteristic], Mapping[str, Any]]) -> None:
    """Look at pieces again after they were worked again, lawful or not; some more often than they may be."""
    chance = work.chance
    for what in work.planned():
        if what.number not in ("BC5", "BC6", "BC4", "NC6", "NC1", "BC1") or chance.random() < 0.5:
            continue
        kind = "re-check after rework" if what.part == "B" or chance.random() < 0.2 else "re-measure after re-tap"
        gauge = {"BC5": "G-5", "BC6": "G-6", "BC4": "G-4", "NC6": "G-16", "NC1": "G-8", "BC1": "G-2"}[what.number]
        work.piece += 1
        for _ in range(chance.choice((1, 1, 2, 3))):
            master = "W-24" if what.number == "BC4" else None
            work.measure(what, (gauge, master), {**words(what), "sample_kind": kind, "piece": work.piece})
            work.now += chance.choice((8000, _MINUTE))


def _figure(value: Fraction) -> str:
    """Return a figure as pages hold it."""
    digits = 0
    while (value * 10**digits).denominator != 1:
        digits += 1
    whole = abs(int(value * 10**digits))
    text = str(whole).rjust(digits + 1, "0")
    text = text if digits == 0 else f"{text[:-digits]}.{text[-digits:]}"
    return f"-{text}" if value < 0 else text
