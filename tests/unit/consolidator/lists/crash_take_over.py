"""A small program for the crash test: takes the deck over again and again, killed at another file act each time.

Prints one line a run: the act it died at, and the newest version a reader finds afterwards.
"""

import os
import shutil
import sys
from pathlib import Path

from consolidator.lists import current, take_over
from consolidator.plant import Plant
from tests.unit.consolidator.lists.folders import DECK, LATER, START

ACTS = ("open", "os.mkdir", "os.rename", "os.chmod", "os.rmdir", "os.remove")
KILLED = 9


def _die_at(act: int, root: Path) -> None:
    """End this process at once, as a kill does, just before its file act number `act` inside the plant's lists."""
    left = act

    def watch(event: str, args: tuple[object, ...]) -> None:
        nonlocal left
        if event in ACTS and args and str(root) in str(args[0]):
            left -= 1
            if left < 0:
                os._exit(KILLED)

    sys.addaudithook(watch)


def run(folder: Path) -> None:
    """Kill a second take-over at each of its file acts in turn until one comes through."""
    plant = Plant.create(folder / "plant", number="P-INV", name="Invented Fastener Works", zone="America/New_York")
    take_over(plant, DECK, by="P-106", second="P-108", reason="first", at_utc=START)
    for act in range(1_000):
        copy = folder / f"copy-{act}"
        shutil.copytree(plant.root, copy)
        child = os.fork()
        if child == 0:
            here = Plant.open(copy)
            _die_at(act, copy / "lists")
            take_over(here, DECK, by="P-106", second="P-108", reason="second", at_utc=LATER)
            os._exit(0)
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        found = current(Plant.open(copy)).version
        again = take_over(Plant.open(copy), DECK, by="P-106", second="P-108", reason="third", at_utc=LATER).version
        sys.stdout.write(f"{act} {status} {found} {again}\n")
        if status == 0:
            return


if __name__ == "__main__":
    run(Path(sys.argv[1]))
