"""Nothing leaves this machine, and what is drawn is drawn the same each time."""

from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Playwright

from kiosk.errors import BrowserNotHere
from kiosk.screens import open_browser
from kiosk.screens.serving import BROWSER_FLAGS
from tests.browser.kiosks import Served
from tests.browser.loading import differing_loads
from tests.browser.person import Person, launch
from tests.browser.recorder import Recorder
from tests.browser.test_measuring import at_first_piece

pytestmark = pytest.mark.browser
Somebody = Callable[..., Person]
PUBLIC_PARTS = ("gstatic", "fonts.", "unpkg", "jsdelivr", "cdn")
"""Words in the names of hosts that pages usually get their parts from."""
LOADS = 4
"""As many in each run; a hundred of them: `python -m tests.benchmarks.bench_screens`."""


def test_no_screen_asks_anybody_outside_this_machine(playwright: Playwright, browser_path: str, kiosk: Served) -> None:
    """Every request of a sample with a reload in it, those of workers too, by the browser's own list and by a recorder.

    The recorder takes what is not for loopback; that it works is shown first. The browser's own errands are told from
    the page's by the list: `--open` sends them nowhere, which is tried below.
    """
    with Recorder() as recorder, launch(playwright, browser_path, proxy=recorder.address) as browser:
        control = browser.new_page()
        control.goto("about:blank")
        with control.expect_event("response", timeout=10_000):
            control.evaluate("new Image().src = 'http://outside.example/picture'")
        control.close()
        seen = list(recorder.asked)

        context = browser.new_context(viewport={"width": 1280, "height": 800})
        asked: list[str] = []
        context.on("request", lambda request: asked.append(request.url))
        person = at_first_piece(Person(context.new_page()).open(kiosk.address))
        person.touch("2", "UNDER", "Keep")
        person.sees("1 of 5 done")
        person.page.reload()
        person.ready().sees("1 of 5 done")
        leaks = person.leaks()
        context.close()
        left = list(recorder.asked)

    hosts = {urlsplit(url).hostname for url in asked if urlsplit(url).scheme in ("http", "https", "ws", "wss")}
    assert [line for line in seen if "outside.example" in line]
    assert hosts == {"127.0.0.1"}
    assert leaks == []
    assert [line for line in left if any(host in line for host in PUBLIC_PARTS)] == []


def test_the_flags_of_the_open_browser_let_nothing_out(playwright: Playwright, browser_path: str) -> None:
    """By name and by address (192.0.2.1 is for examples only, RFC 5737): both end at a port where nobody listens."""
    flags = [flag for flag in BROWSER_FLAGS if flag != "--kiosk"]
    with playwright.chromium.launch(executable_path=browser_path, args=["--no-sandbox", *flags]) as browser:
        page = browser.new_page()
        failures: list[str | None] = []
        page.on("requestfailed", lambda request: failures.append(request.failure))
        for address in ("http://outside.example/", "https://192.0.2.1/"):
            with page.expect_event("requestfailed", timeout=10_000):
                page.evaluate("(address) => { new Image().src = address }", address)

    assert failures == ["net::ERR_PROXY_CONNECTION_FAILED"] * 2


def test_the_value_screen_is_drawn_the_same_at_every_load(kiosk: Served, somebody: Somebody) -> None:
    """Pixel by pixel but for the status line, whose ages of lists may move on."""
    person = at_first_piece(somebody(kiosk))
    person.touch("1", "2", ".", "3", "4", "5")
    person.sees("12.345")

    assert differing_loads(person, LOADS) == []


def test_the_browser_is_started_full_screen_on_the_kiosk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A small program in the browser's place writes down what it was started with."""
    told = tmp_path / "told"
    stand_in = tmp_path / "chromium"
    stand_in.write_text(f'#!/bin/sh\nprintf "%s\\n" "$@" > {told}\n')
    stand_in.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")

    started = open_browser("http://127.0.0.1:8300/")

    assert started.wait(timeout=10) == 0
    flags = told.read_text().splitlines()
    assert flags[-1] == "http://127.0.0.1:8300/"
    assert "--kiosk" in flags


def test_without_a_browser_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The screens are served all the same; only --open is refused."""
    monkeypatch.setenv("PATH", str(tmp_path))

    with pytest.raises(BrowserNotHere, match="chromium"):
        open_browser("http://127.0.0.1:8300/")
