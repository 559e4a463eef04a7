"""A person at the screen: finds keys by their words, touches, scans, types, looks."""

import re
import time
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlsplit

from playwright.sync_api import Browser, Page, Playwright, expect
from playwright.sync_api import TimeoutError as PlaywrightTimeoutError

ANSWER_LIMIT_S = 3.0
"""How long somebody looks for the answer to a touch before going on."""
LOOPBACK = ("127.0.0.1", "localhost")
FLAGS = (
    "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--use-angle=swiftshader-webgl", "--enable-unsafe-swiftshader",
)  # fmt: skip
"""Of these the last two give the renderer its software WebGL, and only that: a page put together by the same software
besides costs four times the processor time a touch, measured on two cores without a graphics card."""


def launch(playwright: Playwright, browser: str, *, proxy: str | None = None) -> Browser:
    """Start the system's browser without a screen; with a proxy, what is not for this machine goes there."""
    by_way_of = [] if proxy is None else [f"--proxy-server={proxy}"]
    return playwright.chromium.launch(executable_path=browser, args=[*FLAGS, *by_way_of])


class Box(NamedTuple):
    """A place on the screen in pixels."""

    left: float
    top: float
    width: float
    height: float


class Person:
    """One person in front of one page."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self._line = page.context.new_cdp_session(page)
        self.asked: list[str] = []
        """Every address the page asked for."""
        self.faults: list[str] = []
        page.on("request", lambda request: self.asked.append(request.url))
        page.on("pageerror", lambda error: self._note(str(error)))

    def _note(self, fault: str) -> None:
        # The page's word that it connects no more before it is loaded anew, bare and as the renderer hands it on.
        if "about to be loaded again" not in fault and fault != "Exception":
            self.faults.append(fault)

    def open(self, address: str) -> "Person":
        """Open the kiosk."""
        self.page.goto(address)
        return self.ready()

    def ready(self, timeout_ms: int = 20_000) -> "Person":
        """Wait until the screen is there and can be read."""
        self.page.wait_for_selector("flt-semantics-placeholder", state="attached", timeout=timeout_ms)
        self.page.evaluate("document.querySelector('flt-semantics-placeholder').click()")
        self.page.wait_for_selector("html[data-keys=ready]", state="attached", timeout=timeout_ms)
        self.page.wait_for_selector("flt-semantics-host [role=button]", state="attached", timeout=timeout_ms)
        return self

    def box(self, words: str, *, exact: bool = True) -> Box:
        """Return where the key with these words stands, in pixels."""
        found = self.page.get_by_role("button", name=words, exact=exact).first
        try:
            found.wait_for(state="attached")
        except PlaywrightTimeoutError as error:
            raise AssertionError(f"There is no key {words!r} on the screen, which reads:\n{self.words()}") from error
        box = found.bounding_box()
        assert box is not None
        return Box(box["x"], box["y"], box["width"], box["height"])

    def touch(self, *names: str) -> None:
        """Touch keys one after the other, as a finger does; after a key with words the eye waits for the answer."""
        for words in names:
            self._touch(self.box(words), is_looking=len(words) > 1)

    def bounce(self, words: str, *, apart_ms: int) -> None:
        """Touch a key with a glove that comes down twice; the times are told with the contacts."""
        box, at_s = self.box(words), time.time()
        place = {"x": box.left + box.width / 2, "y": box.top + box.height / 2, "button": "left", "clickCount": 1}
        for kind, after_ms in (("mousePressed", 0), ("mouseReleased", apart_ms // 2), ("mousePressed", apart_ms),
                               ("mouseReleased", 2 * apart_ms)):  # fmt: skip
            self._line.send("Input.dispatchMouseEvent", {"type": kind, **place, "timestamp": at_s + after_ms / 1000})

    def pick(self, part_of_words: str) -> None:
        """Touch the key whose words hold these."""
        self._touch(self.box(part_of_words, exact=False), is_looking=True)

    def _touch(self, box: Box, *, is_looking: bool) -> None:
        before = self.words() if is_looking else ""
        self.page.mouse.click(box.left + box.width / 2, box.top + box.height / 2)
        self.page.wait_for_timeout(60)
        began = time.monotonic()
        while is_looking and self.words() == before and time.monotonic() - began < ANSWER_LIMIT_S:
            self.page.wait_for_timeout(20)

    def words(self) -> str:
        """Return everything that can be read on the screen."""
        return str(self.page.evaluate("document.querySelector('flt-semantics-host').innerText"))

    def boxes(self) -> dict[str, Box]:
        """Return every key on the screen with its place."""
        found = self.page.evaluate(
            """() => [...document.querySelectorAll("flt-semantics-host [role=button]")].map((key) => {
                 const box = key.getBoundingClientRect();
                 return [key.getAttribute("aria-label") || key.innerText, box.x, box.y, box.width, box.height];
               })"""
        )
        return {str(name): Box(*box) for name, *box in found}

    def away(self) -> None:
        """Wait until the page says that the kiosk is away."""
        self.page.locator("#kiosk-away").wait_for(state="attached", timeout=10_000)

    def middle_of_pad(self, digit: str) -> tuple[float, float]:
        """Return where a digit stands on the pad of a right-handed person at 1280 x 800, whatever is up just now."""
        row, column = divmod(9 - int(digit), 3)
        return 757.0 + (2 - column) * 140.6, 84.0 + row * 159.0

    def sees_in_words(self, words: str) -> None:
        """Wait until the words stand anywhere on the screen, within a line too."""
        expect(self.page.locator("flt-semantics-host")).to_contain_text(words, timeout=8_000)

    def still_boxes(self) -> dict[str, Box]:
        """Return every key once the screen stands still: the same keys in the same places twice in a row."""
        before, began = self.boxes(), time.monotonic()
        while time.monotonic() - began < 8:
            self.page.wait_for_timeout(50)
            now = self.boxes()
            if now == before and now:
                return now
            before = now
        raise AssertionError("the screen did not come to rest")

    def still_picture(self) -> bytes:
        """Return a picture once the screen stands still, the flash at its edge too."""
        before, began = self.page.screenshot(), time.monotonic()
        while time.monotonic() - began < 8:
            self.page.wait_for_timeout(50)
            now = self.page.screenshot()
            if now == before and self.page.locator("[data-mark]").count() == 0:
                return now
            before = now
        raise AssertionError("the screen did not come to rest")

    def box_of_words(self, words: str) -> Box:
        """Return where these words stand, in pixels."""
        found = self.page.get_by_text(words, exact=True).first
        found.wait_for(state="attached")
        box = found.bounding_box()
        assert box is not None
        return Box(box["x"], box["y"], box["width"], box["height"])

    def box_starting(self, words: str) -> Box:
        """Return where the text that begins with these words stands, in pixels."""
        found = self.page.locator("flt-semantics-host span", has_text=re.compile(rf"^\s*{re.escape(words)}")).first
        found.wait_for(state="attached")
        box = found.bounding_box()
        assert box is not None
        return Box(box["x"], box["y"], box["width"], box["height"])

    def scan(self, code: str) -> None:
        """Scan a label with a scanner that types 2 ms a character."""
        # Times are told with the strokes, as the operating system does, so that a busy test machine is no slow scanner.
        at_s = time.time()
        for place, character in enumerate((*code, "Enter")):
            text = "\r" if character == "Enter" else character
            stroke = {"key": character, "text": text, "timestamp": at_s + place * 0.002}
            self._line.send("Input.dispatchKeyEvent", {"type": "keyDown", **stroke})
            self._line.send("Input.dispatchKeyEvent", {"type": "keyUp", "key": character})

    def type_keys(self, *keys: str) -> None:
        """Press keys of a number pad, as slowly as a person does."""
        for key in keys:
            self.page.keyboard.press(key)
            self.page.wait_for_timeout(90)

    def sees(self, words: str) -> None:
        """Wait until the words stand on the screen, from the beginning of a word or figure."""
        begun = re.compile(rf"(?<!\w){re.escape(words)}")
        expect(self.page.get_by_text(begun).first).to_be_attached(timeout=8_000)

    def sees_not(self, words: str) -> None:
        """Wait until the words do not stand on the screen."""
        expect(self.page.get_by_text(words)).to_have_count(0, timeout=8_000)

    def settle(self) -> None:
        """Wait as long as the screen is deaf after something was kept."""
        self.page.wait_for_timeout(450)

    def picture(self, path: Path) -> None:
        """Take a picture of the screen."""
        self.page.wait_for_timeout(200)
        self.page.screenshot(path=str(path))

    def leaks(self) -> list[str]:
        """Return every address asked for that is not this machine."""
        return [
            url for url in self.asked
            if urlsplit(url).scheme not in ("blob", "data") and urlsplit(url).hostname not in LOOPBACK
        ]  # fmt: skip
