"""The check character printed at the end of a gauge or lot number, for numbers typed by hand.

ISO/IEC 7064, pure system MOD 37-2: digits and Latin letters, one check character out of 0-9, A-Z and *.
37 is a prime, so it catches every one-character slip and every swap of two neighbours.
Marks between the characters (`-`, `.`, `/`, spaces) carry no weight. Owns nothing but this arithmetic.
"""

from typing import Final

from kiosk.errors import NumberMistyped
from kiosk.said import say

CHARACTERS: Final = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"
"""Each character's value is its place; `*` may only be the check character."""
MODULUS: Final = 37


def check_character(number: str) -> str:
    """Return the check character of `number`, e.g. `K` for a number that is printed with a K behind it.

    Raises:
        ValueError: the number holds no digit or letter of ISO/IEC 7064's alphabet.
    """
    product = 0
    core = compact(number)
    if not core or "*" in core:
        raise ValueError(f"{number} holds nothing a check character can be made of")
    for character in core:
        product = (product + CHARACTERS.index(character)) * 2 % MODULUS
    return CHARACTERS[(1 - product) % MODULUS]


def printed_number(number: str) -> str:
    """Return `number` as it is printed under its code: the number, a dash, its check character."""
    return f"{number}-{check_character(number)}"


def read_typed(typed: str) -> str:
    """Return the number in `typed`, without its check character and the mark before it.

    Raises:
        NumberMistyped: the check character does not fit; the number is never put right by the program.
    """
    text = typed.strip().upper()
    core, check = text[:-1].rstrip("-./ "), text[-1:]
    try:
        is_good = check_character(core) == check
    except ValueError:
        is_good = False
    if not is_good:
        raise NumberMistyped(
            say("Not taken: number {number} fails its check character.", number=text or "-"),
            why=say("A character was missed, slipped or swapped, or the check character at the end was left out."),
            next_step=say("Scan it again, or key the whole number printed under the code."),
        )
    return core


def compact(number: str) -> str:
    """Return the characters of `number` that carry weight, in capitals.

    Raises:
        ValueError: a character is none of ISO/IEC 7064's alphabet and no mark.
    """
    core = "".join(character for character in number.upper() if character not in "-./ ")
    if any(character not in CHARACTERS for character in core):
        raise ValueError(f"{number} holds a character that no check character is made for")
    return core
