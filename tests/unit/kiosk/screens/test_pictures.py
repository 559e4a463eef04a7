"""Pictures of gauge kinds: one for each, none like another, none over its edge."""

import re

from kiosk.lists.words import GaugeKind
from kiosk.screens.pictures import FIELD, PEN, STROKES, picture


def test_every_kind_of_gauge_has_a_picture_of_its_own() -> None:
    """A person who cannot read the words tells the kinds apart."""
    assert set(STROKES) == set(GaugeKind)
    assert len(set(STROKES.values())) == len(GaugeKind)


def test_no_stroke_leaves_the_field() -> None:
    """What is drawn over the edge would be cut off by the key."""
    for kind, strokes in STROKES.items():
        for stroke in strokes.split(";"):
            x, y, *radius = (float(part) for part in re.findall(r"[\d.]+", stroke)[: 3 if stroke[0] == "o" else 2])
            reach = radius[0] if radius else 0
            points = [(x, y)] if radius else [tuple(map(float, one.split(","))) for one in stroke.split(" ")]
            assert all(reach <= side <= FIELD - reach for point in points for side in point), (kind, stroke)


def test_a_picture_is_as_large_as_it_is_asked_for() -> None:
    """It scales with the panel."""
    drawn = picture(GaugeKind.SNAP, 60.0, "#000000")

    assert (drawn.width, drawn.height) == (60.0, 60.0)
    assert len(drawn.shapes) == len(STROKES[GaugeKind.SNAP].split(";"))
    assert PEN < FIELD / 10
