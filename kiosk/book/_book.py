"""The book as the rest of the program knows it: keep a page, find a page, what is not carried yet.

Owns number, chain, session and running time. Must not know what an act means.
"""

import threading
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import Any

from tinydb.table import Document

from kiosk import VERSION
from kiosk.book._making import make_stores, renew
from kiosk.book._notices import (
    Notice,
    Room,
    clock_notice,
    in_one_store_only,
    mended_notice,
    no_good_store,
    page_not_here,
    receipt_does_not_fit,
    room_notice,
    store_notice,
)
from kiosk.book._opening import Opened, open_stores
from kiosk.book._pair import Pair
from kiosk.book._records import Identity, Receipt, StoreName, forgettable_through, latest, still_needed
from kiosk.book._shelf import Shelf
from kiosk.book._store import Store
from kiosk.errors import NotKept
from kiosk.pages import Act, Page
from kiosk.pages import fingerprint as fingerprint_of
from kiosk.pages.station import PowerOn, StoreChange
from kiosk.pages.station import Store as StoreNow
from kiosk.pages.words import ClockState
from kiosk.ports import Chance, Clock, Disk, SyncedDisk
from kiosk.said import say
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
        self._pair = Pair(stores, opened.identity, settings)
        self._clock = clock
        self._chance = chance
        self._disk = disk
        self._settings = settings
        self._last_time = opened.last.kiosk_time if opened.last else None
        self._counter = opened.counter
        self._receipts = opened.receipts
        self._session = opened.counter.session + 1
        self._running_ms = 0
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
    def series(self) -> str:
        """The name of this book."""
        return self._identity.series

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
        return tuple(store.now() for store in self._pair.all)

    @property
    def receipts(self) -> tuple[Receipt, ...]:
        """The receipts held, in order."""
        return tuple(self._receipts)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """All that the screen must show about the book now."""
        low = room_notice(self.room(), self._settings)
        out = [store_notice(store) for store in self._pair.all if not store.is_in_use]
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
                self._pair.refuse_without_room(self.last_number + 1)
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
            try:
                self._keep_failures()
            except NotKept as error:
                raise in_one_store_only(say("page {number}", number=number), self._pair.all) from error
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
            self._pair.append_receipt(receipt)
            self._receipts = [*self._receipts, receipt]
            self._keep_failures()

    def forget_old(self, now: datetime) -> int:
        """Forget whole segments whose receipt is old enough, and return how many pages went; nothing else ever goes."""
        with self._gate:
            days = self._settings.keep_after_receipt_days
            needed = still_needed(self._receipts, now, days)
            if needed != self._receipts:
                self._receipts = needed
                self._pair.replace_receipts(needed)
            gone = self._shelf.forget(forgettable_through(needed, now, days), self._pair.remove_segment)
            self._keep_failures()
            return gone

    def room(self) -> Room:
        """Return the free bytes of the fullest store in use and the days of readings they are good for."""
        return self._pair.room()

    def renew_store(self, name: StoreName) -> list[str]:
        """Make a store anew from the good one, e.g. after a card was changed; what lay there is set aside.

        Raises:
            StoreNotRenewed: there is no good store to copy, or the folder holds another book.
        """
        with self._gate:
            store = self._pair.named(name)
            good = [other for other in self._pair.in_use if other is not store]
            if not good:
                raise no_good_store(store)
            notes = renew(store, good[0], self._identity, self._counter, self._receipts, self._disk)
            self._pair.forget_told(name)
            self.keep(StoreChange(store=store.now(), words="made anew from the other store"), person=None)
            return notes

    def close(self) -> None:
        """Let other programs open the book; all is on the disk already."""
        self._pair.release()

    def __enter__(self) -> "Book":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()

    def _begin_session(self, opened: Opened) -> None:
        if opened.recovered:
            self._notices["mended"] = mended_notice(opened.recovered)
        act = PowerOn(
            last_number=self.last_number,
            program=f"kiosk {VERSION}",
            stores=self.stores,
            recovered=" ".join(opened.recovered)[:2_000],
        )
        try:
            self.keep(act, person=None)
        except NotKept as error:
            # The pages here can still be read and carried; what cannot be done stands on the screen.
            self._notices["not kept"] = Notice(what=error.what, why=error.why, next_step=error.next_step)

    def _write(self, number: int, content: bytes) -> None:
        self._counter = self._pair.write(number, content, self._session)

    def _keep_failures(self) -> None:
        for store in self._pair.take_untold():
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
