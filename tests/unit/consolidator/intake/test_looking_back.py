"""Readings of many days are handed out by the gauges and masters named in them, and acts by their kinds."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from consolidator.intake import Archive
from kiosk.pages.station import Remark
from tests.unit.carried import MORNING, Hand, MemoryBook, enrolled, make_plant, open_intake, packets_of, reading

LATER = MORNING.astimezone(UTC) + timedelta(days=400)
DAYS = (0, 30, 60, 90)


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """Give an archive of two kiosks: on each of four days a reading with G-108 and one with G-107 set on M-14."""
    plant = make_plant(tmp_path / "plant")
    intake = open_intake(plant, Hand(LATER - timedelta(days=1)))
    for series in ("S12-a", "S13-a"):
        book, keys = MemoryBook(series=series), enrolled(plant, tmp_path / series, series)
        for day in DAYS:
            at = MORNING + timedelta(days=day)
            book.keep(reading(gauge="G-108", piece=day + 1), at)
            book.keep(reading(gauge="G-107", master="M-14", piece=day + 1), at)
            book.keep(Remark(words="nothing in particular"), at)
        for packet in packets_of(book, keys):
            intake.take_in(packet)
    with Archive(plant, intake) as archive:
        yield archive


def _days(archive: Archive, number: str, since: datetime | None = None, by: datetime = LATER) -> list[int]:
    table = archive.readings_with({number}, since_utc=since, by_utc=by)
    return [piece - 1 for piece in table["piece"].to_pylist()]


def test_a_gauge_named_anywhere_is_found_on_every_day_and_at_every_station(archive: Archive) -> None:
    """Two kiosks, four days each, in page order."""
    assert _days(archive, "G-108") == [*DAYS, *DAYS]


def test_a_master_scanned_with_a_gauge_is_found_as_well(archive: Archive) -> None:
    """Its readings are those of the gauge that was set on it."""
    table = archive.readings_with({"M-14"}, since_utc=None, by_utc=LATER)

    assert set(table["gauge"].to_pylist()) == {"G-107"}
    assert len(table) == 8


def test_readings_before_the_moment_asked_from_are_left_out(archive: Archive) -> None:
    """From day 45 on only those of days 60 and 90 are handed out."""
    assert _days(archive, "G-108", MORNING.astimezone(UTC) + timedelta(days=45)) == [60, 90, 60, 90]


def test_what_came_in_after_the_moment_asked_for_is_left_out(archive: Archive) -> None:
    """Nothing had been received two days earlier."""
    assert _days(archive, "G-108", by=LATER - timedelta(days=2)) == []


def test_an_unknown_number_is_named_by_no_reading(archive: Archive) -> None:
    """The table is empty and has its columns."""
    table = archive.readings_with({"G-999"}, since_utc=None, by_utc=LATER)

    assert (len(table), table.column_names[0]) == (0, "series")


def test_pages_named_are_handed_out_whatever_they_were_taken_with(archive: Archive) -> None:
    """Page 2 of S13-a was taken with G-107; it is asked for by its name, and only that one."""
    table = archive.readings_with({"G-999"}, pages={"S13-a/2"}, since_utc=None, by_utc=LATER)

    assert list(zip(table["series"].to_pylist(), table["number"].to_pylist(), strict=True)) == [("S13-a", 2)]


def test_acts_are_told_by_their_kinds_of_all_days(archive: Archive) -> None:
    """Remarks of long ago are handed out when they are asked for, and only then."""
    remarks, none = archive.told(("remark",), by_utc=LATER), archive.told(("check",), by_utc=LATER)

    assert (len(remarks.acts), len(none.acts), len(remarks.readings)) == (8, 0, 0)


def test_uses_of_gauges_are_counted_since_each_one_s_own_moment(archive: Archive) -> None:
    """By hand: two kiosks; before day 90 and since day 15 each has 2 of G-108, since before day 0 each 3 of G-107."""
    ms = int(MORNING.timestamp()) * 1000
    day_ms = 24 * 3_600_000
    since = {"G-108": ms + 15 * day_ms, "G-107": ms - day_ms, "G-999": 0}

    assert archive.uses(since, ms + 90 * day_ms, by_utc=LATER) == {"G-108": 4, "G-107": 6, "G-999": 0}
    assert archive.uses(since, ms + 90 * day_ms, by_utc=LATER - timedelta(days=2)) == dict.fromkeys(since, 0)
    assert archive.uses({}, ms, by_utc=LATER) == {}
