"""The catalogues as they lie beside the program: gettext's own text files, read when the kiosk starts.

No step of building stands between changing a sentence and seeing it.
"""

import io
from gettext import GNUTranslations
from importlib import resources
from typing import Final

from babel.messages.catalog import Catalog
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

CODES: Final = ("es", "vi", "pl", "de", "fr", "ar")
"""The languages beside English, by their ISO 639-1 codes."""
RIGHT_TO_LEFT: Final = frozenset({"ar"})


def read_catalogue(code: str) -> Catalog:
    """Return the catalogue of a language as it stands in its file."""
    file = resources.files("kiosk.languages") / "catalogues" / f"{code}.po"
    return read_po(io.BytesIO(file.read_bytes()), locale=code)


def read_translations(code: str) -> GNUTranslations:
    """Return the same in the shape in which gettext looks things up; an entry without words is left out."""
    packed = io.BytesIO()
    write_mo(packed, read_catalogue(code))
    packed.seek(0)
    return GNUTranslations(packed)
