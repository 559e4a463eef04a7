"""X06 back over earlier days: a micrometer without zero checks is in doubt since its calibration. By hand."""

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pyarrow.compute as pc

from consolidator.close import ClosedDay, close_day
from consolidator.frame.world import ms_of
from consolidator.lookback import doubt_rule
from tests.unit.consolidator.held_builder import exception_of, held_lots, marks_of, numbers_of
from tests.unit.consolidator.lookback.looked import LAST_GOOD, Plant, calibrated, lists_with

DROPPED = "2026-03-20T14:00:00.000-04:00"
DAY = (date(2026, 3, 20), datetime(2026, 3, 21, 10, 5, tzinfo=UTC))


def _close(plant: Plant, day: date, at: datetime) -> ClosedDay:
    """Close a day with the readings near it at hand, as the archive gives them, and X06 that sees further."""
    held, near = plant.held(), ms_of(datetime(day.year, day.month, day.day - 4, 10, tzinfo=UTC))
    held = replace(held, readings=held.readings.filter(pc.greater_equal(held.readings["kiosk_time_ms"], near)))
    return close_day(held, plant.lists, day=day, at_utc=at, more_rules=(doubt_rule(plant.read),))


def _dropped(**told: Any) -> tuple[Plant, list[str]]:
    """Return G-108 calibrated in December, used in January, February and on the day it is dropped."""
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
    pages = [
        plant.blank("2025-12-18T09:00:00.000-05:00", ".2840", "L-380"),
        plant.blank("2026-01-14T09:00:00.000-05:00", ".2840", "L-388"),
        plant.blank("2026-02-11T09:00:00.000-05:00", ".2840", "L-395", piece=2),
        plant.blank("2026-03-20T09:00:00.000-04:00", ".2840", "L-411"),
    ]
    plant.ship("2026-02-02T12:00:00.000-05:00", "L-388", 2000)
    drop = {"kind": "gauge incident", "gauge": "G-108", "what": "dropped"}
    pages.append(plant.act(DROPPED, drop | told, series="S12-a", person=None))
    return plant, pages


def test_a_drop_names_the_readings_of_earlier_days_back_to_the_calibration() -> None:
    """One exception: the reading of the day as a reading, those of January and February as pages, none of before."""
    plant, (before, january, february, today, drop) = _dropped()

    closed = _close(plant, *DAY)

    told = exception_of(closed, "X06")
    touched = {row["page"] for row in closed.touched.to_pylist() if row["key"] == told["key"]}
    assert touched == {january, february, today, drop}
    assert before not in touched
    assert (told["readings"], told["pieces"], told["lots"]) == ("1", "3", "L-388;L-395;L-411")
    assert marks_of(closed, today) == {"X06"}


def test_lots_of_earlier_days_are_held_unless_they_are_gone() -> None:
    """L-388 was shipped whole; L-395 is still in the plant."""
    plant, _ = _dropped()

    held = held_lots(_close(plant, *DAY))

    assert {lot for lot, numbers in held.items() if "X06" in numbers} == {"L-395", "L-411"}


def test_a_gauge_not_used_on_the_day_it_is_dropped_is_told_all_the_same() -> None:
    """Nothing was read with it that day; one signature on a good as-found closes all of it."""
    plant, _ = _dropped()
    plant.rows = plant.rows[:3]
    found = plant.calibrate("2026-03-20T16:00:00.000-04:00", as_found="Good", action="none")
    close = {"kind": "exception close", "exception": "X06:G-108:2026-03-20", "reason": "as-found good"}

    assert exception_of(_close(plant, *DAY), "X06")["state"] == "open"

    plant.act("2026-03-20T16:10:00.000-04:00", close | {"evidence": [found]}, person="P-105")
    closed = _close(plant, *DAY)

    assert exception_of(closed, "X06")["state"] == "closed"
    assert not any("X06" in numbers for numbers in held_lots(closed).values())


def test_other_days_tell_nothing_of_a_trouble_that_came_later() -> None:
    """The day of the drop tells of February; the ledger of a day between, read again, has nothing to say."""
    plant, _ = _dropped()

    assert "X06" not in numbers_of(_close(plant, date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC)))
