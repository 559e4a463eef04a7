"""The kiosks of a played plant: each with its own folder, book, station and clock, and a way to the consolidator.

Also the consolidator's intake, served over real HTTP on this machine only, in played time.
Owns nothing of the work itself; it calls the same code as on the line.
"""

import hashlib
import socket
import threading
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

import uvicorn

from consolidator.intake import enrol, make_app
from consolidator.plant import Plant
from demo_site.play.clocks import KioskTime, PlayedChance, TrueTime
from kiosk.book import Book
from kiosk.carry import Enrolment
from kiosk.carry.network import Carried, NetworkCarry
from kiosk.carry.sticks import StickCarry
from kiosk.lists import Lists
from kiosk.pages import Page
from kiosk.pages.station import ListsTaken
from kiosk.ports import Disk
from kiosk.station import Station
from kiosk.times import write_time

STARTED_WITHIN_S = 20.0


@dataclass
class HeldBack:
    """A book of which some pages do not leave the kiosk."""

    book: Book
    numbers: frozenset[int]

    @property
    def last_number(self) -> int:
        """The last page there is."""
        return self.book.last_number

    def pages(self, first: int, last: int) -> Iterator[tuple[Page, bytes]]:
        """Yield the pages that leave."""
        return (each for each in self.book.pages(first, last) if each[0].number not in self.numbers)

    def receipt(self, through: int, fingerprint: str, at: str) -> None:
        """Take a receipt as the book does."""
        self.book.receipt(through, fingerprint, at)


@dataclass
class PlayedKiosk:
    """One kiosk on the floor."""

    folder: Path
    series: str
    clock: KioskTime
    book: Book
    work: Station
    disk: Disk
    is_online: bool = True
    held_back: frozenset[int] = frozenset()
    """Pages that do not leave the kiosk for now, as a scenario asks for."""
    last_contact: float = field(default=0.0)
    """True running time of the last contact, in milliseconds since 1970."""

    @property
    def station(self) -> str:
        """The station it stands at."""
        return self.work.number

    def carry(self, true: TrueTime) -> Carried:
        """Carry by network, take fresh lists, and tell the station how its clock stands."""
        with NetworkCarry(self.folder, self.disk) as network:
            book = HeldBack(self.book, self.held_back) if self.held_back else self.book
            done = network.carry(book, self.clock, session=self.book.session)
        self.last_contact = true.running_ms()
        self._take(done, by="network")
        return done

    def carry_by(self, stick: Path) -> Carried:
        """Put pages on a stick and take what it brought back."""
        done = StickCarry(self.folder, stick, self.disk).carry(self.book)
        self._take(done, by="stick")
        return done

    def cut_power(self) -> None:
        """Go off and on again: the book is opened anew and the work goes on where it stood."""
        lists, taken_at = self.work.lists, write_time(self.clock.now())
        self.book.close()
        self.clock.switch_on()
        stores = (self.folder / "store-a", self.folder / "store-b")
        self.book = Book.open(stores, clock=self.clock, chance=PlayedChance(f"{self.series}+"), disk=self.disk)
        self.work = _station(self.book, lists, self.station, self.clock, taken_at)

    def _take(self, done: Carried, *, by: str) -> None:
        now = write_time(self.clock.now())
        if done.lists is not None:
            told = ListsTaken(version=done.lists.version, fingerprint=_fingerprint(self.folder), by=by)
            self.work.take_lists(told, done.lists, taken_at=now)
        elif done.receipt is not None and by == "network":
            self.work.lists_confirmed(now)


def open_kiosk(  # noqa: PLR0913 - a kiosk is named by all of these at once, and only here
    plant: Plant,
    folder: Path,
    *,
    station: str,
    series: str,
    true: TrueTime,
    address: str,
    lists: Lists,
    error: timedelta,
    disk: Disk,
) -> PlayedKiosk:
    """Enrol a kiosk, make its book in two stores and begin the work at its station."""
    enrol(plant, series=series, station=station, now=true.now(), kiosk_folder=folder, address=address)
    clock = KioskTime(true, error)
    stores = (folder / "store-a", folder / "store-b")
    book = Book.create(
        stores, plant=plant.number, series=series, station=station, clock=clock, chance=PlayedChance(series), disk=disk
    )
    work = _station(book, lists, station, clock, write_time(clock.now()))
    return PlayedKiosk(folder, series, clock, book, work, disk)


def fill(kiosk: PlayedKiosk, pages: int) -> None:
    """Keep remarks until the book holds `pages` pages, so that the next page has the number wanted."""
    while kiosk.book.last_number < pages:
        kiosk.work.remark("kept before this scenario")


def series_of(kiosks: Iterable[PlayedKiosk]) -> list[str]:
    """Return the series on the floor, in order."""
    return sorted(kiosk.series for kiosk in kiosks)


def enrolment_of(kiosk: PlayedKiosk) -> Enrolment:
    """Return what the kiosk was given."""
    return Enrolment.open(kiosk.folder)


def _station(book: Book, lists: Lists, number: str, clock: KioskTime, taken_at: str) -> Station:
    return Station(
        book,
        lists,
        number=number,
        clock=clock,
        zone=clock.zone,
        lists_taken_at=taken_at,
        pages=(page for page, _ in book.pages()),
    )


def _fingerprint(folder: Path) -> str:
    return hashlib.sha256((folder / "lists.json").read_bytes()).hexdigest()


class Serving:
    """One running intake; `address` is where kiosks reach it."""

    def __init__(self, plant: Plant, true: TrueTime) -> None:
        self._socket = socket.socket()
        self._socket.bind(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self._socket.getsockname()[1]}"
        config = uvicorn.Config(make_app(plant, now=true.now), log_level="warning", lifespan="on")
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, kwargs={"sockets": [self._socket]}, daemon=True)
        self._thread.start()
        deadline = time.monotonic() + STARTED_WITHIN_S
        while not self._server.started:
            if time.monotonic() > deadline or not self._thread.is_alive():
                raise RuntimeError("the intake did not start")
            time.sleep(0.005)

    def stop(self) -> None:
        """Stop serving and wait for it."""
        self._server.should_exit = True
        self._thread.join(timeout=STARTED_WITHIN_S)
        self._socket.close()
