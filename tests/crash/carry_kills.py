"""A small program for the crash test: carries from a real book to a real intake and kills one of them again and again.

Everything heavy is imported once; each server, each carrying kiosk and each check is a process of its own (fork),
so that a kill is a real kill -9 and costs milliseconds. Prints one line of JSON and ends with 0 when all promises held.
"""

import json
import os
import random
import signal
import socket
import sys
import time
import traceback
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import uvicorn

from consolidator.intake import Archive, Intake, enrol, make_app, rebuild
from consolidator.plant import Plant
from kiosk.book import Book
from kiosk.carry import Enrolment, last_receipt
from kiosk.carry.network import NetworkCarry
from kiosk.errors import ConsolidatorAway
from kiosk.pages import fingerprint
from kiosk.pages.station import Remark
from kiosk.pages.words import ClockState
from kiosk.ports import SyncedDisk, SystemChance
from kiosk.settings import Settings
from tests.unit.carried import reading

DAY = date(2026, 3, 10)
ZONE = ZoneInfo("America/New_York")
PAGES_A_ROUND = 24
_AWAY, _FAULT = 4, 5
"""Exit codes of a child: the consolidator did not answer; anything that should not happen."""
SMALL = Settings(carry_packet_pages=4, carry_wait_s=0.002, carry_attempts=3, segment_pages=20)


class Ticking:
    """A kiosk's clock for the book: real running time, an invented date."""

    def now(self) -> datetime:
        """Return a moment of the invented morning."""
        start = datetime(2026, 3, 10, 9, 0, tzinfo=ZONE)
        return start + timedelta(milliseconds=time.monotonic_ns() // 1_000_000 % 3_600_000)

    def running_ms(self) -> int:
        """Return milliseconds since this machine was switched on."""
        return time.monotonic_ns() // 1_000_000


def main(folder: Path, seed: int, kills: int) -> int:
    """Carry and kill; return the exit code."""
    chance = random.Random(seed)
    listening = socket.create_server(("127.0.0.1", 0), backlog=64)
    plant = Plant.create(folder / "plant", number="PL-1", name="invented", zone="America/New_York")
    address = f"http://127.0.0.1:{listening.getsockname()[1]}"
    kiosk = folder / "kiosk"
    enrol(
        plant, series="S12-a", station="S12", now=datetime(2026, 3, 1, tzinfo=UTC), kiosk_folder=kiosk, address=address
    )
    done = {"server": 0, "kiosk": 0}
    server = _start(lambda: _serve(plant, listening))
    while sum(done.values()) < kills:
        if _end_of(_start(lambda: _write_pages(kiosk, chance.random()))):
            return 1
        carrying = _start(lambda: _carry(kiosk))
        time.sleep(chance.uniform(0, 0.09))
        victim = chance.choice(["server", "kiosk"])
        done[victim] += _kill(server if victim == "server" else carrying)
        if victim == "server":
            server = _start(lambda: _serve(plant, listening))
        if _end_of(carrying) == _FAULT:
            return _FAULT
        if chance.random() < 0.2 and _end_of(_start(lambda: _check(plant, kiosk, is_over=False))):
            return 2
    while code := _end_of(_start(lambda: _carry(kiosk))):
        if code == _FAULT:
            return _FAULT
    _kill(server)
    sys.stdout.write(json.dumps(done) + "\n")
    return 3 if _end_of(_start(lambda: _check(plant, kiosk, is_over=True))) else 0


def _start(act: Callable[[], None]) -> int:
    child = os.fork()
    if child:
        return child
    code = _FAULT
    try:
        act()
        code = 0
    except ConsolidatorAway:
        code = _AWAY
    finally:
        if code == _FAULT:
            traceback.print_exc()
        os._exit(code)


def _kill(child: int) -> bool:
    """Kill a process; return whether it was still at work."""
    if os.waitpid(child, os.WNOHANG)[0]:
        _ended.add(child)
        return False
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    _ended.add(child)
    return True


_ended: set[int] = set()


def _end_of(child: int) -> int:
    """Wait for a process and return its exit code; 0 for one killed or seen to end before."""
    if child in _ended:
        return 0
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def _serve(plant: Plant, listening: socket.socket) -> None:
    app = make_app(plant)
    uvicorn.Server(uvicorn.Config(app, log_level="error", ws="none")).run(sockets=[listening])


def _open(kiosk: Path) -> Book:
    stores = (kiosk / "store-a",)
    told = {"clock": Ticking(), "chance": SystemChance(), "settings": SMALL}
    if not stores[0].exists():
        stores[0].mkdir()
        return Book.create(stores, plant="PL-1", series="S12-a", station="S12", **told)  # type: ignore[arg-type]
    return Book.open(stores, **told)  # type: ignore[arg-type]


def _write_pages(kiosk: Path, words: float) -> None:
    with _open(kiosk) as book:
        for place in range(PAGES_A_ROUND):
            act = reading(piece=place + 1) if place % 3 else Remark(words=f"{words}")
            book.keep(act, person="P-101", lists_version=1, lists_taken_at=None, clock_state=ClockState.AGREED)


def _carry(kiosk: Path) -> None:
    with _open(kiosk) as book, NetworkCarry(kiosk, SyncedDisk(), settings=SMALL) as network:
        network.carry(book, Ticking(), session=book.session)


def _check(plant: Plant, kiosk: Path, *, is_over: bool) -> None:
    """Nothing acknowledged is lost, nothing is doubled, nothing is other than it was kept.

    At the end this is asked of the logs and the packets alone, everything else being made anew.
    """
    with _open(kiosk) as book:
        kept = {page.number: fingerprint(raw) for page, raw in book.pages(1, book.last_number)}
    receipt = last_receipt(kiosk, Enrolment.open(kiosk))
    with Intake(plant) as intake:
        if is_over:
            rebuild(intake)
        archive = Archive(plant, intake)
        held = archive.held(DAY, by_utc=datetime(2100, 1, 1, tzinfo=UTC))
    found = [*zip(held.readings["number"].to_pylist(), held.readings["fingerprint"].to_pylist(), strict=True)]
    found += [(each.page.number, each.fingerprint) for each in held.acts]
    assert len({number for number, _ in found}) == len(found), "a page is there twice"
    assert all(kept[number] == print_ for number, print_ in found), "a page is not as it was kept"
    numbers = {number for number, _ in found}
    acknowledged = {n for a, b in (receipt.held if receipt else ()) for n in range(a, b + 1)}
    assert acknowledged <= numbers, "a page that was acknowledged is lost"
    assert numbers == {n for run in held.runs.get("S12-a", ()) for n in range(run.first, run.last + 1)}
    assert not (held.conflicts or held.altered or held.unknown)
    if is_over:
        # The last opening made one more page, which nobody carried.
        assert numbers >= set(kept) - {max(kept)}, "a page never arrived"
        log = (plant.intake / "carry-log.jsonl").read_text(encoding="utf-8").splitlines()
        assert sum(json.loads(line)["new"] for line in log) == len(numbers), "the carry log counts otherwise"


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])))
