"""Carry by stick, both ways: packets out, receipt and fresh lists back.

Only sticks that the plant issued are touched. What lies on a stick is sealed, so that a finder cannot read it.
Owns the folders on the stick; must not know what a page means.
"""

from pathlib import Path
from typing import Literal

from kiosk.carry.enrolment import Enrolment, kiosk_keys
from kiosk.carry.fresh_lists import take_lists
from kiosk.carry.keys import seal, signing_key
from kiosk.carry.network import Carried
from kiosk.carry.packets import CarriedBook, Run, make_packets
from kiosk.carry.receipts import Receipt, last_receipt, read_receipt, runs_to_carry, take_receipt
from kiosk.carry.statements import Statement, read_statement
from kiosk.errors import ForeignStick, NewerFormat, ReceiptDoesNotFit, StatementRefused, StickAway, TellingError
from kiosk.lists import Lists
from kiosk.pages._base import Name, Series
from kiosk.ports import Disk
from kiosk.said import Said, say
from kiosk.settings import Settings
from kiosk.times import LocalTime

STICK_FILE = "stick.json"
STICK_FILE_BYTES_LIMIT = 4_096
PACKET_PURPOSE = "packet for the consolidator"
BACK_PURPOSE = "receipt and lists for the kiosk"


class StickLabel(Statement):
    """The stick's own file: a number, signed by the plant's consolidator."""

    what: Literal["stick"] = "stick"
    plant: Name
    number: Series
    issued_at: LocalTime


def read_label(stick: Path, *, plant: str, consolidator_signs: str) -> StickLabel:
    """Return the stick's label.

    Raises:
        ForeignStick: the plant did not issue it.
        StickAway: it cannot be read.
    """
    try:
        with (stick / STICK_FILE).open("rb") as kept:
            raw = kept.read(STICK_FILE_BYTES_LIMIT)
    except FileNotFoundError as error:
        raise _foreign(stick, say("There is no {file} on it.", file=STICK_FILE)) from error
    except OSError as error:
        raise stick_away(stick, error) from error
    try:
        label = read_statement(
            raw, StickLabel, signing_key(consolidator_signs), name="stick's label", limit_bytes=STICK_FILE_BYTES_LIMIT
        )
    except StatementRefused as error:
        raise _foreign(stick, say("{words}", words=error.what)) from error
    if label.plant != plant:
        raise _foreign(stick, say("It belongs to plant {plant}.", plant=label.plant))
    return label


def out_folder(stick: Path, series: str) -> Path:
    """Return where packets of `series` lie on a stick."""
    return stick / "out" / series


def back_folder(stick: Path, series: str) -> Path:
    """Return where receipt and lists for `series` lie on a stick."""
    return stick / "back" / series


def packet_name(first: int, last: int) -> str:
    """Return the name of a packet's file, which sorts by page number."""
    return f"{first:010d}-{last:010d}.packet"


def run_of(name: str) -> Run | None:
    """Return the run that a packet's file is named for; none when it is no such name."""
    stem, dot, rest = name.partition(".")
    first, dash, last = stem.partition("-")
    if (dot, rest, dash) != (".", "packet", "-") or not (first.isdecimal() and last.isdecimal()):
        return None
    return int(first), int(last)


class StickCarry:
    """One kiosk and a stick in its socket."""

    def __init__(self, folder: Path, stick: Path, disk: Disk, *, settings: Settings | None = None) -> None:
        self._folder = folder
        self._stick = stick
        self._disk = disk
        self._settings = settings or Settings()
        self._enrolment = Enrolment.open(folder)
        self._keys = kiosk_keys(folder)

    def carry(self, book: CarriedBook) -> Carried:
        """Take what the stick brought back, then put on it every page that is not yet receipted.

        Pulled out at any moment, the stick holds whole packets only, and the book loses nothing.

        Raises:
            ForeignStick: the plant did not issue this stick; nothing on it was read or written.
            StickAway: it was pulled out, is full or cannot be written.
        """
        read_label(self._stick, plant=self._enrolment.plant, consolidator_signs=self._enrolment.consolidator_signs)
        refusals: list[Said] = []
        lists: Lists | None = None
        brought: Receipt | None = None
        is_in_doubt = False
        try:
            for take in (self._take_receipt, self._take_lists):
                try:
                    taken = take(book)
                except (StatementRefused, NewerFormat) as refusal:
                    refusals.append(_told(refusal))
                    continue
                except ReceiptDoesNotFit as doubt:
                    refusals.append(_told(doubt))
                    is_in_doubt = True
                    continue
                lists = taken if isinstance(taken, Lists) else lists
                brought = taken if isinstance(taken, Receipt) else brought
            # Where the consolidator has other pages than this book, all of the book goes, so that both sides show.
            receipt = None if is_in_doubt else last_receipt(self._folder, self._enrolment)
            self._clear(receipt)
            packets, pages = self._put_out(book, receipt)
        except OSError as error:
            raise stick_away(self._stick, error) from error
        return Carried(packets, pages, receipt, None, lists, tuple(refusals), brought)

    def _take_receipt(self, book: CarriedBook) -> Receipt | None:
        raw = self._brought("receipt", self._settings.carry_statement_bytes_limit)
        if raw is None:
            return None
        take_receipt(raw, self._folder, self._enrolment, book, self._disk)
        return read_receipt(raw, self._enrolment)

    def _take_lists(self, book: CarriedBook) -> Lists | None:
        raw = self._brought("lists", self._settings.carry_lists_bytes_limit)
        return None if raw is None else take_lists(raw, self._folder, self._enrolment, self._disk)

    def _brought(self, name: str, limit_bytes: int) -> bytes | None:
        path = back_folder(self._stick, self._enrolment.series) / name
        if not path.exists():
            return None
        with path.open("rb") as kept:
            raw = kept.read(limit_bytes + 1)
        return self._keys.open_sealed(raw[:limit_bytes], purpose=BACK_PURPOSE)

    def _clear(self, receipt: Receipt | None) -> None:
        """Take packets off the stick that the consolidator says it holds."""
        folder = out_folder(self._stick, self._enrolment.series)
        if receipt is None or not folder.is_dir():
            return
        for path in folder.iterdir():
            run = run_of(path.name)
            if run is not None and any(first <= run[0] and run[1] <= last for first, last in receipt.held):
                path.unlink()

    def _put_out(self, book: CarriedBook, receipt: Receipt | None) -> tuple[int, int]:
        folder = out_folder(self._stick, self._enrolment.series)
        folder.mkdir(parents=True, exist_ok=True)
        packets = pages = 0
        for first, last in runs_to_carry(receipt.held if receipt else (), book.last_number):
            for header, raw in make_packets(book.pages(first, last), self._keys.signing, settings=self._settings):
                path = folder / packet_name(header.first, header.last)
                packets += 1
                pages += header.count
                self._disk.replace_synced(path, seal(raw, self._enrolment.consolidator_opens, purpose=PACKET_PURPOSE))
        return packets, pages


def stick_away(stick: Path, error: OSError) -> StickAway:
    """Return what is said when a stick fails under way."""
    return StickAway(
        say("The stick {stick} was not fully written or read.", stick=stick.name),
        why=say("{words}.", words=error.strerror or error),
        next_step=say("Put it back in and carry again, or take another stick. Nothing kept in the book is lost."),
    )


def _foreign(stick: Path, why: Said) -> ForeignStick:
    return ForeignStick(
        say("The stick {stick} was ignored: it is not one of this plant's.", stick=stick.name),
        why=why,
        next_step=say("Use a numbered stick issued by the consolidator."),
    )


def _told(refusal: TellingError) -> Said:
    """Return a refusal in one piece, each sentence of it still sayable in another language."""
    return say("{what} {why} {next}", what=refusal.what, why=refusal.why, next=refusal.next_step)
