"""X62 and X63: a rolled external thread is never worked on again; a tapped thread once. All by hand."""

from typing import Any

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

TAPPED = {"part": "N-2208", "revision": "A", "number": "NC2", "name": "GO plug", "operation": "30",
          "kind": "accept/reject", "unit": "accept/reject", "member": "GO", "feature": "tapped thread",
          "gauge_kinds": ("thread plug",)}  # fmt: skip
RING = {"station": "S24", "characteristic": "BC5", "gauge": "G-502", "person": "P-102", "keyed_as": "accept/reject"}
PLUG = {"station": "S31", "characteristic": "NC2", "gauge": "G-510", "person": "P-103", "lot": "L-500",
        "keyed_as": "accept/reject", "sample_kind": "re-measure after re-tap"}  # fmt: skip


def _at(clock: str) -> str:
    return f"2026-03-09T{clock}:00.000-04:00"


def _plant() -> HeldBuilder:
    lists = deck()
    rows = [c.model_dump() for c in lists.characteristics]
    return HeldBuilder(deck(characteristics=[*rows, TAPPED]))


def _dispose(builder: HeldBuilder, clock: str, choice: str, **also: Any) -> str:
    told = {"kind": "disposition", "choice": choice, "lot": "L-411", "part": "B-3124", "pieces": 35,
            "reason": "dinged in the tote"}  # fmt: skip
    return builder.act(_at(clock), told | also)


def _re_tap(builder: HeldBuilder, clock: str, **also: Any) -> str:
    told: dict[str, Any] = {"lot": "L-500", "part": "N-2208", "characteristic": "NC2", "pieces": 12}
    return _dispose(builder, clock, "Re-tap", **(told | also))


@pytest.mark.parametrize("kind", ["re-check after rework", "re-measure after re-tap"])
def test_a_rolled_thread_checked_after_rework_is_blocked(kind: str) -> None:
    """X62, A: whatever the ring says it is no evidence, and the lot is held; a plain re-measure is no rework."""
    builder = _plant()
    reworked = builder.reading(_at("09:00"), "Accept", sample_kind=kind, **RING)
    again = builder.reading(_at("09:10"), "Accept", sample_kind="re-measure", sample=2, **RING)

    closed = builder.close()

    row = exception_of(closed, "X62")
    assert (row["urgency"], row["cause"], row["readings"]) == ("A", "L-411", "1")
    assert row_of(closed, reworked)["standing"] == "Blocked"
    assert "X62" not in marks_of(closed, again)
    assert "X62" in held_lots(closed)["L-411"]


@pytest.mark.parametrize(
    ("choice", "characteristic", "is_forbidden"),
    [
        ("Rework to drawing", "BC5", True),
        ("Re-tap", "BC4", True),
        ("Scrap", "BC5", False),
        ("Sort 100 %", "BC5", False),
        ("Rework to drawing", "BC1", False),
    ],
)
def test_a_disposition_that_works_on_a_rolled_thread_again_is_told(
    choice: str, characteristic: str, is_forbidden: bool
) -> None:
    """X62: any way back for an external rolled thread; scrap, sorting, or another feature is none."""
    builder = _plant()
    _dispose(builder, "10:00", choice, characteristic=characteristic)

    closed = builder.close()

    assert ("X62" in numbers_of(closed)) is is_forbidden
    if is_forbidden:
        assert exception_of(closed, "X62")["pieces"] == "35"
        assert "X62" in held_lots(closed)["L-411"]


def test_a_disposition_that_names_readings_of_a_rolled_thread_is_about_it() -> None:
    """X62: no characteristic is named, the readings are of a GO ring."""
    builder = _plant()
    page = builder.reading(_at("09:00"), "Reject", **RING)
    _dispose(builder, "10:00", "Rework to drawing", readings=[page])

    assert "X62" in numbers_of(builder.close())


def test_tapping_again_once_is_allowed() -> None:
    """X63: N18 is once; what is measured after it counts."""
    builder = _plant()
    _re_tap(builder, "09:00")
    page = builder.reading(_at("10:00"), "Accept", **PLUG)

    closed = builder.close()

    assert "X63" not in numbers_of(closed)
    assert "X63" not in marks_of(closed, page)


def test_a_second_re_tap_of_a_lot_s_pieces_blocks_what_comes_after_it() -> None:
    """X63, B: 09:00 the first, 11:00 the second; 10:00 stays, 12:00 is blocked, the lot is held."""
    builder = _plant()
    _re_tap(builder, "09:00")
    first = builder.reading(_at("10:00"), "Reject", **PLUG)
    _re_tap(builder, "11:00")
    second = builder.reading(_at("12:00"), "Accept", sample=2, **PLUG)

    closed = builder.close()

    row = exception_of(closed, "X63")
    assert ("X63" in marks_of(closed, first), "X63" in marks_of(closed, second)) == (False, True)
    assert row_of(closed, second)["standing"] == "Blocked"
    assert (row["urgency"], row["cause"]) == ("B", "L-500")
    assert "X63" in held_lots(closed)["L-500"]


def test_another_box_of_the_lot_is_told_by_its_tag() -> None:
    """X63: two boxes with two tags were each tapped again once; one tag twice is too often."""
    builder = _plant()
    _re_tap(builder, "09:00", tag="T-1")
    _re_tap(builder, "10:00", tag="T-2")
    assert "X63" not in numbers_of(builder.close())

    _re_tap(builder, "11:00", tag="T-1")
    assert "X63" in numbers_of(builder.close())


def test_a_piece_measured_after_a_re_tap_and_tapped_again_is_past_the_limit() -> None:
    """X63: the second reading says it measures again, after a re-tap, what was measured after a re-tap."""
    builder = _plant()
    bad = builder.reading(_at("08:00"), "Reject", **(PLUG | {"sample_kind": "run"}))
    first = builder.reading(_at("09:00"), "Reject", re_measure_of=bad, sample=2, **PLUG)
    second = builder.reading(_at("10:00"), "Accept", re_measure_of=first, sample=3, **PLUG)

    closed = builder.close()

    assert ["X63" in marks_of(closed, page) for page in (bad, first, second)] == [False, False, True]


def test_a_disposition_of_readings_after_a_re_tap_is_the_second() -> None:
    """X63: the readings it names were taken after a re-tap."""
    builder = _plant()
    page = builder.reading(_at("09:00"), "Reject", **PLUG)
    _re_tap(builder, "10:00", readings=[page])

    assert "2 times" in exception_of(builder.close(), "X63")["sentence"]


def test_the_plant_may_allow_two() -> None:
    """N18 = 2: the second is allowed, the third is not."""
    lists = deck(plant_numbers=[{"number": "N18", "value": "2", "by": "P-106", "second": "P-108", "reason": "trial"}],
                 characteristics=[TAPPED])  # fmt: skip
    builder = HeldBuilder(lists)
    _re_tap(builder, "09:00")
    _re_tap(builder, "10:00")
    assert "X63" not in numbers_of(builder.close())

    _re_tap(builder, "11:00")
    assert "X63" in numbers_of(builder.close())
