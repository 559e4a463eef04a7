"""States are told by shape, word and brightness, to every eye; texts stand out from their ground; the edge flashes."""

import itertools
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from kiosk.screens.panel import COLOURS
from tests.browser.eyes import EYES, Colour, contrast
from tests.browser.kiosks import Served
from tests.browser.person import Box, Person
from tests.browser.pictures import Picture, read_png

pytestmark = pytest.mark.browser
Somebody = Callable[..., Person]

STATES = {
    "STOP": "STOP. Zero G-220 on its master first",
    "LOOK": "LOOK. Stop the machine",
    "OK": "OK. Badged in: Ana.",
}
"""Words that stand on a ground of their own: what stops, what wants to be looked at, what is good."""


def text_and_ground(picture: Picture, box: Box) -> tuple[Colour, Colour]:
    """Return the two colours of a part: the one there is most of, and of the others the one furthest from it."""
    left, top, width, height = (round(side) for side in box)
    counts: Counter[Colour] = Counter()
    for row in picture.part(left, top, width, height):
        counts.update((row[i], row[i + 1], row[i + 2]) for i in range(0, len(row), 3))
    ground, _ = counts.most_common(1)[0]
    return max(counts, key=lambda colour: contrast(colour, ground)), ground


def shape_of(picture: Picture, words: Box) -> float:
    """Return the share of the mark left of the words that its shape fills, within the shape's own width and height."""
    left, top = 20, round(words.top)
    ink, ground = text_and_ground(picture, words)
    middle, is_dark = (sum(ink) + sum(ground)) / 2, sum(ink) < sum(ground)
    rows = [
        [(sum(row[i : i + 3]) < middle) is is_dark for i in range(0, len(row), 3)]
        for row in picture.part(left, top, 49, round(words.height))
    ]
    inked = [row for row in rows if any(row)]
    return sum(sum(row) for row in inked) / (len(inked) * max(sum(row) for row in inked))


def test_what_stops_is_told_from_what_is_good_by_every_eye_and_in_grey(kiosk: Served, somebody: Somebody) -> None:
    """Pixels of the real screens, re-coloured for three kinds of colour blindness and in grey.

    Text on its ground 7:1 for the usual eye (WCAG 2.2, 1.4.6) and in grey, 4.5:1 (1.4.3) for the others;
    grounds at least a quarter apart in brightness, so that two states never look the same;
    and the shapes fill different shares of their square: triangle a half, circle pi/4, octagon 2(sqrt 2 - 1).
    """
    person = somebody(kiosk)
    found: dict[str, tuple[Colour, Colour]] = {}
    shapes: dict[str, float] = {}

    def look(state: str) -> None:
        picture = read_png(person.still_picture())
        box = person.box_starting(STATES[state])
        found[state], shapes[state] = text_and_ground(picture, box), shape_of(picture, box)

    look("LOOK")
    person.scan("B-101")
    person.sees("Badged in: Ana")
    look("OK")
    person.scan("L-411")
    person.sees("What is measured?")
    person.settle()
    person.pick("BC1")
    person.scan("G-220")
    person.sees("STOP. Zero G-220")
    look("STOP")

    for eye in EYES:
        least = 7.0 if eye in ("usual", "grey") else 4.5
        assert {state: contrast(*pair, eye) >= least for state, pair in found.items()} == dict.fromkeys(found, True)
        grounds = {state: ground for state, (_, ground) in found.items()} | {"plain": (255, 255, 255)}
        for one, other in itertools.combinations(grounds, 2):
            assert contrast(grounds[one], grounds[other], eye) >= 1.25, (eye, one, other)
    assert shapes == {
        "STOP": pytest.approx(2 * (2**0.5 - 1), abs=0.03),
        "LOOK": pytest.approx(1 / 2, abs=0.03),
        "OK": pytest.approx(3.14159 / 4, abs=0.03),
    }


def test_every_pair_of_the_theme_stands_out_seven_to_one() -> None:
    """Reckoned with the test's own formula from the colours the theme names."""

    def colour(text: str) -> Colour:
        return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)

    pairs = {name: contrast(colour(ink), colour(ground)) for name, (ink, ground) in COLOURS.pairs().items()}

    assert {name: ratio for name, ratio in pairs.items() if ratio < 7} == {}


def test_words_on_keys_and_in_the_status_line_stand_out_in_the_picture(kiosk: Served, somebody: Somebody) -> None:
    """Sampled from the screen: a key, the strong key, the title, the status line."""
    person = somebody(kiosk)
    person.pick("No badge")
    person.sees("Key the digits")
    picture = read_png(person.still_picture())

    boxes = {name: person.box(name) for name in ("7", "Keep", "More")}
    boxes["title"] = person.box_starting("Key the digits")
    boxes["status"] = person.box_starting("S12. Page 1.")

    ratios = {name: contrast(*text_and_ground(picture, box)) for name, box in boxes.items()}
    assert {name: ratio for name, ratio in ratios.items() if ratio < 7} == {}


def test_the_edge_of_the_screen_flashes_with_what_stops(kiosk: Served, somebody: Somebody, tmp_path: Path) -> None:
    """Never a tone alone: a frame around the whole screen, marked STOP, that goes by itself and takes no touch."""
    person = somebody(kiosk)
    person.scan("B-101")
    person.sees("Badged in: Ana")
    person.scan("L-411")
    person.sees("What is measured?")
    person.settle()
    person.pick("BC1")

    person.scan("G-220")
    edge = person.page.locator("[data-mark=STOP]")
    edge.wait_for(state="attached")
    box, passes = edge.bounding_box(), edge.evaluate("(one) => getComputedStyle(one).pointerEvents")
    edge.wait_for(state="detached")

    assert box == {"x": 0, "y": 0, "width": 1280, "height": 800}
    assert passes == "none"
