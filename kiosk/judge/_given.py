"""What a reading is judged on, and what comes out."""

from datetime import datetime
from decimal import Decimal
from typing import Literal

from kiosk.lists import Characteristic
from kiosk.pages import Frozen
from kiosk.pages._base import ExceptionNumber, Figure, Keyed, Name, Words
from kiosk.pages.readings import Keying
from kiosk.pages.words import KeyedAs, SampleKind, Source, Standing, Verdict


class HeatNote(Frozen):
    """What is known of a piece's heat; temperatures in `unit`."""

    out_at: datetime | None = None
    part: Decimal | None = None
    gauge: Decimal | None = None
    unit: Literal["degF", "degC"] = "degF"


class Given(Frozen):
    """One reading before it is judged: what was keyed, by what, on what. `unit` is the unit of what was keyed."""

    lot: Name
    part: Name
    operation: Name
    characteristic: Characteristic
    keyed: Keyed
    keyed_as: KeyedAs
    unit: Name
    sample_kind: SampleKind = SampleKind.RUN
    gauge: Name | None = None
    master: Name | None = None
    source: Source = Source.KEYED
    earlier: tuple[Keying, ...] = ()
    replaced_verdict: Verdict | None = None
    """Verdict of the keying that this one takes the place of in the sample."""
    heat: HeatNote = HeatNote()
    person: Name | None = None
    countersigned_by: Name | None = None


class Around(Frozen):
    """What the station knows beside the lists; a default says nothing against the reading.

    Whatever is true here is true at the moment of the reading.
    """

    station: Name
    lists_taken_at: datetime | None = None
    is_gauge_issued_here: bool = False
    is_gauge_in_doubt: bool = False
    """Something befell the gauge and no good check came after it."""
    is_zero_check_missing: bool = False
    is_zero_check_late: bool = False
    is_zero_check_failed: bool = False
    is_day_check_missing: bool = False
    is_first_piece_missing: bool = False
    is_double_tap: bool = False
    is_set_up_hot: bool = False


class Judged(Frozen):
    """What the kiosk says of one reading. `value` is in the unit of the reading; none where there is no figure."""

    verdict: Verdict
    standing: Standing
    reasons: tuple[ExceptionNumber, ...] = ()
    value: Figure | None = None
    shown: Words = ""
    """The figure as the screen may show it once the reading is kept, in the drawing's style."""
    computed_from: Words | None = None
