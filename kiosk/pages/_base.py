"""The shapes shared by all pages: frozen models, and the text forms of numbers, names and references."""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from kiosk.pages.words import Meaning
from kiosk.times import LocalTime

Name = Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[^\x00-\x1f\x7f]+$")]
"""A number or name of the plant: gauge, lot, person, part, station, characteristic, operation."""
Words = Annotated[str, Field(max_length=2_000)]
"""Free words of a person."""
Keyed = Annotated[str, Field(max_length=64)]
"""Exactly what was keyed or received, character by character."""
Figure = Annotated[str, Field(pattern=r"^-?\d+(\.\d+)?$", max_length=40)]
"""An exact decimal as text, a digit before the point, never with an exponent."""
Fingerprint = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
"""SHA-256 (FIPS 180-4) in lower-case hexadecimal digits."""
Series = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9.-]{0,30}$")]
"""The name of one numbered book, e.g. `S12-a`; a replacement kiosk gets a new one."""
PageRef = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9.-]{0,30}/[1-9]\d{0,9}$")]
"""One page of the plant: series and number, e.g. `S12-a/1877`."""
ExceptionNumber = Annotated[str, Field(pattern=r"^X\d\d$")]
"""The number of an exception kind, X01 to X84."""
Count = Annotated[int, Field(ge=0, le=10_000_000)]
"""A number of pieces, uses or turns of a counter."""


class Frozen(BaseModel):
    """A value that cannot change and knows every one of its fields."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Signature(Frozen):
    """Badge and PIN set under a sentence; bound to the fingerprint of what was signed, so it cannot be moved."""

    person: Name
    name: Name
    role: Name
    at: LocalTime
    meaning: Meaning
    sentence: Words
    of: Fingerprint


class Act(Frozen):
    """What somebody or something did; one act makes one page."""
