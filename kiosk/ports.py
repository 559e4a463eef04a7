"""What the rules may not fetch for themselves: time and chance come in through these.

The same code runs in a simulated plant and on the line; only the adapters differ.
"""

import os
import shutil
import time
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Protocol

from kiosk.times import in_zone


class Clock(Protocol):
    """The kiosk's own clock, right or wrong, and its count of milliseconds since switch-on."""

    def now(self) -> datetime:
        """Return the kiosk's time, aware, in plant local time with its UTC offset."""
        ...

    def running_ms(self) -> int:
        """Return milliseconds since the kiosk was switched on; never set back within one power-on."""
        ...


class Chance(Protocol):
    """Where random filler comes from, so that nobody can guess a reading from a fingerprint."""

    def filler(self) -> str:
        """Return 16 random bytes as 32 lower-case hexadecimal digits."""
        ...


class MachineClock:
    """The clock of the machine the program runs on, in the time zone given."""

    def __init__(self, zone: tzinfo) -> None:
        self._zone = zone

    def now(self) -> datetime:
        """Return the machine's time in the plant's zone."""
        return in_zone(datetime.now(self._zone), self._zone)

    def running_ms(self) -> int:
        """Return milliseconds since the machine was switched on, time asleep included where it is told."""
        clock = getattr(time, "CLOCK_BOOTTIME", None)
        return (time.monotonic_ns() if clock is None else time.clock_gettime_ns(clock)) // 1_000_000


class SystemChance:
    """Filler from the operating system's random source."""

    def filler(self) -> str:
        """Return 16 bytes from the operating system as hexadecimal digits."""
        return os.urandom(16).hex()


class Disk(Protocol):
    """The few acts on files that a power cut can tear; a test puts a failing disk behind them."""

    def append_synced(self, path: Path, line: bytes) -> None:
        """Append `line` to `path` and return only once it is on the disk.

        Raises:
            OSError: as the operating system gives it; the caller never retries a failed sync.
        """
        ...

    def replace_synced(self, path: Path, content: bytes) -> None:
        """Put `content` at `path` whole or not at all, on the disk before returning."""
        ...

    def free_bytes(self, path: Path) -> int:
        """Return the room left on the store that holds `path`, in bytes."""
        ...


class SyncedDisk:
    """Files of this machine, each act synced before it returns; nothing is ever tried twice."""

    def append_synced(self, path: Path, line: bytes) -> None:
        """Append `line` to `path`, which is made if it is not there, and sync it."""
        try:
            descriptor, is_new = os.open(path, os.O_WRONLY | os.O_APPEND), False
        except FileNotFoundError:
            descriptor, is_new = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644), True
        try:
            _write_all(descriptor, line)
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        if is_new:
            sync_folder(path.parent)

    def replace_synced(self, path: Path, content: bytes) -> None:
        """Put `content` at `path` whole or not at all: written beside it, synced, then renamed over it."""
        beside = path.with_name(path.name + ".new")
        descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o644)
        try:
            _write_all(descriptor, content)
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        beside.replace(path)
        sync_folder(path.parent)

    def free_bytes(self, path: Path) -> int:
        """Return the room left on the file system that holds `path`, in bytes."""
        return shutil.disk_usage(path).free


def _write_all(descriptor: int, content: bytes) -> None:
    left = memoryview(content)
    while left:
        left = left[os.write(descriptor, left) :]


def sync_folder(folder: Path) -> None:
    """Bring the names in `folder` onto the disk."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
