"""Production days, shifts and due dates at the ends of days and at the clock changes."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.times import (
    day_bounds_utc,
    end_of_date_utc,
    production_day,
    read_plant_time,
    read_time,
    shift_bounds_utc,
    shift_of,
    write_time,
)

NEW_YORK = ZoneInfo("America/New_York")


@pytest.mark.parametrize(
    ("day", "hours"),
    [("2026-03-07", 23), ("2026-03-08", 24), ("2026-10-31", 25), ("2026-11-01", 24), ("2026-06-01", 24)],
)
def test_a_production_day_has_its_hours_at_the_clock_change(day: str, hours: int) -> None:
    """US rule of 2026 (15 U.S.C. 260a): 8 March 02:00 to 03:00, 1 November 02:00 to 01:00."""
    start, end = day_bounds_utc(date.fromisoformat(day), NEW_YORK)

    assert (end - start).total_seconds() == hours * 3600


@pytest.mark.parametrize(
    ("text", "day", "shift"),
    [
        ("2026-03-10T05:59:59.999-04:00", "2026-03-09", 3),
        ("2026-03-10T06:00:00.000-04:00", "2026-03-10", 1),
        ("2026-03-10T14:00:00.000-04:00", "2026-03-10", 2),
        ("2026-03-10T22:00:00.000-04:00", "2026-03-10", 3),
        ("2026-03-11T00:02:10.000-04:00", "2026-03-10", 3),
        ("2026-11-01T01:40:00.000-04:00", "2026-10-31", 3),
        ("2026-11-01T01:20:00.000-05:00", "2026-10-31", 3),
    ],
)
def test_the_third_shift_belongs_to_the_day_it_started_in(text: str, day: str, shift: int) -> None:
    """Hand count from 06:00, 14:00 and 22:00 plant local time."""
    assert shift_of(read_time(text), NEW_YORK) == (date.fromisoformat(day), shift)


def test_a_due_date_is_good_to_the_end_of_that_date() -> None:
    """24:00 of 10 March in New York (−04:00) is 04:00 UTC of the 11th, counted by hand."""
    assert end_of_date_utc(date(2026, 3, 10), NEW_YORK) == datetime(2026, 3, 11, 4, tzinfo=UTC)


def test_a_time_without_offset_is_refused() -> None:
    """01:30 alone stands for two moments in autumn."""
    with pytest.raises(ValueError, match="offset"):
        write_time(datetime(2026, 11, 1, 1, 30))  # noqa: DTZ001


@given(st.datetimes(min_value=datetime(2020, 1, 1), max_value=datetime(2060, 1, 1)))  # noqa: DTZ001
def test_every_moment_lies_in_the_day_and_shift_named_for_it(naive: datetime) -> None:
    """Days and shifts cover all time without gap or overlap, and texts come back to the millisecond."""
    moment = naive.replace(tzinfo=UTC, microsecond=naive.microsecond // 1000 * 1000)

    day, number = shift_of(moment, NEW_YORK)
    begin, end = shift_bounds_utc(day, number, NEW_YORK)
    first, last = day_bounds_utc(day, NEW_YORK)

    assert first <= begin <= moment < end <= last
    assert production_day(moment, NEW_YORK) == day
    assert read_time(write_time(moment.astimezone(NEW_YORK))) == moment


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-03-10 23:58:30", "2026-03-11T03:58:30+00:00"),
        ("2026-11-01 01:20 -05:00", "2026-11-01T06:20:00+00:00"),
        ("2026-11-01 01:40 -04:00", "2026-11-01T05:40:00+00:00"),
        ("2026-01-14 09:00", "2026-01-14T14:00:00+00:00"),
    ],
)
def test_a_time_written_by_a_person_is_plant_local_time(text: str, utc: str) -> None:
    """New York is 4 h behind UTC in summer and 5 h in winter; counted by hand."""
    assert read_plant_time(text, NEW_YORK) == datetime.fromisoformat(utc)


@pytest.mark.parametrize(
    ("text", "why"),
    [("2026-11-01 01:20", "twice"), ("2026-03-08 02:30", "does not exist"), ("half past nine", "no time")],
)
def test_a_time_that_stands_for_none_or_two_is_refused(text: str, why: str) -> None:
    """Nothing is guessed at the clock change."""
    with pytest.raises(ValueError, match=why):
        read_plant_time(text, NEW_YORK)
