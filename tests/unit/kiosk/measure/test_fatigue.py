"""Fatigue pieces: each, the average, and pieces stopped unbroken."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.errors import OutsideTheTable
from kiosk.measure.fatigue import FatiguePiece, FatiguePlan, judge_fatigue

PLAN = FatiguePlan(pieces=3, least_each=45_000, least_average=65_000, stopped_at=130_000)
"""Invented figures for testing."""


def _broke(*cycles: int) -> list[FatiguePiece]:
    return [FatiguePiece(count, is_broken=True) for count in cycles]


def test_a_stopped_piece_and_two_broken_ones_pass_by_each_and_average() -> None:
    """130 000 stopped, 72 400, 58 900: average 87 100 (by hand)."""
    result = judge_fatigue([FatiguePiece(130_000, is_broken=False), *_broke(72_400, 58_900)], PLAN)

    assert result.passed
    assert result.average == Decimal(87_100)


def test_a_counter_that_ran_on_counts_exactly_the_stop_count() -> None:
    """131 842 on the counter of an unbroken piece counts 130 000."""
    result = judge_fatigue([FatiguePiece(131_842, is_broken=False), *_broke(45_000, 45_000)], PLAN)

    assert result.counted == (130_000, 45_000, 45_000)


def test_a_piece_taken_off_early_counts_what_it_ran() -> None:
    """Unbroken at 40 000 proves 40 000 and no more, which is short of 45 000."""
    result = judge_fatigue([FatiguePiece(40_000, is_broken=False), *_broke(130_000, 130_000)], PLAN)

    assert not result.is_each_enough
    assert not result.passed


def test_at_least_includes_equality() -> None:
    """45 000 each and an average of 65 000 exactly are enough; one cycle less of either is not."""
    assert judge_fatigue(_broke(45_000, 45_000, 105_000), PLAN).passed
    assert not judge_fatigue(_broke(44_999, 45_001, 105_000), PLAN).is_each_enough
    assert not judge_fatigue(_broke(45_000, 45_000, 104_999), PLAN).is_average_enough


def test_fewer_pieces_than_planned_never_pass() -> None:
    """Two very good pieces of three planned are no proof; neither is none."""
    assert not judge_fatigue(_broke(130_000, 130_000), PLAN).passed
    assert not judge_fatigue([], PLAN).passed
    assert judge_fatigue([], PLAN).average == 0


@pytest.mark.parametrize("plan", [FatiguePlan(0, 1, 1, 1), FatiguePlan(1, 1, 1, 0)])
def test_a_plan_that_asks_for_nothing_is_refused(plan: FatiguePlan) -> None:
    """No piece or no stop count is a plan wrongly written."""
    with pytest.raises(OutsideTheTable):
        judge_fatigue(_broke(1), plan)


def test_cycles_below_nothing_are_refused() -> None:
    """A counter does not run backwards."""
    with pytest.raises(OutsideTheTable):
        judge_fatigue(_broke(-1, 2, 3), PLAN)


@given(st.lists(st.integers(0, 200_000), min_size=3, max_size=5), st.integers(0, 4), st.integers(0, 10_000))
def test_more_cycles_never_turn_a_pass_into_a_fail(cycles: list[int], which: int, more: int) -> None:
    """The decision rises with every piece."""
    better = list(cycles)
    better[which % len(cycles)] += more

    assert judge_fatigue(_broke(*better), PLAN).passed >= judge_fatigue(_broke(*cycles), PLAN).passed
