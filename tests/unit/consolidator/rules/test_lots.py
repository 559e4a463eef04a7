"""X44 to X51: lot and route. Situations and expectations by hand."""

from datetime import UTC, date, datetime

import pytest

from consolidator.close import CarriedOver
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
ELEVEN = "2026-03-09T11:00:00.000-04:00"
CLOSE = {"kind": "lot close", "lot": "L-411", "quantity": 2000}


def test_an_unknown_lot_blocks() -> None:
    """X44: the lot is not in the register at close of day."""
    builder = HeldBuilder()
    page = builder.reading(NINE, ".3122", lot="L-999")

    closed = builder.close()

    assert (row_of(closed, page)["standing"], marks_of(closed, page)) == ("Blocked", {"X44"})
    assert held_lots(closed) == {}


def test_a_lot_of_another_part_blocks_and_holds_both_lots() -> None:
    """X45: nut lot L-500 measured by the bolt's plan where L-411 was being worked; both are held."""
    builder = HeldBuilder()
    builder.reading(NINE, ".3122", piece=1)
    wrong = builder.reading("2026-03-09T09:01:00.000-04:00", ".3122", lot="L-500", piece=2)

    closed = builder.close()

    assert row_of(closed, wrong)["standing"] == "Blocked"
    assert held_lots(closed) == {"L-411": {"X45"}, "L-500": {"X45"}}


def test_a_reading_after_the_lot_was_closed_blocks_and_one_before_that_came_late_reopens() -> None:
    """X46, X47: closed 10:00; read 11:00 blocked; read 09:00 and in at 10:30 counts, and the lot is open again."""
    builder = HeldBuilder()
    in_at = int(datetime(2026, 3, 9, 14, 30, tzinfo=UTC).timestamp() * 1000)
    before = builder.reading(NINE, ".3122", piece=1, received_at_ms=in_at)
    after = builder.reading(ELEVEN, ".3122", piece=2)
    builder.act(TEN, CLOSE)

    closed = builder.close()

    assert (row_of(closed, before)["standing"], marks_of(closed, before)) == ("Counts", {"X47"})
    assert (row_of(closed, after)["standing"], marks_of(closed, after)) == ("Blocked", {"X46"})
    assert exception_of(closed, "X47")["urgency"] == "B"
    assert exception_of(closed, "X46")["urgency"] == "A"


def test_a_bad_reading_that_came_after_the_close_is_urgent() -> None:
    """X47: A if any such reading is bad."""
    builder = HeldBuilder()
    in_at = int(datetime(2026, 3, 9, 14, 30, tzinfo=UTC).timestamp() * 1000)
    builder.reading(NINE, ".3128", received_at_ms=in_at)
    builder.act(TEN, CLOSE)

    assert exception_of(builder.close(), "X47")["urgency"] == "A"


def test_a_lot_opened_again_takes_readings() -> None:
    """X46: closed 09:30, opened again 10:00, read 11:00 counts."""
    builder = HeldBuilder()
    page = builder.reading(ELEVEN, ".3122")
    builder.act("2026-03-09T09:30:00.000-04:00", CLOSE)
    builder.act(TEN, {"kind": "lot re-open", "lot": "L-411", "reason": "one sample missing"})

    assert row_of(builder.close(), page)["standing"] == "Counts"


@pytest.mark.parametrize(("signed_at", "early"), [("08:00", False), ("09:30", True), (None, True)])
def test_an_operation_before_the_sign_off_it_waits_for_is_out_of_order(signed_at: str | None, early: bool) -> None:
    """X48: operation 60 may not start before 40 is signed off; read 09:00."""
    lists = deck()
    plans = tuple(p.model_copy(update={"after_operation": "40"}) if p.operation == "60" else p for p in lists.plans)
    builder = HeldBuilder(lists.model_copy(update={"plans": plans}))
    page = builder.reading(NINE, ".3122")
    if signed_at:
        done = {"kind": "operation sign-off", "lot": "L-411", "operation": "40"}
        builder.act(f"2026-03-09T{signed_at}:00.000-04:00", done)

    closed = builder.close()

    assert ("X48" in marks_of(closed, page)) is early
    assert (held_lots(closed) == {"L-411": {"X48"}}) is early


def test_another_plan_version_is_told_even_where_the_verdict_is_the_same() -> None:
    """X49: judged by plan C0 at the kiosk while C1 is in force: flagged; no hold, for the verdict is the same."""
    builder = HeldBuilder()
    page = builder.reading(NINE, ".3122", plan_version="C0", verdict="In tolerance")

    closed = builder.close()

    assert (row_of(closed, page)["standing"], marks_of(closed, page)) == ("Counts – flagged", {"X49"})
    assert held_lots(closed) == {}


def test_a_characteristic_the_revision_in_force_does_not_have_is_not_judged() -> None:
    """X49: there is nothing to hold the figure against, so it is blocked and the lot is held."""
    builder = HeldBuilder()
    page = builder.reading(NINE, ".3122", characteristic="BC99", operation="60", unit="in")

    closed = builder.close()

    row = row_of(closed, page)
    assert (row["verdict"], row["standing"]) == ("Not judged", "Blocked")
    assert "X49" in held_lots(closed)["L-411"]


@pytest.mark.parametrize(("logged", "mixed"), [((), True), ((1, 2), False), ((1,), True)])
def test_two_lots_that_take_turns_without_changeovers_are_mixed(logged: tuple[int, ...], mixed: bool) -> None:
    """X50: L-411, L-412, L-411 at one station; only both changeovers logged make it two clean runs."""
    builder = HeldBuilder()
    lots = ("L-411", "L-412", "L-411")
    for at, lot in enumerate(lots):
        builder.reading(f"2026-03-09T09:{at * 10:02d}:00.000-04:00", ".3122", lot=lot, piece=at + 1)
    for at in logged:
        change = {"kind": "changeover", "from_lot": lots[at - 1], "to_lot": lots[at], "is_line_clear": True}
        builder.act(f"2026-03-09T09:{at * 10 - 5:02d}:00.000-04:00", change, series="S12-a")

    closed = builder.close()

    assert ("X50" in numbers_of(closed)) is mixed
    assert held_lots(closed) == ({"L-411": {"X50"}, "L-412": {"X50"}} if mixed else {})


def test_a_referee_reading_of_another_lot_mixes_nothing() -> None:
    """X50: looking at a piece of another lot again is no work on that lot."""
    builder = HeldBuilder()
    for at, (lot, kind) in enumerate((("L-411", "run"), ("L-412", "referee"), ("L-411", "run"))):
        builder.reading(f"2026-03-09T09:{at * 10:02d}:00.000-04:00", ".3122", lot=lot, piece=at + 1, sample_kind=kind)

    assert "X50" not in numbers_of(builder.close())


def test_working_a_lot_on_hold_is_flagged_and_looking_at_it_again_is_not() -> None:
    """X51: held by hand 08:00; a run reading 09:00 is flagged, a re-measure is not."""
    builder = HeldBuilder()
    builder.act("2026-03-09T08:00:00.000-04:00", {"kind": "hold", "lot": "L-411", "reason": "odd colour"})
    run = builder.reading(NINE, ".3122", piece=1)
    again = builder.reading(TEN, ".3122", piece=1, sample_kind="re-measure")

    closed = builder.close()

    assert "X51" in marks_of(closed, run)
    assert "X51" not in marks_of(closed, again)
    assert held_lots(closed)["L-411"] == {"hold"}


def test_a_hold_of_the_day_before_stands_until_it_is_lifted() -> None:
    """X51: out on 9 March; worked 10 March 09:00 on hold, lifted 10:00, worked 11:00 free."""
    builder = HeldBuilder()
    builder.reading(NINE, ".3128")
    first = builder.close()
    on_hold = builder.reading("2026-03-10T09:00:00.000-04:00", ".3122", piece=1)
    free = builder.reading("2026-03-10T11:00:00.000-04:00", ".3122", piece=2)
    builder.act(
        "2026-03-10T10:00:00.000-04:00", {"kind": "hold lift", "lot": "L-411", "reason": "sorted, one scrapped"}
    )

    second = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC), CarriedOver.of([first]))

    assert ["X51" in marks_of(second, page) for page in (on_hold, free)] == [True, False]
    assert held_lots(second) == {}


@pytest.mark.parametrize(
    ("read", "marks"),
    [("09:59:59.999", {"X47"}), ("10:00:00.000", {"X47"}), ("10:00:00.001", {"X46"})],
    ids=["before", "at the close", "after"],
)
def test_the_moment_of_the_close_itself_belongs_to_the_open_lot(read: str, marks: set[str]) -> None:
    """X46 is past the close, X47 up to it: closed 10:00:00.000, all three pages in at 11:00."""
    builder = HeldBuilder()
    in_at = int(datetime(2026, 3, 9, 15, tzinfo=UTC).timestamp() * 1000)
    page = builder.reading(f"2026-03-09T{read}-04:00", ".3122", received_at_ms=in_at)
    builder.act(TEN, CLOSE)

    assert marks_of(builder.close(), page) == marks
