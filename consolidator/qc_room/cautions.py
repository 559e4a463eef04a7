"""Safety cautions of the desk, shown each time where they matter, never once as a thing to agree to.

Owns the words. They are numbered as the plant's list of cautions numbers them.
"""

from typing import Final

CAUTIONS: Final = {
    6: "A blocked or released reading is not the same as a good reading.",
    7: "External rolled threads: never chase, re-roll, file or run a die over them. It cuts the rolled grain and takes "
    "the compressive stress out of the root: fatigue life is lost with nothing to see. Scrap and destroy.",
    8: "Scrap must be made unusable and witnessed; scrap bolts have come back on the market.",
    9: "Re-tapped nuts: once, then check 100 % with GO, NOT GO and face runout, in the same lot.",
    14: "Do not remove material or heat-treat again to rescue hardness without engineering authority.",
    16: "Use-as-is and repair belong to the organisation responsible for the design.",
    17: "Non-conforming product already delivered: the customer must be told promptly. This prepares the facts; the "
    "quality manager decides and sends.",
}
"""Cautions by number."""


def cautions(*numbers: int) -> tuple[str, ...]:
    """Return cautions in the order asked for."""
    return tuple(CAUTIONS[number] for number in numbers)
