"""Opens the stores of a book after whatever happened: sets torn bytes aside, makes both stores tell the same.

Owns which store is believed. Must not keep pages.
"""

from typing import NamedTuple

from kiosk.book._examine import Examined, examine, find_identity
from kiosk.book._journal import Mark, write_record
from kiosk.book._mending import catch_up, set_torn_aside, take_over
from kiosk.book._records import COUNTER, RECEIPTS, Counter, Identity, Receipt
from kiosk.book._store import Store
from kiosk.errors import BookDamaged, ForeignStore, NoBookHere


class Opened(NamedTuple):
    """A book as it stands after opening; `source` is the store its pages are read from first."""

    identity: Identity
    seen: Examined
    last: Mark | None
    counter: Counter
    receipts: list[Receipt]
    recovered: list[str]


def open_stores(stores: list[Store], series: str | None) -> Opened:
    """Return the book that `stores` hold, all locked, each in use or stopped with its reason.

    Raises:
        BookInUse: another program has it open.
        NoBookHere: no store holds a book.
        ForeignStore: the stores hold another book than `series`.
        NewerFormat: a newer version of the program wrote it.
        BookDamaged: no store is sound.
    """
    identities = _find_identities(stores)
    identity = _agree(stores, identities, series)
    seen = _examine_all(stores, identity)
    recovered: list[str] = []
    for store in stores:
        if store.is_in_use:
            recovered += _set_torn_aside(store, seen)
    leader = _choose(stores, seen)
    recovered += _make_one(leader, stores, seen)
    counter = max((found.counter for found in seen.values()), key=lambda counter: (counter.number, counter.session))
    return _settle(leader, stores, seen, counter, recovered)


def _find_identities(stores: list[Store]) -> dict[str, Identity]:
    found: dict[str, Identity] = {}
    is_any_there = False
    for store in stores:
        try:
            identity = find_identity(store.folder)
            store.lock()
        except OSError as error:
            store.stop("away", f"no book in its folder ({error.strerror})")
            continue
        is_any_there = True
        if identity is None:
            store.stop("damaged", "book.json is not as it was written")
        else:
            found[store.name] = identity
    if not is_any_there:
        raise NoBookHere(
            "Book not opened: no store holds one.",
            why=f"There is no book.json in {' or '.join(store.folder.name for store in stores)}.",
            next_step="Put the removable store back in and start again, or make a new book by enrolling this kiosk.",
        )
    return found


def _agree(stores: list[Store], identities: dict[str, Identity], series: str | None) -> Identity:
    wanted = [identity for identity in identities.values() if series in (None, identity.series)]
    if not wanted and identities:
        others = ", ".join(sorted({identity.series for identity in identities.values()}))
        raise ForeignStore(
            f"Book {series} not opened: the stores hold book {others}.",
            why="Each book has its own two stores, and pages of two books are never mixed.",
            next_step="Put this kiosk's own stores back in, then start again.",
        )
    if not wanted:
        raise _damaged([f"{store.name}: {store.words}" for store in stores])
    for store in stores:
        other = identities.get(store.name)
        if other and other != wanted[0]:
            store.stop("away", f"the store in its place belongs to book {other.series} of plant {other.plant}")
    return wanted[0]


def _set_torn_aside(store: Store, seen: dict[str, Examined]) -> list[str]:
    notes = set_torn_aside(store, seen[store.name])
    if notes:
        seen[store.name] = examine(store.folder, seen[store.name].identity)
    return notes


def _examine_all(stores: list[Store], identity: Identity) -> dict[str, Examined]:
    seen: dict[str, Examined] = {}
    for store in stores:
        # A store whose book.json is damaged may still hold pages and numbers the other one lacks.
        if store.state not in ("good", "damaged"):
            continue
        try:
            found = examine(store.folder, identity)
        except OSError as error:
            store.stop("away", f"it cannot be read ({error.strerror})")
            continue
        seen[store.name] = found
        if found.damage:
            store.stop("damaged", "; ".join(str(fault) for fault in found.damage[:5]))
    return seen


def _choose(stores: list[Store], seen: dict[str, Examined]) -> Store:
    sound = [store for store in stores if store.name in seen and store.state != "damaged"]
    if not sound:
        raise _damaged([f"{store.name}: {store.words}" for store in stores])
    # The built-in store comes first, so it leads when both reach equally far.
    return max(sound, key=lambda store: seen[store.name].last_number)


def _make_one(leader: Store, stores: list[Store], seen: dict[str, Examined]) -> list[str]:
    notes: list[str] = []
    others = [store for store in stores if store is not leader and store.name in seen]
    for other in others:
        notes += take_over(leader, seen[leader.name], other, seen[other.name])
    if notes and leader.is_in_use:
        seen[leader.name] = examine(leader.folder, seen[leader.name].identity)
    for other in others:
        if other.is_in_use:
            notes += catch_up(other, seen[other.name], leader, seen[leader.name])
    return notes


def _settle(
    leader: Store, stores: list[Store], seen: dict[str, Examined], counter: Counter, recovered: list[str]
) -> Opened:
    found = seen[leader.name]
    last = found.last
    if last and last.number >= counter.number:
        counter = Counter(number=last.number, head=last.fingerprint, session=max(last.session, counter.session))
    elif counter.number > found.last_number:
        first = found.last_number + 1
        recovered.append(f"Pages {first} to {counter.number} were given out and are in no sound store.")
    receipts = _union(list(seen.values()))
    for store in stores:
        if not store.is_in_use:
            continue
        store.replace(store.folder / COUNTER, write_record(counter))
        if receipts != seen[store.name].receipts:
            store.replace(store.folder / RECEIPTS, b"".join(write_record(receipt) for receipt in receipts))
        if store.is_in_use:
            store.begin(found.identity, max(found.segments, default=None))
    return Opened(found.identity, found, last, counter, receipts, recovered)


def _union(seen: list[Examined]) -> list[Receipt]:
    every = {receipt for found in seen for receipt in found.receipts}
    return sorted(every, key=lambda receipt: (receipt.through, receipt.at))


def _damaged(words: list[str]) -> BookDamaged:
    return BookDamaged(
        "Book not opened: no store of it is sound.",
        why="; ".join(words) + ".",
        next_step=(
            "Write nothing to either store and keep both as they are. Use paper forms, call the quality manager,"
            " and enrol this kiosk anew under a new series; what can be read is loaded from the stores by two persons."
        ),
    )
