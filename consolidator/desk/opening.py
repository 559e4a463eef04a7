"""A desk put together from a plant: its book, the lists in force, PINs, and the pages of the intake.

Owns where each of these comes from.
"""

from consolidator.desk.desk import Desk
from consolidator.desk.held_pages import ArchivedPages
from consolidator.intake import Intake
from consolidator.lists import as_known
from consolidator.pins import PinStore
from consolidator.plant import Plant
from kiosk.book import Book
from kiosk.carry.enrolment import PINS_FILE
from kiosk.ports import Clock


def desk_of(plant: Plant, book: Book, intake: Intake, clock: Clock) -> Desk:
    """Return the desk of a plant as it stands now; `book` and `intake` stay the caller's to close.

    Take in the desk's book (`take_in_desk`) when acts must be seen by close of day.
    """
    lists = as_known(plant, clock.now())
    return Desk(book, lists, clock, plant.zone, PinStore(plant.keys / PINS_FILE), ArchivedPages(intake))
