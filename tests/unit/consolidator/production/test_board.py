"""The board of unproven set-ups: why, since when, which lots, how many pieces. Situations and figures by hand."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from consolidator.frame import make_day
from consolidator.frame.world import moment_of
from consolidator.production.board import WaitingSetUp, rolled_since, waiting_set_ups
from consolidator.production.dies import Counted
from tests.unit.consolidator.held_builder import HeldBuilder, deck

DAY = date(2026, 3, 13)
AT = datetime(2026, 3, 13, 20, 0, tzinfo=UTC)
START = {"kind": "set-up start", "set_up": "SU-31", "lot": "L-411", "part": "B-3124", "revision": "C",
         "operation": "80", "set_by": "P-107", "machine": "M-24"}  # fmt: skip


def _at(clock: str) -> str:
    return f"2026-03-13T{clock}:00.000-04:00"


def _plant() -> HeldBuilder:
    lists = deck()
    proof = {"needs_fatigue_proof": True}
    plans = tuple(p.model_copy(update=proof) if p.operation == "80" else p for p in lists.plans)
    return HeldBuilder(lists.model_copy(update={"plans": plans}))


def _begin(builder: HeldBuilder, clock: str, **also: Any) -> None:
    builder.act(_at(clock), START | also, series="S24-a", person="P-107")


def _count(builder: HeldBuilder, clock: str, pieces: int) -> None:
    counter = {"kind": "machine counter", "machine": "M-24", "at": "start", "pieces": pieces}
    builder.act(_at(clock), counter, series="S24-a", person="P-102")


def _test(builder: HeldBuilder, clock: str, *results: str) -> None:
    pieces = [
        {"piece": str(n), "lot": "L-411", "set_up": "SU-31", "result": each, "verdict": "In tolerance"}
        for n, each in enumerate(results, start=1)
    ]
    record = {"kind": "test record", "number": "TR-1", "what": "fatigue", "lot": "L-411", "part": "B-3124",
              "characteristic": "BC10", "set_up": "SU-31", "method": "plan", "frame": "F-36", "unit": "cycles",
              "pieces": pieces, "verdict": "In tolerance"}  # fmt: skip
    builder.act(_at(clock), record)


def _board(builder: HeldBuilder) -> list[WaitingSetUp]:
    return waiting_set_ups(make_day(builder.held(), builder.lists, day=DAY, at_utc=AT))


def _clock(ms: int) -> str:
    return f"{moment_of(ms).hour - 4:02d}:{moment_of(ms).minute:02d}"


def test_a_set_up_never_proven_is_at_risk_from_its_start() -> None:
    """Begun 06:00; the counter stood at 100 and stands at 850: 750 pieces of L-411 and L-412, of 4 000 at most."""
    builder = _plant()
    _count(builder, "05:50", 100)
    _begin(builder, "06:00")
    builder.act(_at("09:00"), {"kind": "job open", "lot": "L-412", "operation": "80", "part": "B-3124",
                               "revision": "C", "plan_version": "C1", "set_up": "SU-31"}, series="S24-a")  # fmt: skip
    _count(builder, "12:00", 850)

    (one,) = _board(builder)

    assert (one.set_up, one.station, one.because, one.is_approved) == ("SU-31", "S24", "X55", False)
    assert (_clock(one.begun_ms), _clock(one.since_ms)) == ("06:00", "06:00")
    assert (one.lots, one.pieces_rolled, one.pieces_of_lots) == (("L-411", "L-412"), 750, 4000)


def test_a_proven_set_up_is_not_on_the_board_until_it_is_changed() -> None:
    """Proven 08:00; changed 10:00 at 500 pieces, 640 at noon: 140 pieces since, X57."""
    builder = _plant()
    _count(builder, "05:50", 0)
    _begin(builder, "06:00")
    _test(builder, "08:00", "130000", "72400", "58900")
    assert _board(builder) == []

    _count(builder, "09:59", 500)
    builder.act(_at("10:00"), {"kind": "set-up change", "set_up": "SU-31", "what": "re-set"}, series="S24-a")
    _count(builder, "12:00", 640)

    (one,) = _board(builder)
    assert (one.because, _clock(one.since_ms), one.pieces_rolled) == ("X57", "10:00", 140)


def test_after_a_failed_proof_pieces_are_at_risk_since_the_last_passed_one() -> None:
    """Passed 08:00, failed 12:00: at risk since 08:00, X56."""
    builder = _plant()
    _begin(builder, "06:00")
    _test(builder, "08:00", "130000", "72400", "58900")
    _test(builder, "12:00", "130000", "72400", "44999")

    (one,) = _board(builder)

    assert (one.because, _clock(one.since_ms), one.pieces_rolled) == ("X56", "08:00", None)


def test_operations_that_need_no_proof_and_nothing_at_all_give_an_empty_board() -> None:
    """Grinding is set up too, and is not proven by fatigue."""
    builder = _plant()
    _begin(builder, "06:00", operation="60", set_up="SU-12")

    assert _board(builder) == []
    assert _board(_plant()) == []


@pytest.mark.parametrize(
    ("counts", "since", "rolled"),
    [
        ([], 0, None),
        ([("a", 10, 100, 1)], 0, None),
        ([("a", 10, 100, 1), ("a", 20, 130, 1)], 0, 30),
        ([("a", 10, 100, 1), ("a", 20, 130, 1), ("a", 30, 190, 1)], 25, 60),
        ([("a", 10, 100, 1), ("a", 20, 130, 1), ("a", 30, 0, 2), ("a", 40, 7, 2)], 0, 37),
        ([("a", 10, 100, 1), ("a", 20, 130, 1)], 25, None),
    ],
    ids=["no count", "one count", "two counts", "from the last before", "over a change of dies", "none after"],
)
def test_pieces_rolled_are_the_growth_of_counts_since_then(
    counts: list[tuple[str, int, int, int]], since: int, rolled: int | None
) -> None:
    """What was counted before is not at risk; where nothing was counted since, none are told."""
    assert rolled_since([Counted(*each) for each in counts], since) == rolled
