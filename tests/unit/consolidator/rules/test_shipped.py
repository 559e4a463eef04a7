"""X84: shipped while an exception of urgency A or B stood open on the lot. Situations and expectations by hand."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from consolidator.close import CarriedOver, ClosedDay
from tests.unit.consolidator.held_builder import DAY, HeldBuilder, exception_of, numbers_of

SHIP: dict[str, Any] = {"kind": "lot ship", "lot": "L-411", "quantity": 500, "customer": "CU-1", "order": "O-1"}
CLOSE: dict[str, Any] = {"kind": "exception close", "reason": "found and measured again"}


def _at(clock: str, day: int = 9) -> str:
    return f"2026-03-{day:02d}T{clock}:00.000-04:00"


def _out_at_nine(keyed: str = ".3126") -> HeldBuilder:
    builder = HeldBuilder()
    builder.reading(_at("09:00"), keyed, sample_kind="lot acceptance")
    return builder


@pytest.mark.parametrize(
    ("clock", "is_inside"),
    [("08:59", False), ("09:00", True), ("15:00", True)],
    ids=["before it was made", "that very minute", "after"],
)
def test_a_shipment_is_held_against_what_stood_open_at_its_time(clock: str, is_inside: bool) -> None:
    """X84: a reject of 09:00 stands open from then on (known now of what was true then); A, on the lot."""
    builder = _out_at_nine()
    builder.act(_at(clock), SHIP)

    closed = builder.close()

    assert ("X84" in numbers_of(closed)) is is_inside
    if is_inside:
        told = exception_of(closed, "X84")
        assert (told["urgency"], told["cause"], told["lots"], told["pieces"]) == ("A", "L-411", "L-411", "500")
        assert "with open: X23 since 9 Mar 09:00 −04:00." in told["sentence"]
        assert told["who"] == "QM"


@pytest.mark.parametrize(
    ("keyed", "lot"), [(".3122", "L-411"), (".3126", "L-412")], ids=["nothing open", "open on another lot"]
)
def test_a_shipment_with_nothing_open_on_its_lot_is_no_exception(keyed: str, lot: str) -> None:
    """X84 asks of the lot that was shipped only."""
    builder = _out_at_nine(keyed)
    builder.act(_at("15:00"), SHIP | {"lot": lot})

    assert "X84" not in numbers_of(builder.close())


def test_an_exception_of_urgency_c_does_not_count() -> None:
    """X84 is about A and B: a reading finer than the gauge (X20, C) stops no shipment."""
    builder = _out_at_nine(".31223")
    builder.act(_at("15:00"), SHIP)

    numbers = numbers_of(builder.close())

    assert "X20" in numbers
    assert "X84" not in numbers


def _next_day(builder: HeldBuilder, before: ClosedDay) -> ClosedDay:
    at = datetime(2026, 3, 11, 10, 5, tzinfo=UTC)
    carried = CarriedOver(before.exceptions, before.holds)
    return builder.close(date(2026, 3, 10), at, before=carried)


@pytest.mark.parametrize(
    ("shipped", "is_inside"), [("09:59", True), ("10:00", False)], ids=["a minute before", "when it is closed"]
)
def test_what_was_closed_before_the_shipment_is_no_longer_open(shipped: str, is_inside: bool) -> None:
    """X84: a heat that did not match on the 9th is carried over and closed by two on the 10th at 10:00."""
    builder = HeldBuilder()
    builder.act(_at("09:00"), {"kind": "heat scan", "lot": "L-411", "heat": "H-2"}, series="S12-a")
    before = builder.close()
    key = exception_of(before, "X52")["key"]
    close = builder.act(_at("10:00", 10), CLOSE | {"exception": key})
    builder.act(_at("10:00", 10), {"kind": "second signature", "of": close, "meaning": "checked"}, person="P-108")
    builder.act(_at(shipped, 10), SHIP)

    closed = _next_day(builder, before)

    assert exception_of(closed, "X52")["state"] == "closed"
    assert ("X84" in numbers_of(closed)) is is_inside


def test_a_shipment_of_the_day_before_is_not_told_again_but_stays_open() -> None:
    """X84 is raised on the day of the shipment and carried until somebody closes it."""
    builder = _out_at_nine()
    builder.act(_at("15:00"), SHIP)
    before = builder.close()

    after = _next_day(builder, before)

    assert exception_of(after, "X84")["key"] == exception_of(before, "X84")["key"]
    assert exception_of(after, "X84")["state"] == "open"


def test_an_exception_about_an_earlier_shipment_does_not_bring_forth_another() -> None:
    """X84 stands open on the lot too, and is no reason for the next one."""
    builder = _out_at_nine(".3122")
    builder.act(_at("08:00"), {"kind": "heat scan", "lot": "L-411", "heat": "H-2"}, series="S12-a")
    builder.act(_at("08:30"), SHIP | {"quantity": 100})
    builder.act(_at("08:40"), SHIP | {"quantity": 200})

    told = exception_of(builder.close(), "X84")

    assert told["pieces"] == "300"
    assert "X84" not in told["sentence"]


def test_the_day_is_the_same_however_often_it_is_closed() -> None:
    """Raising X84 makes the day again with it: same tables from the same pages."""
    builder = _out_at_nine()
    builder.act(_at("15:00"), SHIP)

    one, other = builder.close(), builder.close()

    assert one.exceptions.equals(other.exceptions)
    assert one.touched.equals(other.touched)
    assert one.at_utc - other.at_utc == timedelta(0)
    assert one.day == DAY
