"""Brings the catalogues up to the program: new entries without words, entries that are gone taken out.

Run `python -m kiosk.languages`; it says what has no words yet, language by language.
"""

import io
import sys
from pathlib import Path
from typing import Final

from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po

from kiosk.languages._catalogues import CODES, read_catalogue
from kiosk.languages._templates import templates

FOLDER: Final = Path(__file__).with_name("catalogues")
LEFT_OUT: Final = (
    b'"Project-Id', b'"Report-', b'"POT-', b'"PO-', b'"Last-', b'"Language-Team', b'"Generated',
)  # fmt: skip
"""Lines of a catalogue's head that say who and when; the repository knows both."""


def brought_up(code: str) -> Catalog:
    """Return a language's catalogue with exactly the program's entries, in the program's order."""
    old = read_catalogue(code) if (FOLDER / f"{code}.po").exists() else Catalog(locale=code)
    new = Catalog(locale=code, fuzzy=False, header_comment="# See docs/reference/languages.md")
    for one in templates():
        known = old.get(one.text if one.one is None else (one.one, one.text))
        identifier = one.text if one.one is None else (one.one, one.text)
        new.add(identifier, "" if known is None else known.string, locations=[(f"kiosk/{one.file}", 0)])
    return new


def written(catalogue: Catalog) -> bytes:
    """Return a catalogue as its file; without dates and names, so that the same entries are the same bytes."""
    packed = io.BytesIO()
    write_po(packed, catalogue, width=110, include_lineno=False)
    lines = packed.getvalue().splitlines(keepends=True)
    return b"".join(line for line in lines if not line.startswith(LEFT_OUT))


def missing(catalogue: Catalog) -> list[str]:
    """Return the entries that have no words, or not all their forms."""
    return [
        str(message.id)
        for message in catalogue
        if message.id and not (all(message.string) if isinstance(message.string, tuple) else message.string)
    ]


def main() -> int:
    """Write every catalogue; return 1 when words are missing."""
    is_short = False
    for code in CODES:
        catalogue = brought_up(code)
        (FOLDER / f"{code}.po").write_bytes(written(catalogue))
        without = missing(catalogue)
        is_short = is_short or bool(without)
        print(f"{code}: {len(catalogue)} entries, {len(without)} without words")
        for text in without:
            print(f"    {text}")
    return 1 if is_short else 0


if __name__ == "__main__":
    sys.exit(main())
