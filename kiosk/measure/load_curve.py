"""A load-extension curve of a tensile test: yield load by the offset method, and the ultimate load.

Owns the arithmetic on the points of one curve. The offset, and between which loads the curve is straight,
are the plan's to state. Knows nothing of files, frames or verdicts.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from kiosk.errors import OutsideTheTable
from kiosk.measure.rounding import EXACT

MOST_POINTS = 200_000
"""Points of one curve: a thousand a second for three minutes; more is a recording fault."""


@dataclass(frozen=True)
class Point:
    """One point of the curve, in the order it was recorded: extension and load, each in one unit throughout."""

    extension: Decimal
    load: Decimal


@dataclass(frozen=True)
class Yield:
    """The yield load by the offset method, with what it rests on."""

    load: Decimal
    """Where the curve first meets the offset line, on the straight line between the two points about it. Unrounded."""
    extension: Decimal
    stiffness: Decimal
    """Slope of the straight part, load over extension, by least squares."""
    zero_extension: Decimal
    """Where the straight part, drawn down, meets no load: the slack of the fixture."""
    points_used: int
    offset: Decimal


def ultimate_load(curve: Sequence[Point]) -> Decimal:
    """Give the largest load of the curve. Check by eye: it is one of the recorded loads, never between them.

    Raises:
        OutsideTheTable: the curve has no points, or more than `MOST_POINTS`.
    """
    _check_length(curve, least=1)
    return max(point.load for point in curve)


def yield_by_offset(curve: Sequence[Point], *, offset: Decimal, straight_from: Decimal, straight_to: Decimal) -> Yield:
    """Give the yield load: where the curve meets the line parallel to its straight part, `offset` further on.

    `offset` is an extension, in the curve's unit (0.2 % of the gauge length: 0.002 times it); the straight part is
    what was recorded up to the ultimate load between the two loads given, both included (ISO 6892-1, ASTM F606,
    NASM1312-8: the method and the offset are the specification's).

    Raises:
        OutsideTheTable: fewer than three points on the straight part, no rise in them, or the curve ends too soon.
    """
    _check_length(curve, least=4)
    peak = max(range(len(curve)), key=lambda index: curve[index].load)
    straight = [point for point in curve[: peak + 1] if straight_from <= point.load <= straight_to]
    stiffness, zero = _fit(straight)
    start = max(index for index in range(peak + 1) if straight_from <= curve[index].load <= straight_to)
    for before, after in zip(curve[start:], curve[start + 1 :], strict=False):
        gap_before, gap_after = (_gap(point, stiffness, zero, offset) for point in (before, after))
        if gap_before >= 0 >= gap_after and gap_before != gap_after:
            share = EXACT.divide(gap_before, EXACT.subtract(gap_before, gap_after))
            return Yield(
                load=_between(before.load, after.load, share),
                extension=_between(before.extension, after.extension, share),
                stiffness=stiffness,
                zero_extension=zero,
                points_used=len(straight),
                offset=offset,
            )
    raise _refuse("No yield load by the offset method.", "The curve ends before it meets the offset line.")


def _gap(point: Point, stiffness: Decimal, zero: Decimal, offset: Decimal) -> Decimal:
    """How far the curve still lies above the offset line at this extension."""
    line = EXACT.multiply(stiffness, EXACT.subtract(EXACT.subtract(point.extension, zero), offset))
    return EXACT.subtract(point.load, line)


def _fit(points: Sequence[Point]) -> tuple[Decimal, Decimal]:
    """Least squares of load on extension: slope, and extension at no load."""
    if len(points) < 3:
        raise _refuse("No straight part.", f"{len(points)} points lie between the two loads; three are the least.")
    count = Decimal(len(points))
    mean_extension = EXACT.divide(_total(point.extension for point in points), count)
    mean_load = EXACT.divide(_total(point.load for point in points), count)
    square = _total((point.extension - mean_extension) ** 2 for point in points)
    product = _total((point.extension - mean_extension) * (point.load - mean_load) for point in points)
    if square == 0 or product <= 0:
        raise _refuse("No straight part.", "The load does not rise with the extension between the two loads.")
    slope = EXACT.divide(product, square)
    return slope, EXACT.subtract(mean_extension, EXACT.divide(mean_load, slope))


def _total(values: Iterable[Decimal]) -> Decimal:
    total = Decimal(0)
    for value in values:
        total = EXACT.add(total, value)
    return total


def _between(first: Decimal, second: Decimal, share: Decimal) -> Decimal:
    return EXACT.add(first, EXACT.multiply(share, EXACT.subtract(second, first)))


def _check_length(curve: Sequence[Point], *, least: int) -> None:
    if not least <= len(curve) <= MOST_POINTS:
        raise _refuse("The curve was not read.", f"It has {len(curve)} points; {least} to {MOST_POINTS} are read.")


def _refuse(what: str, why: str) -> OutsideTheTable:
    return OutsideTheTable(what, why=why, next_step="Look at the curve and at the loads and offset the plan states.")
