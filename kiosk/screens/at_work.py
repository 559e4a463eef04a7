"""One kiosk at work: its folder opened, its book, lists and station, and what its status line says.

Owns the life of a running kiosk between start and stop. Must not know how anything is drawn.
"""

import hashlib
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from kiosk.acceptance import Run, offer
from kiosk.acts.beside import WAYS
from kiosk.acts.steps import Note, Steps, Wanted
from kiosk.book import Book
from kiosk.carry import Enrolment, last_receipt
from kiosk.carry import Receipt as CarryReceipt
from kiosk.carry.fresh_lists import LISTS_FILE
from kiosk.carry.network import Carried, NetworkCarry
from kiosk.carry.sticks import StickCarry
from kiosk.errors import NotEnrolled, TellingError
from kiosk.lists import Lists
from kiosk.pages import Page
from kiosk.pages.readings import Reading
from kiosk.pages.station import ListsTaken, Store
from kiosk.pages.words import ClockState
from kiosk.ports import Chance, Clock, MachineClock, SyncedDisk, SystemChance
from kiosk.screens.pins import KioskSigner
from kiosk.settings import Settings
from kiosk.station import Said, Station, say, say_count
from kiosk.times import in_zone, read_time, write_time

STORE_WORDS: Final[dict[str, Said]] = {
    "good": say("good"), "full": say("full"), "read-only": say("cannot be written"), "away": say("away"),
    "damaged": say("damaged"),
}  # fmt: skip
STORES: Final = ("store-a", "store-b")
"""The two stores in a kiosk's folder: built-in and removable."""


class AtWork:
    """A kiosk from start to stop."""

    def __init__(
        self,
        folder: Path,
        *,
        clock: Clock | None = None,
        chance: Chance | None = None,
        settings: Settings | None = None,
    ) -> None:
        self.folder = folder
        self.settings = settings or Settings()
        self.enrolment = Enrolment.open(folder)
        self.zone = ZoneInfo(self.enrolment.zone)
        self.clock: Clock = clock or MachineClock(self.zone)
        lists = _lists_in(folder)
        self.book = self._open_book(chance or SystemChance())
        pages = [page for page, _ in self.book.pages()]
        self.lists_taken_at = self._when_taken(lists, pages)
        self.work = Station(
            self.book, lists, number=self.enrolment.station, clock=self.clock, zone=self.zone,
            lists_taken_at=self.lists_taken_at, pages=pages,
        )  # fmt: skip
        # Agreed with nobody since switch-on: only a contact over the network says how far a clock is off.
        self.work.know_clock(ClockState.NOT_AGREED)
        self._off_s: int | None = None
        self.carry_failed: TellingError | None = None
        self.steps = Steps(self.work, self.clock, WAYS, self.settings)
        self.steps.series = self.enrolment.series
        self.steps.signer = KioskSigner(folder, SyncedDisk(), head=lambda: self.book.head, now=self.clock.now)
        self.beside_status: Callable[[], tuple[Said, ...]] = tuple
        """What the status line says of plugged-in gauges that are not as they should be."""
        self.steps.re_measured |= {
            page.act.re_measure_of for page in pages if isinstance(page.act, Reading) and page.act.re_measure_of
        }
        by_network = ("network",) if self.enrolment.address is not None else ()
        by_stick = ("stick",) if self.settings.stick_folder is not None else ()
        self.acceptance = Run(self.steps, self._pages_from, pages, (*by_network, *by_stick))
        offer(self.steps, self.acceptance)
        self._take_news(last_receipt(folder, self.enrolment))
        if self.settings.stick_folder is not None:
            self.steps.carry_by_stick = self._carry_by_stick

    def _pages_from(self, number: int) -> tuple[Page, ...]:
        return tuple(page for page, _ in self.book.pages(number))

    def close(self) -> None:
        """Let other programs open the book."""
        self.book.close()

    def status(self) -> tuple[tuple[Said, ...], bool]:
        """Return what the status line says, and whether something in it wants to be looked at."""
        waiting = self.book.not_carried()
        count = 0 if waiting is None else waiting[1] - waiting[0] + 1
        receipts = self.book.receipts
        if waiting is None:
            carried = say("All pages carried")
        elif receipts:
            since = in_zone(read_time(receipts[-1].at), self.zone)
            carried = say_count(
                "Not carried since {since}: {n} page safe here", "Not carried since {since}: {n} pages safe here",
                n=count, since=f"{since:%Y-%m-%d %H:%M}",
            )  # fmt: skip
        else:
            carried = say_count("Not carried yet: {n} page safe here", "Not carried yet: {n} pages safe here", n=count)
        page = say("{station}. Page {number}.", station=self.work.number, number=self.book.last_number)
        bad = tuple(self._store_words(store) for store in self.book.stores if store.state != "good")
        sound = tuple(self._store_words(store) for store in self.book.stores if store.state == "good")
        # What wants to be looked at stands first, so that it is never what finds no room on the line.
        urgent = (*bad, *self._clock_and_room(), *self.beside_status())
        told = (page, *urgent, carried, self._age_of_lists(), *(sound if bad else (say("Both stores good"),)))
        return told, bool(urgent or self.book.notices)

    def _clock_and_room(self) -> tuple[Said, ...]:
        """Return what is said of a clock that is off and of stores that fill up; nothing while both are well."""
        off = () if self._off_s is None else (say("Clock off by {n} s: call support", n=self._off_s),)
        days = self.book.room().days_left
        is_short = any(store.state == "good" for store in self.book.stores) and days < self.settings.room_wanted_days
        return (*off, *((say_count("Room for {n} day", "Room for {n} days", n=days),) if is_short else ()))

    def _store_words(self, store: Store) -> Said:
        name = say("Built-in") if store.name == "built-in" else say("Removable")
        return say("{name} {state}", name=name, state=STORE_WORDS[store.state])

    def carry(self) -> Carried:
        """Carry over the network; called off the screen's own thread.

        Raises:
            TellingError: it could not be done now; nothing is lost.
        """
        with NetworkCarry(self.folder, SyncedDisk(), settings=self.settings) as network:
            return network.carry(self.book, self.clock, session=self.book.session)

    def _carry_by_stick(self) -> tuple[Said, ...]:
        assert self.settings.stick_folder is not None
        done = StickCarry(self.folder, self.settings.stick_folder, SyncedDisk(), settings=self.settings).carry(
            self.book
        )
        self.take(done, by_network=False)
        told = say_count(
            "On the stick: {n} page. Take it to the consolidator and bring it back.",
            "On the stick: {n} pages. Take it to the consolidator and bring it back.", n=done.pages,
        )  # fmt: skip
        return (told, *(say("{words}", words=refusal) for refusal in done.refusals))

    def take(self, done: Carried, *, by_network: bool) -> None:
        """Take over what a carry brought back: fresh lists, or the word that these are still the newest."""
        now = write_time(self.clock.now())
        self._take_news(done.receipt)
        told_of = done.receipt if by_network else done.brought
        if told_of is not None:
            self.acceptance.acknowledged("network" if by_network else "stick", told_of.through)
        if done.difference_s is not None:
            self._know_clock(done.difference_s)
        self.book.forget_old(self.clock.now())
        if done.lists is not None:
            fingerprint = hashlib.sha256((self.folder / LISTS_FILE).read_bytes()).hexdigest()
            told = ListsTaken(
                version=done.lists.version, fingerprint=fingerprint, by="network" if by_network else "stick"
            )
            self.work.take_lists(told, done.lists, taken_at=now)
            self.lists_taken_at = now
        elif done.receipt is not None and by_network:
            self.work.lists_confirmed(now)
            self.lists_taken_at = now

    def _know_clock(self, difference_s: float) -> None:
        """Take over how far this clock is from the consolidator's; pages bear it (N2)."""
        is_off = abs(difference_s) > self.work.lists.numbers(self.clock.now()).clock_agreement_s
        self.work.know_clock(ClockState.OFF if is_off else ClockState.AGREED)
        self._off_s = round(-difference_s) if is_off else None

    def _take_news(self, receipt: CarryReceipt | None) -> None:
        """Take over what the QC room asks of this station and tells it; nothing of it is a page here."""
        if receipt is None:
            return
        self.steps.orders = tuple(
            Wanted(one.of, one.lot, one.characteristic, one.piece, one.words)
            for one in receipt.orders
            if one.of not in self.steps.re_measured
        )
        self.steps.messages = tuple(Note(one.page, one.words) for one in receipt.messages)

    def _age_of_lists(self) -> Said:
        if self.lists_taken_at is None:
            return say("Lists: age not known")
        hours = (self.clock.now() - read_time(self.lists_taken_at)) / timedelta(hours=1)
        return say("Lists {hours} h old", hours=max(0, round(hours)))

    def _open_book(self, chance: Chance) -> Book:
        stores = tuple(self.folder / name for name in STORES)
        if any((store / "book.json").exists() for store in stores):
            return Book.open(
                stores, clock=self.clock, chance=chance, series=self.enrolment.series, settings=self.settings
            )
        for store in stores:
            store.mkdir(exist_ok=True)
        return Book.create(
            stores, plant=self.enrolment.plant, series=self.enrolment.series, station=self.enrolment.station,
            clock=self.clock, chance=chance, settings=self.settings,
        )  # fmt: skip

    def _when_taken(self, lists: Lists, pages: list[Page]) -> str | None:
        """Return when these lists were last known to be the newest: as a page says, else when they were put here."""
        for page in reversed(pages):
            if page.lists_version == lists.version and page.lists_taken_at is not None:
                return page.lists_taken_at
        put_here_s = (self.folder / LISTS_FILE).stat().st_mtime
        return write_time(datetime.fromtimestamp(put_here_s, self.zone))


def _lists_in(folder: Path) -> Lists:
    try:
        return Lists.model_validate_json((folder / LISTS_FILE).read_bytes())
    except (OSError, ValueError) as error:
        raise NotEnrolled(
            f"Kiosk {folder.name} has no lists yet.",
            why=f"{LISTS_FILE} in its folder is away or cannot be read.",
            next_step=f"Carry once, so that the lists come: kiosk carry {folder}",
        ) from error
