"""Ways through the screens of a day, told in a few words a step, for tests that look at every screen.

`scan CODE`, `touch KEY|KEY` (whole words), `pick WORDS` (a part of them), `sees WORDS`, `settle`, `look NAME`.
"""

from collections.abc import Iterator
from typing import Final

from tests.browser.person import Person

GRINDING: Final = (
    "look door", "pick No badge", "look number pad", "touch 1|0|1|Keep", "sees Badged in", "look job", "settle",
    "scan L-411", "sees What is measured", "look hub", "settle", "touch More", "look more", "pick Gauges and",
    "look gauges", "pick Something else", "look which gauge", "touch Back", "touch More", "pick Machine",
    "pick The machine stands", "look stop", "touch Back", "touch More", "pick Lot, heat", "look lot", "pick Next lot",
    "pick L-412", "look line clearance", "touch Back", "pick BC1", "sees scan the gauge", "look gauge", "scan G-107",
    "sees STOP", "look gauge out", "pick Take another", "scan G-220", "sees STOP. Zero", "settle", "pick Check G-220",
    "look zero check", "touch 0|Keep", "sees Good", "settle", "touch 8|8|UNDER", "sees 88 divisions UNDER",
    "look value", "touch Keep", "sees Look again", "look look again", "touch 2|UNDER|Keep", "sees Kept", "look kept",
    "settle", "touch More", "pick I keyed", "look keyed wrong", "touch Back", "pick I dropped", "sees Nobody is blamed",
    "look dropped",
)  # fmt: skip
ROLLING: Final = (
    "scan B-102", "sees Badged in", "scan L-411", "sees What is", "settle", "touch More", "pick Machine",
    "pick Set-up", "look set-up", "pick Begin", "look reasons", "pick New lot", "look hot or cold", "touch Cold",
    "sees Measure first", "settle", "pick BC4", "sees scan the", "scan G-301", "sees Now scan", "look wires",
    "scan W-24", "sees Piece 1", "look over wires", "touch Back", "pick BC5", "sees scan the", "scan G-502",
    "sees Piece 1", "settle", "look accept or reject", "touch Reject", "sees STOP. Reject", "look rejected", "settle",
    "touch Back", "pick BC6", "sees scan the", "scan G-503", "sees Piece 1", "settle", "look turns", "touch Back",
    "touch More", "pick Machine", "pick Set-up", "pick First pieces", "scan B-104", "sees Dee", "look decision",
    "touch Approved", "look PIN", "touch Back", "touch More", "pick More of", "pick This kiosk", "pick Is a millimetre",
    "look ruler",
)  # fmt: skip


def walk(person: Person, steps: tuple[str, ...]) -> Iterator[str]:
    """Take the steps; hand back the name of each screen that is to be looked at.

    What is scanned keeps a page, and the screen is deaf for a moment after one: so a touch after a scan waits.
    """
    is_deaf = False
    for step in steps:
        act, _, words = step.partition(" ")
        if is_deaf and act in ("touch", "pick"):
            person.settle()
        is_deaf = act == "scan" or (is_deaf and act in ("sees", "look"))
        match act:
            case "scan":
                person.scan(words)
            case "touch":
                person.touch(*words.split("|"))
            case "pick":
                person.pick(words)
            case "sees":
                person.sees(words)
            case "settle":
                person.settle()
            case _:
                yield words
