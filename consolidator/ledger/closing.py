"""Closing and sealing a production day of a plant: pages in, book out; and supplements for days already sealed.

Owns the order of the steps and which book is written. Must not judge anything.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final

import pyarrow as pa
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from consolidator.authority import (
    AUTHORITIES,
    Deed,
    Proposal,
    SecondSigner,
    levels_at,
    role_for,
    why_not_second,
)
from consolidator.close import CarriedOver, ClosedDay, close_day
from consolidator.errors import SealRefused
from consolidator.intake import Archive, HeldPage
from consolidator.ledger.books import COLUMNS
from consolidator.ledger.day_books import day_book, supplement_book
from consolidator.ledger.folder import (
    BookFolder,
    days_in,
    locked,
    mended,
    open_book,
    pretty,
    read_json,
    standing_book,
    supplements_of,
    write_book,
)
from consolidator.ledger.seal import Sealing, name_of, seal_book
from consolidator.ledger.verify import verify_book
from consolidator.lists import as_known, lists_bytes
from consolidator.lookback import doubt_rule, rules
from consolidator.plant import Plant
from consolidator.rules import JUDGED
from consolidator.rules.gauge import wear_rule
from consolidator.rules.kinds import BY_LOOK_BACK
from consolidator.settings import Settings
from kiosk.lists import Lists
from kiosk.lists.words import Level
from kiosk.pages import Signature
from kiosk.pages.desk import PagesLost, Seal, SecondSignature
from kiosk.ports import SyncedDisk
from kiosk.times import read_time, write_time

_DECLARE: Final = AUTHORITIES[Deed.DECLARE_LOST]
_HOUR_MS: Final = 3_600_000
LOOKED_THROUGH: Final = "looked-through.json"
"""Until when arrivals were looked through for pages of earlier days; can be taken away at the cost of time."""


@dataclass(frozen=True)
class Closing:
    """What one close of day made; `notes` say what was set aside on the way."""

    day: date
    book: BookFolder | None
    """The day's own book; none when the day was sealed before."""
    supplements: tuple[BookFolder, ...]
    """Supplements of sealed days that late pages touch."""
    closed_again: tuple[BookFolder, ...] = ()
    """Books of earlier days, not sealed yet, that late pages touch."""
    notes: tuple[str, ...] = ()


def close_plant_day(plant: Plant, day: date, *, at: datetime, archive: Archive) -> Closing:
    """Close production day `day` as known at `at`, and bring earlier days up to date that late pages touch.

    Of an earlier day that is sealed a supplement is made; one that is not sealed is closed again.
    Doing it again with the same moment makes the same books. A sealed book is never written.

    Raises:
        LedgerNotWritten, LedgerDamaged, NewerLedger: the ledger stays as it was.
    """
    with locked(plant.ledger):
        touched = [late for late in _days_touched(plant, archive, at) if late != day]
        others = [_close_one(plant, late, at=at, archive=archive) for late in touched if late < day]
        own = _close_one(plant, day, at=at, archive=archive)
        others += [_close_one(plant, late, at=at, archive=archive) for late in touched if late > day]
        _note_looked_through(plant, at)
    closings = [own, *others]
    return Closing(
        day,
        own.book,
        tuple(book for closing in closings for book in closing.supplements),
        tuple(closing.book for closing in others if closing.book is not None),
        tuple(note for closing in closings for note in closing.notes),
    )


def judge_day(plant: Plant, day: date, *, at: datetime, archive: Archive, before: ClosedDay | None = None) -> ClosedDay:
    """Return production day `day` judged as known at `at`, with what the day before left open.

    That stands in its ledger, unless `before` gives the day before as it is judged now.
    """
    at_utc = at.astimezone(UTC)
    held, lists = archive.held(day, by_utc=at_utc), as_known(plant, at_utc)

    def read(numbers: frozenset[str], pages: frozenset[str], since: datetime | None) -> pa.Table:
        return archive.readings_with(numbers, pages=pages, since_utc=since, by_utc=at_utc)

    wear = wear_rule(
        lambda since_ms, before_ms: archive.uses(since_ms, before_ms, by_utc=at_utc),
        held_ms=Settings().held_before_h * _HOUR_MS,
    )
    carried = carried_into(plant, day) if before is None else before
    return close_day(
        held, lists, day=day, at_utc=at_utc, before=carried, more_rules=(*rules(read), doubt_rule(read), wear)
    )


def seal_plant_day(
    plant: Plant, book: tuple[date, int], sealing: Sealing, *, key: Ed25519PrivateKey, archive: Archive
) -> Seal:
    """Check a day's book or a supplement (day and number, 0 for the day's own) and seal it for good; return the act.

    The caller keeps the act as a page of the desk's book.

    Raises:
        SealRefused: the book is damaged, pages of it wait outside, its turn has not come, or a person may not sign.
        LedgerMissing, LedgerDamaged: there is no such book, or it cannot be read.
    """
    day, supplement = book
    with locked(plant.ledger):
        standing = mended(plant.ledger, day, supplement)
        if not standing.is_sealed:
            _check_book(standing)
            _check_nothing_waits(plant, standing, sealing.at, archive)
        return seal_book(plant.ledger, day, supplement, sealing, key)


def pages_lost(acts: Iterable[HeldPage], lists: Lists) -> tuple[PagesLost, ...]:
    """Return the pages declared lost by two different persons, each with the authority for it at that minute."""
    acts = list(acts)
    seconds = [(act, act.page.act) for act in acts if isinstance(act.page.act, SecondSignature)]
    found: list[PagesLost] = []
    for act in acts:
        lost = act.page.act
        if not isinstance(lost, PagesLost) or _signer(act, _DECLARE.first, lists).role is None:
            continue
        proposal = Proposal(_signer(act, (), lists).person, read_time(act.page.kiosk_time))
        signers = [_signer(each, _DECLARE.second, lists) for each, second in seconds if second.of == act.page.ref]
        if any(not why_not_second(signer, proposal) for signer in signers):
            found.append(lost)
    return tuple(found)


def _signer(act: HeldPage, wanted: tuple[Level, ...], lists: Lists) -> SecondSigner:
    signature = getattr(act.page.act, "signature", None)
    person = signature.person if isinstance(signature, Signature) else act.page.person or ""
    at = read_time(act.page.kiosk_time)
    return SecondSigner(person, at, role_for(wanted, levels_at(person, lists, at)))


def _close_one(plant: Plant, day: date, *, at: datetime, archive: Archive) -> Closing:
    closed = judge_day(plant, day, at=at, archive=archive)
    lists = as_known(plant, closed.at_utc)
    content = lists_bytes(plant, lists.version) if lists.version else b"{}"
    standing = standing_book(plant.ledger, day)
    if standing is None or not standing.is_sealed:
        book, note = write_book(plant.ledger, day_book(closed, lists, content, judged=JUDGED | BY_LOOK_BACK))
        return Closing(day, book, (), (), (note,) if note else ())
    sealed = [book for book in (standing, *supplements_of(plant.ledger, day)) if book.is_sealed]
    tables = [{name: book.table(name) for name in COLUMNS} for book in sealed]
    supplement = supplement_book(closed, lists, content, sealed=tables, number=len(sealed))
    if supplement is None:
        return Closing(day, None, ())
    book, note = write_book(plant.ledger, supplement)
    return Closing(day, None, (book,), (), (note,) if note else ())


def carried_into(plant: Plant, day: date) -> CarriedOver | None:
    """Return what is still open when `day` is closed; none when there is no earlier ledger.

    That is what the day before left open, its supplements, and what a supplement of any day before that brought to
    light after that day was closed: a reject that came late must reach the list and hold its lot from the next close.
    """
    earlier = [other for other in days_in(plant.ledger) if other < day]
    if not earlier:
        return None
    before = open_book(plant.ledger, earlier[-1])
    since = read_time(str(before.body["closed_at"]))
    late = [book for other in earlier[:-1] for book in supplements_of(plant.ledger, other)]
    news = [book for book in late if read_time(str(book.body["closed_at"])) > since]
    return CarriedOver.of([*news, before, *supplements_of(plant.ledger, earlier[-1])])


def _days_touched(plant: Plant, archive: Archive, at: datetime) -> list[date]:
    """Return the days of the ledger that pages received since the last closing may belong to."""
    days = days_in(plant.ledger)
    since = _looked_through(plant)
    if since is None and days:
        books = [book for day in days if (book := standing_book(plant.ledger, day)) is not None]
        since = min((read_time(str(book.body["closed_at"])) for book in books), default=None)
    if since is None:
        return []
    span = archive.span_received(since_utc=since.astimezone(UTC), by_utc=at.astimezone(UTC))
    return [day for day in days if _lies_near(day, span)]


def _looked_through(plant: Plant) -> datetime | None:
    path = plant.ledger / LOOKED_THROUGH
    return read_time(str(read_json(path)["received_until"])) if path.exists() else None


def _note_looked_through(plant: Plant, at: datetime) -> None:
    """Keep until when arrivals were looked through; only once every day they may belong to is on the disk."""
    before = _looked_through(plant)
    if before is None or before < at:
        told = {"format": 1, "received_until": write_time(at.astimezone(plant.zone))}
        SyncedDisk().replace_synced(plant.ledger / LOOKED_THROUGH, pretty(told))


def _may_have_come(archive: Archive, day: date, since: datetime, at: datetime) -> bool:
    return _lies_near(day, archive.span_received(since_utc=since.astimezone(UTC), by_utc=at.astimezone(UTC)))


def _lies_near(day: date, span: tuple[date, date] | None) -> bool:
    return span is not None and span[0] - timedelta(days=1) <= day <= span[1] + timedelta(days=1)


def _check_book(book: BookFolder) -> None:
    faults = verify_book(book, Settings())
    if faults:
        raise SealRefused(
            f"{name_of(book)} was not sealed.",
            why=f"Its files do not fit each other: {faults[0]}",
            next_step="Close the day again, look at its front sheet, and seal it then.",
        )


def _check_nothing_waits(plant: Plant, book: BookFolder, at: datetime, archive: Archive) -> None:
    """Refuse when pages of the day came in since it was closed; they would be in no sealed book."""
    closed_at = read_time(str(book.body["closed_at"]))
    if not _may_have_come(archive, book.day, closed_at, at):
        return
    closed = judge_day(plant, book.day, at=at, archive=archive)
    books = [open_book(plant.ledger, book.day), *supplements_of(plant.ledger, book.day)]
    known = {
        text for each in books for name in ("readings", "acts") for text in each.table(name)["fingerprint"].to_pylist()
    }
    every = {text for table in (closed.readings, closed.acts) for text in table["fingerprint"].to_pylist()}
    if every - known:
        raise SealRefused(
            f"{name_of(book)} was not sealed.",
            why=f"{len(every - known)} pages of it came in since it was closed at {write_time(closed_at)}.",
            next_step=f"Close it again and look at its front sheet: consolidator close PLANT --day {book.day}.",
        )
