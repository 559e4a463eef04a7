"""Benchmark mode: `python -m tests.oracle --plants 10000` compares that many random plants and says what it saw."""

import argparse
import random
import sys
import time
from collections import Counter

from tests.oracle.compare import compare
from tests.oracle.plants import make_plant

_SAY_EVERY = 500


def main() -> int:
    """Compare plants of successive seeds; return 1 when any differs."""
    told = argparse.ArgumentParser(prog="python -m tests.oracle", description=__doc__)
    told.add_argument("--plants", type=int, default=300, help="how many random plants")
    told.add_argument("--first", type=int, default=None, help="first seed; otherwise drawn and printed")
    told.add_argument("--show", type=int, default=20, help="how many differing plants to show")
    asked = told.parse_args()
    first = random.SystemRandom().randrange(10**9) if asked.first is None else asked.first
    begun, readings, differing, kinds = time.perf_counter(), 0, list[str](), Counter[str]()
    print(f"first seed {first}")
    for place in range(asked.plants):
        seen = compare(make_plant(first + place, is_troubled=(first + place) % 2 == 1))
        readings += seen.readings
        kinds.update(seen.kinds)
        if seen.differences:
            differing.append(seen.plant)
            if len(differing) <= asked.show:
                print(f"plant {seen.plant}", *seen.differences, sep="\n  ")
        if (place + 1) % _SAY_EVERY == 0 and sys.stdout.isatty():
            print(f"{place + 1} plants, {time.perf_counter() - begun:.0f} s", file=sys.stderr)
    took = time.perf_counter() - begun
    print(f"{asked.plants} plants, {readings} readings, {len(differing)} plants differ, {took:.1f} s")
    print("plants with each kind:", ", ".join(f"{kind} {count}" for kind, count in sorted(kinds.items())))
    return 1 if differing else 0


if __name__ == "__main__":
    sys.exit(main())
