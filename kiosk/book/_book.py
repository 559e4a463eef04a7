"""The book as the rest of the program knows it: keep a page, find a page, what is not carried yet.

Owns number, chain, session and running time. Must not know what an act means.
"""

import threading
from collections.abc import Iterator
from datetime import datetime, timedelta
from importlib.metadata import version
from pathlib import Path
from types import TracebackType
from typing import Any

from tinydb.table import Document

from kiosk.book._journal import fingerprint_in, write_line, write_record
from kiosk.book._making import make_stores, renew
from kiosk.book._notices import (
    Notice,
    Room,
    clock_notice,
    no_good_store,
    no_store_took_it,
    page_not_here,
    page_too_long,
    receipt_does_not_fit,
    reckon_room,
    room_notice,
    store_notice,
    too_little_room,
)
from kiosk.book._opening import Opened, open_stores
from kiosk.book._records import (
    RECEIPTS,
    Counter,
    Identity,
    Receipt,
    StoreName,
    forgettable_through,
    latest,
    still_needed,
)
from kiosk.book._shelf import Shelf
from kiosk.book._store import Store
from kiosk.errors import NotKept
from kiosk.pages import Act, Page
from kiosk.pages import fingerprint as fingerprint_of
from kiosk.pages.station import PowerOn, StoreChange
from kiosk.pages.station import Store as StoreNow
from kiosk.pages.words import ClockState
from kiosk.ports import Chance, Clock, Disk, SyncedDisk
from kiosk.settings import Settings
from kiosk.times import read_time, write_time

_NAMES: tuple[StoreName, ...] = ("built-in", "removable")


class Book:
    """One numbered book in its stores, open in this program alone.

    What `keep` returns is on the disk of both stores; or of one, the other's failure being a page of its own.
    """

    def __init__(
        self,
        opened: Opened,
        stores: list[Store],
        *,
        clock: Clock,
        chance: Chance,
        disk: Disk,
        settings: Settings,
    ) -> None:
        self._identity = opened.identity
        self._stores = stores
        self._clock = clock
        self._chance = chance
        self._disk = disk
        self._settings = settings
        self._last_time = opened.last.kiosk_time if opened.last else None
        self._counter = opened.counter
        self._receipts = opened.receipts
        self._session = opened.counter.session + 1
        self._running_ms = 0
        self._told: set[str] = set()
        self._notices: dict[str, Notice] = {}
        self._gate = threading.RLock()
        self._shelf = Shelf(opened, stores, self._write)

    @classmethod
    def create(  # noqa: PLR0913 - a book is named by all of these at once, and only here
        cls,
        stores: tuple[Path, ...],
        *,
        plant: str,
        series: str,
        station: str,
        clock: Clock,
        chance: Chance,
        disk: Disk | None = None,
        settings: Settings | None = None,
    ) -> "Book":
        """Make a new book in one or two empty folders (built-in, removable) and open it; page 1 is its power-on.

        Raises:
            BookAlreadyThere: a folder holds a book.
            NotKept: a disk failed.
        """
        settings, disk = settings or Settings(), disk or SyncedDisk()
        identity = Identity(plant=plant, series=series, station=station, segment_pages=settings.segment_pages)
        make_stores(stores, identity, disk)
        return cls.open(stores, clock=clock, chance=chance, disk=disk, settings=settings)

    @classmethod
    def open(
        cls,
        stores: tuple[Path, ...],
        *,
        clock: Clock,
        chance: Chance,
        disk: Disk | None = None,
        series: str | None = None,
        settings: Settings | None = None,
    ) -> "Book":
        """Open the book in `stores`, mend what a power cut tore, and keep the page of a new power-on.

        With no store fit to be written the book still opens, to be read and carried; `notices` says so.

        Raises:
            BookInUse: another program has it open.
            NoBookHere: no folder holds a book.
            ForeignStore: the folders hold another book than `series`.
            NewerFormat: a newer version of the program wrote it.
            BookDamaged: no store is sound.
        """
        disk = disk or SyncedDisk()
        found = [Store(name, folder, disk) for name, folder in zip(_NAMES, stores, strict=False)]
        try:
            opened = open_stores(found, series)
            book = cls(opened, found, clock=clock, chance=chance, disk=disk, settings=settings or Settings())
            book._begin_session(opened)
        except BaseException:
            for store in found:
                store.release()
            raise
        return book

    @property
    def identity(self) -> Identity:
        """Which book this is: plant, series, station."""
        return self._identity

    @property
    def last_number(self) -> int:
        """The last page number given out."""
        return self._counter.number

    @property
    def first_number(self) -> int:
        """The first page still here; 0 when there is none."""
        return self._shelf.first_number

    @property
    def head(self) -> str:
        """Fingerprint of the last page."""
        return self._counter.head

    @property
    def session(self) -> int:
        """The present power-on: 1, 2, …"""
        return self._session

    @property
    def stores(self) -> tuple[StoreNow, ...]:
        """Both stores as they stand now."""
        return tuple(store.now() for store in self._stores)

    @property
    def receipts(self) -> tuple[Receipt, ...]:
        """The receipts held, in order."""
        return tuple(self._receipts)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """All that the screen must show about the book now."""
        low = room_notice(self.room(), self._settings)
        out = [store_notice(store) for store in self._stores if not store.is_in_use]
        return (*out, *([low] if low else []), *self._notices.values())

    def keep(
        self,
        act: Act,
        *,
        person: str | None,
        lists_version: int = 0,
        lists_taken_at: str | None = None,
        clock_state: ClockState = ClockState.AGREED,
        station: str | None = None,
    ) -> Page:
        """Keep one act as the next page and return the page, safely on disk.

        If the power goes before this returns, the page is kept whole or not at all.

        Raises:
            NotKept: no store took it; what was kept before is untouched.
        """
        with self._gate:
            if not isinstance(act, PowerOn | StoreChange):
                self._refuse_without_room()
            number = self._counter.number + 1
            self._running_ms = max(self._running_ms, self._clock.running_ms())
            page = Page(
                plant=self._identity.plant,
                series=self._identity.series,
                number=number,
                station=station or self._identity.station,
                kiosk_time=write_time(self._clock.now()),
                running_ms=self._running_ms,
                session=self._session,
                clock_state=clock_state,
                person=person,
                lists_version=lists_version,
                lists_taken_at=lists_taken_at,
                previous=self._counter.head,
                filler=self._chance.filler(),
                act=act,
            )
            self._shelf.insert(number, page.model_dump(mode="json", exclude_none=True))
            self._look_at_clock(page.kiosk_time)
            self._keep_failures()
            return page

    def page(self, number: int) -> Page:
        """Return one page.

        Raises:
            PageNotHere: it is not in this book, or no longer.
        """
        for page, _ in self.pages(number, number):
            return page
        raise page_not_here(self._identity, number, self.first_number, self.last_number)

    def pages(self, first: int = 1, last: int | None = None) -> Iterator[tuple[Page, bytes]]:
        """Yield each page from `first` to `last` (none: the last) with its canonical bytes as stored, in order."""
        for _, content in self._shelf.pages(first, self.last_number if last is None else last):
            yield Page.model_validate_json(content), content

    def search(self, query: Any, first: int = 1, last: int | None = None) -> list[Document]:
        """Return the pages from `first` to `last` that fit a TinyDB query, e.g. `where("act")["lot"] == "L-430"`."""
        return list(self._shelf.search(query, first, self.last_number if last is None else last))

    def not_carried(self) -> tuple[int, int] | None:
        """Return first and last page not covered by a receipt, or none when all are."""
        reached = latest(self._receipts)
        first = reached.through + 1 if reached else 1
        return (first, self.last_number) if first <= self.last_number else None

    def receipt(self, through: int, fingerprint: str, at: str) -> None:
        """Take the consolidator's word that it holds all pages up to `through`; the same receipt twice is one.

        Raises:
            ReceiptDoesNotFit: this book has another page, or none, under that number.
            NotKept: no store took it.
        """
        with self._gate:
            if fingerprint != self._fingerprint_of(through):
                raise receipt_does_not_fit(self._identity, through, self.last_number)
            reached = latest(self._receipts)
            if reached and reached.through >= through:
                return
            receipt = Receipt(through=through, fingerprint=fingerprint, at=at)
            taken = [store for store in self._stores if store.append_receipt(receipt)]
            if not taken:
                raise no_store_took_it(f"the receipt for page {through}", self._stores)
            self._receipts = [*self._receipts, receipt]
            self._keep_failures()

    def forget_old(self, now: datetime) -> int:
        """Forget whole segments whose receipt is old enough, and return how many pages went; nothing else ever goes."""
        with self._gate:
            days = self._settings.keep_after_receipt_days
            needed = still_needed(self._receipts, now, days)
            if needed != self._receipts:
                self._receipts = needed
                for store in self._stores:
                    store.replace(store.folder / RECEIPTS, b"".join(write_record(receipt) for receipt in needed))
            gone = self._shelf.forget(forgettable_through(needed, now, days), self._remove_segment)
            self._keep_failures()
            return gone

    def room(self) -> Room:
        """Return the free bytes of the fullest store in use and the days of readings they are good for."""
        in_use = [store for store in self._stores if store.is_in_use]
        sharing = len({store.folder.stat().st_dev for store in in_use})
        free = min((store.free_bytes for store in in_use), default=0)
        return reckon_room(free, 1 if sharing == len(in_use) else len(in_use), self._settings)

    def renew_store(self, name: StoreName) -> list[str]:
        """Make a store anew from the good one, e.g. after a card was changed; what lay there is set aside.

        Raises:
            StoreNotRenewed: there is no good store to copy, or the folder holds another book.
        """
        with self._gate:
            store = next(store for store in self._stores if store.name == name)
            good = [other for other in self._stores if other.is_in_use and other is not store]
            if not good:
                raise no_good_store(store)
            notes = renew(store, good[0], self._identity, self._counter, self._receipts, self._disk)
            self._told.discard(name)
            self.keep(StoreChange(store=store.now(), words="made anew from the other store"), person=None)
            return notes

    def close(self) -> None:
        """Let other programs open the book; all is on the disk already."""
        for store in self._stores:
            store.release()
            store.stop("away", "the book was closed")

    def __enter__(self) -> "Book":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def _begin_session(self, opened: Opened) -> None:
        if self._last_time:
            self._look_at_clock(write_time(self._clock.now()))
        act = PowerOn(
            last_number=self.last_number,
            program=f"threadledger {version('threadledger')}",
            stores=self.stores,
            recovered=" ".join(opened.recovered)[:2_000],
        )
        try:
            self.keep(act, person=None)
        except NotKept as error:
            # The pages here can still be read and carried; what cannot be done stands on the screen.
            self._notices["not kept"] = Notice(what=error.what, why=error.why, next_step=error.next_step)

    def _refuse_without_room(self) -> None:
        in_use = [store for store in self._stores if store.is_in_use]
        free = {store.name: store.free_bytes for store in in_use}
        needed = self._settings.room_reserve_bytes
        low = [store for store in in_use if free[store.name] < needed and store.folder.exists()]
        if not low:
            return
        if len(low) == len(in_use):
            raise too_little_room(f"page {self.last_number + 1}", max(free.values()), needed)
        for store in low:
            store.stop("full", f"{free[store.name] / 1_000_000:.1f} MB free, {needed / 1_000_000:.1f} MB needed")

    def _write(self, number: int, content: bytes) -> None:
        if len(content) > self._settings.page_limit_bytes:
            raise page_too_long(f"page {number}", len(content), self._settings.page_limit_bytes)
        line = write_line(content)
        counter = Counter(number=number, head=fingerprint_in(line), session=self._session)
        # One store after the other, the page before the counter: a power cut can tear at most one line of one
        # file, and a number is never counted without its page: see decision 0011.
        taken = [store for store in self._stores if store.append_page(self._identity, number, line)]
        is_afresh = number == self._identity.first_of(self._identity.segment_of(number))
        counted = [store for store in taken if store.write_counter(counter, is_afresh=is_afresh)]
        if not counted:
            raise no_store_took_it(f"page {number}", self._stores)
        self._counter = counter

    def _keep_failures(self) -> None:
        for store in self._stores:
            if not store.is_in_use and store.name not in self._told:
                self._told.add(store.name)
                self.keep(StoreChange(store=store.now(), words=store.words[:2_000]), person=None)

    def _look_at_clock(self, now: str) -> None:
        if self._last_time:
            behind = read_time(self._last_time) - read_time(now)
            if behind > timedelta(seconds=self._settings.clock_back_told_s):
                self._notices["clock"] = clock_notice(self._last_time, now)
        self._last_time = now

    def _fingerprint_of(self, number: int) -> str | None:
        if number == self.last_number:
            return self.head
        for page, content in self.pages(number, number + 1):
            if page.number == number:
                return fingerprint_of(content)
            # The page itself was lost; the one after it still tells its fingerprint.
            return page.previous
        return None

    def _remove_segment(self, segment: int) -> None:
        for store in self._stores:
            store.remove(self._identity.segment_path(store.folder, segment))
