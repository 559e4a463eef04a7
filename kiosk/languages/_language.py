"""One language: a sentence's template looked up, its values put in as they are."""

import re
from decimal import Decimal
from enum import StrEnum
from gettext import GNUTranslations, NullTranslations
from typing import Final

from kiosk.languages._catalogues import CODES, RIGHT_TO_LEFT, read_translations
from kiosk.said import Said

_HAS_WORDS: Final = re.compile(r"[^\W\d_]")
_NAMES: Final = re.compile(r"\{(\w+)\}")
_PLACES: Final = re.compile(r"\{\w+\}")
_ONE_RUN: Final = re.compile(r"\{\w+\}(?:[ /](?:\{\w+\}|mm\b))*")
"""Places for values that stand together, such as a figure and its unit."""
_BEFORE, _AFTER = "\u200f\u202a", "\u202c\u200f"
"""Put around a figure or a name inside a line from right to left, so that it reads from left to right and the words
around it stay in their order. The signs made for this (U+2066 to U+2069) are not in the type that is bundled."""
_FRACTION_AS: Final = {"ar": 100}
"""The whole number whose form a fraction takes: in Arabic that of a hundred, elsewhere that of two."""


def has_words(template: str) -> bool:
    """True when anything in a template can be said in another language; places for values cannot."""
    return _HAS_WORDS.search(_PLACES.sub("", template)) is not None


class Language:
    """One language of the screens."""

    def __init__(self, code: str, translations: NullTranslations) -> None:
        self.code = code
        self.is_right_to_left = code in RIGHT_TO_LEFT
        self._translations = translations

    def speak(self, said: str) -> str:
        """Return a sentence in this language; one that is in no catalogue is said in English."""
        if not isinstance(said, Said):
            return said
        template = self._template(said)
        if self.is_right_to_left:
            template = _ONE_RUN.sub(lambda run: _kept_left_to_right(run[0], said), template)
        return template.format(**{name: self._value(value) for name, value in said.values.items()})

    def _template(self, said: Said) -> str:
        if not has_words(said.template):
            return said.template
        if said.one is None or said.number is None:
            return self._translations.gettext(said.template)
        return self._translations.ngettext(said.one, said.template, self._form_of(said.number))

    def _form_of(self, count: Decimal) -> int:
        """Return a whole number whose form this count takes; French has the singular below two."""
        if count == count.to_integral_value():
            return abs(int(count))
        return int(abs(count)) if self.code == "fr" else _FRACTION_AS.get(self.code, 2)

    def _value(self, value: str) -> str:
        if isinstance(value, Said):
            return self.speak(value)
        if isinstance(value, StrEnum):
            return self._translations.gettext(value)
        return value


def _kept_left_to_right(run: str, said: Said) -> str:
    """Return places for figures and names marked to be read from left to right; words of the language stay as is."""
    names = _NAMES.findall(run)
    plain = [name for name in names if not isinstance(said.values[name], Said | StrEnum)]
    if len(plain) == len(names):
        return f"{_BEFORE}{run}{_AFTER}"
    for name in plain:
        run = run.replace(f"{{{name}}}", f"{_BEFORE}{{{name}}}{_AFTER}")
    return run


class _English(NullTranslations):
    """The sentences as they stand in the program."""


ENGLISH: Final = Language("en", _English())


class Languages:
    """All languages of the screens."""

    def __init__(self) -> None:
        self._known: dict[str, Language] = {"en": ENGLISH}

    def of(self, code: str) -> Language:
        """Return a language by the code of the lists, such as `de` or `de-AT`; English where it is none of these."""
        short = code.partition("-")[0].partition("_")[0].lower()
        if short not in self._known and short in CODES:
            translations: GNUTranslations = read_translations(short)
            self._known[short] = Language(short, translations)
        return self._known.get(short, ENGLISH)
