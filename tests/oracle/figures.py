"""From what was keyed to an exact figure, its limits, and the slips of hand and eye that fit (3.1 N5, 3.2).

Every figure is a fraction; the only rounding is the one the rules ask for (nine decimals of a computed value).
"""

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from kiosk.lists import Characteristic, Gauge, Master, PlantNumbers
from kiosk.lists.words import CharacteristicKind, Feature, MasterKind
from kiosk.pages.words import KeyedAs, Verdict

FIGURES = (CharacteristicKind.TWO_SIDED, CharacteristicKind.UPPER, CharacteristicKind.LOWER)
GAUGED = (CharacteristicKind.ACCEPT_REJECT, CharacteristicKind.VISUAL)

# NIST Special Publication 811, appendix B: 1 in = 25.4 mm and 1 lbf = 4.448 221 615 260 5 N, both exact.
_UNITS = {
    "in": ("length", Fraction("25.4")),
    "mm": ("length", Fraction(1)),
    "um": ("length", Fraction("0.001")),
    "lbf": ("force", Fraction("4.4482216152605")),
    "N": ("force", Fraction(1)),
    "kN": ("force", Fraction(1000)),
}
_DEGREES_60 = Fraction("0.866025")
"""Factor of the pitch in the rule for 60 degree threads over wires (3.2.3)."""


def number_in(text: str) -> Fraction | None:
    """Return the number a person keyed; none when it is not one plain decimal of at most 9 and 9 digits."""
    text = text.strip(" ")
    is_minus = text[:1] in ("-", "−")
    if text[:1] in ("+", "-", "−"):
        text = text[1:]
    before, _, after = text.replace(",", ".").partition(".")
    letters = before + after
    if not letters or any(letter not in "0123456789" for letter in letters):
        return None
    if len(before.lstrip("0")) > 9 or len(after) > 9:
        return None
    value = Fraction(f"{before or '0'}.{after}" if after else before or "0")
    return -value if is_minus else value


def alike(unit: str, other: str) -> bool:
    """True when figures in the two units can be compared."""
    return unit == other or (unit in _UNITS and other in _UNITS and _UNITS[unit][0] == _UNITS[other][0])


def in_unit(value: Fraction, unit: str, wanted: str) -> Fraction:
    """Return a figure of `unit` in the unit wanted, exactly."""
    return value if unit == wanted else value * _UNITS[unit][1] / _UNITS[wanted][1]


def is_length(unit: str) -> bool:
    """True for inches, millimetres and the like."""
    return unit in _UNITS and _UNITS[unit][0] == "length"


def nine_places(value: Fraction) -> Fraction:
    """Return a computed value as it is carried into the comparison: to nine decimals, half to even."""
    return Fraction(round(value * 10**9), 10**9)


@dataclass(frozen=True)
class Keyed:
    """One way of keying: all that makes a figure of a text."""

    keyed_as: str
    unit: str
    characteristic: Characteristic | None
    gauge: Gauge | None
    master: Master | None
    is_master_named: bool


@dataclass(frozen=True)
class Figure:
    """What the gauge showed, the value, and the value with plus and minus mistaken; in the unit keyed."""

    shown: Fraction | None = None
    value: Fraction | None = None
    mirrored: Fraction | None = None


def figure_of(text: str, how: Keyed) -> Figure:
    """Return the figure that a text stands for, by the way it was keyed."""
    number = number_in(text)
    if number is None or how.keyed_as == KeyedAs.ACCEPT_REJECT:
        return Figure()
    if how.keyed_as == KeyedAs.DIVISIONS:
        if how.gauge is None or how.gauge.least_count is None:
            return Figure()
        return _from_zero(number * Fraction(how.gauge.least_count), how)
    if how.keyed_as == KeyedAs.DEVIATION:
        return _from_zero(number, how)
    if how.keyed_as == KeyedAs.OVER_WIRES:
        return Figure(number, _over_wires(number, how))
    return Figure(number, number)


def _from_zero(deviation: Fraction, how: Keyed) -> Figure:
    if not how.is_master_named:
        needs_master = how.gauge is None or how.gauge.kind.is_comparator
        return Figure(deviation) if needs_master else Figure(deviation, deviation)
    size = _certified(how)
    if size is None:
        return Figure(deviation)
    return Figure(deviation, size + deviation, size - deviation)


def _certified(how: Keyed) -> Fraction | None:
    """Return the certified size of the master in the unit keyed; from another unit to nine decimals."""
    if how.master is None or how.master.size is None:
        return None
    size, unit = Fraction(how.master.size), how.master.unit or how.unit
    if unit == how.unit:
        return size
    return nine_places(in_unit(size, unit, how.unit)) if alike(unit, how.unit) else None


def _over_wires(measured: Fraction, how: Keyed) -> Fraction | None:
    wire, pitch = _certified(how), _pitch(how)
    if wire is None or pitch is None or not wires_fit(how.characteristic, how.master):
        return None
    return nine_places(measured - 3 * wire + _DEGREES_60 * pitch)


def _pitch(how: Keyed) -> Fraction | None:
    what = how.characteristic
    if what is None or not is_length(how.unit):
        return None
    if what.threads_per_inch is not None:
        return in_unit(1 / Fraction(what.threads_per_inch), "in", how.unit)
    return None if what.pitch_mm is None else in_unit(Fraction(what.pitch_mm), "mm", how.unit)


def wires_fit(what: Characteristic | None, wires: Master | None) -> bool:
    """True when the master is a wire set made for the pitch that the plan measures over wires."""
    if what is None or wires is None or wires.kind is not MasterKind.WIRES:
        return False
    pairs = ((what.threads_per_inch, wires.threads_per_inch), (what.pitch_mm, wires.pitch_mm))
    return all(
        wanted is None or (made_for is not None and Fraction(made_for) == Fraction(wanted))
        for wanted, made_for in pairs
    )


@dataclass(frozen=True)
class Limits:
    """Lower and upper limit in the drawing's unit; either may be none. Both belong to the good side."""

    lower: Fraction | None
    upper: Fraction | None

    def has(self, value: Fraction) -> bool:
        """True when a value is inside or on a limit."""
        return not (self.lower is not None and value < self.lower) and not (
            self.upper is not None and value > self.upper
        )


def limits_of(what: Characteristic) -> Limits | None:
    """Return the limits a figure of the characteristic is held against; none when the plan has none."""
    lower = None if what.lower is None else Fraction(what.lower)
    upper = None if what.upper is None else Fraction(what.upper)
    if what.kind is CharacteristicKind.TWO_SIDED:
        return Limits(lower, upper) if lower is not None and upper is not None else None
    if what.kind is CharacteristicKind.UPPER:
        return Limits(None, upper) if upper is not None else None
    if what.kind is CharacteristicKind.LOWER:
        return Limits(lower, None) if lower is not None else None
    if what.kind is CharacteristicKind.COUNT:
        return Limits(lower, upper) if lower is not None or upper is not None else None
    return None


def window_of(limits: Limits, numbers: PlantNumbers) -> Limits:
    """Return the believable window (N5)."""
    if limits.lower is not None and limits.upper is not None:
        wider = Fraction(numbers.window_tolerances) * (limits.upper - limits.lower)
        return Limits(limits.lower - wider, limits.upper + wider)
    if limits.upper is not None:
        return Limits(Fraction(0), Fraction(numbers.window_upper_times) * limits.upper)
    assert limits.lower is not None
    times = Fraction(numbers.window_lower_from_times), Fraction(numbers.window_lower_to_times)
    return Limits(times[0] * limits.lower, times[1] * limits.lower)


def comparable(value: Fraction | None, unit: str, what: Characteristic) -> Fraction | None:
    """Return a figure in the drawing's unit; none when the two cannot be compared."""
    if value is None:
        return None
    if what.kind not in FIGURES:
        return in_unit(value, unit, what.unit) if alike(unit, what.unit) else value
    return in_unit(value, unit, what.unit) if alike(unit, what.unit) else None


def verdict_of(text: str, value: Fraction | None, what: Characteristic) -> Verdict:
    """Return what a text says of a piece; `value` is its figure in the drawing's unit."""
    word = {"Accept": Verdict.ACCEPT, "Reject": Verdict.REJECT}.get(text, Verdict.NOT_JUDGED)
    if what.kind in GAUGED:
        return word
    if what.kind is CharacteristicKind.TURNS:
        if value is None or value < 0 or what.turns_allowed is None:
            return word
        return Verdict.ACCEPT if value <= Fraction(what.turns_allowed) else Verdict.REJECT
    limits = limits_of(what)
    if limits is None or value is None or (value < 0 and what.feature is Feature.FACE_RUNOUT):
        return Verdict.NOT_JUDGED
    return Verdict.IN if limits.has(value) else Verdict.OUT


def slips_of(text: str, how: Keyed, what: Characteristic, numbers: PlantNumbers) -> frozenset[str]:
    """Return X26, X27, X28 and X30 as they fit a figure outside the believable window; nothing for one inside."""
    limits = limits_of(what)
    value = comparable(figure_of(text, how).value, how.unit, what)
    if limits is None or value is None or what.kind not in FIGURES:
        return frozenset()
    window = window_of(limits, numbers)
    if window.has(value):
        return frozenset()
    found = set()
    if value and any(window.has(value * Fraction(10) ** k) for k in (-5, -4, -3, -2, -1, 1, 2, 3, 4, 5)):
        found.add("X26")
    if value and is_length(how.unit) and (window.has(value / Fraction("25.4")) or window.has(value * Fraction("25.4"))):
        found.add("X27")
    for other in _swapped(text):
        swapped = comparable(figure_of(other, how).value, how.unit, what)
        if swapped is not None and limits.has(swapped):
            found.add("X28")
    return frozenset(found or {"X30"})


def is_mirror_in(text: str, how: Keyed, what: Characteristic) -> bool:
    """True when a deviation is out and the same one with the other sign would be in (X29)."""
    limits, figure = limits_of(what), figure_of(text, how)
    value, mirrored = (comparable(each, how.unit, what) for each in (figure.value, figure.mirrored))
    if limits is None or value is None or mirrored is None or what.kind not in FIGURES:
        return False
    return verdict_of(text, value, what) is Verdict.OUT and limits.has(mirrored)


def _swapped(text: str) -> list[str]:
    places = [at for at, letter in enumerate(text) if letter in "0123456789"]
    swapped = []
    for left, right in pairwise(places):
        letters = list(text)
        letters[left], letters[right] = letters[right], letters[left]
        if letters != list(text):
            swapped.append("".join(letters))
    return swapped


def is_same_thread(one: str, other: str) -> bool:
    """True when two designations of the Unified series name one thread: size, pitch, form and class."""
    return _thread(one) == _thread(other)


def _thread(text: str) -> tuple[Fraction, str, str]:
    size_and_pitch, _, form_and_class = text.strip().partition(" ")
    size, _, pitch = size_and_pitch.partition("-")
    return Fraction(size if "/" in size else f"0{size}"), pitch, form_and_class.replace(" ", "").upper()
