"""Receipts: what the consolidator says it holds, and what is therefore still to be carried.

Owns the receipt's form and where the last one lies in a kiosk's folder.
"""

from collections.abc import Iterable
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from kiosk.carry.enrolment import Enrolment
from kiosk.carry.keys import signing_key
from kiosk.carry.packets import CarriedBook, PageNumber, Run
from kiosk.carry.statements import Statement, read_statement, refused
from kiosk.errors import NewerFormat, StatementRefused
from kiosk.pages import Frozen
from kiosk.pages._base import Count, Fingerprint, Name, PageRef, Series, Words
from kiosk.ports import Disk
from kiosk.settings import Settings
from kiosk.times import LocalTime, read_time

RECEIPT_FILE = "receipt"


class Order(Frozen):
    """A blind re-measure that the QC room asked of a station; the earlier value is never in it."""

    page: PageRef
    """Page of the order in the desk's book."""
    of: PageRef
    """Page of the reading that is measured again."""
    lot: Name
    characteristic: Name
    piece: int | None = None
    words: Words = ""


class Message(Frozen):
    """Words of the QC room to a station."""

    page: PageRef
    at: LocalTime
    words: Words


class Receipt(Statement):
    """What the consolidator holds of one series; signed by the consolidator.

    `through` is the last page up to which nothing is missing (0: page 1 is missing), `fingerprint` that page's.
    `lists` is the newest version of the lists that may be fetched.
    """

    what: Literal["receipt"] = "receipt"
    plant: Name
    series: Series
    at: LocalTime
    held: tuple[tuple[PageNumber, PageNumber], ...] = ()
    through: Annotated[int, Field(ge=0, le=9_999_999_999)]
    fingerprint: Fingerprint | None = None
    lists: Count = 0
    is_withdrawn: bool = False
    orders: tuple[Order, ...] = ()
    """What the QC room asked of the kiosk's station in the last weeks, the oldest first."""
    messages: tuple[Message, ...] = ()
    """What it told the station in the last days, the oldest first."""


def read_receipt(raw: bytes, enrolment: Enrolment, *, settings: Settings | None = None) -> Receipt:
    """Return the receipt in `raw`, signed by this kiosk's consolidator for this kiosk.

    Raises:
        StatementRefused: it is not, or is for another kiosk.
    """
    limits = settings or Settings()
    receipt = read_statement(
        raw,
        Receipt,
        signing_key(enrolment.consolidator_signs),
        name="receipt",
        limit_bytes=limits.carry_statement_bytes_limit,
    )
    if (receipt.plant, receipt.series) != (enrolment.plant, enrolment.series):
        raise refused("receipt", f"it is for {receipt.series} of plant {receipt.plant}")
    return receipt


def take_receipt(raw: bytes, folder: Path, enrolment: Enrolment, book: CarriedBook, disk: Disk) -> Receipt:
    """Check a receipt, keep it in the kiosk's folder and tell the book.

    Raises:
        StatementRefused: it is not signed by this kiosk's consolidator for this kiosk.
    """
    receipt = read_receipt(raw, enrolment)
    known = last_receipt(folder, enrolment)
    if known is not None and read_time(known.at) > read_time(receipt.at) and _covers(known.held, receipt.held):
        return known  # an old stick brings an old receipt, which tells nothing new
    disk.replace_synced(folder / RECEIPT_FILE, raw)
    if receipt.fingerprint is not None:
        book.receipt(receipt.through, receipt.fingerprint, receipt.at)
    return receipt


def last_receipt(folder: Path, enrolment: Enrolment) -> Receipt | None:
    """Return the last receipt kept in the kiosk's folder; none when there is none that can be read.

    Without one the kiosk only carries more than it needs to, so an unreadable one is no fault to stop for.
    """
    try:
        return read_receipt((folder / RECEIPT_FILE).read_bytes(), enrolment)
    except (FileNotFoundError, StatementRefused, NewerFormat):
        return None


def runs_to_carry(held: Iterable[Run], last_number: int) -> list[Run]:
    """Return the runs of 1 … `last_number` that are not in `held` (sorted, not overlapping)."""
    missing: list[Run] = []
    start = 1
    for first, last in held:
        if first > start:
            missing.append((start, min(first - 1, last_number)))
        start = max(start, last + 1)
    if start <= last_number:
        missing.append((start, last_number))
    return [run for run in missing if run[0] <= run[1]]


def _covers(outer: Iterable[Run], inner: Iterable[Run]) -> bool:
    """True when every run of `inner` lies inside one of `outer`."""
    return all(any(first >= a and last <= b for a, b in outer) for first, last in inner)
