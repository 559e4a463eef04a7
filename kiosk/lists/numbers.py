"""N1-N19: the numbers a plant may set, with their defaults and units."""

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import Annotated, Final

from pydantic import Field

from kiosk.lists.entries import PlantNumber
from kiosk.pages._base import Frozen
from kiosk.times import read_time

Share = Annotated[Decimal, Field(ge=0, le=1)]
Percent = Annotated[Decimal, Field(ge=0, le=100)]
Times = Annotated[Decimal, Field(ge=0, le=1_000)]
Span = Annotated[int, Field(ge=0, le=100_000)]
SpanExact = Annotated[Decimal, Field(ge=0, le=100_000)]
Degrees = Annotated[Decimal, Field(ge=-100, le=1_000)]
AtLeastTwo = Annotated[int, Field(ge=2, le=100_000)]
TimeOfDay = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]


class PlantNumbers(Frozen):
    """The plant numbers as typed values; every field name ends in its unit.

    The ranges only keep out what cannot be meant: a negative time, a share over one, an hour 27.
    """

    due_until_h: SpanExact = Decimal(24)
    clock_agreement_s: Span = 120
    lists_caution_h: Span = 24
    lists_flagged_h: Span = 72
    lists_refused_h: Span = 168
    coarse_percent: Percent = Decimal(10)
    too_coarse_percent: Percent = Decimal(20)
    window_tolerances: Times = Decimal(3)
    window_upper_times: Times = Decimal(4)
    window_lower_from_times: Times = Decimal("0.5")
    window_lower_to_times: Times = Decimal(2)
    grace_share: Share = Decimal(1) / Decimal(3)
    grace_least_min: SpanExact = Decimal(5)
    grace_most_min: SpanExact = Decimal(15)
    zero_check_every_min: Span = 240
    zero_check_late_min: Span = 270
    zero_error_percent: Percent = Decimal(10)
    double_tap_s: Span = 3
    gauge_two_places_s: Span = 120
    badge_two_places_s: Span = 60
    cool_down_min: Span = 30
    cool_part_degf: Degrees = Decimal(80)
    cool_difference_degf: Degrees = Decimal(10)
    lapsed_days: Span = 14
    alike_in_a_row: AtLeastTwo = 8
    faster_in_a_row: AtLeastTwo = 3
    wear_uses: Span = 5_000
    wear_days: Span = 90
    silent_h: Span = 4
    bulk_pass: TimeOfDay = "02:00"
    final_pass: TimeOfDay = "06:05"
    seal_target: TimeOfDay = "10:00"
    re_taps: Span = 1
    paper_h: Span = 24

    @classmethod
    def at(cls, rows: Iterable[PlantNumber], moment: datetime) -> "PlantNumbers":
        """Return the numbers in force at `moment`; a number the plant never set has its default."""
        best: dict[str, tuple[datetime | None, str]] = {}
        for row in rows:
            start = None if row.in_force_from is None else read_time(row.in_force_from)
            if start is not None and start > moment:
                continue
            known = best.get(row.number)
            if known is None or known[0] is None or (start is not None and start >= known[0]):
                best[row.number] = (start, row.value)
        return cls.model_validate({FIELD_OF[number]: value for number, (_, value) in best.items()})


FIELD_OF: Final = {
    "N1": "due_until_h",
    "N2": "clock_agreement_s",
    "N3a": "lists_caution_h",
    "N3b": "lists_flagged_h",
    "N3c": "lists_refused_h",
    "N4a": "coarse_percent",
    "N4b": "too_coarse_percent",
    "N5a": "window_tolerances",
    "N5b": "window_upper_times",
    "N5c": "window_lower_from_times",
    "N5d": "window_lower_to_times",
    "N6a": "grace_share",
    "N6b": "grace_least_min",
    "N6c": "grace_most_min",
    "N7a": "zero_check_every_min",
    "N7b": "zero_check_late_min",
    "N7c": "zero_error_percent",
    "N8": "double_tap_s",
    "N9a": "gauge_two_places_s",
    "N9b": "badge_two_places_s",
    "N10a": "cool_down_min",
    "N10b": "cool_part_degf",
    "N10c": "cool_difference_degf",
    "N11": "lapsed_days",
    "N12": "alike_in_a_row",
    "N13": "faster_in_a_row",
    "N14a": "wear_uses",
    "N14b": "wear_days",
    "N15": "silent_h",
    "N16a": "bulk_pass",
    "N16b": "final_pass",
    "N17": "seal_target",
    "N18": "re_taps",
    "N19": "paper_h",
}
"""Which field each plant number (and its part, where it has several) sets."""


def is_plant_number(number: str, value: str) -> bool:
    """True when `value` may stand for plant number `number`."""
    field = FIELD_OF.get(number)
    if field is None:
        return False
    try:
        PlantNumbers.model_validate({field: value})
    except (ValueError, InvalidOperation):
        return False
    return True
