"""Sizes in millimetres as they are drawn, presses of a clumsy glove, and what is told from what in grey."""

import itertools
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.kiosks import lists_today, served
from tests.browser.person import Box, Person
from tests.browser.pictures import read_png
from tests.browser.test_measuring import at_first_piece
from tests.browser.walks import GRINDING, ROLLING, walk

pytestmark = pytest.mark.browser
Somebody = Callable[..., Person]

SCREENS = {(1280, 800): 12.1, (1024, 768): 12.1, (1920, 1080): 15.6}
"""Resolution, and the diagonal in inches of a panel that is made with it."""


def gap(one: Box, other: Box) -> float:
    """Return the distance between two boxes, straight across."""
    across = max(other.left - one.left - one.width, one.left - other.left - other.width)
    down = max(other.top - one.top - one.height, one.top - other.top - other.height)
    return max(across, down)


def panel_of(size: tuple[int, int]) -> tuple[float, dict[str, str]]:
    """Return pixels a millimetre, and the settings that tell a kiosk of this panel."""
    width, height = size
    settings = {
        "KIOSK_PANEL_DIAGONAL_IN": str(SCREENS[size]),
        "KIOSK_PANEL_WIDTH_PX": str(width),
        "KIOSK_PANEL_HEIGHT_PX": str(height),
    }
    return (width**2 + height**2) ** 0.5 / (SCREENS[size] * 25.4), settings


def too_small(boxes: dict[str, Box], size: tuple[int, int], px_a_mm: float) -> list[str]:
    """Return what a glove would not hit, by name."""
    width, height = size
    found = []
    for key, box in boxes.items():
        least = 24 if key.isdecimal() else 22
        if min(box.width, box.height) / px_a_mm < least - 0.1:
            found.append(f"{key} is too small")
        if box.left < 0 or box.top < 0 or box.left + box.width > width or box.top + box.height > height:
            found.append(f"{key} is not whole on the panel")
    for (key, one), (other_key, other) in itertools.combinations(boxes.items(), 2):
        if gap(one, other) / px_a_mm < 4 - 0.1:
            found.append(f"{key} and {other_key} are too close")
    return found


@pytest.mark.parametrize("size", SCREENS, ids=str)
def test_every_screen_of_a_grinder_fits_a_glove_and_is_read_from_afar(
    size: tuple[int, int], tmp_path: Path, somebody: Somebody
) -> None:
    """Keys 22 mm, digits 24 mm, 4 mm apart, value 18 mm, all else 6 mm: measured as they stand in the browser.

    Heights are those of ink in the picture, where nothing hangs down: the figure keyed, the limits under the bar.
    """
    px_a_mm, settings = panel_of(size)
    found: dict[str, list[str]] = {}
    with served(tmp_path, settings=settings) as kiosk:
        person = somebody(kiosk, *size)
        for name in walk(person, GRINDING):
            found[name] = too_small(person.still_boxes(), size, px_a_mm)
            if name == "value":
                value = read_png(person.still_picture())
            elif name == "kept":
                limit, kept = person.box_of_words(".3125"), read_png(person.still_picture())

    assert {name: wrong for name, wrong in found.items() if wrong} == {}
    assert len(found) == sum(step.startswith("look ") for step in GRINDING)
    # The figure stands at the left, under the title; its rows of ink are the longest run there.
    rows = value.inked_rows(round(24 * px_a_mm), 0, round(20 * px_a_mm), round(0.55 * size[1]))
    runs = [len(list(run)) for _, run in itertools.groupby(enumerate(rows), lambda pair: pair[1] - pair[0])]
    small = kept.inked_rows(*(round(side) for side in limit))
    assert 18 <= max(runs) / px_a_mm < 20
    assert 6 - 0.1 <= (max(small) - min(small) + 1) / px_a_mm < 7


def test_every_screen_of_a_roller_fits_a_glove(tmp_path: Path, somebody: Somebody) -> None:
    """Wires, accept and reject, turns, set-up, decision, PIN and ruler on the smallest panel but one."""
    size = (1280, 800)
    px_a_mm, settings = panel_of(size)
    with served(tmp_path, "S24", settings=settings) as kiosk:
        person = somebody(kiosk, *size)
        found = {name: too_small(person.still_boxes(), size, px_a_mm) for name in walk(person, ROLLING)}

    assert {name: wrong for name, wrong in found.items() if wrong} == {}
    assert len(found) == sum(step.startswith("look ") for step in ROLLING)


def test_keys_stand_on_the_side_of_the_hand(tmp_path: Path, somebody: Somebody) -> None:
    """Ana is right-handed, Bo in these lists left-handed: his badge mirrors the screen, hers mirrors it back."""
    people = tuple(
        one.model_copy(update={"hand": "left"}) if one.number == "P-102" else one for one in lists_today().people
    )
    with served(tmp_path, lists=lists_today(people=people)) as kiosk:
        person = at_first_piece(somebody(kiosk))
        right = person.still_boxes()
        person.scan("B-102")
        person.sees("You took over from Ana")
        person.settle()
        person.pick("BC1")
        person.scan("G-220")
        person.sees("STOP. Zero G-220")
        person.settle()
        person.pick("Check G-220 now")
        person.sees("Zero check")
        left = person.still_boxes()

    assert min(box.left for name, box in right.items() if name.isdecimal()) > 640
    assert max(box.left + box.width for name, box in left.items() if name.isdecimal()) < 640
    assert right["More"].left < 640 < left["More"].left


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
    """A hundred digits in five seconds, read back ten at a time; ten seconds of them are in the benchmark."""
    with served(tmp_path) as kiosk:
        person = at_first_piece(somebody(kiosk))
        places = {digit: person.box(digit) for digit in "0123456789"}
        erase = person.box("Take one back")
        for turn in range(5):
            wanted = "".join(str((turn * 7 + place * 3) % 10) for place in range(10))
            for digit in wanted:
                box = places[digit]
                person.page.mouse.click(box.left + box.width / 2, box.top + box.height / 2)
                person.page.wait_for_timeout(44)
            person.sees(wanted)
            for _ in wanted:
                person.page.mouse.click(erase.left + erase.width / 2, erase.top + erase.height / 2)
                person.page.wait_for_timeout(44)
