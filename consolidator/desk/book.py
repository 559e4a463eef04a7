"""The desk's own book: made with the first act, kept in two stores in the plant folder, and taken in without a carry.

Owns where the book and its key lie. Must not know what an act means.
"""

from typing import Final

from consolidator.intake import Intake, enrol, take_in_book
from consolidator.intake.enrolment import find
from consolidator.plant import Plant
from kiosk.book import Book
from kiosk.carry import Keys
from kiosk.carry.enrolment import KEY_FILE
from kiosk.ports import Chance, Clock

DESK_SERIES: Final = "desk-a"
DESK_STATION: Final = "desk"
STORES: Final = ("store-a", "store-b")


def open_desk(plant: Plant, *, clock: Clock, chance: Chance) -> Book:
    """Open the desk's book, which is enrolled and made the first time; the caller closes it.

    Raises:
        BookInUse: another program has it open.
        BookDamaged: no store of it is sound.
    """
    stores = tuple(plant.desk / name for name in STORES)
    if find(plant, DESK_SERIES) is None:
        enrol(plant, series=DESK_SERIES, station=DESK_STATION, now=clock.now(), kiosk_folder=plant.desk)
    if any(store.exists() for store in stores):
        return Book.open(stores, clock=clock, chance=chance, series=DESK_SERIES)
    return Book.create(stores, plant=plant.number, series=DESK_SERIES, station=DESK_STATION, clock=clock, chance=chance)


def take_in_desk(plant: Plant, book: Book, intake: Intake) -> int:
    """Take in what the desk's book holds and the intake does not; return how many pages were new."""
    keys = Keys.read(plant.desk / KEY_FILE)
    return take_in_book(intake, book, DESK_SERIES, keys.signing)
