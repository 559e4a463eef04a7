"""One reading judged again with the error of its gauge taken out: exact, limits included.

Owns the arithmetic: true = reading - error, with the worse of the errors at the neighbouring calibrated points.
Everything is a ratio of whole numbers, so that a true value on a limit is on the good side and nothing is rounded.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from typing import Final

from consolidator.frame.verdicts import Bounds
from consolidator.lookback.visits import Point
from kiosk.measure import units

SHOWN_PLACES: Final = 12
"""Decimals shown of a figure that has no end, such as millimetres in inches; it is cut, never rounded up."""


class Finding(StrEnum):
    """What became of a reading in question."""

    FAIL = "Would now fail"
    CANNOT = "Cannot tell"
    INSIDE = "Still inside"
    PASS = "Would now pass"


FINDINGS: Final = tuple(Finding)
"""Worst first: a lot's worst finding is the first of these that any of its readings has."""


@dataclass(frozen=True)
class Told:
    """What is found of a reading: the error taken out and the true value, in the unit of the limits; or why not."""

    finding: Finding
    error: Fraction | None = None
    true: Fraction | None = None
    why: str = ""


def cannot_tell(why: str) -> Told:
    """Return the finding of a reading about which nothing can be said."""
    return Told(Finding.CANNOT, why=why)


def neighbours(points: tuple[Point, ...], indicated: Fraction) -> tuple[Point, ...]:
    """Return the calibrated points on both sides of what the gauge showed; the one itself when it lies on it.

    None beyond the first or last point: nothing is known there. `points` are in order of size.
    """
    below = [point for point in points if point.at <= indicated]
    above = [point for point in points if point.at >= indicated]
    if not below or not above:
        return ()
    return (below[-1],) if below[-1].at == above[0].at else (below[-1], above[0])


def judge_again(value: Fraction, bounds: Bounds, errors: Iterable[Fraction], *, was_bad: bool) -> Told:
    """Return the finding of a reading with `value`, for the error that makes the worst of it.

    Of two errors with one finding, the one that brings the true value nearer to a limit, or further beyond it.
    """
    told = [(error, value - error) for error in errors]
    error, true = min(told, key=lambda each: (_room(bounds, each[1]), each[1]))
    if not bounds.has(true):
        return Told(Finding.FAIL, error, true)
    return Told(Finding.PASS if was_bad else Finding.INSIDE, error, true)


def _room(bounds: Bounds, true: Fraction) -> Fraction:
    """Return how far a value lies inside its nearer limit; negative outside."""
    rooms = [] if bounds.upper is None else [bounds.upper - true]
    rooms += [] if bounds.lower is None else [true - bounds.lower]
    return min(rooms)


def in_unit(value: Fraction, unit: str, other: str) -> Fraction | None:
    """Return a figure of `unit` in `other`, exactly; none when they are of different kinds."""
    if unit == other:
        return value
    if not units.are_alike(unit, other):
        return None
    return value * units.ratio(Decimal(1), unit, to=Decimal(1), to_unit=other)


def say_figure(value: Fraction) -> str:
    """Return a figure with all its decimals; one without end is cut and marked."""
    scale = 10**SHOWN_PLACES
    whole, rest = divmod(abs(value) * scale, 1)
    digits = f"{int(whole):0{SHOWN_PLACES + 1}d}"
    before, after = digits[:-SHOWN_PLACES], digits[-SHOWN_PLACES:]
    sign = "-" if value < 0 else ""
    if rest:
        return f"{sign}{before}.{after}…"
    after = after.rstrip("0")
    return f"{sign}{before}.{after}" if after else f"{sign}{before}"


def say_error(error: Fraction) -> str:
    """Return an error with its direction in words: `high by 0.0003`."""
    if error == 0:
        return "true"
    return f"{'high' if error > 0 else 'low'} by {say_figure(abs(error))}"
