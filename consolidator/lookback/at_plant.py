"""A look-back on a plant's own pages: what of the archive it needs, and nothing else.

Owns which kinds of pages a look-back must know of.
"""

from datetime import UTC, datetime
from typing import Final

from consolidator.frame import make_day
from consolidator.frame.world import ms_of
from consolidator.intake import Archive
from consolidator.lists import as_known
from consolidator.lookback.look_back import LookBack, look_back
from consolidator.plant import Plant
from kiosk.times import production_day

KINDS: Final = (
    "calibration",
    "check",
    "clock set",
    "correction",
    "gauge state",
    "look-back window",
    "lot close",
    "lot re-open",
    "lot ship",
    "second signature",
)
"""Pages that move a window, a value, an effective time, or a lot."""


def look_back_at(
    plant: Plant, number: str, *, at: datetime, archive: Archive, found_at: datetime | None = None
) -> LookBack:
    """Return the look-back of a gauge or master as known at a moment, from the pages the intake holds.

    Raises:
        LookBackRefused: nothing is known of the number, or nothing came to light at `found_at`.
    """
    at_utc = at.astimezone(UTC)
    held = archive.told(KINDS, by_utc=at_utc)
    day = make_day(held, as_known(plant, at_utc), day=production_day(at_utc, plant.zone), at_utc=at_utc)
    return look_back(
        day,
        number,
        lambda numbers, pages, since: archive.readings_with(numbers, pages=pages, since_utc=since, by_utc=at_utc),
        found_at_ms=None if found_at is None else ms_of(found_at),
    )
