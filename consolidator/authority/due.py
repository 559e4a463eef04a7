"""When a due date ends, and when an extension of it works.

Owns these two as pure functions of the lists and of pages' times.
"""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from kiosk.lists import Lists
from kiosk.times import in_zone


@dataclass(frozen=True)
class ExtensionState:
    """Where an extension stands: from when it works, or why it does not (X83 when it came late)."""

    works_from: datetime | None
    why: str = ""
    is_late: bool = False


def due_end(due: date, lists: Lists) -> datetime:
    """Return the first moment a due date no longer covers, in plant time: by N1 as in force then, 24:00 of that date.

    Hours past midnight are counted on the clock on the wall, as the date is; at a change of clocks 24:00 stays 24:00.
    """
    zone = ZoneInfo(lists.zone)
    start = datetime.combine(due, time(0, 0), tzinfo=zone)
    minutes = int(lists.numbers(start).due_until_h * 60)
    return in_zone((start.replace(tzinfo=None) + timedelta(minutes=minutes)).replace(tzinfo=zone), zone)


def extension_state(proposed_at: datetime, second_at: datetime | None, old_due: date, lists: Lists) -> ExtensionState:
    """Return from when an extension works: from its second signature, if that came before the old due date ended."""
    end = due_end(old_due, lists)
    if proposed_at >= end or (second_at is not None and second_at >= end):
        return ExtensionState(None, f"it was signed after the due date ended at {end.isoformat(sep=' ')}", is_late=True)
    if second_at is None:
        return ExtensionState(None, "waiting for second signature")
    return ExtensionState(max(proposed_at, second_at))
