"""The desk's own book, taken in like a kiosk's: packets with its signature, each page counted once.

What its new pages ask of a station or tell it goes out with the receipts of that station's kiosks.
"""

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from consolidator.for_stations import note_for_stations
from consolidator.intake.carry_log import By
from consolidator.intake.receiving import Intake
from kiosk.carry import CarriedBook, make_packets, runs_to_carry

DESK = By("desk")


def take_in_book(intake: Intake, book: CarriedBook, series: str, key: Ed25519PrivateKey) -> int:
    """Take in what the book of `series` holds and the intake does not; return how many pages were new."""
    held = [(run.first, run.last) for run in intake.catalogue.runs(series)]
    new = 0
    for first, last in runs_to_carry(held, book.last_number):
        note_for_stations(intake.plant, (page for page, _ in book.pages(first, last)), intake.disk)
        for _, raw in make_packets(book.pages(first, last), key, settings=intake.limits):
            new += intake.take_in(raw, DESK).new
    return new
