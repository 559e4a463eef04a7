"""How long keeping a reading takes beside merely appending and syncing the same bytes.

Run by hand: `python -m tests.benchmarks.bench_keep`.
Both stores lie on one disk. Raw and kept readings take turns, so that both meet the same moments of the machine.
Prints p50 and p99 in milliseconds around the 100th and the 10,000th reading of a day, and their ratios.
"""

import argparse
import os
import statistics
import tempfile
import time
from pathlib import Path
from zoneinfo import ZoneInfo

from kiosk.book import Book
from kiosk.book._journal import write_line
from kiosk.pages import canonical_bytes
from kiosk.pages.readings import Reading
from kiosk.pages.words import Standing, Verdict
from kiosk.ports import MachineClock, SystemChance
from kiosk.settings import Settings

WINDOW = 400
"""Readings measured around each mark; p99 is then the fifth slowest."""
WANTED_RATIO = 3.0


def reading(piece: int) -> Reading:
    """Return a reading of an invented part."""
    return Reading(
        lot="L-0001",
        operation="060",
        part="BX-1",
        revision="C",
        plan_version="7",
        set_up="SU-1",
        characteristic="12",
        sample=1 + piece // 5,
        piece=1 + piece % 5,
        gauge="G-1",
        master="M-1",
        keyed=".3122",
        unit="in",
        value="0.3122",
        verdict=Verdict.IN,
        standing=Standing.COUNTS,
    )


def append_synced(path: Path, line: bytes) -> None:
    """Append and sync, nothing else: the least that keeping on this disk can cost."""
    descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    os.write(descriptor, line)
    os.fsync(descriptor)
    os.close(descriptor)


def measure(book: Book, folder: Path, first: int) -> tuple[list[float], list[float]]:
    """Keep readings `first` onwards, and append the same bytes raw in between; return both times, in ms."""
    raw, kept = [], []
    for piece in range(first, first + WINDOW):
        act = reading(piece)
        begin = time.perf_counter_ns()
        page = book.keep(act, person="1201")
        kept.append((time.perf_counter_ns() - begin) / 1_000_000)
        line = write_line(canonical_bytes(page))
        begin = time.perf_counter_ns()
        append_synced(folder / "raw-a", line)
        append_synced(folder / "raw-b", line)
        raw.append((time.perf_counter_ns() - begin) / 1_000_000)
    return raw, kept


def show(mark: int, raw: list[float], kept: list[float]) -> None:
    """Print one mark's figures."""
    for name, place in (("p50", 49), ("p99", 98)):
        low, high = (statistics.quantiles(times, n=100, method="inclusive")[place] for times in (raw, kept))
        ratio = f"ratio {high / low:5.2f} (wanted <= {WANTED_RATIO})"
        print(f"{mark:>6}th  {name}  raw {low:7.3f} ms  kept {high:7.3f} ms  {ratio}")


def main() -> None:
    """Make a book on a real disk and measure it."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--folder", type=Path, help="where to write; the system's temporary folder if not given")
    folder = asked.parse_args().folder
    print(f"load {os.getloadavg()[0]:.2f}, {os.cpu_count()} processors, window {WINDOW} readings")
    with tempfile.TemporaryDirectory(dir=folder) as made:
        root = Path(made)
        book = Book.create(
            (root / "store-a", root / "store-b"),
            plant="PL-1",
            series="S12-a",
            station="S12",
            clock=MachineClock(ZoneInfo("America/New_York")),
            chance=SystemChance(),
            settings=Settings(),
        )
        for mark in (100, 10_000):
            while book.last_number < mark - WINDOW // 2:
                book.keep(reading(book.last_number), person="1201")
            show(mark, *measure(book, root, book.last_number))
        book.close()


if __name__ == "__main__":
    main()
