"""A kiosk with invented lists, served by its own command on a free port, for tests in a real browser."""

import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache
from pathlib import Path

import rfc8785

from consolidator.intake import enrol
from consolidator.intake.enrolment import make_keys
from consolidator.plant import Plant
from kiosk.book import readable_pages
from kiosk.lists import Lists
from kiosk.pages import Page
from tests.unit.kiosk.plant import LISTS, lists_with

START_LIMIT_S = 15.0


def lists_today(**changes: object) -> Lists:
    """Return the invented lists with gauges in date for ever, but G-107, which is out."""
    gauges = tuple(
        gauge.model_copy(update={"due": date(2099, 12, 31)}) if gauge.number != "G-107" else gauge
        for gauge in LISTS.gauges
    )
    return lists_with(gauges=gauges, **changes)


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


@cache
def one_port() -> int:
    """Return the one port of this run: at the same address the browser need not fetch and read the renderer again."""
    return free_port()


def zone_in_mid_shift(now_utc: datetime) -> str:
    """Return a zone in which it is between 09:00 and 10:00, so that no shift or day ends while a test looks on.

    A zero check is good for one shift: at 14:00 the kiosk rightly asks for another one, in the middle of a walk.
    """
    ahead_h = (9 - now_utc.hour + 12) % 24 - 12
    return f"Etc/GMT{-ahead_h:+d}"  # The names of these zones count hours to the west.


def make_kiosk(folder: Path, station: str = "S12", lists: Lists | None = None) -> Path:
    """Enrol a kiosk of a new invented plant and put the lists in its folder."""
    now_utc = datetime.now(UTC)
    zone = zone_in_mid_shift(now_utc)
    plant = Plant.create(folder / "plant", number="PL-1", name="invented", zone=zone)
    make_keys(plant)
    kiosk = folder / "kiosk"
    enrol(plant, series=f"{station}-a", station=station, now=now_utc, kiosk_folder=kiosk, address=None)
    raw = rfc8785.dumps(
        (lists or lists_today()).model_copy(update={"zone": zone}).model_dump(mode="json", exclude_none=True)
    )
    (kiosk / "lists.json").write_bytes(raw)
    return kiosk


@dataclass
class Served:
    """A kiosk that runs in a process of its own."""

    folder: Path
    port: int
    process: "subprocess.Popen[bytes] | None" = None
    settings: dict[str, str] | None = None
    command: list[str] | None = None
    """What is run in the place of the kiosk's own command."""

    @property
    def address(self) -> str:
        """Where it is."""
        return f"http://127.0.0.1:{self.port}/"

    def start(self) -> float:
        """Start it; return the seconds until it answered."""
        began = time.monotonic()
        with (self.folder.parent / "kiosk.log").open("ab") as log:
            self.process = subprocess.Popen(
                [*(self.command or [sys.executable, "-m", "kiosk", "run"]), str(self.folder), "--port", str(self.port)],
                stdout=log, stderr=log, env={**os.environ, **(self.settings or {})},
            )  # fmt: skip
        while time.monotonic() - began < START_LIMIT_S:
            try:
                with urllib.request.urlopen(f"{self.address}kiosk/health", timeout=1):
                    return time.monotonic() - began
            except OSError:
                assert self.process.poll() is None, (self.folder.parent / "kiosk.log").read_text()
                time.sleep(0.02)
        raise AssertionError("the kiosk did not answer")

    def kill(self) -> None:
        """Kill it with no warning, as a power cut does to a process."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def stop(self) -> None:
        """Stop it in good order."""
        assert self.process is not None
        self.process.terminate()
        self.process.wait(timeout=10)

    def pages(self) -> list[Page]:
        """Return the pages on its built-in store, as another program reads them."""
        return [Page.model_validate_json(raw) for raw in readable_pages(self.folder / "store-a")]

    def comes_to(self, fact: Callable[[list[Page]], bool], limit_s: float = 30.0) -> bool:
        """Wait until something is true of the pages on the disk; False when it never was."""
        began = time.monotonic()
        while time.monotonic() - began < limit_s:
            if fact(self.pages()):
                return True
            time.sleep(0.1)
        return False


@contextmanager
def served(
    folder: Path,
    station: str = "S12",
    lists: Lists | None = None,
    settings: dict[str, str] | None = None,
    command: list[str] | None = None,
) -> Iterator[Served]:
    """Serve a new kiosk for the length of a block."""
    one = Served(make_kiosk(folder, station, lists), one_port(), settings=settings, command=command)
    one.start()
    try:
        yield one
    finally:
        if one.process is not None and one.process.poll() is None:
            one.kill()
