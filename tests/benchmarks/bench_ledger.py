"""How long a book of the ledger takes to be fingerprinted, written and checked. Run by hand:

python -m tests.benchmarks.bench_ledger --readings 1000000

Rows are invented, forty kiosks, all columns filled as on a usual day. Prints seconds and memory.
"""

import argparse
import resource
import tempfile
import time
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from consolidator.close.columns import READING_COLUMNS
from consolidator.ledger.books import Book
from consolidator.ledger.day_books import day_book
from consolidator.ledger.folder import write_book
from consolidator.ledger.verify import verify
from tests.unit.consolidator.ledger.small_days import closed_day, lists_used, reading

KIOSKS = 40


def main() -> None:
    """Measure once and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--readings", type=int, default=15_000)
    count = asked.parse_args().readings
    small = closed_day([reading("S01-a", 1, "L-1")])
    table = _readings(count)
    totals = dict(small.totals) | {"readings": count, "pages": count, "counting": count}
    closed = small.__class__(**{**small.__dict__, "readings": table, "totals": totals})
    _say(f"{count} rows made", time.perf_counter())
    start = time.perf_counter()
    book: Book = day_book(closed, lists_used(), b"{}")
    _say("fingerprinted", start)
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        write_book(Path(folder), book)
        _say("written", start)
        start = time.perf_counter()
        found = verify(Path(folder))
        _say(f"checked, {len(found.faults)} faults {found.faults[:1]}", start)


def _readings(count: int) -> pa.Table:
    dice = np.random.default_rng(1)
    usual = reading(
        "S12-a", 1, "L-411", characteristic_name="ground shank diameter", calibrated_before="2025-12-19 M-01"
    )
    columns: dict[str, pa.Array] = {}
    for name in READING_COLUMNS:
        words = pa.array([f"{usual[name]}{n}" if usual[name] else "" for n in range(200)])
        columns[name] = pa.DictionaryArray.from_arrays(pa.array(dice.integers(0, 200, count).astype(np.int32)), words)
    kiosks = np.sort(dice.integers(0, KIOSKS, count)).astype(np.int32)
    columns["kiosk"] = pa.DictionaryArray.from_arrays(
        pa.array(kiosks), pa.array([f"S{n:02d}-a" for n in range(KIOSKS)])
    )
    columns["page"] = pa.array(np.arange(1, count + 1)).cast(pa.string())
    columns["fingerprint"] = pa.array([f"{n:064x}" for n in range(count)])
    for name in ("effective_time", "kiosk_time"):
        millis = pa.array(1_773_000_000_000 + np.arange(count) * 50, pa.timestamp("ms"))
        columns[name] = pc.strftime(millis, "%Y-%m-%dT%H:%M:%S-04:00")
    return pa.table(columns)


def _say(what: str, start: float) -> None:
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{what}: {time.perf_counter() - start:.2f} s, {memory:.0f} MiB at most so far")


if __name__ == "__main__":
    main()
