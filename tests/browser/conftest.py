"""One browser for all tests in a browser; without one they are left out and say so."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Playwright, sync_playwright

from kiosk.screens.serving import BROWSERS
from tests.browser.kiosks import Served, served
from tests.browser.person import Person, launch


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put tests in a browser last: its driver keeps an event loop running in which no other test can start one."""
    items.sort(key=lambda item: item.get_closest_marker("browser") is not None)


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    """Start the driver once."""
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def browser_path() -> str:
    """Find the system's Chromium."""
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found is None:
        pytest.skip("No Chromium here: tests in a browser are left out. Install the package 'chromium'.")
    return found


@pytest.fixture(scope="session")
def browser(playwright: Playwright, browser_path: str) -> Iterator[Browser]:
    """Start the system's Chromium once."""
    with launch(playwright, browser_path) as started:
        yield started


@pytest.fixture
def kiosk(tmp_path: Path) -> Iterator[Served]:
    """Serve a grinding station's kiosk."""
    with served(tmp_path) as one:
        yield one


@pytest.fixture
def rolling(tmp_path: Path) -> Iterator[Served]:
    """Serve a rolling station's kiosk."""
    with served(tmp_path, "S24") as one:
        yield one


@pytest.fixture(scope="session")
def context(browser: Browser) -> Iterator[BrowserContext]:
    """Keep one profile of the browser for the whole run, so that it fetches the renderer once."""
    one = browser.new_context()
    one.set_default_timeout(8_000)
    yield one
    one.close()


@pytest.fixture
def somebody(context: BrowserContext) -> Iterator[Callable[..., Person]]:
    """Return how a person steps up to a kiosk; nothing a person did may ask anybody outside this machine."""
    people: list[Person] = []

    def step_up(kiosk: Served, width: int = 1280, height: int = 800) -> Person:
        page = context.new_page()
        page.set_viewport_size({"width": width, "height": height})
        people.append(Person(page))
        return people[-1].open(kiosk.address)

    yield step_up
    for person in people:
        person.page.close()
        assert person.leaks() == []
        assert person.faults == []
