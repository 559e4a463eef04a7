"""Played time: one true time for the whole plant, and kiosk clocks that may be wrong by a fixed amount.

The same ports as on the line; only the adapter differs, so nothing sleeps.
"""

import random
from datetime import datetime, timedelta, tzinfo

from kiosk.times import in_zone


class TrueTime:
    """The plant's true time; it moves forward only."""

    def __init__(self, start: datetime, zone: tzinfo) -> None:
        self.zone = zone
        self._moment = start

    def now(self) -> datetime:
        """Return true time, in plant local time with its offset."""
        return in_zone(self._moment, self.zone)

    def go_to(self, moment: datetime) -> None:
        """Move to `moment`; a moment already past changes nothing, as acts take a little time themselves."""
        self._moment = max(self._moment, moment)

    def go_on(self, step: timedelta) -> None:
        """Let `step` pass."""
        self._moment += step

    def running_ms(self) -> int:
        """Return milliseconds since 1970; the consolidator's own running time."""
        return int(self._moment.timestamp() * 1000)


class KioskTime:
    """A kiosk's clock: true time plus `error`, and its running time since it was switched on."""

    def __init__(self, true: TrueTime, error: timedelta = timedelta(0)) -> None:
        self._true = true
        self.error = error
        self._switched_on = true.now()

    @property
    def zone(self) -> tzinfo:
        """The plant's zone."""
        return self._true.zone

    def now(self) -> datetime:
        """Return what this kiosk's clock shows."""
        return in_zone(self._true.now() + self.error, self._true.zone)

    def running_ms(self) -> int:
        """Return true milliseconds since switch-on; a wrong clock does not touch it."""
        return int((self._true.now() - self._switched_on) / timedelta(milliseconds=1))

    def switch_on(self) -> None:
        """Begin a new power-on session: running time starts again."""
        self._switched_on = self._true.now()


class PlayedChance:
    """Filler from a seed, so that a played plant is the same every time."""

    def __init__(self, seed: str) -> None:
        self._dice = random.Random(seed)

    def filler(self) -> str:
        """Return 32 hexadecimal digits."""
        return self._dice.randbytes(16).hex()
