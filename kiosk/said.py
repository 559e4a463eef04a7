"""What the kiosk says to a person: short sentences that can be said in another language.

Owns how a sentence carries its template and its values. Must not know when it is said, nor any other language.
"""

from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any


class Said(str):
    """One sentence in English that also carries what it was made of, so that a screen can say it in another language.

    `template` is the entry of the catalogues, `values` what is put into it: names and figures as they are,
    a word of a fixed list as that word, another sentence as that sentence.
    Where a count stands, `one` is the template for a single one and `number` the count.
    """

    template: str
    values: dict[str, str]
    one: str | None
    number: Decimal | None

    def __new__(cls, template: str, **values: Any) -> "Said":
        """Make the sentence from its template."""
        return cls._made(template, values, one=None, count=None)

    @classmethod
    def counted(cls, one: str, many: str, count: Decimal, values: dict[str, Any]) -> "Said":
        """Make the sentence for this count."""
        return cls._made(many, values, one=one, count=count)

    @classmethod
    def _made(cls, template: str, values: dict[str, Any], *, one: str | None, count: Decimal | None) -> "Said":
        words = {name: value if isinstance(value, Said | StrEnum) else str(value) for name, value in values.items()}
        english = one if one is not None and count == 1 else template
        sentence = super().__new__(cls, english.format(**words))
        sentence.template, sentence.values, sentence.one, sentence.number = template, words, one, count
        return sentence


def say(template: str, **values: Any) -> Said:
    """Return the sentence of `template`; every template stands as a plain literal where it is said."""
    return Said(template, **values)


def say_count(one: str, many: str, *, n: int | str | Decimal, **values: Any) -> Said:
    """Return the sentence for a count `n`, shown as it was given: `one` for exactly one, else `many`."""
    try:
        number = Decimal(str(n))
    except InvalidOperation:  # a figure that is only begun, such as a point
        number = Decimal(0)
    return Said.counted(one, many, number, {"n": n, **values})
