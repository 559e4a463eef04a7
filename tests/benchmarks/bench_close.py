"""How long close of day takes from screened pages to a ledger written, and from packets on disk. Run by hand:

python -m tests.benchmarks.bench_close --readings 15000 --kiosks 40

Prints seconds, memory and the ratio to the least that must be done: read, hash and parse the same packets and write
the same Parquet. Give `--kiosks` in step with `--readings`, or pieces come faster than hands can measure.
"""

import argparse
import tempfile
import time
from datetime import timedelta
from pathlib import Path

import pyarrow.parquet as pq

from consolidator.close import ClosedDay, close_day
from consolidator.intake import Archive, Intake, screen
from consolidator.intake.held import Held
from consolidator.ledger.books import Book
from consolidator.ledger.day_books import day_book
from consolidator.ledger.folder import write_book
from consolidator.plant import Plant
from consolidator.rules import JUDGED
from kiosk.lists import Lists
from tests.benchmarks.bench_intake import least, say
from tests.benchmarks.made_packets import DAY, made_lists, made_packets, received_at


def main() -> None:
    """Measure once and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--readings", type=int, default=15_000)
    asked.add_argument("--kiosks", type=int, default=40)
    asked.add_argument("--folder", type=Path, default=None, help="where to work; default: a temporary folder")
    told = asked.parse_args()
    with tempfile.TemporaryDirectory(dir=told.folder) as folder:
        _measure(Path(folder), told.readings, told.kiosks)


def _measure(folder: Path, readings: int, kiosks: int) -> None:
    plant = Plant.create(folder / "plant", number="1", name="made", zone="America/New_York")
    lists = made_lists(plant, kiosks, readings)
    paths = []
    for place, made in enumerate(made_packets(plant, folder / "kiosks", readings=readings, kiosks=kiosks)):
        paths.append(folder / f"{place:06d}.packet")
        paths[-1].write_bytes(made.raw)
    now = received_at(plant)
    start = time.perf_counter()
    with Intake(plant, now=lambda: now) as intake:
        for path in paths:
            intake.take_in(path.read_bytes())
        screen(intake)
    taken = say(f"{len(paths)} packets taken in and screened", start)
    start = time.perf_counter()
    with Archive(plant) as archive:
        held = archive.held(DAY, by_utc=now + timedelta(minutes=5))
    whole = say(f"held: {held.readings.num_rows} readings, {len(held.acts)} acts", start)
    closed, judging = _close(held, lists, start)
    book, writing = _write(plant, closed, lists)
    print(f"screened pages to ledger: {whole + judging + writing:.2f} s")
    bare = least(paths) + _bare_write(folder, book)
    total = taken + whole + judging + writing
    print(f"packets to ledger: {total:.2f} s, {total / bare:.1f} times the least ({bare:.2f} s)")


def _close(held: Held, lists: Lists, start: float) -> tuple[ClosedDay, float]:
    start = time.perf_counter()
    closed = close_day(held, lists, day=DAY, at_utc=max(k.last_arrival_at for k in held.kiosks if k.last_arrival_at))
    seconds = say(f"judged: {dict(closed.totals)}", start)
    counts = dict.fromkeys(closed.exceptions["number"].to_pylist(), 0)
    for row in closed.exceptions.to_pylist():
        counts[row["number"]] += int(row["readings"])
    print(f"readings by exception: {counts}; {closed.lines.num_rows} lines")
    return closed, seconds


def _write(plant: Plant, closed: ClosedDay, lists: Lists) -> tuple[Book, float]:
    start = time.perf_counter()
    book = day_book(closed, lists, b"{}", judged=JUDGED)
    made = say("fingerprinted", start)
    start = time.perf_counter()
    write_book(plant.ledger, book)
    return book, made + say("written", start)


def _bare_write(folder: Path, book: Book) -> float:
    start = time.perf_counter()
    pq.write_table(book.tables["readings"], folder / "bare.parquet", compression="zstd")
    return say("least: write the same Parquet", start)


if __name__ == "__main__":
    main()
