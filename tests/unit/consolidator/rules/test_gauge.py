"""X01 to X05, X13, X14, X22: a gauge's own state and place. Situations and expectations by hand."""

from datetime import UTC, date, datetime

import pytest

from tests.unit.consolidator.held_builder import (
    HeldBuilder,
    deck,
    exception_of,
    held_lots,
    marks_of,
    numbers_of,
    row_of,
)

NINE = "2026-03-09T09:00:00.000-04:00"
TEN = "2026-03-09T10:00:00.000-04:00"
STOP = {"kind": "gauge state", "gauge": "G-108", "state": "Stopped"}
GOOD = {
    "kind": "calibration", "gauge": "G-107", "done_at": "2026-03-11T07:30:00.000-04:00", "masters": ["M-02"],
    "procedure": "CP-1", "unit": "in", "points": [], "as_found": "Good", "as_left": "Good", "due": "2026-09-11",
}  # fmt: skip
MARCH_11 = (date(2026, 3, 11), datetime(2026, 3, 12, 10, 5, tzinfo=UTC))


def test_a_calibration_puts_a_gauge_in_date_from_its_own_minute_on_only() -> None:
    """X01: due 10 March, calibrated 11 March 07:30: blocked at 07:00, counts at 08:00 (nothing good works back)."""
    builder = HeldBuilder()
    early = builder.reading("2026-03-11T07:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")
    late = builder.reading("2026-03-11T08:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")
    builder.act("2026-03-11T07:35:00.000-04:00", GOOD, person="P-105")

    closed = builder.close(*MARCH_11)

    assert row_of(closed, early)["standing"] == "Blocked"
    assert "X01" not in marks_of(closed, late)
    assert row_of(closed, late)["calibrated_before"].startswith("2026-03-11T07:30:00.000-04:00, left good, with M-02")
    assert row_of(closed, early)["calibrated_after"] == "2026-03-11T07:30:00.000-04:00, as-found good"


@pytest.mark.parametrize(("second", "blocked"), [("P-108", False), ("P-106", True), (None, True)])
def test_an_extension_works_from_another_person_s_signature_only(second: str | None, blocked: bool) -> None:
    """X01: an extension has no effect before a second, different person signs it."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-11T09:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")
    extension = builder.act(
        "2026-03-10T15:00:00.000-04:00",
        {"kind": "extension", "gauge": "G-107", "old_due": "2026-03-10", "new_due": "2026-03-17", "reason": "no swap",
         "evidence": "five good in a row"},
    )  # fmt: skip
    if second:
        sign = {"kind": "second signature", "of": extension, "meaning": "approved"}
        builder.act("2026-03-10T15:10:00.000-04:00", sign, person=second)

    closed = builder.close(*MARCH_11)

    assert ("X01" in marks_of(closed, page)) is blocked


def test_a_past_due_gauge_holds_no_lot_where_another_reading_of_the_sample_counts() -> None:
    """X01 holds only when no other valid evidence stands for the sample."""
    builder = HeldBuilder()
    usual = {"characteristic": "BC2", "gauge": "G-107"}
    builder.reading("2026-03-10T23:59:00.000-04:00", ".2841", piece=1, sample=1, **usual)
    builder.reading("2026-03-11T00:01:00.000-04:00", ".2841", piece=2, sample=1, **usual)
    builder.reading("2026-03-11T00:40:00.000-04:00", ".2841", piece=1, sample=2, lot="L-412", **usual)

    closed = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))

    assert held_lots(closed) == {"L-412": {"X01"}}
    assert exception_of(closed, "X01")["readings"] == "2"


def test_an_unknown_gauge_and_no_gauge_at_all_block() -> None:
    """X03: a number the register does not know, and a measured figure without a number."""
    builder = HeldBuilder()
    unknown = builder.reading(NINE, ".3122", gauge="G-999")
    none = builder.reading(TEN, ".3122", gauge=None)

    closed = builder.close()

    assert [row_of(closed, page)["standing"] for page in (unknown, none)] == ["Blocked", "Blocked"]
    assert "X03" in marks_of(closed, unknown) & marks_of(closed, none)
    assert held_lots(closed)["L-411"] == {"X03"}


def test_a_stop_reaches_back_and_a_return_works_forwards() -> None:
    """X04: stopped since 08:30 as told at 11:00; back in use 12:00: 09:00 blocked, 12:30 counts, 08:00 counts."""
    builder = HeldBuilder()
    times = ("08:00", "09:00", "12:30")
    pages = [builder.reading(f"2026-03-09T{at}:00.000-04:00", ".3122", piece=1) for at in times]
    builder.act("2026-03-09T11:00:00.000-04:00", STOP | {"since": "2026-03-09T08:30:00.000-04:00"})
    builder.act("2026-03-09T12:00:00.000-04:00", STOP | {"state": "In use", "since": "2026-03-09T08:00:00.000-04:00"})

    closed = builder.close()

    assert ["X04" in marks_of(closed, page) for page in pages] == [False, True, False]


def test_a_dropped_gauge_blocks_until_a_good_check() -> None:
    """X05: dropped 09:30, good check 11:00: 09:00 is in doubt, 10:00 blocked, 11:30 counts."""
    builder = HeldBuilder()
    times = ("09:00", "10:00", "11:30")
    pages = [builder.reading(f"2026-03-09T{at}:00.000-04:00", ".3122", piece=1) for at in times]
    builder.act("2026-03-09T09:30:00.000-04:00", {"kind": "gauge incident", "gauge": "G-108", "what": "dropped"})
    check = {"kind": "check", "check_kind": "zero check", "gauge": "G-108", "keyed": "0", "unit": "in", "error": "0",
             "limit": "0.00005", "verdict": "Good"}  # fmt: skip
    builder.act("2026-03-09T11:00:00.000-04:00", check)

    closed = builder.close()

    assert [row_of(closed, page)["standing"] for page in pages] == ["Counts – flagged", "Blocked", "Counts"]
    assert "dropped" in exception_of(closed, "X05")["sentence"]
    assert "P-1" not in closed.lines.to_pylist()[0]["sentence"]


def test_a_check_that_was_no_good_by_its_own_limit_settles_no_drop() -> None:
    """X05: the page says Good, its error of .0001 is larger than its limit of .00005: still blocked after it."""
    builder = HeldBuilder()
    builder.act("2026-03-09T09:30:00.000-04:00", {"kind": "gauge incident", "gauge": "G-108", "what": "dropped"})
    builder.check("2026-03-09T09:40:00.000-04:00", "G-108", error="0.0001", verdict="Good")
    page = builder.reading(TEN, ".3122")

    assert "X05" in marks_of(builder.close(), page)


@pytest.mark.parametrize(("movement", "flagged"), [(None, True), ("borrowed", True), ("issued", False)])
def test_a_gauge_away_from_home_is_flagged_unless_issued(movement: str | None, flagged: bool) -> None:
    """X13: G-118 belongs to S13; at S12 it is flagged, borrowed it is flagged, issued there it is not."""
    builder = HeldBuilder()
    page = builder.reading(TEN, ".3122", gauge="G-118")
    if movement:
        builder.act(NINE, {"kind": "gauge movement", "gauge": "G-118", "movement": movement, "to_station": "S12"})

    closed = builder.close()

    assert ("X13" in marks_of(closed, page)) is flagged


@pytest.mark.parametrize(("seconds", "flagged"), [(120, True), (121, False)])
def test_one_gauge_at_two_stations_within_two_minutes_is_flagged_at_both(seconds: int, flagged: bool) -> None:
    """X14: N9 is 120 s, the end included."""
    builder = HeldBuilder()
    first = builder.reading(NINE, ".3122")
    minute, second = divmod(seconds, 60)
    other = builder.reading(f"2026-03-09T09:{minute:02d}:{second:02d}.000-04:00", ".3122", station="S13")

    closed = builder.close()

    assert [("X14" in marks_of(closed, page)) for page in (first, other)] == [flagged, flagged]


def test_a_gauge_due_and_neither_brought_in_nor_used_is_told() -> None:
    """X22: G-107 was due 10 March and nobody has seen it by the end of 11 March; on 10 March it is not told yet."""
    builder = HeldBuilder()
    builder.reading("2026-03-10T09:00:00.000-04:00", ".3122")
    builder.reading("2026-03-11T09:00:00.000-04:00", ".3122")

    first = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))
    second = builder.close(*MARCH_11)

    assert "X22" not in numbers_of(first)
    assert exception_of(second, "X22")["cause"] == "G-107"


def test_the_hour_of_the_due_date_is_the_plant_s_to_set() -> None:
    """N1 set to 18 h: a gauge due 10 March is past due at 18:00 of that day."""
    number = {"number": "N1", "value": "18", "in_force_from": "2026-03-01T00:00:00.000-05:00"}
    builder = HeldBuilder(deck(plant_numbers=[number]))
    usual = {"characteristic": "BC2", "gauge": "G-107"}
    before = builder.reading("2026-03-10T17:59:59.000-04:00", ".2841", piece=1, **usual)
    after = builder.reading("2026-03-10T18:00:00.000-04:00", ".2841", piece=2, **usual)

    closed = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))

    assert ["X01" in marks_of(closed, page) for page in (before, after)] == [False, True]


@pytest.mark.parametrize(("signer", "blocked"), [("P-104", True), ("P-101", False)])
def test_the_reading_that_a_closing_names_as_the_wrong_one_is_blocked(signer: str, blocked: bool) -> None:
    """X14: "the other Blocked"; a closing by an operator, who may not, blocks nothing."""
    builder = HeldBuilder()
    first = builder.reading(NINE, ".3122")
    other = builder.reading("2026-03-09T09:01:00.000-04:00", ".3122", station="S13")
    told = {"kind": "exception close", "exception": "X14:G-108:2026-03-09", "reason": "G-108 stood at S12 all day",
            "evidence": [other]}  # fmt: skip
    builder.act("2026-03-09T12:00:00.000-04:00", told, person=signer)

    closed = builder.close()

    assert [row_of(closed, page)["standing"] for page in (first, other)] == [
        "Counts – flagged", "Blocked" if blocked else "Counts – flagged",
    ]  # fmt: skip
    assert exception_of(closed, "X14")["readings"] == "2"
