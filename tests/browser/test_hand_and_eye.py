"""Sizes in millimetres as they are drawn, presses of a clumsy glove, and what is told from what in grey."""

import itertools
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.kiosks import served
from tests.browser.person import Box, Person
from tests.browser.pictures import read_png
from tests.browser.test_measuring import at_first_piece

pytestmark = pytest.mark.browser
Somebody = Callable[..., Person]

SCREENS = {(1280, 800): 12.1, (1024, 768): 12.1, (1920, 1080): 15.6}
"""Resolution, and the diagonal in inches of a panel that is made with it."""


def gap(one: Box, other: Box) -> float:
    """Return the distance between two boxes, straight across."""
    across = max(other.left - one.left - one.width, one.left - other.left - other.width)
    down = max(other.top - one.top - one.height, one.top - other.top - other.height)
    return max(across, down)


@pytest.mark.parametrize("size", SCREENS)
def test_keys_figures_and_gaps_are_as_large_as_a_glove_needs(
    size: tuple[int, int], tmp_path: Path, somebody: Somebody
) -> None:
    """Keys 22 mm, digits 24 mm, 4 mm apart, the value 18 mm high: measured on the panel's own pixels."""
    width, height = size
    px_a_mm = (width**2 + height**2) ** 0.5 / (SCREENS[size] * 25.4)
    settings = {
        "KIOSK_PANEL_DIAGONAL_IN": str(SCREENS[size]),
        "KIOSK_PANEL_WIDTH_PX": str(width),
        "KIOSK_PANEL_HEIGHT_PX": str(height),
    }
    with served(tmp_path, settings=settings) as kiosk:
        person = at_first_piece(somebody(kiosk, width, height))
        person.touch("8")
        person.sees("8 divisions")
        person.page.wait_for_timeout(300)
        boxes = person.boxes()
        picture = read_png(person.page.screenshot())

    for name, box in boxes.items():
        least = 24 if name.isdecimal() else 22
        assert min(box.width, box.height) / px_a_mm >= least - 0.1, name
        assert box.left >= 0 and box.top >= 0 and box.left + box.width <= width and box.top + box.height <= height
    for (name, one), (other_name, other) in itertools.combinations(boxes.items(), 2):
        assert gap(one, other) / px_a_mm >= 4 - 0.1, (name, other_name)
    # The figure stands at the left, under the title; its rows of ink are the longest run there.
    rows = picture.inked_rows(round(5 * px_a_mm), 0, round(20 * px_a_mm), round(0.55 * height))
    runs = [len(list(run)) for _, run in itertools.groupby(enumerate(rows), lambda pair: pair[1] - pair[0])]
    assert 18 <= max(runs) / px_a_mm < 20


def test_a_press_held_or_slid_counts_once_and_a_bounce_is_one_press(
    browser: Browser, tmp_path: Path, somebody: Somebody
) -> None:
    """Held 1.5 s, slid 30 px, two contacts 25 ms apart: one digit each."""
    with served(tmp_path) as kiosk:
        person = at_first_piece(somebody(kiosk))
        mouse, box = person.page.mouse, person.box("7")
        x, y = box.left + box.width / 2, box.top + box.height / 2

        mouse.move(x, y)
        mouse.down()
        person.page.wait_for_timeout(1_500)
        mouse.up()
        person.sees("7 divisions")
        mouse.down()
        mouse.move(x + 30, y, steps=5)
        mouse.up()
        person.sees("77 divisions")
        person.page.wait_for_timeout(100)
        person.bounce("7", apart_ms=25)
        person.sees("777 divisions")
        person.page.wait_for_timeout(300)
        assert re.findall(r"(\d+) divisions", person.page.inner_text("flt-semantics-host")) == ["777"]


def test_twenty_taps_a_second_lose_and_reorder_nothing(tmp_path: Path, somebody: Somebody) -> None:
    """Two hundred digits in ten seconds, read back from the screen ten at a time."""
    with served(tmp_path) as kiosk:
        person = at_first_piece(somebody(kiosk))
        places = {digit: person.box(digit) for digit in "0123456789"}
        erase = person.box("Take one back")
        for turn in range(10):
            wanted = "".join(str((turn * 7 + place * 3) % 10) for place in range(10))
            for digit in wanted:
                box = places[digit]
                person.page.mouse.click(box.left + box.width / 2, box.top + box.height / 2)
                person.page.wait_for_timeout(44)
            person.sees(wanted)
            for _ in wanted:
                person.page.mouse.click(erase.left + erase.width / 2, erase.top + erase.height / 2)
                person.page.wait_for_timeout(44)
