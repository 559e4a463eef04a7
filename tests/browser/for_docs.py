"""Makes the pictures of the documents from the real screens: `python -m tests.browser.for_docs`.

Beside the pictures stands what can be read on each screen, so that a test sees at once when one of them is stale:
the bytes of a picture differ from machine to machine, its words do not.
"""

import io
import json
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from PIL import Image
from playwright.sync_api import ViewportSize, sync_playwright

from kiosk.screens.serving import BROWSERS
from tests.browser.kiosks import served
from tests.browser.person import Person, launch
from tests.browser.walks import walk

FOLDER: Final = Path(__file__).resolve().parents[2] / "docs/tutorials/pictures"
WORDS: Final = FOLDER / "words.json"
SIZE: Final = ViewportSize(width=1280, height=800)
GRINDING: Final = (
    "look door", "scan B-101", "sees Badged in", "look job", "scan L-411", "sees What is measured", "look hub",
    "pick BC1", "sees scan the gauge", "look gauge", "scan G-107", "sees STOP", "look gauge-out", "pick Take another",
    "scan G-220", "sees STOP. Zero", "look zero-missing", "pick Check G-220", "look zero-check", "touch 0|Keep",
    "sees Good", "settle", "touch 2|UNDER", "sees 2 divisions UNDER", "look divisions", "touch Keep", "sees Kept",
    "look kept", "settle", "touch 8|8|UNDER|Keep", "sees Look again", "look look-again", "touch 7|UNDER|Keep",
    "sees STOP", "look out-of-tolerance", "settle", "touch Read on", "touch More", "look more", "pick I keyed",
    "look keyed-wrong", "touch Back", "pick I dropped", "sees Nobody is blamed", "look dropped", "settle",
    "pick Go on", "touch More", "pick Machine", "pick The machine stands", "look machine-stands", "touch Back",
    "touch More", "pick Lot, heat", "pick Next lot", "pick L-412", "look line-clearance", "touch Back", "scan B-102",
    "sees You took over", "look taking-over",
)  # fmt: skip
ROLLING: Final = (
    "scan B-102", "sees Badged in", "scan L-411", "sees What is", "settle", "touch More", "pick Machine",
    "pick Set-up", "pick Begin", "look set-up", "pick New lot", "touch Cold", "sees Measure first", "settle",
    "pick BC4", "sees scan the", "scan G-301", "sees Now scan", "look wires", "scan W-24", "sees Piece 1",
    "touch Back", "pick BC5", "sees scan the", "scan G-502", "sees Piece 1", "look accept-or-reject", "touch Back",
    "pick BC6", "sees scan the", "scan G-503", "sees Piece 1", "look turns", "touch Back", "touch More",
    "pick Machine", "pick Set-up", "pick First pieces", "scan B-104", "sees Dee", "look approval", "touch Approved",
    "look pin",
)  # fmt: skip
WALKS: Final = (("S12", GRINDING), ("S24", ROLLING))
COLOURS: Final = 32


def looks(person: Person, steps: tuple[str, ...]) -> Iterator[tuple[str, list[str]]]:
    """Take the steps; hand back each screen to be looked at with everything that can be read on it.

    The status line is left out: it tells page numbers and ages.
    """
    for name in walk(person, steps):
        person.still_picture()
        lines = (line.strip() for line in person.words().splitlines())
        yield name, sorted({line for line in lines if line and "Both stores good" not in line})


def _write(picture: bytes, path: Path) -> None:
    """Keep a picture in few colours: a screen has no more, and the repository stays small."""
    whole = Image.open(io.BytesIO(picture)).convert("RGB")
    whole.quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)


def main() -> int:
    """Make every picture and the file of words anew."""
    browser = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if browser is None:
        sys.stderr.write("No Chromium here: install the package 'chromium'.\n")
        return 2
    shutil.rmtree(FOLDER, ignore_errors=True)
    FOLDER.mkdir(parents=True)
    words: dict[str, list[str]] = {}
    with sync_playwright() as driver, launch(driver, browser) as started:
        for station, steps in WALKS:
            with tempfile.TemporaryDirectory() as folder, served(Path(folder), station) as kiosk:
                person = Person(started.new_page(viewport=SIZE))
                person.page.set_default_timeout(8_000)
                for name, told in looks(person.open(kiosk.address), steps):
                    words[name] = told
                    _write(person.page.screenshot(), FOLDER / f"{name}.png")
                person.page.close()
    WORDS.write_text(json.dumps(words, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(f"{len(words)} pictures are in {FOLDER.name}.\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
