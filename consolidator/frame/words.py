"""How times and figures are said in a sentence.

Owns the words only. Figures are said as they stand, never rounded.
"""

from datetime import date, datetime
from zoneinfo import ZoneInfo

from consolidator.frame.world import moment_of

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def say_date(day: date) -> str:
    """Return a date as the floor says it: `10 Mar`."""
    return f"{day.day} {_MONTHS[day.month - 1]}"


def say_time(ms: int, zone: ZoneInfo, *, seconds: bool = False) -> str:
    """Return a moment in plant time with its offset: `11 Mar 00:02 −04:00`."""
    local = moment_of(ms).astimezone(zone)
    clock = f"{local:%H:%M:%S}" if seconds else f"{local:%H:%M}"
    return f"{say_date(local.date())} {clock} {_offset(local)}"


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
