"""A small plant's ledger on disk with sealed days, for tests of sealing, checking and exporting."""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from consolidator.close.closed import ClosedDay
from consolidator.ledger import folder
from consolidator.ledger.seal import Sealing, seal_book
from kiosk.lists import Lists
from kiosk.lists.entries import Person, Qualification
from kiosk.lists.words import Level
from kiosk.pages.desk import PagesLost, Seal
from tests.unit.consolidator.ledger.small_days import book_of

KEY = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
ZONE = ZoneInfo("America/New_York")


def people() -> Lists:
    """Return lists with a sealer, a second signer, an operator, and a sealer who left the plant."""
    levels = (
        ("P-106", Level.SEALER),
        ("P-108", Level.DISPOSITION),
        ("P-101", Level.OPERATOR),
        ("P-110", Level.SEALER),
    )
    left = Person(number="P-110", name="Ivo", left_at="2026-02-01T00:00:00.000-05:00")
    return Lists(
        plant="P1",
        zone="America/New_York",
        version=1,
        people=(
            *(Person(number=n, name=w) for n, w in (("P-106", "Fay"), ("P-108", "Hana"), ("P-101", "Ana"))),
            left,
        ),
        qualifications=tuple(
            Qualification(person=n, operation="*", level=level, valid_from=date(2024, 1, 8)) for n, level in levels
        ),
    )


def sealing(day: date, *, by: str = "P-106", second: str | None = None, lost: Iterable[PagesLost] = ()) -> Sealing:
    """Return a sealing at 10:00 on the morning after `day`."""
    at = datetime.combine(day + timedelta(days=1), time(10), tzinfo=ZONE)
    return Sealing(by, second, at, people(), tuple(lost))


def write_day(ledger: Path, closed: ClosedDay) -> folder.BookFolder:
    """Write one day, unsealed."""
    return folder.write_book(ledger, book_of(closed))[0]


def write_sealed(ledger: Path, *days: ClosedDay, second: str | None = None) -> list[Seal]:
    """Write and seal days, in order."""
    seals: list[Seal] = []
    for closed in days:
        write_day(ledger, closed)
        seals.append(seal_book(ledger, closed.day, 0, sealing(closed.day, second=second), KEY))
    return seals
