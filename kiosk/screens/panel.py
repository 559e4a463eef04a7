"""The panel a kiosk is drawn on: how large a millimetre is, how large a hand needs a key, which colours tell.

Owns every size in millimetres and every colour. Must not know what is shown.
"""

from dataclasses import dataclass
from typing import Final

from kiosk.settings import Settings

MM_AN_INCH: Final = 25.4
CAPITAL_SHARE: Final = 0.729
"""Height of a capital or figure of DejaVu Sans as a share of its type size (1493 of 2048 units; its `OS/2` table)."""

KEY_MM: Final = 22.0
"""Least side of any key: a gloved finger, wet and oily; a published human-factors figure for mittened keys is 19 mm."""
DIGIT_MM: Final = 24.0
"""Least side of a digit key."""
GAP_MM: Final = 4.0
"""Least distance between two keys."""
VALUE_MM: Final = 18.0
"""Least height of the figure that is keyed."""
TEXT_MM: Final = 6.0
"""Least height of the capitals of everything else."""
LINE: Final = 1.16
"""Line height of the type used, as a share of its size (DejaVu Sans: ascent 0.928 + descent 0.236)."""


@dataclass(frozen=True)
class Colours:
    """Dark figures on a light ground; each name is what the colour is for."""

    ground: str = "#FFFFFF"
    ink: str = "#101010"
    key: str = "#E6E9ED"
    key_edge: str = "#3A3F45"
    strong_key: str = "#12324F"
    on_strong: str = "#FFFFFF"
    pressed: str = "#F2D675"
    stop: str = "#8A0F14"
    look: str = "#F2B705"
    good: str = "#CFE8D5"
    status: str = "#20262C"
    on_status: str = "#FFFFFF"

    def pairs(self) -> dict[str, tuple[str, str]]:
        """Return every text and ground that stand on each other."""
        return {
            "words": (self.ink, self.ground),
            "key": (self.ink, self.key),
            "strong key": (self.on_strong, self.strong_key),
            "pressed key": (self.ink, self.pressed),
            "STOP": (self.on_strong, self.stop),
            "LOOK": (self.ink, self.look),
            "OK": (self.ink, self.good),
            "status": (self.on_status, self.status),
        }


COLOURS: Final = Colours()


def luminance(colour: str) -> float:
    """Return the relative luminance of `#RRGGBB`, 0 to 1 (WCAG 2.2, definition of relative luminance)."""
    parts = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(colour: str, other: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21 (WCAG 2.2, definition of contrast ratio)."""
    bright, dark = sorted((luminance(colour), luminance(other)), reverse=True)
    return (bright + 0.05) / (dark + 0.05)


@dataclass(frozen=True)
class Panel:
    """One panel as it was set: its diagonal and resolution say how large a millimetre is."""

    diagonal_in: float
    width_px: int
    height_px: int

    @classmethod
    def from_settings(cls, settings: Settings) -> "Panel":
        """Return the panel that the kiosk's settings tell of."""
        return cls(settings.panel_diagonal_in, settings.panel_width_px, settings.panel_height_px)

    @property
    def px_a_mm(self) -> float:
        """Pixels of the panel in one millimetre."""
        across = (self.width_px**2 + self.height_px**2) ** 0.5
        return float(across / (self.diagonal_in * MM_AN_INCH))

    def px(self, mm: float) -> float:
        """Return a length in pixels."""
        return mm * self.px_a_mm

    def type_px(self, capital_mm: float) -> float:
        """Return the type size in pixels whose capitals and figures are `capital_mm` high."""
        return self.px(capital_mm) / CAPITAL_SHARE

    @property
    def width_mm(self) -> float:
        """Width of the panel."""
        return self.width_px / self.px_a_mm

    @property
    def height_mm(self) -> float:
        """Height of the panel."""
        return self.height_px / self.px_a_mm
