"""Both stores of a book written as one, and what is to be told when one of them is not.

Owns the order of writing. Must not number pages or know what they mean.
"""

from kiosk.book._journal import fingerprint_in, write_line, write_record
from kiosk.book._notices import Room, no_store_took_it, page_too_long, reckon_room, too_little_room
from kiosk.book._records import RECEIPTS, Counter, Identity, Receipt, StoreName
from kiosk.book._store import Store
from kiosk.said import say
from kiosk.settings import Settings


class Pair:
    """The one or two stores of a book."""

    def __init__(self, stores: list[Store], identity: Identity, settings: Settings) -> None:
        self.all = stores
        self._identity = identity
        self._settings = settings
        self._told: set[StoreName] = set()

    def named(self, name: StoreName) -> Store:
        """Return one store by its name."""
        return next(store for store in self.all if store.name == name)

    @property
    def in_use(self) -> list[Store]:
        """The stores that are written now."""
        return [store for store in self.all if store.is_in_use]

    def write(self, number: int, content: bytes, session: int) -> Counter:
        """Bring one page and the counter onto the disks and return the counter.

        One store after the other, and the page before the counter: so a power cut can tear at most one line of
        one file, and no number is ever counted without its page (see decision 0011).

        Raises:
            NotKept: no store took both.
        """
        limit = self._settings.page_limit_bytes
        if len(content) > limit:
            raise page_too_long(say("page {number}", number=number), len(content), limit)
        line = write_line(content)
        counter = Counter(number=number, head=fingerprint_in(line), session=session)
        counted = write_record(counter)
        is_afresh = number % self._settings.counter_lines_limit == 1
        taken = [store for store in self.all if store.append_page(self._identity, number, line)]
        if not [store for store in taken if store.write_counter(counted, is_afresh=is_afresh)]:
            raise no_store_took_it(say("page {number}", number=number), self.all)
        return counter

    def append_receipt(self, receipt: Receipt) -> None:
        """Bring a receipt onto the disks.

        Raises:
            NotKept: no store took it.
        """
        if not [store for store in self.all if store.append_receipt(receipt)]:
            raise no_store_took_it(say("the receipt for page {number}", number=receipt.through), self.all)

    def replace_receipts(self, receipts: list[Receipt]) -> None:
        """Put `receipts` in place of those on the disks."""
        content = b"".join(write_record(receipt) for receipt in receipts)
        for store in self.all:
            store.replace(store.folder / RECEIPTS, content)

    def remove_segment(self, segment: int) -> None:
        """Remove one closed segment."""
        for store in self.all:
            store.remove(self._identity.segment_path(store.folder, segment))

    def room(self) -> Room:
        """Return the free bytes of the fullest store in use and the days of readings they are good for."""
        disks = {store.disk_number for store in self.in_use}
        sharing = 1 if len(disks) == len(self.in_use) else len(self.in_use)
        return reckon_room(min((store.free_bytes for store in self.in_use), default=0), sharing, self._settings)

    def refuse_without_room(self, number: int) -> None:
        """Take a store out of use before it is quite full, so that switching on and carrying still work.

        Raises:
            NotKept: every store in use is too full; none is taken out of use, so that making room is enough.
        """
        needed = self._settings.room_reserve_bytes
        free = {store.name: store.free_bytes for store in self.in_use}
        low = [store for store in self.in_use if free[store.name] < needed and store.folder.exists()]
        if low and len(low) == len(free):
            raise too_little_room(say("page {number}", number=number), max(free.values()), needed)
        for store in low:
            store.stop("full", f"{free[store.name] / 1_000_000:.1f} MB free, {needed / 1_000_000:.1f} MB needed")

    def take_untold(self) -> list[Store]:
        """Return the stores that went out of use since this was last asked."""
        untold = [store for store in self.all if not store.is_in_use and store.name not in self._told]
        self._told |= {store.name for store in untold}
        return untold

    def forget_told(self, name: StoreName) -> None:
        """Tell again about a store that was made anew, should it fail again."""
        self._told.discard(name)

    def release(self) -> None:
        """Let other programs open the book; nothing is written after."""
        for store in self.all:
            store.release()
            store.stop("away", "the book was closed")
