"""What is said about a book: room left, notices for the screen, and refusals.

Pure text: what is so, why, and the next step. Must not read clocks or disks.
"""

from typing import NamedTuple

from kiosk.book._records import Identity
from kiosk.book._store import Store
from kiosk.errors import NotKept, PageNotHere, ReceiptDoesNotFit, StoreNotRenewed
from kiosk.pages import Frozen
from kiosk.said import Said, say
from kiosk.settings import Settings


class Room(NamedTuple):
    """Room left in the store that has least of it."""

    free_bytes: int
    days_left: int


def reckon_room(free_bytes: int, stores_sharing: int, settings: Settings) -> Room:
    """Return the room when `stores_sharing` stores of the book lie on the disk with `free_bytes` left."""
    a_day = settings.pages_a_day_estimate * settings.page_bytes_estimate * stores_sharing
    return Room(free_bytes, max(0, free_bytes - settings.room_reserve_bytes) // a_day)


class Notice(Frozen):
    """Something to be shown until it is put right; nobody is stopped by it."""

    what: str
    why: str
    next_step: str


def store_notice(store: Store) -> Notice:
    """Return what to show about a store that is out of use."""
    next_steps = {
        "full": "Carry the pages by network or stick, then start the kiosk again.",
        "read-only": "Switch the kiosk off and on; if it stays so, have the store replaced.",
        "away": "Put the store back in, then start the kiosk again.",
        "damaged": "Leave the store as it is and call the quality manager; then have it renewed from the good one.",
    }
    return Notice(
        what=f"The {store.name} store is {store.state}; readings are kept in the other store alone.",
        why=f"{store.words[:1].upper()}{store.words[1:]}.",
        next_step=next_steps[store.state],
    )


def room_notice(room: Room, settings: Settings) -> Notice | None:
    """Return what to show when there is room for fewer days than asked for; none when there is enough."""
    if room.days_left >= settings.room_wanted_days:
        return None
    return Notice(
        what=f"Room for {room.days_left} more days of readings, {settings.room_wanted_days} are asked for.",
        why=f"{room.free_bytes / 1_000_000:.1f} MB are free.",
        next_step="Carry the pages so that old ones can be forgotten, or call support for a larger store.",
    )


def clock_notice(before: str, now: str) -> Notice:
    """Return what to show when the kiosk's time lies before the page kept last."""
    return Notice(
        what=f"The kiosk's clock was set back: it says {now}, the page before was kept at {before}.",
        why="Readings are kept in their order and their running time stays right; the times shown may be wrong.",
        next_step="Set the clock from the plant's clock, or carry by network so that the difference is noted.",
    )


def mended_notice(recovered: list[str]) -> Notice:
    """Return what to show about what was mended when the book was opened."""
    return Notice(
        what="The book was mended when it was opened.",
        why=" ".join(recovered),
        next_step="Compare the last page number with the shift slip; if pages are missing, call the quality manager.",
    )


def in_one_store_only(what: Said, stores: list[Store]) -> NotKept:
    """Return what to say when a page is in one store, but the other's failure could not be written down."""
    return NotKept(
        say("Not kept safely: {what}.", what=what),
        why=say("It lies in one store alone, and then that one failed too: {stores}.", stores=_states(stores)),
        next_step=say("Start the kiosk again and look whether the page is there. Use paper and call support."),
    )


def no_store_took_it(what: Said, stores: list[Store]) -> NotKept:
    """Return what to say when no store could take a page or receipt."""
    return NotKept(
        say("Not kept: {what}.", what=what),
        why=say("No store took it: {stores}.", stores=_states(stores)),
        next_step=say("What is on the screen stays there; nothing kept before is lost. Use paper and call support."),
    )


def too_little_room(what: Said, free_bytes: int, needed_bytes: int) -> NotKept:
    """Return what to say when every store in use is too full for a reading."""
    return NotKept(
        say("Not kept: {what}.", what=what),
        why=say(
            "{free} MB are free, {needed} MB are needed.",
            free=f"{free_bytes / 1_000_000:.1f}",
            needed=f"{needed_bytes / 1_000_000:.1f}",
        ),
        next_step=say("The reading is still on the screen. Carry by network or stick, and call support to make room."),
    )


def page_too_long(what: Said, length_bytes: int, limit_bytes: int) -> NotKept:
    """Return what to say when a page is longer than any page may be."""
    return NotKept(
        say("Not kept: {what}.", what=what),
        why=say("It would be {length} bytes long; the most is {limit}.", length=length_bytes, limit=limit_bytes),
        next_step=say("Keep it in several smaller pages, with shorter words."),
    )


def page_not_here(identity: Identity, number: int, first: int, last: int) -> PageNotHere:
    """Return what to say when a page is asked for that the book does not hold."""
    return PageNotHere(
        f"Page {identity.series}/{number} not found.",
        why=f"This book holds pages {first} to {last}; older ones were forgotten after their receipt.",
        next_step="Look at the number again, or ask the consolidator, which keeps every page for ever.",
    )


def receipt_does_not_fit(identity: Identity, through: int, last: int) -> ReceiptDoesNotFit:
    """Return what to say when a receipt speaks of a page this book does not have."""
    return ReceiptDoesNotFit(
        say("Receipt for page {series}/{number} not taken.", series=identity.series, number=through),
        why=say("Its fingerprint does not fit the page here, or there is no such page (last: {last}).", last=last),
        next_step=say("Nothing was marked as carried. Call the quality manager: two books may bear the same name."),
    )


def no_good_store(store: Store) -> StoreNotRenewed:
    """Return what to say when there is no good store to make another from."""
    return StoreNotRenewed(
        f"The {store.name} store was not made anew.",
        why="There is no other store in use to copy.",
        next_step="Keep both stores as they are and call the quality manager.",
    )


def _states(stores: list[Store]) -> str:
    return "; ".join(f"{store.name} store {store.state} ({store.words or 'in use'})" for store in stores)
