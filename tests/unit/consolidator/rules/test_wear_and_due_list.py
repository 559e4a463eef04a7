"""X21, X81, X82, X83: wear checks, the room of a calibration, the due list and late extensions. By hand."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from consolidator.close import ClosedDay, close_day
from consolidator.rules.gauge import wear_rule
from tests.unit.consolidator.held_builder import AT, DAY, HeldBuilder, deck, exception_of, marks_of, numbers_of, row_of
from tests.unit.consolidator.rules.test_checks import at

MARCH_10 = (date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))
"""Closed at 06:05 on 11 March; G-107 is due 10 March, so until 11 March 00:00."""
MARCH_11 = (date(2026, 3, 11), datetime(2026, 3, 12, 10, 5, tzinfo=UTC))


def ringed(calibrated_on: str, **lists: Any) -> HeldBuilder:
    """Return a plant whose GO ring G-502 was calibrated at ten on a day."""
    record = {"gauge": "G-502", "done_at": f"{calibrated_on}T10:00:00.000-05:00", "technician": "P-105",
              "as_found": "Good", "as_left": "Good"}  # fmt: skip
    return HeldBuilder(deck(calibrations=[record], **lists))


def ring(builder: HeldBuilder, when: str, piece: int = 1) -> str:
    """Add an accepted piece of L-420 with the GO ring."""
    return builder.reading(
        when, "Accept", characteristic="BC5", gauge="G-502", keyed_as="accept/reject", station="S24", lot="L-420",
        person="P-102", piece=piece,
    )  # fmt: skip


@pytest.mark.parametrize(("calibrated_on", "worn"), [("2025-12-09", False), ("2025-12-08", True)])
def test_a_thread_gauge_is_past_its_wear_check_after_ninety_days(calibrated_on: str, worn: bool) -> None:
    """X21, N14: 9 December to 9 March is 22 + 31 + 28 + 9 = 90 days, in time; from 8 December it is 91."""
    builder = ringed(calibrated_on)
    page = ring(builder, at("10:00"))

    closed = builder.close()

    assert ("X21" in marks_of(closed, page)) is worn
    assert row_of(closed, page)["standing"] == ("Counts – flagged" if worn else "Counts")


def test_a_thread_gauge_is_past_its_wear_check_after_so_many_uses() -> None:
    """X21, N14 set to 3 uses: the fourth reading since the calibration is one too many; a replaced one is no use."""
    builder = ringed("2026-03-08", plant_numbers=[{"number": "N14a", "value": "3"}])
    pages = [ring(builder, at(f"10:0{n}"), piece=n) for n in range(1, 6)]
    builder.rows[1]["replaces"] = 1
    builder.rows[1]["piece"] = 1

    closed = builder.close()

    assert ["X21" in marks_of(closed, page) for page in pages[1:]] == [False, False, False, True]
    assert "used for 4 readings in 1 days (N14: 3 uses or 90 days)" in exception_of(closed, "X21")["sentence"]


def _close_with(builder: HeldBuilder, earlier: int) -> tuple[ClosedDay, list[dict[str, int]]]:
    """Close the day with so many uses of earlier days, and return what was asked for them."""
    asked = list[dict[str, int]]()

    def uses(since_ms: Any, before_ms: int) -> dict[str, int]:
        asked.append(dict(since_ms) | {"before": before_ms})
        return dict.fromkeys(since_ms, earlier)

    rule = wear_rule(uses, held_ms=96 * 3_600_000)
    return close_day(builder.held(), builder.lists, day=DAY, at_utc=AT, more_rules=(rule,)), asked


@pytest.mark.parametrize(("earlier", "worn"), [(4998, [False, False]), (4999, [False, True])])
def test_uses_of_earlier_days_count_since_the_wear_check(earlier: int, worn: list[bool]) -> None:
    """X21: 4 999 uses before the night's pages and two in it: the second is the 5 001st; 5 000 is in time."""
    builder = ringed("2026-02-02")
    pages = [ring(builder, at(f"10:0{n}"), piece=n) for n in (1, 2)]

    closed, asked = _close_with(builder, earlier)

    assert ["X21" in marks_of(closed, page) for page in pages] == worn
    done, before = datetime(2026, 2, 2, 15, tzinfo=UTC), datetime(2026, 3, 5, 10, tzinfo=UTC)
    assert asked == [{"G-502": int(done.timestamp()) * 1000, "before": int(before.timestamp()) * 1000}]


def test_nothing_is_asked_of_earlier_days_for_a_gauge_calibrated_since() -> None:
    """X21: calibrated yesterday, so no use of an earlier day matters."""
    builder = ringed("2026-03-08")
    page = ring(builder, at("10:01"))

    closed, asked = _close_with(builder, 9000)

    assert (marks_of(closed, page), asked) == (set(), [])


def calibration(**also: Any) -> dict[str, Any]:
    """Return a calibration of G-108 at 08:00, good, in a room of 68 degF by a procedure that allows 66 to 70."""
    return {
        "kind": "calibration", "gauge": "G-108", "done_at": at("08:00"), "masters": ["M-02"], "procedure": "CP-1",
        "unit": "in", "points": [], "as_found": "Good", "as_left": "Good", "room_temperature": "68", "room_low": "66",
        "room_high": "70", "soak_min": 120, "soak_least_min": 120,
    } | also  # fmt: skip


@pytest.mark.parametrize(
    ("also", "says"),
    [
        ({}, ""),
        ({"room_temperature": "70"}, ""),
        ({"room_temperature": "70.1"}, "the room was at 70.1, 66 to 70 degF is allowed"),
        ({"room_temperature": "65.9"}, "the room was at 65.9"),
        ({"soak_min": 119}, "it soaked 119 min of 120 min"),
        ({"room_low": None, "room_high": None, "room_temperature": "90"}, ""),
    ],
)
def test_a_calibration_outside_its_procedure_flags_what_is_measured_after_it(also: dict[str, Any], says: str) -> None:
    """X81: the limits belong to the good side; without limits on the page nothing can be told."""
    builder = HeldBuilder()
    before = builder.reading(at("07:00"), ".3122")
    builder.act(at("08:05"), calibration(**also), person="P-105")
    after = builder.reading(at("09:00"), ".3122", piece=2)

    closed = builder.close()

    assert marks_of(closed, before) == set()
    assert marks_of(closed, after) == ({"X81"} if says else set())
    assert not says or says in exception_of(closed, "X81")["sentence"]


def test_a_calibration_off_temperature_is_told_though_nothing_was_measured() -> None:
    """X81 is about the gauge; nobody used it that day."""
    builder = HeldBuilder()
    builder.act(at("08:05"), calibration(room_temperature="75"), person="P-105")

    assert exception_of(builder.close(), "X81")["readings"] == "0"


def test_a_gauge_due_and_not_brought_in_is_told_on_the_day_its_date_ends() -> None:
    """X82: G-107, due 10 March, was in use at midnight; on the days before and after nothing of it is told."""
    builder = HeldBuilder()
    builder.reading("2026-03-10T22:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")

    of_day = builder.close(*MARCH_10)

    assert (
        "due until 11 Mar 00:00 −04:00 and was not brought in; last seen 10 Mar 22:00"
        in (exception_of(of_day, "X82")["sentence"])
    )
    assert "X82" not in numbers_of(builder.close())
    assert "X82" not in numbers_of(builder.close(*MARCH_11))


EXTENSION: dict[str, Any] = {
    "kind": "extension", "gauge": "G-107", "old_due": "2026-03-10", "new_due": "2026-03-17", "reason": "no swap",
    "evidence": "five good in a row",
}  # fmt: skip


@pytest.mark.parametrize(
    "act",
    [
        {"kind": "gauge movement", "gauge": "G-107", "movement": "returned"},
        {"kind": "gauge movement", "gauge": "G-107", "movement": "sent out"},
        {"kind": "gauge state", "gauge": "G-107", "state": "Awaiting calibration"},
        calibration(gauge="G-107", done_at=at("23:00", 10), due="2026-09-10"),
        calibration(gauge="G-107", done_at=at("23:00", 10), stage="as-found"),
    ],
)
def test_a_gauge_that_was_in_when_its_date_ended_is_not_told(act: dict[str, Any]) -> None:
    """X82: given back, sent out, set aside, calibrated, or found and still on the bench at 23:00."""
    builder = HeldBuilder()
    builder.reading("2026-03-10T22:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")
    builder.act(at("23:05", 10), act, person="P-105")

    assert "X82" not in numbers_of(builder.close(*MARCH_10))


def test_a_gauge_issued_again_is_not_in() -> None:
    """X82: given back 12:00, issued 20:00."""
    builder = HeldBuilder()
    move = {"kind": "gauge movement", "gauge": "G-107"}
    builder.act(at("12:00", 10), move | {"movement": "returned"})
    builder.act(at("20:00", 10), move | {"movement": "issued", "to_station": "S12"})

    assert exception_of(builder.close(*MARCH_10), "X82")["cause"] == "G-107"


@pytest.mark.parametrize(
    ("signed", "day", "late"),
    [
        (at("23:59:59.999", 10), MARCH_10, False),
        (at("00:00:00.000", 11), MARCH_10, True),
        (at("08:00", 11), MARCH_11, True),
    ],
)
def test_an_extension_signed_when_the_date_has_ended_is_late(
    signed: str, day: tuple[date, datetime], late: bool
) -> None:
    """X83: due until 11 March 00:00: the second signature of that very moment is too late."""
    builder = HeldBuilder()
    ref = builder.act(at("15:00", 10), EXTENSION)
    second = builder.act(signed, {"kind": "second signature", "of": ref, "meaning": "approved"}, person="P-108")

    closed = builder.close(*day)

    assert ("X83" in numbers_of(closed)) is late
    if late:
        assert "after the due date ended 11 Mar 00:00 −04:00" in exception_of(closed, "X83")["sentence"]
        assert {row["page"] for row in closed.touched.to_pylist()} >= {ref, second}


def test_an_extension_waiting_for_its_second_signature_is_not_late_yet() -> None:
    """X83 is about what was signed; without a second signature it only has no effect."""
    builder = HeldBuilder()
    builder.act(at("15:00", 10), EXTENSION)

    assert "X83" not in numbers_of(builder.close(*MARCH_10))


def test_an_extension_dated_before_it_was_signed_is_told() -> None:
    """X83: the page says 15:00, the signature under it 16:00."""
    builder = HeldBuilder()
    signature = {"person": "P-106", "name": "Person 6 (invented)", "role": "quality manager", "at": at("16:00", 10),
                 "meaning": "approved", "sentence": "I put the due date back", "of": "0" * 64}  # fmt: skip
    builder.act(at("15:00", 10), EXTENSION | {"signature": signature})

    assert (
        "is dated 10 Mar 15:00 −04:00 and was signed 10 Mar 16:00"
        in (exception_of(builder.close(*MARCH_10), "X83")["sentence"])
    )
