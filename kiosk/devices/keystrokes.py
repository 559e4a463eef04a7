"""Key strokes with their times: a scanner's burst is a code, anything slower is a person's keys.

A scanner set up as a keyboard types a whole code within a few milliseconds a character and ends it with Enter.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple

SCAN_GAP_MS: Final = 35.0
"""Longest pause inside a code; scanners type 1-20 ms a character, a fast person seldom under 60 ms."""
CODE_GAP_MS: Final = 120.0
"""The same for a code that holds a letter: no key of a number pad is one, so there is nothing to mistake it for."""
SCAN_LENGTH: Final = 3
"""Shortest code; two keys of a hand that rolls over from one to the next can come as close as a scanner's."""


class Stroke(NamedTuple):
    """One key and when it went down, in milliseconds of the page's clock."""

    key: str
    at_ms: float


class Scanned(NamedTuple):
    """A code from a scanner, without its Enter."""

    code: str


class Pressed(NamedTuple):
    """One key of a person, by what it means: a digit, `.`, `+`, `-`, `keep`, `back one` or `more`."""

    key: str


MEANING: Final = {
    "Enter": "keep",
    "Backspace": "back one",
    "/": "back one",
    "*": "more",
    "Escape": "pick back",
    ",": ".",
    ".": ".",
    "+": "+",
    "-": "-",
    **{digit: digit for digit in "0123456789"},
}
"""What a person's key means, so that everything can be done from a plugged-in number pad."""


class Strokes:
    """The strokes of one page as they come in, in pieces; a code that was cut in two on the way is put together."""

    def __init__(self) -> None:
        self._held: list[Stroke] = []

    def take(self, strokes: Sequence[Stroke]) -> tuple[Scanned | Pressed, ...]:
        """Return what is known now; the beginning of a code is held until the rest is here."""
        held, self._held = self._held, []
        is_one = bool(held) and bool(strokes) and strokes[0].at_ms - held[-1].at_ms <= CODE_GAP_MS
        before = () if is_one else read_burst(held)
        whole = [*held, *strokes] if is_one else list(strokes)
        ends = max((place for place, stroke in enumerate(whole) if stroke.key == "Enter"), default=-1) + 1
        rest = whole[ends:]
        if not any(stroke.key.isalpha() for stroke in rest):
            return (*before, *read_burst(whole))
        self._held = rest
        return (*before, *read_burst(whole[:ends]))


def read_burst(strokes: Sequence[Stroke]) -> tuple[Scanned | Pressed, ...]:
    """Return what a run of key strokes says, in order; letters that no scanner sent mean nothing."""
    found: list[Scanned | Pressed] = []
    start = 0
    for place, stroke in enumerate(strokes):
        if stroke.key == "Enter":
            found += _read_line(strokes[start : place + 1])
            start = place + 1
    return (*found, *_as_person(strokes[start:]))


def _read_line(line: Sequence[Stroke]) -> list[Scanned | Pressed]:
    first = len(line) - 1
    gap_ms = CODE_GAP_MS if any(stroke.key.isalpha() for stroke in line[:-1]) else SCAN_GAP_MS
    while first > 0 and line[first].at_ms - line[first - 1].at_ms <= gap_ms:
        first -= 1
    code = line[first:-1]
    if len(code) < SCAN_LENGTH:
        return list(_as_person(line))
    return [*_as_person(line[:first]), Scanned("".join(stroke.key for stroke in code))]


def _as_person(strokes: Sequence[Stroke]) -> tuple[Pressed, ...]:
    return tuple(Pressed(MEANING[stroke.key]) for stroke in strokes if stroke.key in MEANING)
