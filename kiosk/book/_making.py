"""Makes the files of a store: an empty one for a new book, or one made anew from the good store.

A book that was only half made can simply be made again.
`book.json` comes last: without it a folder is no store.
"""

from pathlib import Path

from kiosk.book._examine import examine
from kiosk.book._journal import write_record
from kiosk.book._mending import catch_up
from kiosk.book._records import (
    COUNTER,
    IDENTITY,
    LOCK,
    PAGES_FOLDER,
    RECEIPTS,
    SET_ASIDE,
    Counter,
    Identity,
    Receipt,
    read_identity,
    write_identity,
)
from kiosk.book._store import Store
from kiosk.errors import BookAlreadyThere, NotKept, StoreNotRenewed
from kiosk.pages import FIRST_PREVIOUS
from kiosk.ports import Disk, sync_folder


def make_stores(folders: tuple[Path, ...], identity: Identity, disk: Disk) -> None:
    """Make an empty store of book `identity` in each folder.

    Raises:
        BookAlreadyThere: a folder holds a book with pages, or another book.
        NotKept: a disk failed.
    """
    for folder in folders:
        _refuse_if_taken(folder, identity)
    empty = Counter(number=0, head=FIRST_PREVIOUS, session=0)
    for folder in folders:
        try:
            write_empty_store(folder, identity, empty, [], disk)
        except OSError as error:
            raise NotKept(
                f"Book {identity.series} not made: its store in {folder.name} could not be written.",
                why=f"The disk said: {error.strerror or error}.",
                next_step="Make room or put a sound store in, then make the book again; no page was kept yet.",
            ) from error


def write_empty_store(folder: Path, identity: Identity, counter: Counter, receipts: list[Receipt], disk: Disk) -> None:
    """Write all files of a store but its pages; `book.json` last."""
    for part in (folder, folder / PAGES_FOLDER, folder / SET_ASIDE):
        part.mkdir(parents=True, exist_ok=True)
    sync_folder(folder.parent)
    disk.replace_synced(folder / COUNTER, write_record(counter))
    disk.replace_synced(folder / RECEIPTS, b"".join(write_record(receipt) for receipt in receipts))
    disk.replace_synced(folder / IDENTITY, write_identity(identity))


def _refuse_if_taken(folder: Path, identity: Identity) -> None:
    path = folder / IDENTITY
    has_pages = (folder / PAGES_FOLDER).is_dir() and any((folder / PAGES_FOLDER).iterdir())
    is_other = path.exists() and read_identity(path.read_bytes()) != identity
    if has_pages or is_other:
        raise BookAlreadyThere(
            f"Book {identity.series} not made: {folder.name} holds a book already.",
            why="A book is never written over.",
            next_step="Open the book that is there, or give an empty folder.",
        )


def renew(
    store: Store, leader: Store, identity: Identity, counter: Counter, receipts: list[Receipt], disk: Disk
) -> list[str]:
    """Make `store` anew from `leader`: what lay in its folder is set aside whole, then everything is copied.

    Raises:
        StoreNotRenewed: the folder is away, holds another book, or its disk failed.
    """
    _refuse_other_book(store, identity)
    try:
        store.folder.mkdir(exist_ok=True)
        _set_whole_aside(store.folder)
        write_empty_store(store.folder, identity, counter, receipts, disk)
        store.restart()
    except OSError as error:
        raise _not_renewed(store, f"The disk said: {error.strerror or error}.") from error
    notes = catch_up(store, examine(store.folder, identity), leader, examine(leader.folder, identity))
    if not store.is_in_use:
        raise _not_renewed(store, f"The disk said: {store.words}.")
    store.begin(identity, identity.segment_of(counter.number))
    return notes


def _refuse_other_book(store: Store, identity: Identity) -> None:
    path = store.folder / IDENTITY
    other = read_identity(path.read_bytes()) if path.exists() else None
    if other and other != identity:
        raise _not_renewed(store, f"Its folder holds book {other.series}, which is never written over.")


def _set_whole_aside(folder: Path) -> None:
    old = [path for path in sorted(folder.iterdir()) if path.name not in (LOCK, SET_ASIDE)]
    if not old:
        return
    aside = folder / SET_ASIDE
    aside.mkdir(exist_ok=True)
    whole = aside / f"whole-{1 + sum(path.name.startswith('whole-') for path in aside.iterdir())}"
    whole.mkdir()
    for path in old:
        path.rename(whole / path.name)


def _not_renewed(store: Store, why: str) -> StoreNotRenewed:
    return StoreNotRenewed(
        f"The {store.name} store was not made anew.",
        why=why,
        next_step="Put an empty, sound store in its place and try again; the good store was only read.",
    )
