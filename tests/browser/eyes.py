"""What other eyes make of a colour, and how bright it is.

Colour blindness: Machado, Oliveira, Fernandes, "A physiologically-based model for simulation of color vision
deficiency", IEEE Transactions on Visualization and Computer Graphics 15 (2009) 1291-1298, table 1, severity 1.0;
the matrices work on linear RGB. Luminance and contrast: WCAG 2.2, definitions of both.
Written apart from the program's own formulas, so that one cannot hide a slip of the other.
"""

from typing import Final

Colour = tuple[int, int, int]
Matrix = tuple[tuple[float, float, float], ...]

BRIGHTNESS: Final = (0.2126, 0.7152, 0.0722)
EYES: Final[dict[str, Matrix]] = {
    "usual": ((1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "protanopia": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deuteranopia": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritanopia": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
    "grey": (BRIGHTNESS, BRIGHTNESS, BRIGHTNESS),
}


def _linear(channel: int) -> float:
    share = channel / 255
    return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4


def seen(colour: Colour, eye: str) -> tuple[float, float, float]:
    """Return a colour as an eye sees it, linear red, green and blue."""
    linear = [_linear(channel) for channel in colour]
    red, green, blue = (min(1.0, max(0.0, sum(a * b for a, b in zip(row, linear, strict=True)))) for row in EYES[eye])
    return red, green, blue


def luminance(colour: Colour, eye: str = "usual") -> float:
    """Return the relative luminance of a colour to an eye."""
    return sum(a * b for a, b in zip(BRIGHTNESS, seen(colour, eye), strict=True))


def contrast(one: Colour, other: Colour, eye: str = "usual") -> float:
    """Return the contrast ratio of two colours to an eye."""
    dark, bright = sorted((luminance(one, eye), luminance(other, eye)))
    return (bright + 0.05) / (dark + 0.05)
