"""How fast packets on disk become screened readings, and how fast close of day gets them. Run by hand:

python -m tests.benchmarks.bench_intake --readings 15000

Prints seconds and memory beside the least that must be done: read, hash and parse the same packets.
"""

import argparse
import hashlib
import io
import resource
import tempfile
import time
from pathlib import Path

import pyarrow.json as pj

from consolidator.intake import Archive, Intake, screen
from consolidator.plant import Plant
from tests.benchmarks.made_packets import DAY, made_packets, received_at


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
    start = time.perf_counter()
    paths = []
    for place, made in enumerate(made_packets(plant, folder / "kiosks", readings=readings, kiosks=kiosks)):
        paths.append(folder / f"{place:06d}.packet")
        paths[-1].write_bytes(made.raw)
    say("made", start)
    bare = least(paths)
    now = received_at(plant)
    with Intake(plant, now=lambda: now) as intake:
        start = time.perf_counter()
        for path in paths:
            intake.take_in(path.read_bytes())
        taken = say(f"{len(paths)} packets taken in", start)
        start = time.perf_counter()
        pages = screen(intake)
        screened = say(f"{pages} pages screened", start)
        print(f"intake {taken + screened:.2f} s, {(taken + screened) / bare:.1f} times the least")
    with Archive(plant) as archive:
        start = time.perf_counter()
        held = archive.held(DAY, by_utc=now)
        say(f"held: {held.readings.num_rows} readings, {len(held.acts)} acts", start)
        print(f"table {held.readings.nbytes / 2**20:.0f} MiB")


def least(paths: list[Path]) -> float:
    """Return seconds for only reading, hashing and parsing the same packets, 200 packets at a time."""
    start = time.perf_counter()
    for place in range(0, len(paths), 200):
        pages = []
        for path in paths[place : place + 200]:
            for line in path.read_bytes().split(b"\n")[2:-1]:
                hashlib.sha256(line[65:]).hexdigest()
                pages.append(line[65:])
        options = pj.ReadOptions(use_threads=False, block_size=4_194_304)
        pj.read_json(io.BytesIO(b"\n".join(pages)), read_options=options)
    return say("least: read, hash, parse", start)


def say(what: str, start: float) -> float:
    """Print and return the seconds since `start`, with the most memory used so far."""
    seconds = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{what}: {seconds:.2f} s (peak {peak:.0f} MiB)")
    return seconds


if __name__ == "__main__":
    main()
