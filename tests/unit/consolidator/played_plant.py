"""A small invented plant with a kiosk whose pages come when told, and one clock moved by hand for everything."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from consolidator.intake import Archive, Intake
from consolidator.ledger.closing import Closing, close_plant_day
from consolidator.plant import Plant
from kiosk.carry import Keys
from tests.unit.carried import MORNING, MemoryBook, enrolled, make_plant, packets_of, reading, take_over_lists

ZONE = ZoneInfo("America/New_York")
DAY = date(2026, 3, 10)


class HandClock:
    """A clock that stands where it is put and moves a little at each look, so that pages keep their order."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def now(self) -> datetime:
        """Return the time and move on a millisecond."""
        self.at += timedelta(milliseconds=1)
        return self.at

    def running_ms(self) -> int:
        """Return milliseconds since a moment long ago."""
        return int((self.at - datetime(2026, 1, 1, tzinfo=ZONE)).total_seconds() * 1000)


@dataclass
class PlayedPlant:
    """The plant, its clock, and the book of kiosk S12-a."""

    plant: Plant
    clock: HandClock
    keys: Keys
    book: MemoryBook

    def measure(self, at: datetime, count: int = 1, keyed: str = "0.31225") -> None:
        """Keep readings of shank diameter at S12, four seconds apart."""
        for place in range(count):
            self.book.keep(reading(keyed, piece=place + 1), at + timedelta(seconds=4 * place))

    def carry(self, at: datetime, first: int = 1, last: int | None = None) -> None:
        """Let the kiosk's pages arrive at a moment."""
        self.clock.at = at
        with Intake(self.plant, now=self.clock.now) as intake:
            for packet in packets_of(self.book, self.keys, first, last):
                intake.take_in(packet)

    def close(self, day: date, at: datetime) -> Closing:
        """Close a day as known at a moment."""
        with Archive(self.plant) as archive:
            return close_plant_day(self.plant, day, at=at, archive=archive)


def local(day: date, hour: int, minute: int = 0) -> datetime:
    """Return a moment of plant local time."""
    return datetime(day.year, day.month, day.day, hour, minute, tzinfo=ZONE)


def play(folder: Path) -> PlayedPlant:
    """Make the plant with the standard deck's lists, and a kiosk S12-a enrolled that wrote nothing yet."""
    plant = make_plant(folder / "plant")
    take_over_lists(plant)
    keys = enrolled(plant, folder / "kiosk")
    return PlayedPlant(plant, HandClock(MORNING), keys, MemoryBook())
