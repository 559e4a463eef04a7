"""A finger that times its touches inside the page, and the memory and load of the machine beside it.

A touch begins with the time that the browser gives its event, so that what the driver takes to send it does not count.
"""

import os
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from playwright.sync_api import Page

from tests.browser.person import Box, Person

TIMER: Final = """() => {
  window.timed = [];
  const host = document.querySelector("flt-semantics-host");
  let pressed = 0;
  window.addEventListener("pointerdown", (event) => { pressed = event.timeStamp; }, true);
  new MutationObserver(() => {
    if (!pressed) return;
    const since = pressed;
    pressed = 0;
    requestAnimationFrame(() =>
      window.timed.push({took: performance.now() - since, at: performance.timeOrigin + since}));
  }).observe(host, {subtree: true, childList: true, characterData: true, attributes: true});
}"""
"""Notes the time from each touch to the first frame after the first change of what can be read."""
KEYS: Final = (*"0123456789", "UNDER", "OVER", "Keep", "Take one back")


class Finger:
    """A finger that knows where the keys of the value screen are, and times what comes of its touches."""

    def __init__(self, person: Person) -> None:
        self.person = person
        self.touched_at_ms = 0.0
        """When the last timed touch came down, in milliseconds since 1970."""
        self._boxes: dict[str, Box] = {name: person.box(name) for name in KEYS}
        person.page.evaluate(TIMER)

    def touch(self, name: str) -> None:
        """Touch a key."""
        box = self._boxes[name]
        self.person.page.touchscreen.tap(box.left + box.width / 2, box.top + box.height / 2)

    def timed_touch(self, name: str) -> float:
        """Touch a key and return the milliseconds until what it did was shown."""
        page = self.person.page
        before = int(page.evaluate("window.timed.length"))
        self.touch(name)
        began = time.monotonic()
        while time.monotonic() - began < 5:
            timed = page.evaluate("window.timed")
            if len(timed) > before:
                self.touched_at_ms = float(timed[before]["at"])
                return float(timed[before]["took"])
            page.wait_for_timeout(5)
        raise AssertionError(f"{name} was not answered")


def scripts_mb(page: Page) -> float:
    """Return the memory the page's scripts hold after a sweep, in megabytes."""
    line = page.context.new_cdp_session(page)
    line.send("HeapProfiler.collectGarbage")
    used = line.send("Runtime.getHeapUsage")["usedSize"]
    line.detach()
    return float(used) / 1e6


def resident_mb(pid: int) -> float:
    """Return the memory a process holds, in megabytes."""
    for line in Path(f"/proc/{pid}/status").read_text(encoding="ascii").splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1000
    raise ValueError(f"process {pid} has no memory")


def page_process() -> int:
    """Return the process that draws the page: the largest renderer among this program's own."""
    parents = {int(one.name): _parent(one) for one in Path("/proc").iterdir() if one.name.isdigit()}
    own = [pid for pid in parents if _is_under(pid, os.getpid(), parents) and _is_renderer(pid)]
    return max(own, key=resident_mb)


def _parent(process: Path) -> int:
    try:
        return int((process / "stat").read_text(encoding="utf-8").rpartition(")")[2].split()[1])
    except (OSError, IndexError):
        return 0


def _is_under(pid: int, top: int, parents: dict[int, int]) -> bool:
    while pid not in (0, top):
        pid = parents.get(pid, 0)
    return pid == top


def _is_renderer(pid: int) -> bool:
    try:
        return b"--type=renderer" in Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return False


def written_at_ms(stores: Sequence[Path]) -> float:
    """Return when the later of the stores was last written, in milliseconds since 1970 (to some 4 ms)."""
    return max(
        max(one.stat().st_mtime_ns for one in store.rglob("*") if one.is_file() and one.name != "lock") / 1e6
        for store in stores
    )


def load() -> str:
    """Return how busy the machine was in the last minute, for the table."""
    return f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores at {time.strftime('%H:%M:%S')}"
