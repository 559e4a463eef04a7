"""One store: its lock, its room, its end."""

import multiprocessing
from multiprocessing.connection import Connection
from pathlib import Path

import pytest

from kiosk.book._store import Store
from kiosk.errors import BookInUse
from kiosk.ports import SyncedDisk
from tests.unit.kiosk.book.small_books import Kiosk


def _hold(folder: Path, told: Connection) -> None:
    Store("built-in", folder, SyncedDisk()).lock()
    told.send("held")
    told.recv()


@pytest.mark.crash
@pytest.mark.slow
def test_a_lock_is_gone_with_the_program_that_was_killed(tmp_path: Path) -> None:
    """While another program lives the book is refused; after kill -9 nothing has to be cleared by hand."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(1)
    here, there = multiprocessing.Pipe()
    program = multiprocessing.get_context("spawn").Process(target=_hold, args=(kiosk.stores[0], there))
    program.start()
    assert here.recv() == "held"

    with pytest.raises(BookInUse):
        kiosk.open()
    program.kill()
    program.join()

    with kiosk.open() as book:
        assert book.session == 2


def test_a_store_refused_leaves_no_lock_behind(tmp_path: Path) -> None:
    """A book that could not be opened does not keep the next program out."""
    kiosk = Kiosk(tmp_path)
    kiosk.filled(1)
    held = Store("removable", kiosk.stores[1], SyncedDisk())
    held.lock()

    with pytest.raises(BookInUse, match="removable store is in use"):
        kiosk.open()

    held.release()
    kiosk.open().close()


def test_a_store_whose_folder_is_gone_has_no_room_and_no_disk(tmp_path: Path) -> None:
    """What cannot be asked counts as nothing, never as plenty."""
    store = Store("removable", tmp_path / "gone", SyncedDisk())

    assert store.free_bytes == 0
    assert store.disk_number == "removable"


def test_the_first_reason_a_store_failed_stays(tmp_path: Path) -> None:
    """What is on the screen is the cause, not what came of it."""
    store = Store("built-in", tmp_path, SyncedDisk())

    store.stop("full", "0.4 MB free")
    store.stop("away", "the book was closed")

    assert (store.state, store.words) == ("full", "0.4 MB free")
    assert not store.attempt(lambda: None)
