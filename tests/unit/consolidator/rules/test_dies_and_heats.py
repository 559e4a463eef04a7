"""X52 and X64: heats that do not match, and dies past their planned life. Expectations by hand."""

from typing import Any

import pytest

from consolidator.close import ClosedDay
from tests.unit.consolidator.held_builder import (
    HeldBuilder,
    deck,
    exception_of,
    held_lots,
    marks_of,
    numbers_of,
    row_of,
)

ROLLING = {"station": "S24", "characteristic": "BC4", "gauge": "G-301", "keyed_as": "over wires", "master": "W-24",
           "person": "P-102", "set_up": "SU-31"}  # fmt: skip


def _at(clock: str) -> str:
    return f"2026-03-09T{clock}:00.000-04:00"


@pytest.mark.parametrize(
    ("lot", "heat", "matches"),
    [("L-411", "H-1", True), ("L-411", "H-2", False), ("L-500", "H-2", True), ("L-999", "H-1", True)],
    ids=["its own", "another lot's", "its own of the nuts", "of a lot no register knows"],
)
def test_the_heat_scanned_is_held_against_the_heat_of_the_lot(lot: str, heat: str, matches: bool) -> None:
    """X52: A, and the lot is held; a lot that is not in the register is another matter (X44)."""
    builder = HeldBuilder()
    builder.act(_at("06:10"), {"kind": "heat scan", "lot": lot, "heat": heat}, series="S12-a", person="P-101")

    closed = builder.close()

    assert ("X52" in numbers_of(closed)) is not matches
    assert held_lots(closed) == ({} if matches else {lot: {"X52"}})
    if not matches:
        told = exception_of(closed, "X52")
        assert (told["urgency"], told["cause"], told["stations"]) == ("A", lot, "S12")
        assert "Heat H-2 was scanned for L-411, whose heat is H-1" in told["sentence"]


def test_a_lot_whose_heat_is_not_known_matches_whatever_is_scanned() -> None:
    """X52 compares two heats; where the register has none there is nothing to compare."""
    lots = tuple(lot.model_copy(update={"heat": None}) for lot in deck().lots)
    builder = HeldBuilder(deck().model_copy(update={"lots": lots}))
    builder.act(_at("06:10"), {"kind": "heat scan", "lot": "L-411", "heat": "H-7"}, series="S12-a")

    assert "X52" not in numbers_of(builder.close())


def _rolling(before: int, life: int | None = 1000, **start: Any) -> HeldBuilder:
    lists = deck()
    plans = tuple(p.model_copy(update={"die_life": life}) if p.operation == "80" else p for p in lists.plans)
    builder = HeldBuilder(lists.model_copy(update={"plans": plans}))
    told = {"kind": "set-up start", "set_up": "SU-31", "lot": "L-411", "part": "B-3124", "revision": "C",
            "operation": "80", "set_by": "P-107", "die_set": "D-7", "machine": "M-24"}  # fmt: skip
    builder.act(_at("06:20"), told | {"die_pieces_before": before} | start, series="S24-a", person="P-107")
    return builder


def _counter(builder: HeldBuilder, clock: str, pieces: int, at: str = "start") -> None:
    act = {"kind": "machine counter", "machine": "M-24", "at": at, "pieces": pieces}
    builder.act(_at(clock), act, series="S24-a", person="P-102")


def _read(builder: HeldBuilder, clock: str) -> str:
    return builder.reading(_at(clock), ".3198", **ROLLING)


def _is_past(closed: ClosedDay, page: str) -> bool:
    assert row_of(closed, page)["standing"] == ("Counts – flagged" if "X64" in marks_of(closed, page) else "Counts")
    return "X64" in marks_of(closed, page)


@pytest.mark.parametrize(
    ("before", "life", "is_past"),
    [(999, 1000, False), (1000, 1000, False), (1001, 1000, True), (5000, None, False)],
    ids=["one under", "exactly the life", "one over", "no life planned"],
)
def test_pieces_on_the_dies_are_held_against_their_planned_life(before: int, life: int | None, is_past: bool) -> None:
    """X64: more pieces than planned, flagged, C, no hold; as many as planned are allowed."""
    builder = _rolling(before, life)
    page = _read(builder, "07:00")

    closed = builder.close()

    assert _is_past(closed, page) is is_past
    if is_past:
        told = exception_of(closed, "X64")
        assert (told["cause"], told["urgency"]) == ("SU-31", "C")
        assert "1001 pieces by 9 Mar 06:20" in told["sentence"]
        assert held_lots(closed) == {}


def test_the_machine_s_counter_adds_to_what_the_dies_had_made() -> None:
    """600 before, counter 10 000 at 06:25, 10 400 at 10:00 (1 000 in all), 10 401 at 12:00 (1 001).

    Between the count within the life and the one past it nobody knows: flagged from the first of the two.
    """
    builder = _rolling(600)
    _counter(builder, "06:25", 10_000)
    early = _read(builder, "07:00")
    _counter(builder, "10:00", 10_400)
    between = _read(builder, "11:00")
    _counter(builder, "12:00", 10_401)
    after = _read(builder, "13:00")

    closed = builder.close()

    assert [_is_past(closed, page) for page in (early, between, after)] == [False, True, True]
    assert "1001 pieces by 9 Mar 12:00 −04:00, 1000 at the count before" in exception_of(closed, "X64")["sentence"]


def test_a_counter_set_back_begins_again_from_none() -> None:
    """800 before, counter 50 000, then 150 and 200: at least 150 and 50 more were made; 950 and 1 000, not past."""
    builder = _rolling(800)
    _counter(builder, "06:25", 50_000)
    _counter(builder, "09:00", 150)
    _counter(builder, "10:00", 200)
    page = _read(builder, "11:00")

    assert not _is_past(builder.close(), page)


def test_a_die_change_begins_the_count_anew() -> None:
    """1 200 of 1 000; at 08:00 the dies are changed and have made none."""
    builder = _rolling(1200)
    past = _read(builder, "07:00")
    builder.act(_at("08:00"), {"kind": "set-up change", "set_up": "SU-31", "what": "die change"}, series="S24-a")
    fresh = _read(builder, "09:00")

    closed = builder.close()

    assert (_is_past(closed, past), _is_past(closed, fresh)) == (True, False)


def test_the_same_dies_in_a_new_set_up_keep_what_they_had_made() -> None:
    """D-7 made 900 and 200 more by the end of SU-31; a start that says 0 for them is not believed."""
    builder = _rolling(900)
    builder.act(_at("08:00"), {"kind": "set-up end", "set_up": "SU-31", "pieces_run": 200}, series="S24-a")
    again = {"kind": "set-up start", "set_up": "SU-32", "lot": "L-412", "part": "B-3124", "revision": "C",
             "operation": "80", "set_by": "P-107", "die_set": "D-7"}  # fmt: skip
    builder.act(_at("08:30"), again, series="S24-a", person="P-107")
    page = builder.reading(_at("09:00"), ".3198", **{**ROLLING, "set_up": "SU-32", "lot": "L-412"})

    closed = builder.close()

    assert _is_past(closed, page)
    assert "Dies of SU-32 had made 1100 pieces" in exception_of(closed, "X64")["sentence"]
