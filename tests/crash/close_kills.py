"""A small program for the crash test: writes and seals ledgers and is killed again and again while it does.

Everything heavy is imported once; each writer is a process of its own (fork), so a kill is a real kill -9 and costs
milliseconds. After each kill the ledger is looked at as a reader finds it, before anything mends it.
Prints one line of JSON and ends with 0 when every promise held.
"""

import hashlib
import json
import os
import random
import signal
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from functools import partial
from pathlib import Path

from consolidator.errors import LedgerMissing
from consolidator.ledger.folder import days_in, locked, open_book, write_book
from consolidator.ledger.seal import seal_book, sealed_books
from consolidator.ledger.verify import verify
from tests.unit.consolidator.ledger.plants import KEY, sealing
from tests.unit.consolidator.ledger.small_days import DAY, book_of, closed_day, reading

LONGEST_SHARE = 1.6
"""Longest a writer lives, as a share of the time that one needs which is left alone.

So most kills leave a half-written folder, and some come after the last act, on a busy machine too.
"""
PASSES = 3
"""Passes over each day before it is sealed; each holds more readings than the one before."""


def main(folder: Path, seed: int, kills: int) -> int:
    """Write, seal and kill; return the exit code."""
    chance = random.Random(seed)
    ledger = folder / "ledger"
    done = {"kills": 0, "writes": 0, "seals": 0, "torn": 0, "new": 0}
    sealed: dict[date, str] = {}
    day = DAY
    seen = 0
    while done["kills"] < kills:
        alone_s = _length_s(partial(_write, folder / f"alone-{day}", day, PASSES))
        waits_s = (share * alone_s for share in iter(partial(chance.uniform, 0, LONGEST_SHARE), None))
        for at in range(1, PASSES + 1):
            seen = _until_it_is_done(partial(_write, ledger, day, at), done, "writes", waits_s, ledger, sealed, seen)
        _until_it_is_done(partial(_seal, ledger, day), done, "seals", waits_s, ledger, sealed, seen)
        sealed[day] = _contents(ledger, day)
        day, seen = day + timedelta(days=1), 0
    assert verify(ledger).faults == ()
    assert [book.day for book in sealed_books(ledger)] == list(sealed)
    sys.stdout.write(json.dumps(done) + "\n")
    return 0


def _until_it_is_done(
    act: Callable[[], None],
    done: dict[str, int],
    what: str,
    waits_s: Iterator[float],
    ledger: Path,
    sealed: dict[date, str],
    seen: int,
) -> int:
    """Begin the act until one begins and ends unharmed; look at the ledger after each kill."""
    while True:
        child = _start(act)
        time.sleep(next(waits_s))
        os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        before, seen = seen, _look(ledger, sealed, seen)
        done["torn"] += ledger.exists() and any(path.name.startswith(".writing-") for path in ledger.iterdir())
        done["new"] += seen > before
        if os.WIFSIGNALED(status):
            done["kills"] += 1
            # A writer that was killed after its last act has done its work; a second one tells.
            if done["kills"] % 4:
                continue
            _, status = os.waitpid(_start(act), 0)
        assert os.WEXITSTATUS(status) == 0, "a writer failed"
        done[what] += 1
        return _look(ledger, sealed, seen)


def _length_s(act: Callable[[], None]) -> float:
    """Return how long the act lasts now, in a process of its own that nobody kills."""
    began = time.monotonic()
    _, status = os.waitpid(_start(act), 0)
    assert os.WEXITSTATUS(status) == 0, "a writer failed"
    return time.monotonic() - began


def _look(ledger: Path, sealed: dict[date, str], seen: int) -> int:
    """Hold the promises: sealed days are as they were, and of the running day one whole book is found, never an older.

    Returns how many readings the running day's book has.
    """
    for day, before in sealed.items():
        assert _contents(ledger, day) == before, f"sealed {day} changed"
    running = [day for day in (days_in(ledger) if ledger.exists() else []) if day not in sealed]
    count = 0
    for day in running:
        try:
            book = open_book(ledger, day)
        except LedgerMissing:
            continue
        count = book.table("readings").num_rows
    assert count >= seen, f"{count} readings where {seen} stood"
    faults = verify(ledger).faults if ledger.exists() else ()
    assert faults == (), faults
    return count


def _write(ledger: Path, day: date, count: int) -> None:
    readings = [reading("S12-a", n, "L-411", production_day=day.isoformat()) for n in range(1, 20 * count + 1)]
    with locked(ledger):
        write_book(ledger, book_of(closed_day(readings, day=day)))


def _seal(ledger: Path, day: date) -> None:
    with locked(ledger):
        if not open_book(ledger, day).is_sealed:
            seal_book(ledger, day, 0, sealing(day), KEY)


def _contents(ledger: Path, day: date) -> str:
    """Return one fingerprint over the names and bytes of a day's files, leavings of a killed sealer apart."""
    whole = hashlib.sha256()
    for path in sorted((ledger / day.isoformat()).rglob("*")):
        if path.is_file() and not path.name.endswith(".new"):
            whole.update(path.name.encode() + b"\0" + path.read_bytes())
    return whole.hexdigest()


def _start(act: Callable[[], None]) -> int:
    child = os.fork()
    if child:
        return child
    code = 5
    try:
        act()
        code = 0
    except BaseException:  # noqa: BLE001 - the parent is told by the exit code, the person by the trace
        traceback.print_exc()
    finally:
        os._exit(code)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3])))
