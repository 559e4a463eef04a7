"""How quickly the screens answer in a real browser, and whether a long day makes them grow.

Run by hand: `python -m tests.benchmarks.bench_screens`, about a quarter of an hour; `--quick` takes two minutes, and
parts may be named (touch, burst, day, loads, scans).
Prints, for this machine: touch to shown and last key to kept (p50, p95, most), loads that drew another picture,
taps and scans that were lost, taps a piece, and how memory moved over eight hours' readings.

"Shown" is the first animation frame after the words on the screen changed, counted from the touch: the renderer
changes its readable words at the end of the frame that draws them, so the next one has them on the glass.
"Kept" is the same for "n of 5 done", which the kiosk says only after both stores have synced.
"Written" is when the later of the two stores' files was changed, by the file system's own clock (to some 4 ms).
Times are taken inside the page (`screen_probe`), so that the driver's own time is not in them; a renderer without a
graphics card draws more slowly than a panel does, and a machine that is busy otherwise too: its load is printed.
"""

import argparse
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

from kiosk.pages.readings import Reading
from kiosk.screens.serving import BROWSERS
from tests.benchmarks.screen_probe import (
    Finger,
    load,
    page_process,
    resident_mb,
    scripts_mb,
    written_at_ms,
)
from tests.browser.kiosks import Served, served
from tests.browser.loading import differing_loads
from tests.browser.person import Person, launch
from tests.browser.test_measuring import at_first_piece

WANTED_SHOWN_MS = 100.0
WANTED_KEPT_MS = 150.0
READINGS_OF_A_DAY = 400
SETTLED_S = 0.45


def percentile(times_ms: list[float], share: float) -> float:
    """Return the time that `share` of all stay below or meet."""
    ordered = sorted(times_ms)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def tell(name: str, times_ms: list[float], wanted_ms: float) -> bool:
    """Print one line of times; return whether the wish is met."""
    p95 = percentile(times_ms, 0.95)
    print(
        f"{name}: n {len(times_ms)}, p50 {statistics.median(times_ms):.0f} ms, p95 {p95:.0f} ms, "
        f"most {max(times_ms):.0f} ms (wanted: p95 <= {wanted_ms:.0f} ms)",
        flush=True,
    )
    return p95 <= wanted_ms


def touches(finger: Finger, count: int) -> list[float]:
    """Return the times of digits."""
    times = []
    for place in range(count):
        if place % 10 == 9:
            for _ in range(9):
                finger.touch("Take one back")
                finger.person.page.wait_for_timeout(60)
            continue
        times.append(finger.timed_touch(str(place % 10)))
        finger.person.page.wait_for_timeout(60)
    for _ in range(12):
        finger.touch("Take one back")
        finger.person.page.wait_for_timeout(60)
    return times


def keeps(finger: Finger, stores: tuple[Path, ...], readings: int) -> tuple[list[float], list[float], float]:
    """Key `readings` pieces in samples of five, three taps each; return times of Keep, shown and written, and taps."""
    times, written, taps = [], [], 0
    person = finger.person
    for number in range(readings):
        piece = number % 5 + 1
        keys = (str(number % 4 + 1), "UNDER" if number % 2 else "OVER")
        for key in keys:
            finger.touch(key)
            person.page.wait_for_timeout(60)
        times.append(finger.timed_touch("Keep"))
        written.append(written_at_ms(stores) - finger.touched_at_ms)
        taps += len(keys) + 1
        person.sees(f"{piece} of 5 done" if piece < 5 else "all 5 done")
        person.page.wait_for_timeout(SETTLED_S * 1000)
        if piece == 5:
            person.pick("End the sample")
            person.settle()
            person.pick("BC1")
            person.scan("G-220")
            person.sees("Piece 1")
            person.settle()
    return times, written, taps / readings


def burst(finger: Finger, seconds: int) -> int:
    """Touch 20 times a second; return how many digits were lost or out of order."""
    wrong = 0
    for turn in range(seconds * 2):
        wanted = "".join(str((turn * 7 + place * 3) % 10) for place in range(10))
        for digit in wanted:
            finger.touch(digit)
            finger.person.page.wait_for_timeout(44)
        began = time.monotonic()
        while wanted not in finger.person.words() and time.monotonic() - began < 5:
            finger.person.page.wait_for_timeout(50)
        wrong += wanted not in finger.person.words()
        for _ in wanted:
            finger.touch("Take one back")
            finger.person.page.wait_for_timeout(60)
    return wrong


def scans(kiosk: Served, person: Person, count: int) -> int:
    """Scan badges at 2 ms a character; return how many are not in the book."""
    before = sum(page.act.kind == "badge in" for page in kiosk.pages())
    for number in range(count):
        person.scan(f"B-10{1 + number % 2}")
    kiosk.comes_to(lambda pages: sum(page.act.kind == "badge in" for page in pages) == before + count, 20)
    return before + count - sum(page.act.kind == "badge in" for page in kiosk.pages())


def memory(kiosk: Served, finger: Finger) -> str:
    """Return what the kiosk's process, the page's scripts and the process that draws the page hold."""
    assert kiosk.process is not None
    return (
        f"kiosk {resident_mb(kiosk.process.pid):.0f} MB, page's scripts {scripts_mb(finger.person.page):.1f} MB, "
        f"page's process {resident_mb(page_process()):.0f} MB"
    )


def long_day(kiosk: Served, finger: Finger, readings: int) -> tuple[list[float], list[float], float]:
    """Key a day's readings; print memory at each eighth; return times of Keep, shown and written, and taps a piece."""
    stores = tuple(kiosk.folder / name for name in ("store-a", "store-b"))
    times: list[float] = []
    written: list[float] = []
    taps = 0.0
    for _ in range(8):
        more, more_written, taps = keeps(finger, stores, readings // 8)
        times, written = times + more, written + more_written
        told = f"p95 of this eighth {percentile(more, 0.95):.0f} ms; {load()}"
        print(f"after {len(times)} readings: {memory(kiosk, finger)}, {told}", flush=True)
    return times, written, taps


PARTS = ("touch", "burst", "day", "loads", "scans")


def measure(part: str, kiosk: Served, finger: Finger, divisor: int) -> bool:
    """Measure one part and print what came of it; return whether the wish is met."""
    person = finger.person
    print(f"-- {part}: {load()}", flush=True)
    match part:
        case "touch":
            return tell("touch to shown", touches(finger, 200 // divisor), WANTED_SHOWN_MS)
        case "burst":
            lost = burst(finger, max(1, 10 // divisor))
            print(f"20 taps a second: {lost} groups of ten lost or out of order", flush=True)
            return not lost
        case "day":
            print(f"memory before: {memory(kiosk, finger)}", flush=True)
            times, written, taps = long_day(kiosk, finger, READINGS_OF_A_DAY // divisor)
            kept = sum(isinstance(page.act, Reading) for page in kiosk.pages())
            print(f"readings in the book: {kept} of {len(times)}; taps a piece: {taps:g}")
            on_disk = tell("last key to written in both stores", written, WANTED_KEPT_MS)
            on_screen = tell("last key to kept on both stores and shown", times, WANTED_KEPT_MS)
            return on_disk and on_screen and kept == len(times)
        case "loads":
            person.touch("1", "2", ".", "3", "4", "5")
            person.sees("12.345")
            different = differing_loads(person, 100 // divisor)
            print(f"loads that drew another picture: {len(different)} of {100 // divisor}", flush=True)
            return not different
        case _:
            missing = scans(kiosk, person, 200 // divisor)
            print(f"scans at 2 ms a character: {missing} of {200 // divisor} lost", flush=True)
            return not missing


def main() -> int:
    """Measure and print; end with 1 when a wish is not met."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="A tenth of everything.")
    parser.add_argument("parts", nargs="*", default=PARTS, help=f"Which parts, of {', '.join(PARTS)}.")
    asked = parser.parse_args()
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found is None:
        print("No Chromium here. Install the package 'chromium'.")
        return 2
    with (
        tempfile.TemporaryDirectory() as folder,
        sync_playwright() as driver,
        launch(driver, found) as browser,
        served(Path(folder)) as kiosk,
    ):
        person = Person(browser.new_page(viewport={"width": 1280, "height": 800}, has_touch=True)).open(kiosk.address)
        finger = Finger(at_first_piece(person))
        met = [measure(part, kiosk, finger, 10 if asked.quick else 1) for part in PARTS if part in asked.parts]
    return 0 if all(met) else 1


if __name__ == "__main__":
    sys.exit(main())
