"""How quickly the screens answer in a real browser, and whether a long day makes them grow.

Run by hand: `python -m tests.benchmarks.bench_screens`, about a quarter of an hour; `--quick` takes two minutes, and
parts may be named (touch, burst, day, loads, scans).
Prints, for this machine: touch to shown and last key to kept (p50, p95, most), loads that drew another picture,
taps and scans that were lost, taps a piece, and how memory moved over eight hours' readings.

"Shown" is the first animation frame after the words on the screen changed, counted from the touch: the renderer
changes its readable words at the end of the frame that draws them, so the next one has them on the glass.
"Kept" is the same for "n of 5 done", which the kiosk says only after both stores have synced.
Times are taken inside the page, so that the driver's own time is not in them; a renderer without a graphics card
draws more slowly than a panel does.
"""

import argparse
import os
import shutil
import statistics
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import sync_playwright

from kiosk.pages.readings import Reading
from kiosk.screens.serving import BROWSERS
from tests.browser.kiosks import Served, served
from tests.browser.loading import differing_loads
from tests.browser.person import Box, Person, launch
from tests.browser.test_measuring import at_first_piece

WANTED_SHOWN_MS = 100.0
WANTED_KEPT_MS = 150.0
READINGS_OF_A_DAY = 400
SETTLED_S = 0.45
TIMER = """() => {
  window.timed = [];
  const host = document.querySelector("flt-semantics-host");
  let pressed = 0;
  window.addEventListener("pointerdown", (event) => { pressed = event.timeStamp; }, true);
  new MutationObserver(() => {
    if (!pressed) return;
    const since = pressed;
    pressed = 0;
    requestAnimationFrame(() => window.timed.push(performance.now() - since));
  }).observe(host, {subtree: true, childList: true, characterData: true, attributes: true});
}"""
"""Notes the time from each touch to the first frame after the first change of what can be read."""


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


class Finger:
    """A finger that knows where the keys of the value screen are, and times what comes of its touches."""

    def __init__(self, person: Person) -> None:
        self.person = person
        names = [*"0123456789", "UNDER", "OVER", "Keep", "Take one back"]
        self._boxes: dict[str, Box] = {name: person.box(name) for name in names}
        person.page.evaluate(TIMER)

    def touch(self, name: str) -> None:
        """Touch a key."""
        box = self._boxes[name]
        self.person.page.mouse.click(box.left + box.width / 2, box.top + box.height / 2)

    def timed_touch(self, name: str) -> float:
        """Touch a key and return the milliseconds until what it did was shown."""
        page = self.person.page
        before = int(page.evaluate("window.timed.length"))
        self.touch(name)
        began = time.monotonic()
        while time.monotonic() - began < 5:
            times = page.evaluate("window.timed")
            if len(times) > before:
                return float(times[before])
            page.wait_for_timeout(5)
        raise AssertionError(f"{name} was not answered")


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


def keeps(finger: Finger, readings: int) -> tuple[list[float], float]:
    """Key `readings` pieces in samples of five, three taps each; return the times of Keep and taps a piece."""
    times, taps = [], 0
    person = finger.person
    for number in range(readings):
        piece = number % 5 + 1
        keys = (str(number % 4 + 1), "UNDER" if number % 2 else "OVER")
        for key in keys:
            finger.touch(key)
            person.page.wait_for_timeout(60)
        times.append(finger.timed_touch("Keep"))
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
    return times, taps / readings


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


def resident_mb(kiosk: Served) -> float:
    """Return the memory the kiosk's process holds, in MB (Linux)."""
    assert kiosk.process is not None
    pages = int(Path(f"/proc/{kiosk.process.pid}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def page_mb(person: Person) -> float:
    """Return the memory the page's scripts hold after a sweep, in MB."""
    line = person.page.context.new_cdp_session(person.page)
    line.send("HeapProfiler.collectGarbage")
    used = line.send("Runtime.getHeapUsage")["usedSize"]
    line.detach()
    return float(used) / 1e6


def long_day(kiosk: Served, finger: Finger, readings: int) -> tuple[list[float], float]:
    """Key a day's readings; print memory at each quarter; return times of Keep and taps a piece."""
    times: list[float] = []
    taps = 0.0
    for quarter in range(4):
        more, taps = keeps(finger, readings // 4)
        times += more
        print(
            f"after {len(times)} readings: process {resident_mb(kiosk):.0f} MB, page {page_mb(finger.person):.1f} MB, "
            f"p95 of this quarter {percentile(more, 0.95):.0f} ms",
            flush=True,
        )
        del quarter
    return times, taps


PARTS = ("touch", "burst", "day", "loads", "scans")


def measure(part: str, kiosk: Served, finger: Finger, divisor: int) -> bool:
    """Measure one part and print what came of it; return whether the wish is met."""
    person = finger.person
    match part:
        case "touch":
            return tell("touch to shown", touches(finger, 200 // divisor), WANTED_SHOWN_MS)
        case "burst":
            lost = burst(finger, max(1, 10 // divisor))
            print(f"20 taps a second: {lost} groups of ten lost or out of order", flush=True)
            return not lost
        case "day":
            print(f"memory before: process {resident_mb(kiosk):.0f} MB, page {page_mb(person):.1f} MB", flush=True)
            times, taps = long_day(kiosk, finger, READINGS_OF_A_DAY // divisor)
            kept = sum(isinstance(page.act, Reading) for page in kiosk.pages())
            print(f"readings in the book: {kept} of {len(times)}; taps a piece: {taps:g}")
            return tell("last key to kept on both stores and shown", times, WANTED_KEPT_MS) and kept == len(times)
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
        person = Person(browser.new_page(viewport={"width": 1280, "height": 800})).open(kiosk.address)
        finger = Finger(at_first_piece(person))
        met = [measure(part, kiosk, finger, 10 if asked.quick else 1) for part in PARTS if part in asked.parts]
    return 0 if all(met) else 1


if __name__ == "__main__":
    sys.exit(main())
