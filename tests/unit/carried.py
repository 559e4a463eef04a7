"""A small invented plant with kiosks whose books live in memory, for tests of carry and intake."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from consolidator.intake import Intake, enrol
from consolidator.intake.enrolment import make_keys
from consolidator.lists import take_over
from consolidator.plant import Plant
from kiosk.carry import Keys, kiosk_keys, make_packets
from kiosk.lists import Lists
from kiosk.pages import FIRST_PREVIOUS, AnyAct, Page, canonical_bytes, fingerprint
from kiosk.pages.readings import Reading
from kiosk.pages.station import Remark
from kiosk.pages.words import Standing, Verdict
from kiosk.times import write_time

ZONE = ZoneInfo("America/New_York")
MORNING = datetime(2026, 3, 10, 9, 0, tzinfo=ZONE)


def make_plant(folder: Path, number: str = "PL-1") -> Plant:
    """Return a new invented plant with its keys."""
    plant = Plant.create(folder, number=number, name="invented", zone="America/New_York")
    make_keys(plant)
    return plant


def take_over_lists(plant: Plant) -> Lists:
    """Take the standard deck over as the plant's first lists."""
    deck = Path(__file__).resolve().parents[1] / "scenarios" / "deck"
    return take_over(plant, deck, by="P-106", second="P-108", reason="first lists", at_utc=MORNING.astimezone(UTC))


def reading(keyed: str = "0.31225", **more: object) -> Reading:
    """Return one ordinary reading."""
    told = {
        "lot": "L-411",
        "operation": "60",
        "part": "B-3124",
        "revision": "C",
        "plan_version": "C1",
        "characteristic": "BC1",
        "sample": 1,
        "piece": 1,
        "gauge": "G-108",
        "keyed": keyed,
        "unit": "in",
        "value": keyed,
        "verdict": Verdict.IN,
        "standing": Standing.COUNTS,
    }
    return Reading.model_validate({**told, **more})


@dataclass
class MemoryBook:
    """A numbered book in memory; `gone` are numbers it lost, receipts are noted as told."""

    plant: str = "PL-1"
    series: str = "S12-a"
    station: str = "S12"
    kept: list[tuple[Page, bytes]] = field(default_factory=list)
    gone: set[int] = field(default_factory=set)
    receipts: list[tuple[int, str, str]] = field(default_factory=list)

    @property
    def last_number(self) -> int:
        """The last page's number."""
        return len(self.kept)

    def pages(self, first: int, last: int) -> Iterator[tuple[Page, bytes]]:
        """Yield the pages that are there."""
        return (each for each in self.kept[first - 1 : last] if each[0].number not in self.gone)

    def receipt(self, through: int, fingerprint: str, at: str) -> None:
        """Note a receipt."""
        self.receipts.append((through, fingerprint, at))

    def keep(self, act: AnyAct, at: datetime = MORNING, **more: object) -> Page:
        """Keep one act as the next page."""
        told = {
            "plant": self.plant,
            "series": self.series,
            "number": len(self.kept) + 1,
            "station": self.station,
            "kiosk_time": write_time(at),
            "running_ms": 1_000 * (len(self.kept) + 1),
            "session": 1,
            "person": "P-101",
            "lists_version": 1,
            "previous": fingerprint(self.kept[-1][1]) if self.kept else FIRST_PREVIOUS,
            "filler": f"{len(self.kept):032x}",
            "act": act,
        }
        page = Page.model_validate({**told, **more})
        self.kept.append((page, canonical_bytes(page)))
        return page


def book_of(count: int, series: str = "S12-a", **more: object) -> MemoryBook:
    """Return a book of `count` pages a minute apart: every fourth a remark, the others readings."""
    book = MemoryBook(series=series)
    for number in range(1, count + 1):
        at = MORNING + timedelta(minutes=number)
        if number % 4:
            book.keep(reading(piece=number % 5 + 1, remark=f"page {number}"), at, **more)
        else:
            book.keep(Remark(words=f"page {number}"), at, **more)
    return book


class Hand:
    """The consolidator's clock, moved by hand; each look moves it one second."""

    def __init__(self, at: datetime = MORNING) -> None:
        self.at = at.astimezone(UTC)

    def __call__(self) -> datetime:
        """Return the time."""
        self.at += timedelta(seconds=1)
        return self.at


def enrolled(plant: Plant, folder: Path, series: str = "S12-a", address: str | None = None) -> Keys:
    """Enrol a series in `folder` and return its keys."""
    station = series.partition("-")[0]
    enrol(plant, series=series, station=station, now=MORNING, kiosk_folder=folder, address=address)
    return kiosk_keys(folder)


def packets_of(book: MemoryBook, keys: Keys, first: int = 1, last: int | None = None) -> list[bytes]:
    """Return the packets of a run of a book."""
    return [raw for _, raw in make_packets(book.pages(first, last or book.last_number), keys.signing)]


def open_intake(plant: Plant, now: Callable[[], datetime] | None = None) -> Intake:
    """Open the plant's intake with a clock moved by hand."""
    return Intake(plant, now=now or Hand())
