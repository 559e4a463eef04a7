"""Time as a page writes it, the production day and its shifts.

Owns the one text form of a time, and the arithmetic of days that may have 23 or 25 hours.
Must not read a clock.
"""

from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from typing import Annotated, Final

from pydantic import Field

TIME_PATTERN: Final = r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}[+-]\d\d:\d\d$"

LocalTime = Annotated[str, Field(pattern=TIME_PATTERN)]
"""Local time with milliseconds and UTC offset, always 29 characters: `2026-03-10T23:58:30.000-04:00` (ISO 8601)."""

DAY_START: Final = time(6, 0)
SHIFT_STARTS: Final = (time(6, 0), time(14, 0), time(22, 0))


def write_time(moment: datetime) -> str:
    """Return an aware `moment` in the page's text form; its own offset is kept.

    Raises:
        ValueError: the moment carries no UTC offset.
    """
    if moment.utcoffset() is None:
        raise ValueError("a time without its UTC offset cannot be kept")
    return moment.isoformat(timespec="milliseconds")


def read_time(text: str) -> datetime:
    """Return the aware moment that a page's time text stands for."""
    return datetime.fromisoformat(text)


def in_zone(moment: datetime, zone: tzinfo) -> datetime:
    """Return `moment` in plant local time with its offset fixed.

    A zone-aware time in the hour that comes twice never equals the same moment in another zone (PEP 495);
    with a fixed offset it does.
    """
    local = moment.astimezone(zone)
    offset = local.utcoffset()
    assert offset is not None
    return local.replace(tzinfo=timezone(offset), fold=0)


def production_day(moment: datetime, zone: tzinfo) -> date:
    """Return the production day of `moment`: 06:00 to 06:00 plant local time, named by the date it starts on."""
    local = moment.astimezone(zone)
    return local.date() if local.time() >= DAY_START else local.date() - timedelta(days=1)


def day_bounds_utc(day: date, zone: tzinfo) -> tuple[datetime, datetime]:
    """Return first moment and first moment after production day `day`, in UTC (23, 24 or 25 hours apart)."""
    start = datetime.combine(day, DAY_START, tzinfo=zone).astimezone(UTC)
    end = datetime.combine(day + timedelta(days=1), DAY_START, tzinfo=zone).astimezone(UTC)
    return start, end


def shift_of(moment: datetime, zone: tzinfo) -> tuple[date, int]:
    """Return (production day, shift 1-3) of `moment`; the 3rd shift crosses midnight."""
    local = moment.astimezone(zone)
    if SHIFT_STARTS[0] <= local.time() < SHIFT_STARTS[1]:
        number = 1
    elif SHIFT_STARTS[1] <= local.time() < SHIFT_STARTS[2]:
        number = 2
    else:
        number = 3
    return production_day(moment, zone), number


def shift_bounds_utc(day: date, number: int, zone: tzinfo) -> tuple[datetime, datetime]:
    """Return first moment and first moment after shift `number` of production day `day`, in UTC."""
    starts = [datetime.combine(day, start, tzinfo=zone).astimezone(UTC) for start in SHIFT_STARTS]
    ends = [*starts[1:], day_bounds_utc(day, zone)[1]]
    return starts[number - 1], ends[number - 1]


def end_of_date_utc(day: date, zone: tzinfo) -> datetime:
    """Return 24:00 plant local time of calendar date `day`, in UTC: the first moment a due date no longer covers."""
    return datetime.combine(day + timedelta(days=1), time(0, 0), tzinfo=zone).astimezone(UTC)


def read_plant_time(text: str, zone: tzinfo) -> datetime:
    """Return the moment a person wrote as plant local time: `YYYY-MM-DD HH:MM[:SS]`, with its offset where needed.

    Raises:
        ValueError: it is no such time, or the clocks change there and the offset is missing; the text says which.
    """
    try:
        moment = datetime.fromisoformat(text.strip().replace(" +", "+").replace(" -", "-"))
    except ValueError as error:
        raise ValueError(f"'{text}' is no time: write 2026-03-10 23:58, or 2026-11-01 01:20 -05:00") from error
    if moment.tzinfo is not None:
        return in_zone(moment, zone)
    local = moment.replace(tzinfo=zone)
    if local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != moment:
        raise ValueError(f"'{text}' does not exist here: the clocks go forward over it")
    if local.utcoffset() != local.replace(fold=1).utcoffset():
        raise ValueError(f"'{text}' comes twice here, as the clocks go back: add the offset, e.g. -05:00")
    return in_zone(local, zone)
