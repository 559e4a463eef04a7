"""The small records of a store: which book it belongs to, the counter of numbers given out, the receipts.

Owns their form and the names of files. Must not read or write files.
"""

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Annotated, Final, Literal, TypeVar

import rfc8785
from pydantic import Field, ValidationError

from kiosk.errors import NewerFormat
from kiosk.pages import Frozen, fingerprint
from kiosk.pages._base import Count, Fingerprint, Name, Series
from kiosk.times import LocalTime, read_time

BOOK_FORMAT: Final = 1
"""Version of the layout of a store; a store with a higher one is refused by name."""

IDENTITY: Final = "book.json"
COUNTER: Final = "counter.journal"
RECEIPTS: Final = "receipts.journal"
PAGES_FOLDER: Final = "pages"
SET_ASIDE: Final = "set-aside"
LOCK: Final = "lock"

StoreName = Literal["built-in", "removable"]


class Identity(Frozen):
    """Which book this is; the same in both stores, written once and never changed."""

    format: Literal[1] = BOOK_FORMAT
    plant: Name
    series: Series
    station: Name
    segment_pages: Annotated[int, Field(ge=1, le=100_000)]

    @property
    def called(self) -> str:
        """The book as a person calls it, e.g. `S12-a`."""
        return self.series

    def segment_of(self, number: int) -> int:
        """Return the segment (0, 1, …) that page `number` belongs to."""
        return (number - 1) // self.segment_pages

    def first_of(self, segment: int) -> int:
        """Return the first page number of a segment."""
        return segment * self.segment_pages + 1

    def segment_path(self, folder: Path, segment: int) -> Path:
        """Return where a store in `folder` keeps a segment; the file is named by its first page number."""
        return folder / PAGES_FOLDER / f"{self.first_of(segment):010d}.journal"


def write_identity(identity: Identity) -> bytes:
    """Return the content of `book.json`: canonical JSON with its own fingerprint in `check`."""
    body = identity.model_dump(mode="json")
    return rfc8785.dumps({**body, "check": fingerprint(rfc8785.dumps(body))})


def read_identity(content: bytes) -> Identity | None:
    """Return the identity that `book.json` holds, or none when not every byte is as it was written.

    Raises:
        NewerFormat: the store was made by a newer version of the program.
    """
    try:
        raw = json.loads(content)
    except (ValueError, RecursionError):
        return None
    if not isinstance(raw, dict):
        return None
    check = raw.pop("check", None)
    try:
        is_whole = check == fingerprint(rfc8785.dumps(raw))
    except rfc8785.CanonicalizationError:
        return None
    if not is_whole:
        return None
    version = raw.get("format")
    if isinstance(version, int) and version > BOOK_FORMAT:
        raise NewerFormat(
            f"Book not opened: it has book format {version}.",
            why=f"This program knows book formats up to {BOOK_FORMAT}.",
            next_step="Update this program, then open the book again; nothing in it was touched.",
        )
    try:
        identity = Identity.model_validate(raw)
    except ValidationError:
        return None
    return identity if write_identity(identity) == content else None


Record = TypeVar("Record", "Receipt", "Counter")


class Receipt(Frozen):
    """The consolidator holds every page up to `through`, whose fingerprint is `fingerprint`; told at `at`."""

    through: Annotated[int, Field(ge=1)]
    fingerprint: Fingerprint
    at: LocalTime


class Counter(Frozen):
    """The last page number given out, its fingerprint, and the power-on it was given out in."""

    number: Count
    head: Fingerprint
    session: Count


def read_record(kind: type[Record], content: bytes) -> Record | None:
    """Return the receipt or counter that a line holds, or none when it holds something else."""
    try:
        return kind.model_validate_json(content)
    except ValidationError:
        return None


def latest(receipts: list[Receipt]) -> Receipt | None:
    """Return the receipt that reaches furthest."""
    return max(receipts, key=lambda receipt: receipt.through, default=None)


def forgettable_through(receipts: list[Receipt], now: datetime, keep_days: int) -> int:
    """Return the last page whose receipt is at least `keep_days` old; 0 when there is none."""
    border = now - timedelta(days=keep_days)
    return max((receipt.through for receipt in receipts if read_time(receipt.at) <= border), default=0)


def still_needed(receipts: list[Receipt], now: datetime, keep_days: int) -> list[Receipt]:
    """Return the receipts worth keeping: the furthest that is old enough to forget by, and all younger ones."""
    old_through = forgettable_through(receipts, now, keep_days)
    return [receipt for receipt in receipts if receipt.through >= old_through]
