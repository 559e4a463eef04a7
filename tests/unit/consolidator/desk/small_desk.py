"""A small desk for tests: a real book on disk, the standard deck's lists, a clock moved by hand, cheap PIN hashes."""

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from consolidator.desk.desk import Desk, Second
from consolidator.desk.held_pages import PagesInMemory
from consolidator.desk.pins import set_pin
from consolidator.desk.signatures import Seen, Signer
from consolidator.pins import PinStore
from consolidator.settings import Settings
from kiosk.book import Book
from kiosk.lists import Lists
from kiosk.pages import Page
from kiosk.pages.readings import Reading
from kiosk.pages.station import Refusal
from tests.unit.carried import MemoryBook, reading
from tests.unit.kiosk.book.small_books import CountedChance, QuickDisk
from tests.unit.kiosk.plant import HandClock

ZONE = ZoneInfo("America/New_York")
CHEAP = Settings(pin_memory_kib=8, pin_passes=1, pin_lanes=1)
"""Argon2id at its least, so that a test may sign a hundred times."""
PINS = {f"P-10{number}": f"48{number}15{number}" for number in range(1, 9)}
"""PINs of the deck's people, made up."""


class SmallDesk:
    """A desk and the kiosk S12-a beside it, both at one clock."""

    def __init__(self, folder: Path, lists: Lists, at: str = "2026-03-16 09:00") -> None:
        self.clock = HandClock(at)
        self.held = PagesInMemory()
        self.kiosk = MemoryBook()
        self.folder = folder
        self.book = Book.create(
            (folder / "store-a",), plant="PL-1", series="desk-a", station="desk", clock=self.clock,
            chance=CountedChance(), disk=QuickDisk(),
        )  # fmt: skip
        self.pins = PinStore(folder / "keys" / "pins.json", disk=QuickDisk(), settings=CHEAP)
        self.desk = Desk(self.book, lists, self.clock, ZONE, self.pins, self.held, CHEAP)
        manager = self.by("P-106")
        set_pin(self.desk, "P-106", PINS["P-106"], manager)
        for person, pin in PINS.items():
            if person != "P-106":
                set_pin(self.desk, person, pin, manager)

    def by(self, person: str, pin: str | None = None) -> Signer:
        """Return a signer with his own PIN, or another one."""
        return Signer(person, PINS[person] if pin is None else pin)

    def second(self, person: str, of: str, pin: str | None = None) -> Second:
        """Return a second signer who has seen the evidence about a page as it stands now."""
        return Second(self.by(person, pin), Seen(self.desk.evidence(of).fingerprint, True))

    def to(self, text: str) -> None:
        """Move the clock."""
        self.clock.to(text)

    def keep(self, act: object, person: str | None = "P-101") -> Page:
        """Keep an act in the kiosk's book now, held at once."""
        at: datetime = self.clock.now()
        page = self.kiosk.keep(act, at, person=person)  # type: ignore[arg-type]
        self.held.add(*self.kiosk.kept[-1])
        return page

    def read(self, keyed: str, person: str = "P-101", **more: object) -> Page:
        """Keep one reading."""
        return self.keep(reading(keyed, **{"value": None, **more}), person)

    def content(self, page: Page) -> bytes:
        """Return the bytes of a page of the desk."""
        return next(content for kept, content in self.book.pages() if kept.number == page.number)

    def refusals(self) -> list[Refusal]:
        """Return the refusals kept, oldest first."""
        return [page.act for page, _ in self.book.pages() if isinstance(page.act, Refusal)]

    def last_number(self) -> int:
        """Return the number of the last page."""
        return self.book.last_number


def value(page: Page) -> str:
    """Return what a reading page was keyed."""
    assert isinstance(page.act, Reading)
    return page.act.keyed
