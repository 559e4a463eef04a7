"""Pages of a gauge study: ordered by its leader, collected blind from the appraisers, ended.

A study reading is no reading of a lot: it has no verdict and no standing, and nothing ships on it.
"""

from typing import Annotated, Literal

from pydantic import Field

from kiosk.pages._base import Act, Count, Figure, Keyed, Name, PageRef, Words


class GaugeStudyOrder(Act):
    """A gauge study is to be collected at this kiosk; the person of the page leads it.

    The order of collection is drawn from this page's own filler, so nobody chose it and anybody can make it again.
    """

    kind: Literal["gauge study order"] = "gauge study order"
    study: Name
    gauge: Name
    characteristic: Words
    """What is measured on the pieces, in plain words or as the plan numbers it."""
    unit: Name
    tolerance: Figure | None = None
    """Upper less lower limit, for the gauge's share of it; in `unit`."""
    pieces: Annotated[tuple[Name, ...], Field(min_length=2, max_length=100)]
    appraisers: Annotated[tuple[Name, ...], Field(min_length=1, max_length=20)]
    trials: Annotated[int, Field(ge=2, le=20)]


class GaugeStudyReading(Act):
    """One measurement of a gauge study: the place in the tray, never the piece that lay there."""

    kind: Literal["gauge study reading"] = "gauge study reading"
    order: PageRef
    """Page of the study's order."""
    turn: Annotated[int, Field(ge=1, le=100_000)]
    trial: Annotated[int, Field(ge=1, le=20)]
    place: Annotated[int, Field(ge=1, le=100)]
    gauge: Name
    keyed: Keyed
    unit: Name
    value: Figure
    replaces: Count | None = None
    """Page of the keying of this turn that this one takes the place of; it stays in the book."""


class GaugeStudyEnd(Act):
    """A gauge study was ended by its leader, complete or short."""

    kind: Literal["gauge study end"] = "gauge study end"
    order: PageRef
    planned: Count
    got: Count
    why_short: Words | None = None
