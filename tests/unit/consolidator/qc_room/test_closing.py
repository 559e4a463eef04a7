"""What stands against closing a lot beyond its exceptions: unsigned operations, acceptance never made. By hand."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from consolidator.intake import Archive
from consolidator.intake.held import HeldPage
from consolidator.qc_room.closing import conditions_at, judged_now, not_enough, unsigned_operations
from kiosk.lists import Lists
from tests.unit.consolidator.held_builder import HeldBuilder, deck
from tests.unit.consolidator.played_plant import DAY, local, play

AT = datetime(2026, 3, 13, 20, 0, tzinfo=UTC)
TENSILE = {"part": "B-3124", "revision": "C", "number": "BC9", "name": "ultimate tensile load", "operation": "95",
           "kind": "lower limit only", "unit": "lbf", "lower": "12800", "feature": "tensile or fatigue",
           "acceptance_n": 3}  # fmt: skip


def _lists(*, is_final: bool = False) -> Lists:
    plans: list[dict[str, Any]] = [
        {"part": "B-3124", "revision": "C", "operation": "80", "version": "C1", "after_operation": "40"},
        {"part": "B-3124", "revision": "C", "operation": "95", "version": "C1", "is_final": is_final},
    ]
    return deck(characteristics=[TENSILE], plans=plans)


def _row(
    piece: str, kind: str = "test", standing: str = "Counts", sample: str = "1", verdict: str = "In tolerance"
) -> dict[str, str]:
    return {"characteristic": "BC9", "operation": "95", "sample": sample, "piece": piece, "sample_kind": kind,
            "kiosk": "S38-a", "standing": standing, "verdict": verdict}  # fmt: skip


def _signed_off(person: str, operation: str = "40", lot: str = "L-411") -> tuple[HeldPage, ...]:
    builder = HeldBuilder(_lists())
    act = {"kind": "operation sign-off", "lot": lot, "operation": operation}
    builder.act("2026-03-13T07:00:00.000-04:00", act, person=person)
    return tuple(builder.acts)


@pytest.mark.parametrize(
    ("acts", "missing"),
    [
        ((), True),
        (_signed_off("P-104"), False),
        (_signed_off("P-101"), True),
        (_signed_off("P-104", lot="L-412"), True),
        (_signed_off("P-104", operation="60"), True),
    ],
    ids=["nobody signed", "signed", "by somebody who may not", "of another lot", "another operation"],
)
def test_an_operation_others_wait_for_must_be_signed_off(acts: tuple[HeldPage, ...], missing: bool) -> None:
    """X48: rolling may not start before heat treat (40) is accepted; a lot without that signature is not closed."""
    lists = _lists()
    lot = lists.lot("L-411")
    assert lot is not None

    told = list(unsigned_operations(lot, lists, at=AT, acts=acts))

    assert told == (["operation 40 not signed off (X48)"] if missing else [])


@pytest.mark.parametrize(
    ("rows", "counting"),
    [
        ([], 0),
        ([_row("1"), _row("2"), _row("2"), _row("3")], 3),
        ([_row("1"), _row("2"), _row("3", standing="Blocked")], 2),
        ([_row("1"), _row("2"), _row("3", standing="Blocked"), _row("3", "re-measure")], 3),
        ([_row("1"), _row("2"), _row("9", "re-measure")], 2),
        ([_row("1"), _row("2", "lot acceptance"), _row("1", sample="2")], 3),
        ([_row("1"), _row("2"), _row("3", "run")], 2),
        ([_row("1", standing="Released"), _row("2", standing="Counts – flagged"), _row("3")], 3),
    ],
    ids=["never made", "three, one twice", "one blocked", "blocked, then measured again", "another piece",
         "over two samples", "a run piece is none", "released and flagged count"],
)  # fmt: skip
def test_pieces_of_lot_acceptance_are_counted_over_all_days(rows: list[dict[str, str]], counting: int) -> None:
    """X43: three tensile pieces are planned; blocked ones fill no place, a piece counts once."""
    lists = _lists()
    lot = lists.lot("L-411")
    assert lot is not None

    told = not_enough(lot, lists, at=AT, rows=rows)

    short = f"BC9 ultimate tensile load: {counting} of 3 pieces of lot acceptance count (X43)"
    assert told == ([] if counting >= 3 else [short])


OUT = {"verdict": "Out of tolerance"}


@pytest.mark.parametrize(
    ("rows", "rejects"),
    [
        ([_row("1", **OUT), _row("2"), _row("3")], 1),
        ([_row("1", **OUT), _row("1", "referee"), _row("2"), _row("3")], 1),
        ([_row("1", standing="Blocked", **OUT), _row("1", "re-measure"), _row("2"), _row("3")], 0),
        ([_row("1"), _row("2"), _row("3"), _row("4", standing="Blocked", **OUT)], 1),
        ([_row("1", **OUT), _row("1", sample="2", **OUT), _row("3")], 2),
    ],
    ids=["one of three", "a good second look takes nothing back", "blocked, then measured soundly", "blocked accuses",
         "over two samples"],
)  # fmt: skip
def test_rejects_of_lot_acceptance_are_counted_over_all_days(rows: list[dict[str, str]], rejects: int) -> None:
    """X43: no reject is allowed; as many as are there are told, whatever was signed about their pieces since."""
    lists = _lists()
    lot = lists.lot("L-411")
    assert lot is not None

    told = not_enough(lot, lists, at=AT, rows=rows)

    words = "1 reject" if rejects == 1 else f"{rejects} rejects"
    assert told == ([f"BC9 ultimate tensile load: {words}, 0 allowed (X43)"] if rejects else [])


def test_run_pieces_of_a_final_operation_are_lot_acceptance() -> None:
    """X43: the plan calls operation 95 final, so what is sampled there counts."""
    lists = _lists(is_final=True)
    lot = lists.lot("L-411")
    assert lot is not None

    assert not_enough(lot, lists, at=AT, rows=[_row("1", "run"), _row("2", "run"), _row("3", "last piece")]) == []


def test_a_lot_is_judged_anew_before_it_is_closed(tmp_path: Path) -> None:
    """A reading of ten minutes ago that is out of tolerance stands against the close before any ledger tells of it."""
    played = play(tmp_path)
    played.measure(local(DAY, 9, 0), keyed="0.31300")
    played.carry(local(DAY, 9, 5))

    with Archive(played.plant) as archive:
        told = conditions_at(played.plant, "L-411", at=local(DAY, 9, 10), archive=archive)
        days = judged_now(played.plant, at=local(DAY, 9, 10), archive=archive)

    assert any(each.startswith("X23 open") for each in told.against)
    assert [day.day.day for day in days] == [9, 10]


def test_the_evening_before_stands_against_a_close_at_dawn(tmp_path: Path) -> None:
    """Out of tolerance at 05:30, closed at 06:10 before the last pass of the night: it is named all the same."""
    played = play(tmp_path)
    played.measure(local(DAY + timedelta(days=1), 5, 30), keyed="0.31300")
    played.carry(local(DAY + timedelta(days=1), 6, 0))

    with Archive(played.plant) as archive:
        told = conditions_at(played.plant, "L-411", at=local(DAY + timedelta(days=1), 6, 10), archive=archive)

    assert any(each.startswith("X23 open") for each in told.against)
