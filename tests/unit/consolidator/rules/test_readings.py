"""X23 to X25, X33 to X37: the figure and how it was taken. Situations and expectations by hand."""

from datetime import UTC, datetime

import pytest

from consolidator.intake.held import Conflict
from tests.unit.consolidator.held_builder import HeldBuilder, deck, exception_of, held_lots, marks_of, row_of

NINE = "2026-03-09T09:00:00.000-04:00"


def _at(seconds: float) -> str:
    whole, thousandths = divmod(round(seconds * 1000), 1000)
    minute, second = divmod(whole, 60)
    return f"2026-03-09T09:{minute:02d}:{second:02d}.{thousandths:03d}-04:00"


@pytest.mark.parametrize(
    ("act", "urgency"),
    [
        (None, "B"),
        ({"kind": "lot close", "lot": "L-411", "quantity": 2000}, "A"),
        ({"kind": "lot ship", "lot": "L-411", "quantity": 9, "customer": "CU-1", "order": "O-1"}, "A"),
    ],
    ids=["running", "closed", "shipped"],
)
def test_a_reject_of_a_lot_that_is_closed_or_shipped_is_urgent(act: dict[str, object] | None, urgency: str) -> None:
    """X23: B, and A when the lot is at final, closed or shipped."""
    builder = HeldBuilder()
    builder.reading(NINE, ".3126")
    if act:
        builder.act("2026-03-09T15:00:00.000-04:00", act)

    assert exception_of(builder.close(), "X23")["urgency"] == urgency


def test_a_reject_at_a_final_operation_is_urgent() -> None:
    """X23: the plan of the reading's operation is final."""
    lists = deck()
    plans = tuple(plan.model_copy(update={"is_final": True}) for plan in lists.plans)
    builder = HeldBuilder(lists.model_copy(update={"plans": plans}))
    builder.reading(NINE, ".3126")

    assert exception_of(builder.close(), "X23")["urgency"] == "A"


@pytest.mark.parametrize(("turns", "verdict"), [("3", "Accept"), ("3.25", "Reject"), ("0", "Accept")])
def test_not_go_turns_are_held_against_the_plan_s_number(turns: str, verdict: str) -> None:
    """X23: not more than three complete turns (ASME B1.2); 3 is accepted, 3.25 rejected."""
    builder = HeldBuilder()
    usual = {"characteristic": "BC6", "gauge": "G-503", "keyed_as": "turns", "person": "P-102", "station": "S24"}
    page = builder.reading(NINE, turns, **usual)

    assert row_of(builder.close(), page)["verdict"] == verdict


@pytest.mark.parametrize(("keyed", "close"), [(".31210", False), (".31205", True), (".3125", True), (".3126", False)])
def test_close_to_the_limit_is_told_only_where_the_plan_has_a_guard_band(keyed: str, close: bool) -> None:
    """X25: guard band .0001 from .3120 and .3125: .31205 is nearer, .31210 is not, .3126 is out."""
    lists = deck()
    banded = tuple(c.model_copy(update={"guard_band": "0.0001"}) for c in lists.characteristics)
    builder = HeldBuilder(lists.model_copy(update={"characteristics": banded}))
    page = builder.reading(NINE, keyed)

    assert ("X25" in marks_of(builder.close(), page)) is close


@pytest.mark.parametrize(
    ("gap_s", "second", "twice"), [(3.0, ".3122", True), (3.001, ".3122", False), (1.0, ".3123", False)]
)
def test_the_same_value_of_the_same_piece_within_three_seconds_is_a_double_tap(
    gap_s: float, second: str, twice: bool
) -> None:
    """X33: N8 is 3 s, the end included; the second one is blocked, the first counts."""
    builder = HeldBuilder()
    first = builder.reading(NINE, ".3122", piece=1)
    other = builder.reading(_at(gap_s), second, piece=1)

    closed = builder.close()

    assert ("X33" in marks_of(closed, other)) is twice
    assert "X33" not in marks_of(closed, first)


def test_two_different_pages_with_one_number_are_both_blocked() -> None:
    """X34: same series and number, different content: both blocked, the lot held, urgency A."""
    builder = HeldBuilder()
    builder.reading(NINE, ".3122", number=1)
    builder.reading(_at(60), ".3123", number=1)

    closed = builder.close()

    assert closed.readings["standing"].to_pylist() == ["Blocked", "Blocked"]
    assert exception_of(closed, "X34")["urgency"] == "A"
    assert held_lots(closed)["L-411"] == {"X34"}


@pytest.mark.parametrize(("count", "alike"), [(7, False), (8, True)])
def test_eight_identical_readings_in_a_row_are_too_alike(count: int, alike: bool) -> None:
    """X35: N12 is 8, with a least count of at most 10 % of the tolerance; all of the run are flagged."""
    builder = HeldBuilder()
    pages = [builder.reading(_at(10 * at), ".3122", piece=at % 5 + 1, sample=at // 5 + 1) for at in range(count)]

    closed = builder.close()

    assert [("X35" in marks_of(closed, page)) for page in pages] == [alike] * count


def test_a_coarse_gauge_may_well_read_alike() -> None:
    """X35 is not raised where the least count is over 10 % of the tolerance: .0001 of .0005 is 20 %."""
    builder = HeldBuilder()
    page = [builder.reading(_at(10 * at), ".3122", gauge="G-107", piece=at + 1) for at in range(9)][-1]

    assert "X35" not in marks_of(builder.close(), page)


def test_three_pieces_in_a_row_faster_than_a_micrometer_can_measure_are_flagged() -> None:
    """X37: 3 s for a micrometer; pieces 2.9 s apart are flagged from the third fast one on, all three of them."""
    builder = HeldBuilder()
    times = [0, 2.9, 5.8, 8.7, 20, 22.9, 25.8]
    pages = [builder.reading(_at(at), f".3122{place % 2}", piece=place + 1) for place, at in enumerate(times)]

    closed = builder.close()

    flagged = ["X37" in marks_of(closed, page) for page in pages]
    assert flagged == [False, True, True, True, False, False, False]


def test_a_reading_that_shares_its_number_with_another_kind_of_page_is_blocked() -> None:
    """X34: the other page need not be a reading."""
    builder = HeldBuilder()
    page = builder.reading(NINE, ".3122", number=1)
    builder.conflicts.append(Conflict("S12-a", 1, ("a" * 64, "b" * 64), datetime(2026, 3, 9, 14, tzinfo=UTC)))

    closed = builder.close()

    assert row_of(closed, page)["standing"] == "Blocked"
    assert marks_of(closed, page) == {"X34"}
