"""X09 to X12, X60: zero checks, day checks and the masters behind them. Situations and expectations by hand."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from tests.unit.consolidator.held_builder import HeldBuilder, deck, exception_of, held_lots, marks_of, row_of

TESTER: dict[str, Any] = {
    "number": "G-601", "kind": "hardness tester", "unit": "HRC", "range_low": "20", "range_high": "70",
    "least_count": "0.1", "home_station": "S02", "due": "2026-08-31", "master": "M-45",
}  # fmt: skip
HARDNESS: dict[str, Any] = {
    "part": "B-3124", "revision": "C", "number": "BC7", "name": "hardness", "operation": "60", "kind": "two-sided",
    "unit": "HRC", "lower": "44.0", "upper": "48.0", "feature": "hardness", "gauge_kinds": ("hardness tester",),
}  # fmt: skip
DAY_CHECK: dict[str, Any] = {"check_kind": "day check", "unit": "HRC", "limit": "1.0", "station": "S02"}


def at(clock: str, day: int = 9) -> str:
    """Return a moment of March 2026 in New York summer time."""
    return f"2026-03-{day:02d}T{clock}-04:00" if "." in clock else f"2026-03-{day:02d}T{clock}:00.000-04:00"


def snap(builder: HeldBuilder, when: str, **also: Any) -> str:
    """Add a reading taken with snap gauge G-220 at S12 by P-101, in tolerance."""
    return builder.reading(when, "0", **({"gauge": "G-220", "keyed_as": "deviation"} | also))


def with_tester(**lists: Any) -> HeldBuilder:
    """Return a plant that has a hardness tester, too."""
    plain = deck()
    rows = {"gauges": plain.gauges, "characteristics": plain.characteristics, "masters": plain.masters} | lists
    told = {name: [row.model_dump(mode="json") for row in table] for name, table in rows.items()}
    told["gauges"].append(TESTER)
    told["characteristics"].append(HARDNESS)
    return HeldBuilder(deck(**told))


def hard(builder: HeldBuilder, when: str) -> str:
    """Add a hardness reading taken with G-601, in tolerance."""
    return builder.reading(when, "46.0", characteristic="BC7", gauge="G-601", station="S02")


@pytest.mark.parametrize(
    ("check", "missing"),
    [
        ({}, False),
        ({"person": "P-104"}, True),
        ({"station": "S13"}, True),
        ({"gauge": "G-118"}, True),
        (None, True),
    ],
)
def test_a_comparator_counts_only_after_a_zero_check_by_the_same_person_at_that_station(
    check: dict[str, Any] | None, missing: bool
) -> None:
    """X10: by another person, at another station, of another gauge, or none at all: blocked, and the lot is held."""
    builder = HeldBuilder()
    if check is not None:
        builder.check(at("06:03"), **({"gauge": "G-220"} | check))
    page = snap(builder, at("06:10"))

    closed = builder.close()

    assert ("X10" in marks_of(closed, page)) is missing
    assert row_of(closed, page)["standing"] == ("Blocked" if missing else "Counts")
    assert ("X10" in held_lots(closed).get("L-411", set())) is missing


def test_a_zero_check_works_from_its_own_moment_and_never_backwards() -> None:
    """X10: checked 06:20:00.000: 06:19:59.999 is blocked, 06:20:00.000 counts."""
    builder = HeldBuilder()
    builder.check(at("06:20"))
    before, after = snap(builder, at("06:19:59.999")), snap(builder, at("06:20:00.000"), piece=2)

    closed = builder.close()

    assert "X10" in marks_of(closed, before)
    assert "X10" not in marks_of(closed, after)
    assert "1st shift" in exception_of(closed, "X10")["sentence"]
    assert "P-101" not in exception_of(closed, "X10")["sentence"]


def test_a_shift_change_asks_for_a_zero_check_of_its_own() -> None:
    """X10: the same person stays on; checked 13:30, so 13:59 counts, and 14:01 is another shift."""
    builder = HeldBuilder()
    builder.check(at("13:30"))
    first, second = snap(builder, at("13:59")), snap(builder, at("14:01"), piece=2)

    closed = builder.close()

    assert "X10" not in marks_of(closed, first)
    assert "X10" in marks_of(closed, second)


def test_the_third_shift_goes_on_over_midnight() -> None:
    """X10: checked 22:05, read 00:30: one shift; at 06:01 the next day it is another one."""
    builder = HeldBuilder()
    builder.check(at("22:05"))
    night, morning = snap(builder, at("00:30", 10)), snap(builder, at("06:01", 10), piece=2)

    first = builder.close()
    second = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))

    assert "X10" not in marks_of(first, night)
    assert "X10" in marks_of(second, morning)


def test_whoever_measured_counts_on_a_paper_form_not_who_keyed_it() -> None:
    """X10: P-104 keys what P-101 measured; P-101 had checked the gauge, so nothing is missing."""
    builder = HeldBuilder()
    builder.check(at("06:03"))
    paper = {"source": "from paper", "paper_form": "F-1", "read_back_by": "P-106"}
    told = {"taken_by": "P-101", "person": "P-104", "paper_taken_at_ms": 1773054000000 + 600_000}
    page = snap(builder, at("09:00"), **paper, **told)

    closed = builder.close()

    assert row_of(closed, page)["effective_time"].startswith("2026-03-09T07:10")
    assert "X10" not in marks_of(closed, page)


def test_a_check_page_that_came_late_counts_all_the_same() -> None:
    """X10 is judged by what was true then, known now: what the kiosk said of a missing check does not matter."""
    builder = HeldBuilder()
    page = snap(builder, at("06:10"), reasons="X10", standing="Blocked")
    builder.check(at("06:05"), series="S12-b")

    closed = builder.close()

    assert "X10" not in marks_of(closed, page)


@pytest.mark.parametrize(("clock", "late"), [("10:30:00.000", False), ("10:30:00.001", True)])
def test_a_zero_check_is_late_after_four_and_a_half_hours_and_not_at_them(clock: str, late: bool) -> None:
    """X11: checked 06:00, N7: 4 h 30 min exactly is in time; one millisecond more is late, and flagged only."""
    builder = HeldBuilder()
    builder.check(at("06:00"))
    page = snap(builder, at(clock))

    closed = builder.close()

    assert ("X11" in marks_of(closed, page)) is late
    assert row_of(closed, page)["standing"] == ("Counts – flagged" if late else "Counts")


def test_lateness_is_elapsed_time_where_the_clocks_change() -> None:
    """X11: checked 22:00 EST on 7 March, the clocks go forward at 02:00: 03:31 EDT is 4 h 31 min later, not 5 h 31."""
    builder = HeldBuilder()
    builder.check("2026-03-07T22:00:00.000-05:00")
    in_time, late = snap(builder, at("03:30", 8)), snap(builder, at("03:31", 8), piece=2)

    closed = builder.close(date(2026, 3, 7), datetime(2026, 3, 8, 10, 5, tzinfo=UTC))

    assert closed.hours == 23
    assert "X11" not in marks_of(closed, in_time)
    assert "X11" in marks_of(closed, late)
    assert "4 h 31 min" in exception_of(closed, "X11")["sentence"]


def test_lateness_is_counted_through_an_hour_that_comes_twice() -> None:
    """X11: checked 22:00 EDT on 31 October, a day of 25 hours: 01:29 EST is 4 h 29 min later, 01:31 EST 4 h 31 min."""
    builder = HeldBuilder()
    builder.check("2026-10-31T22:00:00.000-04:00", gauge="G-220")
    in_time = snap(builder, "2026-11-01T01:29:00.000-05:00")
    late = snap(builder, "2026-11-01T01:31:00.000-05:00", piece=2)

    closed = builder.close(date(2026, 10, 31), datetime(2026, 11, 1, 11, 5, tzinfo=UTC))

    assert closed.hours == 25
    assert "X11" not in marks_of(closed, in_time)
    assert "X11" in marks_of(closed, late)


def test_a_good_check_of_the_gauge_by_another_person_keeps_it_in_time() -> None:
    """X11 asks how long ago the gauge was last good, whoever checked it; X10 asks who."""
    builder = HeldBuilder()
    builder.check(at("06:00"))
    builder.check(at("09:00"), person="P-104")
    page = snap(builder, at("11:00"))

    closed = builder.close()

    assert not {"X10", "X11"} & marks_of(closed, page)


def test_a_failed_check_keeps_nothing_in_time() -> None:
    """X11: good 06:00, failed 09:00: at 10:31 the last good check is 4 h 31 min old."""
    builder = HeldBuilder()
    builder.check(at("06:00"))
    builder.check(at("09:00"), error="0.00010")
    page = snap(builder, at("10:31"))

    closed = builder.close()

    assert {"X11", "X12"} <= marks_of(closed, page)


@pytest.mark.parametrize(("error", "failed"), [("0.00005", False), ("-0.00005", False), ("0.000051", True)])
def test_a_zero_check_fails_beyond_the_limit_and_not_at_it(error: str, failed: bool) -> None:
    """X12, N7: a tenth of .0005 is .00005; exactly that is good, either way; a millionth more fails."""
    builder = HeldBuilder()
    builder.check(at("08:00"))
    builder.check(at("09:00"), error=error)
    page = snap(builder, at("09:10"))

    closed = builder.close()

    assert ("X12" in marks_of(closed, page)) is failed
    assert row_of(closed, page)["standing"] == ("Blocked" if failed else "Counts")


def test_a_limit_of_old_lists_is_judged_again_by_the_drawing_in_force() -> None:
    """X12: the kiosk allowed .0002 where BC1, .0005 wide, gives .00005 (N7): .0001 off was no good check."""
    builder = HeldBuilder()
    builder.check(at("06:03"), error="0.0001", limit="0.0002", characteristics=["B-3124:BC1"])
    page = snap(builder, at("06:10"))

    closed = builder.close()

    assert "X12" in marks_of(closed, page)
    assert "off by 0.0001 in, 0.00005 in allowed" in exception_of(closed, "X12")["sentence"]


def test_a_limit_is_never_tighter_than_one_least_count() -> None:
    """N7: with limits .3120 to .3122 a tenth is .00002; G-220 reads .00005, so .00005 off is good."""
    rows = [row.model_dump(mode="json") for row in deck().characteristics]
    rows = [row | {"upper": "0.3122"} if row["number"] == "BC1" else row for row in rows]
    builder = HeldBuilder(deck(characteristics=rows))
    builder.check(at("06:03"), error="0.00005", characteristics=["B-3124:BC1"])
    page = snap(builder, at("06:10"))

    closed = builder.close()

    assert "X12" not in marks_of(closed, page)


def test_after_a_failed_check_all_is_blocked_until_a_good_one_wherever_it_is_read() -> None:
    """X12: failed 09:00 at S12, good 10:00: blocked between, also at S13; counts again after it."""
    builder = HeldBuilder()
    builder.check(at("08:00"))
    builder.check(at("08:50"), station="S13")
    builder.check(at("09:00"), error="0.0003")
    here, there = snap(builder, at("09:10")), snap(builder, at("09:20"), station="S13", lot="L-412")
    builder.check(at("10:00"))
    after = snap(builder, at("10:00"), piece=2)

    closed = builder.close()

    assert "X12" in marks_of(closed, here) & marks_of(closed, there)
    assert "X12" not in marks_of(closed, after)
    assert "X12" in held_lots(closed)["L-411"] & held_lots(closed)["L-412"]


def test_a_doubtful_time_is_settled_by_page_order_of_one_book() -> None:
    """0120: a kiosk 47 min fast and off since: check and reading are in doubt alike, and the check came first."""
    builder = HeldBuilder()
    builder.check(at("08:00"))
    page = snap(builder, at("08:05"))
    builder.contact("S12-a", at("12:00"), kiosk=at("12:47"), session=2, running_ms=1000)

    closed = builder.close()

    assert "X73" in marks_of(closed, page)
    assert "X10" not in marks_of(closed, page)


@pytest.mark.parametrize(
    ("checked", "missing"),
    [((at("06:00"),), False), ((at("05:59:59.999"),), True), ((at("08:00"),), True), ((), True)],
)
def test_a_tester_needs_a_good_check_in_its_production_day_before_the_reading(
    checked: tuple[str, ...], missing: bool
) -> None:
    """X60: read 07:00; the production day begins 06:00:00.000, and a check after the reading is too late."""
    builder = with_tester()
    for each in checked:
        builder.check(each, "G-601", **DAY_CHECK)
    page = hard(builder, at("07:00"))

    closed = builder.close()

    assert ("X60" in marks_of(closed, page)) is missing
    assert row_of(closed, page)["standing"] == ("Blocked" if missing else "Counts")


def test_a_tester_checked_before_midnight_is_good_until_the_day_ends_at_six() -> None:
    """X60: checked 23:00 by another person: 05:59 counts, 06:00 needs a check of its own."""
    builder = with_tester()
    builder.check(at("23:00"), "G-601", **(DAY_CHECK | {"person": "P-104"}))
    night, morning = hard(builder, at("05:59", 10)), hard(builder, at("06:00", 10))

    first = builder.close()
    second = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))

    assert "X60" not in marks_of(first, night)
    assert "X60" in marks_of(second, morning)


def test_a_failed_day_check_blocks_until_a_good_one_and_doubts_what_was_tested_before() -> None:
    """X60, X06: good 06:30, failed 12:00 (2.1 HRC off, 1.0 allowed), good 14:00."""
    builder = with_tester()
    builder.check(at("06:30"), "G-601", **DAY_CHECK)
    before = hard(builder, at("09:00"))
    builder.check(at("12:00"), "G-601", error="2.1", **DAY_CHECK)
    between = hard(builder, at("13:00"))
    builder.check(at("14:00"), "G-601", **DAY_CHECK)
    after = hard(builder, at("15:00"))

    closed = builder.close()

    assert marks_of(closed, before) == {"X06"}
    assert marks_of(closed, between) == {"X60"}
    assert not marks_of(closed, after)


MASTER: dict[str, Any] = {"number": "M-14", "kind": "setting plug", "size": "0.31225", "unit": "in"}


@pytest.mark.parametrize(
    ("master", "bad"),
    [
        ({"due": "2026-03-09"}, False),
        ({"due": "2026-03-08"}, True),
        ({"state": "Stopped"}, True),
        ({"state": "Reference only"}, True),
        ({}, False),
    ],
)
def test_a_gauge_set_on_an_unsound_master_is_no_evidence(master: dict[str, Any], bad: bool) -> None:
    """X09: the state of the master at the minute of the zero check, 9 March 06:03; due 9 March is in date that day."""
    builder = HeldBuilder(deck(masters=[MASTER | master]))
    builder.check(at("06:03"), master="M-14")
    page = snap(builder, at("06:10"))

    closed = builder.close()

    assert ("X09" in marks_of(closed, page)) is bad
    assert row_of(closed, page)["standing"] == ("Blocked" if bad else "Counts")


def test_the_master_s_state_at_the_check_decides_not_at_the_reading() -> None:
    """X09: M-14 is stopped from 08:00 on: what was set at 06:03 stands, what was set at 08:30 does not."""
    builder = HeldBuilder()
    stop = {"kind": "gauge state", "gauge": "M-14", "state": "Stopped", "since": at("08:00")}
    builder.act(at("12:00"), stop)
    builder.check(at("06:03"), master="M-14")
    early = snap(builder, at("08:10"))
    builder.check(at("08:30"), master="M-14")
    late = snap(builder, at("08:40"), piece=2)

    closed = builder.close()

    assert "X09" not in marks_of(closed, early)
    assert "X09" in marks_of(closed, late)
    assert "M-14 was stopped" in exception_of(closed, "X09")["sentence"]


def test_a_check_on_a_sound_master_ends_what_an_unsound_one_began() -> None:
    """X09: set on M-14, stopped, at 06:03 and on M-15, sound, at 07:00."""
    masters = [MASTER | {"state": "Stopped"}, MASTER | {"number": "M-15"}]
    builder = HeldBuilder(deck(masters=masters))
    builder.check(at("06:03"), master="M-14")
    before = snap(builder, at("06:10"), master="M-15")
    builder.check(at("07:00"), master="M-15")
    after = snap(builder, at("07:10"), master="M-15", piece=2)

    closed = builder.close()

    assert "X09" in marks_of(closed, before)
    assert "X09" not in marks_of(closed, after)


def test_a_calibration_with_a_master_past_due_is_no_evidence_until_calibrated_again() -> None:
    """X09: calibrated 2 March with M-02, due 1 March: blocked; calibrated again with sound M-03 at noon: counts."""
    masters = [MASTER | {"number": "M-02", "due": "2026-03-01"}, MASTER | {"number": "M-03"}]
    record = {"gauge": "G-108", "done_at": at("09:00", 2).replace("-04:00", "-05:00"), "technician": "P-105",
              "masters": ["M-02"], "as_found": "Good", "as_left": "Good"}  # fmt: skip
    builder = HeldBuilder(deck(masters=masters, calibrations=[record]))
    before = builder.reading(at("11:00"), ".3122")
    again = {"kind": "calibration", "gauge": "G-108", "done_at": at("12:00"), "masters": ["M-03"], "procedure": "CP-1",
             "unit": "in", "points": [], "as_found": "Good", "as_left": "Good"}  # fmt: skip
    builder.act(at("12:05"), again, person="P-105")
    after = builder.reading(at("12:10"), ".3122", piece=2)

    closed = builder.close()

    assert "X09" in marks_of(closed, before)
    assert "X09" not in marks_of(closed, after)


def test_an_as_found_entered_later_does_not_hide_what_was_left_with_an_unsound_master() -> None:
    """X09: left at 12:10 with M-02, past due; the good as-found of 12:00 was written down at 12:30."""
    masters = [MASTER | {"number": "M-02", "due": "2026-03-01"}, MASTER | {"number": "M-03"}]
    builder = HeldBuilder(deck(masters=masters))
    usual = {"kind": "calibration", "gauge": "G-108", "procedure": "CP-1", "unit": "in", "points": [],
             "as_found": "Good", "as_left": "Good"}  # fmt: skip
    left = usual | {"done_at": at("12:10"), "masters": ["M-02"], "stage": "as-left"}
    builder.act(at("12:10"), left, person="P-105")
    found = usual | {"done_at": at("12:00"), "masters": ["M-03"], "stage": "as-found"}
    builder.act(at("12:30"), found, person="P-105")
    page = builder.reading(at("13:00"), ".3122")

    assert "X09" in marks_of(builder.close(), page)
