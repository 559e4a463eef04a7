"""Slips of hand and eye that fit a reading which is hard to believe.

Owns naming them; applies none of them, and never says which value it had in mind.
Knows nothing of gauges, people or screens.
"""

from collections.abc import Callable
from decimal import Decimal
from itertools import pairwise
from typing import Final

from kiosk.measure.limits import Limits, Window
from kiosk.measure.units import between_inch_and_mm, is_length

DECIMAL_PLACE: Final = "X26"
OTHER_UNIT: Final = "X27"
SWAPPED: Final = "X28"
PLUS_MINUS: Final = "X29"
NOT_BELIEVABLE: Final = "X30"

PLACES: Final = (-5, -4, -3, -2, -1, 1, 2, 3, 4, 5)
"""How many places a decimal point may have slipped."""


def fitting_slips(
    value: Decimal,
    *,
    unit: str,
    keyed: str,
    limits: Limits,
    window: Window,
    value_of: Callable[[str], Decimal | None],
) -> tuple[str, ...]:
    """Return every slip that fits a `value` outside `window`, in order of number; none for a believable one.

    `value_of` turns a keyed text into its value by the same rule as `keyed` became `value`; the digits swapped are
    those the person keyed, so that a swap in a reading over wires is found in what was keyed, not in the result.
    """
    if window.has(value):
        return ()
    found = [
        number
        for number, fits in (
            (DECIMAL_PLACE, _is_decimal_slip(value, window)),
            (OTHER_UNIT, _is_unit_slip(value, unit, window)),
            (SWAPPED, _is_swap(keyed, limits, value_of)),
        )
        if fits
    ]
    return tuple(found) or (NOT_BELIEVABLE,)


def swapped_neighbours(keyed: str) -> tuple[str, ...]:
    """Return `keyed` with each pair of different neighbouring digits swapped once; the point stays where it is.

    Example: `.3142` gives `.1342`, `.3412` and `.3124`.
    """
    places = [place for place, letter in enumerate(keyed) if letter.isdigit()]
    swapped = []
    for left, right in pairwise(places):
        if keyed[left] != keyed[right]:
            letters = list(keyed)
            letters[left], letters[right] = letters[right], letters[left]
            swapped.append("".join(letters))
    return tuple(swapped)


def _is_decimal_slip(value: Decimal, window: Window) -> bool:
    return value != 0 and any(window.has(value.scaleb(places)) for places in PLACES)


def _is_unit_slip(value: Decimal, unit: str, window: Window) -> bool:
    return value != 0 and is_length(unit) and any(window.has(other) for other in between_inch_and_mm(value))


def _is_swap(keyed: str, limits: Limits, value_of: Callable[[str], Decimal | None]) -> bool:
    values = (value_of(text) for text in swapped_neighbours(keyed))
    return any(value is not None and limits.has(value) for value in values)
