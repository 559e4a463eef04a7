"""How long a look-back takes from screened pages to the list of lots, for a gauge and for a master. Run by hand:

python -m tests.benchmarks.bench_lookback --gauges 1 --readings 20000
python -m tests.benchmarks.bench_lookback --gauges 200 --readings 300000

With one gauge it is found out itself; with more, the gauge blocks all of them were calibrated with are found out, and
then each gauge, found out against sound blocks, has a look-back of its own. Prints seconds and memory.
"""

import argparse
import json
import tempfile
import time
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from consolidator.desk import open_desk, take_in_desk
from consolidator.frame import make_day
from consolidator.intake import Archive, Intake, screen
from consolidator.lookback import FINDINGS, LookBack, look_back
from consolidator.lookback.at_plant import KINDS
from consolidator.lookback.told import told
from consolidator.plant import Plant
from kiosk.lists import CalibrationRecord, Lists
from kiosk.pages.desk import Calibration, CalibrationPoint
from kiosk.ports import SystemChance
from kiosk.times import day_bounds_utc, production_day, write_time
from tests.benchmarks.bench_intake import say
from tests.benchmarks.made_packets import DAY, made_lists, made_packets, received_at
from tests.unit.consolidator.played_plant import HandClock

BLOCKS: Final = "M-02"
SOUND: Final = "M-03"


def main() -> None:
    """Measure once and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--gauges", type=int, default=1)
    asked.add_argument("--readings", type=int, default=20_000)
    asked.add_argument("--folder", type=Path, default=None, help="where to work; default: a temporary folder")
    asked_for = asked.parse_args()
    with tempfile.TemporaryDirectory(dir=asked_for.folder) as folder:
        _measure(Path(folder), asked_for.gauges, asked_for.readings)


def _measure(folder: Path, gauges: int, readings: int) -> None:
    plant = Plant.create(folder / "plant", number="1", name="made", zone="America/New_York")
    lists = _calibrated(made_lists(plant, gauges, readings))
    begun, now = time.perf_counter(), received_at(plant)
    with Intake(plant, now=lambda: now) as intake:
        for made in made_packets(plant, folder / "kiosks", readings=readings, kiosks=gauges):
            intake.take_in(made.raw)
        screen(intake)
    say(f"made, taken in and screened: {readings} readings of {gauges} gauges", begun)
    clock = HandClock(now)
    if gauges > 1:
        _find_out(plant, clock, [BLOCKS], ())
        _look(plant, lists, clock.at, [BLOCKS])
    numbers = [gauge.number for gauge in lists.gauges]
    _find_out(plant, clock, numbers, (SOUND,))
    _look(plant, lists, clock.at, numbers[:1])
    if gauges > 1:
        _look(plant, lists, clock.at, numbers)


def _calibrated(lists: Lists) -> Lists:
    """Return the lists with blocks and all gauges left good before the day, the gauges with the blocks."""
    start = day_bounds_utc(DAY, ZoneInfo(lists.zone))[0]
    blocks = CalibrationRecord(
        gauge=BLOCKS,
        done_at=write_time(start - timedelta(days=90)),
        technician="P-105",
        as_found="Good",
        as_left="Good",
    )
    each = (
        blocks.model_copy(
            update={"gauge": gauge.number, "done_at": write_time(start - timedelta(days=30)), "masters": (BLOCKS,)}
        )
        for gauge in lists.gauges
    )
    return lists.model_copy(update={"calibrations": (blocks, *each)})


def _find_out(plant: Plant, clock: HandClock, numbers: list[str], masters: tuple[str, ...]) -> None:
    """Keep a page for each number that says it was found out, .0001 to .0003 in high."""
    points = tuple(
        CalibrationPoint(at=at, permissible="0.0001", as_found=error, as_left="0")
        for at, error in (("0.25", "0.0001"), ("0.3", "0.0003"), ("0.35", "0.0002"))
    )
    with open_desk(plant, clock=clock, chance=SystemChance()) as desk, Intake(plant, now=clock.now) as intake:
        for number in numbers:
            act = Calibration(
                gauge=number, done_at=write_time(clock.now()), masters=masters, procedure="C-1", unit="in",
                points=points, as_found="Out", action="adjusted", as_left="Good",
            )  # fmt: skip
            desk.keep(act, person="P-105", lists_version=1)
        take_in_desk(plant, desk, intake)


def _look(plant: Plant, lists: Lists, at: datetime, numbers: list[str]) -> None:
    """Look back upon each number as the command does, from the archive to the text of the JSON."""
    begun, at_utc, size = time.perf_counter(), at + timedelta(minutes=1), 0
    backs: list[LookBack] = []
    with Archive(plant) as archive:
        held = archive.told(KINDS, by_utc=at_utc)
        day = make_day(held, lists, day=production_day(at_utc, plant.zone), at_utc=at_utc)
        for number in numbers:
            backs.append(
                look_back(
                    day,
                    number,
                    lambda names, pages, since: archive.readings_with(
                        names, pages=pages, since_utc=since, by_utc=at_utc
                    ),
                )
            )
    found = time.perf_counter() - begun
    size = sum(len(json.dumps(told(back))) for back in backs)
    readings, lots = sum(len(back.found) for back in backs), sum(len(back.lots) for back in backs)
    users = sum(len(back.users) for back in backs)
    what = f"{len(numbers)} look-backs" if len(numbers) > 1 else f"look-back of {numbers[0]}"
    counts = {str(finding): sum(lot.counts[finding] for back in backs for lot in back.lots) for finding in FINDINGS}
    say(f"{what}: {readings} readings, {lots} lots, {users} gauges, {counts}; {size / 1e6:.0f} MB of JSON", begun)
    print(f"   of these until the list of lots stands: {found:.2f} s")


if __name__ == "__main__":
    main()
