"""A person at one kiosk's screen in played time: reads what stands there, touches keys by their words, scans.

Knows words, keys and the number of the last page, as a person sees them; no inner name of the screens.
"""

import json
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Final

from playwright.sync_api import Page

from demo_site.play.clocks import TrueTime
from tests.browser.person import Box, Person

WAIT_S: Final = 10.0
LOOKED: Final = timedelta(milliseconds=450)
"""Played time a person takes to read what was kept; for most of it the screen is deaf to a second tap."""
FINGER_S: Final = 0.042
"""Nobody's finger comes down again sooner; two contacts closer together are a glove that bounced."""
_LOOK: Final = """async (before) => {
  const host = document.querySelector('flt-semantics-host');
  const look = () => {
    const keys = [...host.querySelectorAll('[role=button]')].map((key) => {
      const box = key.getBoundingClientRect();
      return [key.getAttribute('aria-label') || key.innerText, box.x, box.y, box.width, box.height];
    });
    const words = [...host.querySelectorAll('span')].filter((one) => !one.closest('[role=button]'));
    return JSON.stringify({keys, words: words.map((one) => one.innerText)});
  };
  const now = look();
  if (now !== before) return now;
  await new Promise((done) => {
    const seen = new MutationObserver(() => { seen.disconnect(); done(); });
    seen.observe(host, {subtree: true, childList: true, characterData: true, attributes: true});
    setTimeout(() => { seen.disconnect(); done(); }, 500);
  });
  return look();
}"""
"""Everything that can be read, and every key by its role, in one look: no half-drawn mixture of two screens.

Where the screen is as it was `before`, it waits for a change first, half a second at most.
"""
_PAGE: Final = re.compile(r"\bPage (\d+)\.")


@dataclass(frozen=True)
class Seen:
    """One look at the screen."""

    words: tuple[str, ...]
    keys: Mapping[str, Box]

    @property
    def text(self) -> str:
        """Everything that can be read, keys included."""
        return "\n".join((*self.words, *self.keys))

    @property
    def page(self) -> int:
        """The number of the last page kept, as the status line says it; 0 while a screen has no status line."""
        found = [match for word in self.words if (match := _PAGE.search(word))]
        return int(found[-1][1]) if found else 0

    @property
    def without_status(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """Words and keys without the status line, which changes by itself."""
        return tuple(word for word in self.words if not _PAGE.search(word)), tuple(self.keys)

    def has(self, words: str) -> bool:
        """True when these words stand anywhere but on a key."""
        return any(words in one for one in self.words)

    def key_with(self, words: str) -> str | None:
        """Return the name of the first key that holds these words from the beginning of a word on."""
        begun = re.compile(rf"(?<!\w){re.escape(words)}(?!\w)")
        return next((name for name in self.keys if begun.search(name)), None)


class AtScreen:
    """Somebody in front of one kiosk."""

    def __init__(self, page: Page, true: TrueTime, address: str) -> None:
        self.person = Person(page).open(address)
        self.true = true
        self._page = page
        self.looked = LOOKED
        self._touched_at = 0.0

    def come(self) -> None:
        """Step up to this kiosk: a page behind another one is not drawn."""
        self._page.bring_to_front()

    def look(self) -> Seen:
        """Look once."""
        return self._looked("")[0]

    def sees(self, holds: Callable[[Seen], bool], what: str) -> Seen:
        """Look until something holds, again at each change."""
        ends_at = time.monotonic() + WAIT_S
        seen, raw = self._looked("")
        while not holds(seen):
            assert time.monotonic() < ends_at, f"Not seen: {what}. The screen says:\n{seen.text}"
            seen, raw = self._looked(raw)
        return seen

    def _looked(self, before: str) -> tuple[Seen, str]:
        raw = str(self._page.evaluate(_LOOK, before))
        told = json.loads(raw)
        keys = {str(name): Box(*(float(part) for part in box)) for name, *box in told["keys"]}
        return Seen(tuple(str(word) for word in told["words"]), keys), raw

    def reads(self, words: str) -> Seen:
        """Look until these words stand there."""
        return self.sees(lambda seen: seen.has(words), f"'{words}'")

    def touch(self, name: str) -> None:
        """Touch the key of this name, as a finger does."""
        self._down(self.sees(lambda seen: name in seen.keys, f"key '{name}'").keys[name])

    def touch_keys(self, *names: str) -> None:
        """Touch keys of a screen that stays as it is, one after the other."""
        seen = self.sees(lambda one: all(name in one.keys for name in names), f"keys {names}")
        for name in names:
            self._down(seen.keys[name])

    def touch_on(self, name: str) -> Seen:
        """Touch a key that leads to another screen, and return what stands there."""
        before = self.look().without_status
        self.touch(name)
        return self.sees(lambda seen: seen.without_status != before, f"another screen after '{name}'")

    def pick(self, words: str) -> Seen:
        """Touch the key that holds these words, turning the leaves of a long list until it comes."""
        for _ in range(8):
            seen = self.look()
            if (name := seen.key_with(words)) is not None:
                return self.touch_on(name)
            turn = next((one for one in ("More of these", "The first ones again") if one in seen.keys), None)
            assert turn is not None, f"No key with '{words}'. The screen says:\n{seen.text}"
            self.touch_on(turn)
        raise AssertionError(f"No key with '{words}' on any leaf. The screen says:\n{self.look().text}")

    def more(self, *path: str) -> Seen:
        """Go to an act that is offered under More."""
        self.touch("More")
        seen = self.reads("What else?")
        for words in path:
            seen = self.pick(words)
        return seen

    def scan(self, code: str) -> None:
        """Scan a label."""
        self.person.scan(code)

    def scan_kept(self, code: str) -> Seen:
        """Scan a label, and see that a page was kept for it."""
        before = self.look().page
        self.scan(code)
        return self.kept_after(before)

    def touch_kept(self, name: str) -> Seen:
        """Touch a key, and see that a page was kept for it."""
        before = self.look().page
        self.touch(name)
        return self.kept_after(before)

    def kept_after(self, page: int) -> Seen:
        """Look until a later page is kept; then a moment passes."""
        seen = self.sees(lambda one: one.page > page, f"a page after {page}")
        self.true.go_on(LOOKED)
        return seen

    def all_read(self, seen: Seen) -> str:
        """Return everything that can be read, reading on where sentences found no room."""
        told = seen.text
        while "Read on" in seen.keys:
            seen = self.touch_on("Read on")
            told += "\n" + seen.text
        return told

    def _down(self, box: Box) -> None:
        wait_s = self._touched_at + FINGER_S - time.monotonic()
        if wait_s > 0:
            self._page.wait_for_timeout(wait_s * 1000)
        self._page.touchscreen.tap(box.left + box.width / 2, box.top + box.height / 2)
        self._touched_at = time.monotonic()
