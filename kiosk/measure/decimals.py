"""Exact decimals: from what was keyed to a figure that is compared as it stands on paper.

Owns reading a keyed figure, its canonical text, exact arithmetic and billionths of a unit.
Knows nothing of limits, gauges or screens; nothing here is ever rounded.
"""

import re
from decimal import MAX_EMAX, MIN_EMIN, Context, Decimal, Inexact, InvalidOperation, Rounded
from typing import Final

from kiosk.errors import NotANumber
from kiosk.said import Said, say

BILLION: Final = 1_000_000_000
"""Frames hold a value as this many parts of its unit."""
LARGEST_NANO: Final = 2**63 - 1
"""What an int64 holds: a little over 9 223 372 036 units."""
DIGITS_BEFORE: Final = 9
"""Digits before the point: a fatigue count has seven, and nine always fit an int64 of billionths."""
DIGITS_AFTER: Final = 9
"""Digits after the point: more than any gauge reads, and as many as billionths hold."""

_KEYED: Final = re.compile(r"([+\-\u2212]?)([0-9]*)(?:[.,]([0-9]*))?")
_EXACT: Final = Context(prec=80, Emax=MAX_EMAX, Emin=MIN_EMIN, traps=[Inexact, Rounded, InvalidOperation])


def read_figure(keyed: str) -> str:
    """Return the exact decimal that was keyed, in canonical text: `.3122` gives `0.3122`, `12,800` gives `12.800`.

    Comma and point are the same key; trailing zeros stay as keyed; there are no thousands marks.

    Raises:
        NotANumber: the text is not one plain decimal of at most 9 digits before and 9 after the point.
    """
    found = _KEYED.fullmatch(keyed.strip(" "))
    if found is None:
        raise _not_a_number(say("It is not one plain number."))
    sign, before, after = found.group(1), found.group(2), found.group(3) or ""
    if not before and not after:
        raise _not_a_number(say("There is no digit in it."))
    before = before.lstrip("0") or "0"
    if len(before) > DIGITS_BEFORE or len(after) > DIGITS_AFTER:
        raise _not_a_number(
            say(
                "It has more than {before} digits before the point or {after} after it.",
                before=DIGITS_BEFORE,
                after=DIGITS_AFTER,
            )
        )
    figure = f"{before}.{after}" if after else before
    is_minus = sign not in ("", "+") and any(digit in "123456789" for digit in before + after)
    return f"-{figure}" if is_minus else figure


def to_decimal(figure: str) -> Decimal:
    """Return the exact decimal of a canonical figure; its trailing zeros stay."""
    return Decimal(figure)


def write_figure(value: Decimal) -> str:
    """Return the canonical text of an exact decimal: never an exponent, a digit before the point, no minus zero."""
    text = format(value, "f")
    return text.removeprefix("-") if not value else text


def add(*values: Decimal) -> Decimal:
    """Return the exact sum."""
    total = Decimal(0)
    for value in values:
        total = _EXACT.add(total, value)
    return total


def subtract(value: Decimal, other: Decimal) -> Decimal:
    """Return the exact difference `value - other`."""
    return _EXACT.subtract(value, other)


def multiply(value: Decimal, other: Decimal) -> Decimal:
    """Return the exact product."""
    return _EXACT.multiply(value, other)


def is_whole_number_of(value: Decimal, step: Decimal) -> bool:
    """True when `value` is a whole number of `step`s, zero and negative numbers included."""
    places = min(int(value.as_tuple().exponent), int(step.as_tuple().exponent))
    return int(value.scaleb(-places, _EXACT)) % int(step.scaleb(-places, _EXACT)) == 0


def to_nano(value: Decimal) -> int:
    """Return `value` in billionths of its unit, exactly.

    Raises:
        ValueError: finer than a billionth, or too large for 64 bits.
    """
    scaled = value.scaleb(9, _EXACT)
    nano = int(scaled)
    if nano != scaled or abs(nano) > LARGEST_NANO:
        raise ValueError(f"{value} does not fit whole billionths in 64 bits")
    return nano


def from_nano(nano: int) -> Decimal:
    """Return the exact decimal of `nano` billionths, without needless zeros: 312 550 000 gives 0.31255."""
    sign = "-" if nano < 0 else ""
    whole, part = divmod(abs(nano), BILLION)
    after = f"{part:09d}".rstrip("0")
    return Decimal(f"{sign}{whole}.{after}" if after else f"{sign}{whole}")


def _not_a_number(why: Said) -> NotANumber:
    return NotANumber(say("Not kept."), why=why, next_step=say("Look again and key the whole reading."))
