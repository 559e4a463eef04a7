"""A small picture of each kind of gauge, so that a key is known before it is read.

Owns the strokes. Pictures are our own, drawn in lines on a field of 20 by 20; they never stand without the words.
"""

from typing import Final

import flet as ft
import flet.canvas as cv

from kiosk.lists.words import GaugeKind

FIELD: Final = 20.0
"""Units along one side of a picture."""
PEN: Final = 1.3
"""Width of a stroke in the same units."""

_DIAL = "o10,7,6;10,7 13,4"
_HANDLE = "1,8 8,8 8,12 1,12 1,8"
STROKES: Final[dict[GaugeKind, str]] = {
    GaugeKind.MICROMETER: "7,9 4,9;4,7 4,13 7,17 11,17 13,14 13,11;9,9 12,9;12,6 19,6 19,12 12,12 12,6;15,6 15,12",
    GaugeKind.OVER_WIRES: "6,9 3,9;3,7 3,13 6,17 11,17 13,14 13,11;11,9 12,9;12,6 19,6 19,12 12,12 12,6;o8.5,9,2;"
                          "o8.5,4.5,1.5;o8.5,13.5,1.5",
    GaugeKind.SNAP: "16,8 16,5 4,5 4,18 16,18 16,15;12,8 16,8;12,15 16,15;o10,11.5,3;10,11.5 12,10",
    GaugeKind.FIXED_SNAP: "17,7 17,3 3,3 3,17 17,17 17,13;10,7 17,7;10,13 17,13;10,7 10,13",
    GaugeKind.INDICATOR: f"{_DIAL};10,13 10,18;8.5,18 11.5,18",
    GaugeKind.RUNOUT: f"{_DIAL};10,13 10,15;3,15 17,15 17,18 3,18 3,15",
    GaugeKind.INDICATING_THREAD: f"{_DIAL};10,13 10,14;3,14 5,18 7,14 9,18 11,14 13,18 15,14 17,18",
    GaugeKind.CALIPER: "1,4 19,4 19,7 1,7 1,4;1,7 3,16 4,7;8,7 6,16 11,7;11,7 11,10 16,10 16,7",
    GaugeKind.PLAIN_PLUG: f"{_HANDLE};8,5 19,5 19,15 8,15 8,5",
    GaugeKind.THREAD_PLUG: f"{_HANDLE};8,5 19,5 19,15 8,15 8,5;10,5 12,15;13,5 15,15;16,5 18,15",
    GaugeKind.PLAIN_RING: "o10,10,8.5;o10,10,4.5",
    GaugeKind.THREAD_RING: "o10,10,8.5;10,5 12,6.5 14.3,7.5 13.5,10 14.3,12.5 12,13.5 10,15 8,13.5 5.7,12.5 6.5,10 "
                           "5.7,7.5 8,6.5 10,5",
    GaugeKind.OPTICAL: "3,2 17,2 17,13 3,13 3,2;10,4 10,11;6,7.5 14,7.5;7,13 5,18 15,18 13,13",
    GaugeKind.ROUGHNESS: "2,3 13,3 13,8 2,8 2,3;11,8 11,13;1,17 3,14 5,17 7,13 9,17 11,14 13,17 15,13 17,17 19,14",
    GaugeKind.HARDNESS: "7,1 13,1 13,7 7,7 7,1;7,7 10,13 13,7;2,13 18,13 18,18 2,18 2,13",
    GaugeKind.TEST_FRAME: "3,1 3,19;17,1 17,19;1,19 19,19;3,4 17,4;3,14 17,14;10,4 10,7;8,7 12,7;10,7 10,11;8,11 12,11;"
                          "10,11 10,14",
    GaugeKind.EXTENSOMETER: "14,1 18,1 17,6 17,14 18,19 14,19 15,14 15,6 14,1;15,6 6,6;15,14 6,14;"
                            "2,4 6,4 6,16 2,16 2,4",
    GaugeKind.TORQUE: "o5,5,3.8;o5,5,1.4;6.5,8.5 15,17 17,19 19,17 17,15 8.5,6.5",
    GaugeKind.THERMOMETER: "o10,16,3;8.5,13.5 8.5,3 10,1.5 11.5,3 11.5,13.5;10,15 10,6;13,4 15,4;13,7 15,7;13,10 15,10",
    GaugeKind.SCALE: "3,5 17,5;10,5 10,8;3,8 17,8 18,18 2,18 3,8;o10,13,3;10,13 12,11",
    GaugeKind.TIMER: "o10,11.5,7;10,4.5 10,2;8,1.5 12,1.5;10,11.5 10,7;10,11.5 13,12.5",
}  # fmt: skip
"""Lines through points, and circles as `o` with middle and radius; strokes stand apart by semicolons."""


def picture(kind: GaugeKind, side_px: float, ink: str) -> cv.Canvas:
    """Return the picture of a kind of gauge, `side_px` wide and high; its words stand beside it."""
    scale = side_px / FIELD
    paint = ft.Paint(color=ink, style=ft.PaintingStyle.STROKE, stroke_width=PEN * scale, stroke_cap=ft.StrokeCap.ROUND,
                     stroke_join=ft.StrokeJoin.ROUND)  # fmt: skip
    shapes = [_shape(stroke, scale, paint) for stroke in STROKES[kind].split(";")]
    return cv.Canvas(shapes, width=side_px, height=side_px)


def _shape(stroke: str, scale: float, paint: ft.Paint) -> cv.Shape:
    if stroke.startswith("o"):
        x, y, radius = (float(part) * scale for part in stroke[1:].split(","))
        return cv.Circle(x, y, radius, paint=paint)
    points = [tuple(float(part) * scale for part in point.split(",")) for point in stroke.split(" ")]
    first, *rest = points
    path: list[cv.Path.PathElement] = [cv.Path.MoveTo(*first)]
    return cv.Path([*path, *(cv.Path.LineTo(*point) for point in rest)], paint=paint)
