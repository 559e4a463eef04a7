"""What was planted held against what was found: every planted fault, and nothing else.

Owns the comparison. Must not know how a fault is planted or printed.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from demo_site.faults import PLACE, Wanted
from demo_site.play.played import Played

Key = tuple[str, str, date]
"""Kind, cause, and the production day an exception was first raised in."""


@dataclass(frozen=True)
class Compared:
    """One exception: what was planted of it and what was found, in readings; none where it is missing on a side."""

    number: str
    cause: str
    day: date
    planted: int | None
    found: int | None
    kind: str
    """The kind the fault was planted for; empty for a false alarm."""
    story: str

    @property
    def is_good(self) -> bool:
        """True when as much was found as was planted."""
        return self.planted == self.found


def compare(wanted: Iterable[Wanted], played: Played) -> list[Compared]:
    """Return every planted fault with what was found of it, in order of kind, then what was found and never planted."""
    found = found_in(played)
    planted = [(each, (each.number, named(each.cause, played), each.day)) for each in wanted]
    rows = [
        Compared(*key, planted=each.readings, found=found.get(key), kind=each.kind, story=each.story)
        for each, key in planted
    ]
    known = {key for _, key in planted}
    false_alarms = [
        Compared(*key, planted=None, found=readings, kind="", story="")
        for key, readings in sorted(found.items())
        if key not in known
    ]
    return [*sorted(rows, key=lambda row: (row.kind, row.kind != row.number, row.number, row.cause)), *false_alarms]


def found_in(played: Played) -> dict[Key, int]:
    """Return every exception of every ledger and supplement, with the most readings it touched in one of them."""
    found: dict[Key, int] = {}
    for row in played.rows("exceptions"):
        key = (row["number"], row["cause"], date.fromisoformat(row["key"][-10:]))
        found[key] = max(found.get(key, 0), int(row["readings"]))
    return found


def named(cause: str, played: Played) -> str:
    """Return a cause with the numbers of the pages that it names by their events."""
    return PLACE.sub(lambda place: played.pages(place[1])[0].rpartition("/")[2], cause)
