"""What a gauge says on its line, made into values: whole ones, exactly as sent; everything else is told as unread.

Owns cutting a stream of bytes into values. Opens no line; time is given to it.
"""

import math
import re
from typing import Final, Literal, NamedTuple

from kiosk.devices.kinds import Kind

SHOWN: Final = 40
"""Most characters shown of what could not be read."""


class Indicated(NamedTuple):
    """One value as the gauge sent it: its figure character by character, and the unit it named."""

    figure: str
    unit: str
    is_deviation: bool


class Unread(NamedTuple):
    """Something came that is no value: noise, half a value, a unit not in the description."""

    received: str
    """What came, with marks for bytes that are no characters."""
    why: Literal["noise", "half"]


class Indications:
    """The values on one gauge's line, as its bytes come in."""

    def __init__(self, kind: Kind, *, opened_at_s: float) -> None:
        self._kind = kind
        self._pattern = re.compile(kind.reading.pattern, re.ASCII)
        self._start = None if kind.frame.start is None else kind.frame.start.encode("latin-1")
        self._end = kind.frame.end.encode("latin-1")
        self._rest_s = kind.frame.rest_ms / 1000
        self._begun = b""
        self._last_s = opened_at_s
        # What comes right after plugging in may be the end of a longer figure, and look like a whole one.
        self._sure_from_s = opened_at_s + self._rest_s
        self._is_sure = True

    def take(self, chunk: bytes, at_s: float) -> tuple[Indicated | Unread, ...]:
        """Return what these bytes bring to an end."""
        found: list[Indicated | Unread] = list(self.rest(at_s))
        if not chunk:
            return tuple(found)
        if not self._begun:
            self._is_sure = self._start is not None or at_s >= self._sure_from_s
        self._last_s = at_s
        *ended, self._begun = (self._begun + chunk).split(self._end)
        for line in ended:
            found += self._read(line)
            self._is_sure, self._sure_from_s = True, at_s
        longest = self._kind.frame.longest + len(self._start or b"")
        if len(self._begun) > longest + len(self._end):
            found += (Unread(one.received, "noise") for one in self.cut())
        return tuple(found)

    def rest(self, at_s: float) -> tuple[Unread, ...]:
        """Return what was begun and does not go on any more."""
        return self.cut() if at_s - self._last_s > self._rest_s else ()

    def cut(self) -> tuple[Unread, ...]:
        """Return what was begun when the line went: it is half a value and never taken for a whole one."""
        begun, self._begun = self._begun, b""
        if not begun:
            return ()
        self._sure_from_s = math.inf
        return (Unread(_shown(begun), "half"),)

    def _read(self, line: bytes) -> list[Indicated | Unread]:
        if not line:
            return []
        if not self._is_sure:
            return [Unread(_shown(line), "half")]
        before: list[Indicated | Unread] = []
        if self._start is not None:
            noise, start, line = line.rpartition(self._start)
            if not start:
                return [Unread(_shown(line), "noise")]
            before = [Unread(_shown(noise), "noise")] if noise else []
        value = self._value(line)
        return [*before, Unread(_shown(line), "noise") if value is None else value]

    def _value(self, line: bytes) -> Indicated | None:
        reading = self._kind.reading
        if len(line) > self._kind.frame.longest or not line.isascii():
            return None
        found = self._pattern.fullmatch(line.decode("ascii"))
        if found is None:
            return None
        groups = found.groupdict()
        unit = reading.unit if reading.unit is not None else reading.units.get(groups["unit"])
        if unit is None:
            return None
        return Indicated((groups.get("sign") or "") + groups["digits"], unit, self._kind.sends == "deviation")


def _shown(raw: bytes) -> str:
    text = "".join(chr(byte) if 32 <= byte < 127 else "\N{MIDDLE DOT}" for byte in raw)
    return text if len(text) <= SHOWN else text[: SHOWN - 1] + "\N{HORIZONTAL ELLIPSIS}"
