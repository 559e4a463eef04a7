"""A real program keeping pages is killed at a random moment, again and again, and loses nothing it acknowledged."""

import multiprocessing
import random
import time
from multiprocessing.connection import Connection
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from kiosk.book import Book, examine, find_identity
from kiosk.pages import canonical_bytes, fingerprint
from kiosk.ports import MachineClock, SystemChance
from kiosk.settings import Settings
from tests.unit.kiosk.book.small_books import SMALL, chain_breaks, remark

KILLS = 80
SEED = 1_125


def _open(stores: tuple[Path, ...]) -> Book:
    clock = MachineClock(ZoneInfo("America/New_York"))
    return Book.open(stores, clock=clock, chance=SystemChance(), settings=SMALL)


def _keep_for_ever(stores: tuple[Path, ...], told: Connection) -> None:
    """Open the book and keep page after page, telling number and fingerprint of each once `keep` has returned."""
    book = _open(stores)
    told.send((book.last_number, book.head))
    count = 0
    while True:
        page = book.keep(remark(count), person="1201")
        told.send((page.number, fingerprint(canonical_bytes(page))))
        count += 1


def _acknowledged_until_killed(stores: tuple[Path, ...], wait_s: float) -> list[tuple[int, str]]:
    """Let a program of its own keep pages, kill it with SIGKILL `wait_s` after it began, return what it told."""
    processes = multiprocessing.get_context("forkserver")
    processes.set_forkserver_preload(["tests.crash.test_book_kills"])
    here, there = processes.Pipe(duplex=False)
    program = processes.Process(target=_keep_for_ever, args=(stores, there))
    program.start()
    there.close()
    acknowledged = [here.recv()]
    time.sleep(wait_s)
    program.kill()
    program.join()
    try:
        while True:
            acknowledged.append(here.recv())
    except (EOFError, OSError):
        here.close()
    return acknowledged


@pytest.mark.crash
@pytest.mark.slow
@pytest.mark.timeout(300)
def test_a_program_killed_while_keeping_loses_nothing_acknowledged_and_doubles_nothing(tmp_path: Path) -> None:
    """Every page told as kept is there with its own bytes, the numbers are one run, and at most one page more."""
    stores = (tmp_path / "store-a", tmp_path / "store-b")
    clock = MachineClock(ZoneInfo("America/New_York"))
    Book.create(
        stores, plant="PL-1", series="S12-a", station="S12", clock=clock, chance=SystemChance(), settings=SMALL
    ).close()
    chance = random.Random(SEED)
    acknowledged: dict[int, str] = {}

    for _ in range(KILLS):
        told = _acknowledged_until_killed(stores, chance.uniform(0, 0.03))
        assert not acknowledged.keys() & dict(told).keys(), "a number was given out twice"
        acknowledged |= dict(told)

    with _open(stores) as book:
        contents = [content for _, content in book.pages()]
        held = {page.number: fingerprint(content) for page, content in book.pages()}
    assert {number: mark for number, mark in held.items() if number in acknowledged} == acknowledged
    assert list(held) == list(range(1, book.last_number + 1))
    assert chain_breaks(contents) == []
    assert len(held) - len(acknowledged) <= 2 + KILLS, "at most one unacknowledged page a kill"
    identity = find_identity(stores[0])
    assert identity and not any(examine(store, identity).faults for store in stores)
    assert len(acknowledged) > KILLS, "the kills came too early to test anything"


def test_segments_are_small_enough_for_kills_to_fall_on_their_borders() -> None:
    """The killed program crosses a segment border every few pages."""
    assert SMALL.segment_pages < Settings().segment_pages
