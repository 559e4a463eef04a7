"""X07, X08 and X80 in the shape that close of day runs: raised by the close's own grouping from what the rules give."""

from dataclasses import replace
from datetime import UTC, date, datetime
from functools import partial
from typing import Any

import numpy as np

from consolidator.close.grouping import Raised, raise_exceptions
from consolidator.close.judging import judge_day
from consolidator.frame import make_day
from consolidator.frame.world import ms_of
from consolidator.lookback import rules
from consolidator.rules import Found, Story
from kiosk.times import read_time
from tests.unit.consolidator.lookback.looked import LAST_GOOD, Plant, calibrated, lists_with, points

FOUND = "2026-03-20T14:00:00.000-04:00"
OUT = points(("0.250", "0.0003"), ("0.300", "0.0003"))
NUMBERS = ("X07", "X08", "X80")


def _raised(plant: Plant, day: date) -> dict[tuple[str, str], Raised]:
    """Return what a close of `day` would raise of these kinds; its own readings are all that were made in it."""
    at = datetime(day.year, day.month, day.day + 1, 10, 5, tzinfo=UTC)
    night = make_day(plant.held(), plant.lists, day=day, at_utc=at)
    judging = judge_day(night)
    told: list[Found | Story] = [each for rule in rules(plant.read) for each in rule.find(night)]
    more = replace(
        judging,
        found=judging.found + [each for each in told if isinstance(each, Found)],
        stories=judging.stories + [each for each in told if isinstance(each, Story)],
    )
    raised = raise_exceptions(more, np.arange(len(night.pages), dtype=np.int64))
    return {(one.number, one.cause): one for one in raised if one.number in NUMBERS}


def _worked(found_at: str = FOUND, **told: Any) -> Plant:
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
    plant.blank("2026-01-14T09:00:00.000-05:00", ".2837", "L-388")
    plant.blank("2026-01-14T09:01:00.000-05:00", ".2839", "L-388")
    plant.ship("2026-02-02T12:00:00.000-05:00", "L-388", 2000)
    plant.blank("2026-02-11T09:00:00.000-05:00", ".2836", "L-395")
    plant.blank("2026-03-20T09:00:00.000-04:00", ".2841", "L-411")
    plant.calibrate(found_at, **({"points": OUT} | told))
    return plant


def test_each_lot_of_a_gauge_found_out_is_an_exception_of_its_own() -> None:
    """The shipped lot is urgency A; the one in the plant is B and held; the one that is still inside is not held."""
    raised = _raised(_worked(), date(2026, 3, 20))

    told = {cause: (one.urgency, one.lots, sorted(one.holds)) for (_, cause), one in raised.items()}
    assert told == {
        "G-108, lot L-388": ("A", ("L-388",), ["L-388"]),
        "G-108, lot L-395": ("B", ("L-395",), ["L-395"]),
        "G-108, lot L-411": ("B", ("L-411",), []),
    }


def test_readings_of_the_day_are_marked_and_those_of_other_days_named_as_pages() -> None:
    """The reading of the 20th is a row of this ledger; those of January are pages of ledgers that are closed."""
    raised = _raised(_worked(), date(2026, 3, 20))

    own, earlier = raised["X07", "G-108, lot L-411"], raised["X07", "G-108, lot L-388"]
    assert (len(own.rows), own.effect, own.pieces) == (1, "Counts – flagged", 1)
    assert (len(earlier.rows), earlier.pieces) == (0, 2)
    assert set(earlier.pages) == {"S12-a/1", "S12-a/2", "desk-a/2"}


def test_the_sentence_says_the_error_the_findings_and_where_the_pieces_are() -> None:
    """Two figures compared, counts, and who has the pieces."""
    sentence = _raised(_worked(), date(2026, 3, 20))["X07", "G-108, lot L-388"].sentence

    for words in (
        "high by 0.0003 in",
        "permissible 0.0001",
        "1 would now fail, 1 still inside",
        "invented customer, order O-1",
    ):
        assert words in sentence


def test_a_day_closed_again_later_knows_what_came_to_light_since() -> None:
    """Closed again on 21 March, 14 January marks its own readings and does not tell the other days' story."""
    plant = _worked()
    at = datetime(2026, 3, 21, 10, 5, tzinfo=UTC)
    night = make_day(plant.held(), plant.lists, day=date(2026, 1, 14), at_utc=at)

    told = [each for rule in rules(plant.read) for each in rule.find(night)]

    marked = {
        night.pages.ref(int(row))
        for each in told
        if isinstance(each, Found)
        for row in each.rows
        if night.is_in_day[row]
    }
    assert marked == {"S12-a/1", "S12-a/2"}
    assert not [each for each in told if isinstance(each, Story)]


def test_a_day_after_the_as_found_says_nothing_new() -> None:
    """What is open is carried over; it is not raised a second time."""
    assert _raised(_worked(), date(2026, 3, 21)) == {}


def test_no_as_found_is_an_exception_of_the_gauge_beside_those_of_its_lots() -> None:
    """X80 names all lots and holds them; each reading cannot be told."""
    raised = _raised(_worked(as_found="Not taken", points=[]), date(2026, 3, 20))

    gauge = raised["X80", "G-108"]
    assert (gauge.urgency, gauge.lots, sorted(gauge.holds)) == (
        "A",
        ("L-388", "L-395", "L-411"),
        ["L-388", "L-395", "L-411"],
    )
    assert gauge.pieces == 4
    assert sorted(raised["X07", "G-108, lot L-411"].holds) == ["L-411"]


def test_a_new_gauge_without_as_found_and_without_readings_is_no_exception() -> None:
    """There was nothing to find and nothing measured."""
    plant = Plant(lists_with())
    plant.calibrate(FOUND, "G-107", as_found="Not taken", points=[])

    assert _raised(plant, date(2026, 3, 20)) == {}


def test_a_gauge_found_out_that_measured_nothing_is_for_the_record() -> None:
    """Urgency D: the morning list tells of it and nothing is held."""
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
    plant.calibrate(FOUND, points=OUT)

    (one,) = _raised(plant, date(2026, 3, 20)).values()
    assert (one.urgency, one.lots, one.cause) == ("D", (), "G-108")


def test_a_master_found_out_is_one_exception_with_the_gauges_to_check() -> None:
    """X08 leads with the master, not with its gauges; its lots cannot be told and are held."""
    june = "2025-06-10T09:00:00.000-04:00"
    plant = Plant(lists_with(calibrated("M-02", june, ("M-00",)), calibrated("G-108", LAST_GOOD, ("M-02",))))
    plant.blank("2026-01-14T09:00:00.000-05:00", ".2840", "L-388")
    plug = points(("0.31225", "0.0002"), permissible="0.00002")
    plant.calibrate(FOUND, "M-02", masters=[], laboratory="invented", points=plug)

    raised = _raised(plant, date(2026, 3, 20))

    one = raised["X08", "M-02"]
    assert (str(one.family), one.lots, sorted(one.holds)) == ("master", ("L-388",), ["L-388"])
    assert "1 gauge to check against a sound master" in one.sentence


def test_a_reading_whose_time_is_in_doubt_is_marked_by_a_window_that_ended_the_day_before() -> None:
    """The clock was a day slow in an earlier session: read on 20 March, it may be of the 19th, before the as-found."""
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
    arrived = ms_of(read_time("2026-03-20T14:00:00.000-04:00"))
    plant.blank("2026-03-19T11:00:00.000-04:00", ".2837", received_at_ms=arrived)
    plant.calibrate("2026-03-19T14:00:00.000-04:00", points=OUT)
    plant.contact("S12-a", "2026-03-20T14:00:00.000-04:00", kiosk="2026-03-19T14:00:00.000-04:00", session=2)

    assert len(_raised(plant, date(2026, 3, 20))["X07", "G-108, lot L-411"].rows) == 1


def test_a_quiet_night_reads_no_other_day() -> None:
    """Without a trouble near it, nothing is asked of the archive."""
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
    plant.blank("2026-03-20T09:00:00.000-04:00", ".2841")
    asked: list[Any] = []
    night = make_day(plant.held(), plant.lists, day=date(2026, 3, 20), at_utc=datetime(2026, 3, 21, 10, 5, tzinfo=UTC))

    told = [each for rule in rules(partial(asked.append)) for each in rule.find(night)]

    assert (told, asked) == ([], [])
