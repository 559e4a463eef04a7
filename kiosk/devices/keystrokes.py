"""Key strokes with their times: a scanner's burst is a code, anything slower is a person's keys.

A scanner set up as a keyboard types a whole code within a few milliseconds a character and ends it with Enter or Tab.
What a scanner began and did not end is told as cut short: it is never a code, and never a person's digits.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final, NamedTuple

SCAN_GAP_MS: Final = 35.0
"""Longest pause inside a code; scanners type 1-20 ms a character, a fast person seldom under 60 ms."""
CODE_GAP_MS: Final = 120.0
"""The same for a code that holds a letter: no key of a number pad is one, so there is nothing to mistake it for."""
SCAN_LENGTH: Final = 3
"""Shortest code; two keys of a hand that rolls over from one to the next can come as close as a scanner's."""
ENDS: Final = ("Enter", "Tab")
"""What a scanner ends a code with."""


class Stroke(NamedTuple):
    """One key and when it went down, in milliseconds of the page's clock."""

    key: str
    at_ms: float


class Scanned(NamedTuple):
    """A code from a scanner, without its end."""

    code: str


class CutShort(NamedTuple):
    """What a scanner sent without its end: part of a code, which may look like another whole one."""

    code: str


class Pressed(NamedTuple):
    """One key of a person, by what it means: a digit, `.`, `+`, `-`, `keep`, `back one` or `more`."""

    key: str


Found = Scanned | CutShort | Pressed

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
        self._is_settling = False

    def take(self, strokes: Sequence[Stroke]) -> tuple[Found, ...]:
        """Return what is known now; the beginning of a code is held until the rest is here."""
        if not strokes:
            return ()
        held, self._held, self._is_settling = self._held, [], False
        is_one = bool(held) and strokes[0].at_ms - held[-1].at_ms <= CODE_GAP_MS
        before = () if is_one else read_burst(held)
        whole = [*held, *strokes] if is_one else list(strokes)
        ends = max((place for place, stroke in enumerate(whole) if stroke.key in ENDS), default=-1) + 1
        last = list(_groups(whole[ends:]))[-1:]
        if last and (_has_letter(last[0]) or _is_scanner_s(last[0])):
            self._held = last[0]
        return (*before, *read_burst(whole[: len(whole) - len(self._held)]))

    def settle(self) -> tuple[Found, ...]:
        """Return what was held over two calls: its rest does not come any more. Called every second or so."""
        if not self._held or not self._is_settling:
            self._is_settling = bool(self._held)
            return ()
        held, self._held, self._is_settling = self._held, [], False
        return read_burst(held)


def read_burst(strokes: Sequence[Stroke]) -> tuple[Found, ...]:
    """Return what a run of key strokes says, in order; letters that no scanner sent mean nothing."""
    found: list[Found] = []
    start = 0
    for place, stroke in enumerate(strokes):
        if stroke.key in ENDS:
            found += _read_line(strokes[start : place + 1])
            start = place + 1
    return (*found, *_read_loose(strokes[start:]))


def _read_line(line: Sequence[Stroke]) -> list[Found]:
    """Read strokes up to an end: the code is what came at a scanner's pace right before it."""
    *before, last = list(_groups(line[:-1])) or [[]]
    gap_ms = CODE_GAP_MS if _has_letter(last) else SCAN_GAP_MS
    if not _is_scanner_s(last) or line[-1].at_ms - last[-1].at_ms > gap_ms:
        return [*_read_loose(line[:-1]), *_as_person(line[-1:])]
    loose = (found for group in before for found in _read_loose(group))
    return [*loose, Scanned("".join(stroke.key for stroke in last))]


def _read_loose(strokes: Sequence[Stroke]) -> Iterator[Found]:
    """Read strokes without an end: a person's keys, or a code cut short."""
    for group in _groups(strokes):
        if _is_scanner_s(group):
            yield CutShort("".join(stroke.key for stroke in group))
        else:
            yield from _as_person(group)


def _groups(strokes: Sequence[Stroke]) -> Iterator[list[Stroke]]:
    """Give the runs of strokes that came at one pace; a run with a letter may pause longer."""
    for near in _runs(strokes, CODE_GAP_MS):
        if not _has_letter(near):
            yield from _runs(near, SCAN_GAP_MS)
            continue
        yield near


def _runs(strokes: Sequence[Stroke], gap_ms: float) -> Iterator[list[Stroke]]:
    run: list[Stroke] = []
    for stroke in strokes:
        if run and stroke.at_ms - run[-1].at_ms > gap_ms:
            yield run
            run = []
        run.append(stroke)
    if run:
        yield run


def _is_scanner_s(group: Sequence[Stroke]) -> bool:
    return len(group) >= SCAN_LENGTH and all(len(stroke.key) == 1 for stroke in group)


def _has_letter(strokes: Iterable[Stroke]) -> bool:
    return any(len(stroke.key) == 1 and stroke.key.isalpha() for stroke in strokes)


def _as_person(strokes: Sequence[Stroke]) -> tuple[Pressed, ...]:
    return tuple(Pressed(MEANING[stroke.key]) for stroke in strokes if stroke.key in MEANING)
