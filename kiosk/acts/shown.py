"""What a screen shows, as a value: sentences, keys, a pad, a figure, a bar. Nothing here draws or decides.

Owns the shape of a screen, so that it can be tested, said in another language and measured without a browser.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from kiosk.judge import comparable_in, limits_in
from kiosk.lists import Characteristic, Gauge
from kiosk.lists.words import GaugeKind
from kiosk.pages.readings import Reading
from kiosk.station import Said, say


class Mark(StrEnum):
    """How a sentence weighs; each has a shape, a word and a colour, never a colour alone."""

    STOP = "STOP"
    LOOK = "LOOK"
    OK = "OK"
    PLAIN = ""


class Pad(StrEnum):
    """Which keys a pad has."""

    FIGURE = "figure"
    DIVISIONS = "divisions"
    NUMBER = "number"


@dataclass(frozen=True)
class Told:
    """One sentence with its mark."""

    words: Said
    mark: Mark = Mark.PLAIN


@dataclass(frozen=True)
class Choice:
    """One key with words; `act` is what the screen is told when it is pressed."""

    words: Said
    act: str
    is_strong: bool = False
    detail: Said | None = None
    """A second line in lighter type."""
    picture: GaugeKind | None = None
    """The kind of gauge that the key is for, shown as a picture beside the words."""


@dataclass(frozen=True)
class Bar:
    """Where a kept value lies: shares of the bar's length, 0 to 1; none where there is no such limit."""

    dot: float
    lower: float | None
    upper: float | None
    lower_words: str = ""
    upper_words: str = ""


@dataclass(frozen=True)
class Ruler:
    """A line to hold a ruler against."""

    long_mm: int


@dataclass(frozen=True)
class Shown:
    """One screen. With a pad, `figure` is what is keyed so far; `apart` puts two choices far from each other."""

    title: Said
    told: tuple[Told, ...] = ()
    choices: tuple[Choice, ...] = ()
    pad: Pad | None = None
    figure: str | None = None
    figure_words: Said | None = None
    bar: Bar | None = None
    is_apart: bool = False
    has_back: bool = True
    count_words: Said | None = None
    """How far a sample is."""
    choices_a_page: int = 5
    """Five keys of 22 mm stand below each other on the smallest panel; four have room for a third line."""
    ruler: Ruler | None = None


def gauge_choice(gauge: Gauge) -> Choice:
    """Return the key for a gauge: its number and kind in words, and the picture of its kind."""
    return Choice(say("{number} {kind}", number=gauge.number, kind=gauge.kind), gauge.number, picture=gauge.kind)


def mark_of(sentence: Said) -> Mark:
    """Return the mark of a station's sentence: those that stop the work say so themselves."""
    return Mark.STOP if sentence.startswith("STOP") else Mark.LOOK


def told_of(sentences: tuple[Said, ...]) -> tuple[Told, ...]:
    """Return a station's sentences with their marks, the worst first."""
    return tuple(Told(one, mark_of(one)) for one in sentences)


def meant_on_a_number_pad(key: str, shown: Shown, *, is_cut: bool) -> str:
    """Return what a key of a plugged-in number pad means on a screen, so that all of it is in reach of its few keys.

    Where sentences are cut off (`is_cut`), the star reads on as the key does that stands in the place of More; on
    screens without a pad the point does too. With nothing keyed there is nothing to take back: the slash goes back.
    """
    if is_cut and ((key == "more" and shown.has_back) or (key == "." and shown.pad is None)):
        return "read on"
    if key == "back one" and shown.pad is not None and not shown.figure and shown.has_back:
        return "pick back"
    return key


def bar_of(what: Characteristic, act: Reading) -> Bar | None:
    """Return where the kept value lies between the limits: the limits a quarter from each end."""
    limits = limits_in(what, act.unit)
    if limits is None or act.value is None:
        return None
    value = Fraction(comparable_in(Decimal(act.value), what, act.unit))
    lower = None if limits.lower is None else Fraction(limits.lower)
    upper = None if limits.upper is None else Fraction(limits.upper)
    low = lower if lower is not None else Fraction(0) if upper is not None and upper > 0 else None
    high = upper if upper is not None else None if lower is None else lower * 2
    if low is None or high is None or low == high:
        return None
    place = Fraction(1, 4) + (value - low) / (high - low) / 2
    return Bar(
        dot=float(min(Fraction(99, 100), max(Fraction(1, 100), place))),
        lower=None if lower is None else 0.25, upper=None if upper is None else 0.75,
        lower_words=_drawn(what.lower, what.unit), upper_words=_drawn(what.upper, what.unit),
    )  # fmt: skip


def _drawn(limit: str | None, unit: str) -> str:
    """Return a limit in the drawing's style: an inch figure without the nought before its point."""
    if limit is None:
        return ""
    return limit.removeprefix("0") if unit == "in" and limit.startswith("0.") else limit
