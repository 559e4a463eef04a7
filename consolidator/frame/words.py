"""How times and figures are said in a sentence.

Owns the words, and the offset of plant time they need. Figures are said as they stand, never rounded.
"""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from consolidator.frame.coded import Ints, distinct
from consolidator.frame.world import moment_of

_QUARTER_MS = 15 * 60_000
"""Offsets of all zones change on whole quarters of an hour."""
_DAY_MS = 24 * 3_600_000
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def offsets_min(ms: Ints, zone: ZoneInfo) -> Ints:
    """Return the UTC offset of the zone at each moment, in minutes."""
    if not len(ms):
        return np.zeros(0, np.int64)
    earliest = int(ms.min()) // _QUARTER_MS
    quarters, place = distinct(ms // _QUARTER_MS - earliest)
    minutes = []
    for quarter in quarters.tolist():
        offset = moment_of((earliest + quarter) * _QUARTER_MS).astimezone(zone).utcoffset() or timedelta(0)
        minutes.append(int(offset.total_seconds()) // 60)
    return np.array(minutes, np.int64)[place]


def local_days(ms: Ints, zone: ZoneInfo) -> Ints:
    """Return the calendar date of each moment in plant time, in days since 1970-01-01."""
    return (ms + offsets_min(ms, zone) * 60_000) // _DAY_MS


def say_date(day: date) -> str:
    """Return a date as the floor says it: `10 Mar`."""
    return f"{day.day} {_MONTHS[day.month - 1]}"


def say_time(ms: int, zone: ZoneInfo, *, with_year: bool = False) -> str:
    """Return a moment in plant time with its offset: `11 Mar 00:02 −04:00`."""
    local = moment_of(ms).astimezone(zone)
    year = f" {local.year}" if with_year else ""
    return f"{say_date(local.date())}{year} {local:%H:%M} {_offset(local)}"


def say_elapsed(ms: int) -> str:
    """Return an elapsed time: `47 min`, `3 h 12 min`, `95 s`."""
    seconds = abs(ms) // 1000
    if seconds < 120:
        return f"{seconds} s"
    hours, minutes = divmod(seconds // 60, 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min"


def many(count: int, one: str, more: str = "") -> str:
    """Return a count with its noun: `1 reading`, `5 readings`."""
    return f"{count} {one if count == 1 else more or one + 's'}"


def _offset(local: datetime) -> str:
    return local.isoformat()[-6:].replace("-", "−")
