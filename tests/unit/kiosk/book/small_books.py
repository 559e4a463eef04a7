"""Small books for tests, and disks that fail on purpose: real small programs, not patches."""

import errno
import hashlib
import json
import os
from itertools import pairwise
from pathlib import Path

from kiosk.book import Book
from kiosk.pages import Page
from kiosk.pages.station import Remark
from kiosk.ports import SyncedDisk
from kiosk.settings import Settings
from tests.unit.kiosk.plant import HandClock

SMALL = Settings(segment_pages=5, counter_lines_limit=5)
"""Segments and counters of five, so that a few pages make several."""


class CountedChance:
    """Filler that counts up, so that a test can be read."""

    def __init__(self) -> None:
        self._count = 0

    def filler(self) -> str:
        """Return the next number as 32 hexadecimal digits."""
        self._count += 1
        return f"{self._count:032x}"


class QuickDisk(SyncedDisk):
    """A disk that keeps its promises without the wait: for tests that make thousands of books."""

    def append_synced(self, path: Path, line: bytes) -> None:
        """Append without syncing."""
        descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
        os.write(descriptor, line)
        os.close(descriptor)

    def replace_synced(self, path: Path, content: bytes) -> None:
        """Replace without syncing."""
        beside = path.with_name(path.name + ".new")
        beside.write_bytes(content)
        beside.replace(path)


class WatchedDisk(QuickDisk):
    """Remembers every write, a replacing one as to the file beside it; fails where told, after some bytes if asked."""

    def __init__(self) -> None:
        self.writes: list[tuple[Path, bytes]] = []
        self.free: dict[Path, int] = {}
        self._broken: dict[Path, tuple[int, int]] = {}

    def break_folder(self, folder: Path, number: int = errno.EIO, after_bytes: int = 0) -> None:
        """From now on every write below `folder` fails with error `number`, `after_bytes` having been written."""
        self._broken[folder] = (number, after_bytes)

    def mend_folder(self, folder: Path) -> None:
        """Let writes below `folder` succeed again."""
        del self._broken[folder]

    def append_synced(self, path: Path, line: bytes) -> None:
        """Append, or fail as told."""
        self.writes.append((path, line))
        self._fail(path, line)
        super().append_synced(path, line)

    def replace_synced(self, path: Path, content: bytes) -> None:
        """Replace, or fail as told with the old content still there."""
        beside = path.with_name(path.name + ".new")
        self.writes.append((beside, content))
        self._fail(beside, content)
        super().replace_synced(path, content)

    def free_bytes(self, path: Path) -> int:
        """Return the room a test has set for the folder, else plenty."""
        return self.free.get(path, 10**12)

    def _fail(self, path: Path, content: bytes) -> None:
        for folder, (number, after_bytes) in self._broken.items():
            if path.is_relative_to(folder):
                if after_bytes:
                    super().append_synced(path, content[:after_bytes])
                raise OSError(number, os.strerror(number))


class Kiosk:
    """A kiosk's two store folders with a clock and a disk; opens its book as often as a test likes."""

    def __init__(self, root: Path, settings: Settings = SMALL) -> None:
        self.stores = (root / "store-a", root / "store-b")
        self.clock = HandClock("2026-03-10 23:58:30")
        self.disk = WatchedDisk()
        self.settings = settings
        self._chance = CountedChance()

    def create(self) -> Book:
        """Make the book of station S12."""
        return Book.create(
            self.stores,
            plant="PL-1",
            series="S12-a",
            station="S12",
            clock=self.clock,
            chance=self._chance,
            disk=self.disk,
            settings=self.settings,
        )

    def open(self, series: str | None = None) -> Book:
        """Switch on again and open the book."""
        self.clock.elapsed_ms = 500
        return Book.open(
            self.stores, clock=self.clock, chance=self._chance, disk=self.disk, series=series, settings=self.settings
        )

    def filled(self, pages: int) -> list[Page]:
        """Make the book, keep `pages` remarks, close it, and return every page of it, the power-on first."""
        with self.create() as book:
            for count in range(pages):
                self.clock.wait(30)
                book.keep(remark(count), person="1201")
            return [page for page, _ in book.pages()]


def remark(count: int) -> Remark:
    """Return a small act that tells which one it is."""
    return Remark(words=f"remark {count}")


def chain_breaks(contents: list[bytes]) -> list[int]:
    """Return the places where a run of pages is no chain, reckoned with the standard library alone.

    SHA-256 as in FIPS 180-4 by `hashlib`, JSON by `json`: independent of the code under test.
    """
    breaks = []
    for place, (before, after) in enumerate(pairwise(contents)):
        page, last = json.loads(after), json.loads(before)
        follows = page["previous"] == hashlib.sha256(before).hexdigest() and page["number"] == last["number"] + 1
        if not follows:
            breaks.append(place)
    return breaks


def files_of(folder: Path) -> dict[str, bytes]:
    """Return name and content of every file of a store but its lock."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != "lock"
    }
