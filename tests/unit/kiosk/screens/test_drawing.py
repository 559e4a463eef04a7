"""Every screen of a day as it is laid out, without a browser: type, keys and gaps on three panels, for both hands."""

import itertools
from collections.abc import Iterator
from typing import NamedTuple

import flet as ft
import pytest

from kiosk.acts import Choice, Shown
from kiosk.screens.drawing import Drawing, Layout
from kiosk.screens.panel import COLOURS, Panel
from kiosk.station import say
from tests.unit.kiosk.acts.at_a_screen import AtAScreen, measuring

PANELS = (Panel(12.1, 1280, 800), Panel(12.1, 1024, 768), Panel(15.6, 1920, 1080))


def parts_of(control: object) -> Iterator[ft.Control]:
    """Yield a control and everything in it."""
    if not isinstance(control, ft.Control):
        return
    yield control
    for inside in (getattr(control, "content", None), *(getattr(control, "controls", None) or ())):
        yield from parts_of(inside)


def screens_of_a_day() -> Iterator[tuple[str, Shown, tuple[Choice, ...]]]:
    """Yield what stands on the screens of a grinder's and a roller's day."""

    def now(name: str, at: AtAScreen) -> tuple[str, Shown, tuple[Choice, ...]]:
        return name, at.steps.shown, at.steps.choices()

    at = AtAScreen()
    yield now("door", at)
    at.scan("B-101")
    yield now("job", at)
    at.scan("L-411")
    yield now("hub", at)
    for group in ("Gauges", "Machine", "Lot, heat", "Another kind", "This kiosk"):
        at.more(group)
        yield now(group, at)
        at.press("pick back", "pick back")
    at.more("This kiosk", "Is a millimetre")
    yield now("ruler", at)
    at.pick("Yes").pick("BC1").scan("G-220")
    yield now("gauge that wants a check", at)
    at.pick("Check G-220 now").press("8", "8", "-")
    yield now("zero check", at)
    at.press("back one", "back one").key("0").key("99+")
    yield now("asked to look again", at)
    at.key("99+")
    yield now("out of tolerance", at)
    at.press("pick dropped")
    yield now("dropped", at)
    roller = measuring("S24", "B-102").more("Machine", "Set-up").pick("Begin a set-up", "New lot")
    yield now("hot or cold", roller)
    roller.pick("Cold").pick("BC5").scan("G-502")
    yield now("accept or reject", roller)
    roller.pick("Reject")
    yield now("rejected", roller)
    roller.press("pick back").pick("BC6").scan("G-503").pick("1 turn more")
    yield now("turns", roller)
    roller.more("Machine", "Set-up").pick("First pieces").scan("B-104").pick("Approved").press("2", "7")
    yield now("PIN", roller)


class Key(NamedTuple):
    """One key as it is laid out, in millimetres of the panel."""

    name: str
    left: float
    top: float
    width: float
    height: float


def keys_of(drawn: list[ft.Control], panel: Panel) -> list[Key]:
    """Return every key of a screen."""
    found = []
    for one in drawn:
        if isinstance(one, ft.Container) and isinstance(one.content, ft.Semantics) and one.content.button:
            sides = (float(side or 0) / panel.px_a_mm for side in (one.left, one.top, one.width, one.height))
            found.append(Key(str(one.content.label), *sides))
    return found


def wrong_with(keys: list[Key], panel: Panel) -> list[str]:
    """Return what a glove would not hit."""
    found = []
    for key in keys:
        if min(key.width, key.height) < (24 if key.name.isdecimal() else 22) - 0.01:
            found.append(f"{key.name} is too small")
        if (
            min(key.left, key.top) < 0
            or key.left + key.width > panel.width_mm
            or key.top + key.height > panel.height_mm
        ):
            found.append(f"{key.name} is not whole on the panel")
    for one, other in itertools.combinations(keys, 2):
        across = max(other.left - one.left - one.width, one.left - other.left - other.width)
        down = max(other.top - one.top - one.height, one.top - other.top - other.height)
        if max(across, down) < 4 - 0.01:
            found.append(f"{one.name} and {other.name} are too close")
    return found


def too_low(drawn: list[ft.Control], shown: Shown, panel: Panel) -> list[str]:
    """Return the words whose capitals are too low.

    A capital of the type is 0.729 of its size (its own table; DejaVu Sans Condensed, `sCapHeight` 1493 of 2048).
    """
    heights: dict[str, list[float]] = {}
    for text in (one for one in drawn if isinstance(one, ft.Text)):
        assert text.style is not None and text.style.size is not None
        heights.setdefault(text.value, []).append(text.style.size * 0.729 / panel.px_a_mm)
    found = [f"{words!r} is too low" for words, all_mm in heights.items() if min(all_mm) < 6 - 0.01]
    figure = (shown.figure or "").replace("-", "\N{MINUS SIGN}")
    # A key may bear the same figure; the highest of them is the one that was keyed.
    return [*found, *([f"figure {figure} is too low"] if figure and max(heights[figure]) < 18 - 0.01 else [])]


@pytest.mark.parametrize("is_left_handed", [False, True], ids=["right", "left"])
@pytest.mark.parametrize("panel", PANELS, ids=lambda panel: f"{panel.width_px}x{panel.height_px}")
def test_type_keys_and_gaps_hold_on_every_screen(panel: Panel, is_left_handed: bool) -> None:
    """Capitals 6 mm, the figure keyed 18, keys 22 mm, digits 24, 4 mm apart, all inside the panel."""
    found: dict[str, list[str]] = {}
    for name, shown, choices in screens_of_a_day():
        drawing = Drawing(Layout(panel, is_left_handed), str, lambda _: None)
        drawn = list(parts_of(drawing.screen(shown, choices, (say("S12. Page 1."),), is_bad=False)))
        keys = keys_of(drawn, panel)
        assert len(keys) >= 2 + len(choices)
        found[name] = [*wrong_with(keys, panel), *too_low(drawn, shown, panel)]

    assert {name: wrong for name, wrong in found.items() if wrong} == {}
    assert len(found) == 19


def test_every_word_is_in_a_colour_of_the_theme() -> None:
    """So that the contrast of the theme's pairs is the contrast of the screens."""
    inks = {ink for ink, _ in COLOURS.pairs().values()}
    for name, shown, choices in screens_of_a_day():
        drawn = parts_of(Drawing(Layout(PANELS[0]), str, lambda _: None).screen(shown, choices, (), is_bad=True))
        for text in (one for one in drawn if isinstance(one, ft.Text)):
            assert text.style is not None
            assert text.style.color in inks, (name, text.value)
