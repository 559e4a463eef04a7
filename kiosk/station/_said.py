"""Sentences a station says: short, told in words an operator knows, and sayable in another language.

Owns how a sentence carries its template and values. Must not know when it is said.
"""

from datetime import datetime
from typing import Any


class Said(str):
    """One sentence in English that also carries what it was made of, so that a screen can say it in another language.

    `template` is the entry of the catalogues, `values` what is put into it.
    """

    template: str
    values: dict[str, str]

    def __new__(cls, template: str, **values: Any) -> "Said":
        """Make the sentence from its template."""
        words = {name: str(value) for name, value in values.items()}
        sentence = super().__new__(cls, template.format(**words))
        sentence.template = template
        sentence.values = words
        return sentence


def say(template: str, **values: Any) -> Said:
    """Return the sentence of `template`; every template stands as a plain literal where it is said."""
    return Said(template, **values)


def clock_words(moment: datetime) -> str:
    """Return a local time of day as shown, e.g. `23:58 −04:00`."""
    offset = moment.strftime("%z")
    sign = "\N{MINUS SIGN}" if offset.startswith("-") else "+"
    return f"{moment:%H:%M} {sign}{offset[1:3]}:{offset[3:5]}"
