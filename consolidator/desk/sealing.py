"""Sealing from the desk: the book is fixed, and the act stands as a page in the desk's own book.

Owns the order of the two, and mending it when the power went in between. Must not know what a seal says.
"""

from datetime import date

from tinydb import where

from consolidator.desk.book import open_desk, take_in_desk
from consolidator.intake import Archive, Intake
from consolidator.ledger.closing import pages_lost, seal_plant_day
from consolidator.ledger.folder import BookFolder, locked, open_book
from consolidator.ledger.seal import Sealing, seal_act
from consolidator.lists import as_known
from consolidator.plant import Plant
from kiosk.book import Book
from kiosk.pages.desk import Seal
from kiosk.ports import Chance, Clock


def seal_day(
    plant: Plant, which: tuple[date, int], people: tuple[str, str | None], *, clock: Clock, chance: Chance
) -> BookFolder:
    """Seal a day's book or a supplement (day and number, 0 for the day's own) and keep the act as a page.

    `people` are the numbers of who seals and of the second person. A book that is sealed and lacks its page,
    because the power went in between, gets its page and nothing else changes.

    Raises:
        SealRefused: the book may not be sealed now, or not by these people.
        LedgerMissing, LedgerDamaged: there is no such book, or it cannot be read.
        BookInUse: the desk's book is open in another program.
    """
    with open_desk(plant, clock=clock, chance=chance) as desk, Intake(plant, now=clock.now) as intake:
        take_in_desk(plant, desk, intake)
        with locked(plant.ledger, shared=True):
            standing = open_book(plant.ledger, *which)
        if standing.is_sealed and _page_is_missing(desk, standing):
            _keep(desk, seal_act(standing), plant, clock)
        else:
            _seal_and_keep(intake, which, people, desk, clock)
        take_in_desk(plant, desk, intake)
    return open_book(plant.ledger, *which)


def _seal_and_keep(
    intake: Intake, which: tuple[date, int], people: tuple[str, str | None], desk: Book, clock: Clock
) -> None:
    plant, now = intake.plant, clock.now()
    with Archive(plant) as archive:
        lists = as_known(plant, now)
        lost = pages_lost(archive.held(which[0], by_utc=now).acts, lists)
        sealing = Sealing(people[0], people[1], now, lists, lost)
        act = seal_plant_day(plant, which, sealing, key=intake.keys.signing, archive=archive)
    _keep(desk, act, plant, clock)


def _keep(desk: Book, act: Seal, plant: Plant, clock: Clock) -> None:
    person = None if act.signature is None else act.signature.person
    desk.keep(act, person=person, lists_version=as_known(plant, clock.now()).version)


def _page_is_missing(desk: Book, standing: BookFolder) -> bool:
    of_this = (where("act").kind == "seal") & (where("act").ledger == standing.seal_file["ledger"])
    return not desk.search(of_this)
