"""Dispositions that came into a book past the desk: what may not be done ends no hold, whoever signed it. By hand."""

from typing import Any

import pytest

from tests.unit.consolidator.held_builder import HeldBuilder, held_lots

OUT_OF_TOLERANCE = {"station": "S24", "characteristic": "BC5", "gauge": "G-502", "person": "P-102",
                    "keyed_as": "accept/reject", "unit": "accept/reject"}  # fmt: skip


def _at(clock: str) -> str:
    return f"2026-03-09T{clock}:00.000-04:00"


def _disposed(**told: Any) -> HeldBuilder:
    """A GO ring that did not go, at 09:00; a disposition at 11:00, signed by the manager and by a second person."""
    builder = HeldBuilder()
    builder.reading(_at("09:00"), "Reject", **OUT_OF_TOLERANCE)
    act = {"kind": "disposition", "lot": "L-411", "part": "B-3124", "characteristic": "BC5", "reason": "dinged",
           "pieces": 1, "ends_hold": True, "choice": "Scrap"} | told  # fmt: skip
    page = builder.act(_at("11:00"), act)
    builder.act(_at("11:05"), {"kind": "second signature", "of": page, "meaning": "disposed"}, person="P-108")
    return builder


@pytest.mark.parametrize(
    ("told", "held"),
    [
        ({}, set()),
        ({"choice": "Rework to drawing"}, {"X23", "X62"}),
        ({"choice": "Re-tap"}, {"X23", "X62"}),
        ({"pieces": 2000}, set()),
        ({"pieces": 2001}, {"X23"}),
    ],
    ids=["scrap", "rework of a rolled thread", "re-tap of a rolled thread", "all the lot has", "one more than it has"],
)
def test_what_may_not_be_done_ends_no_hold(told: dict[str, Any], held: set[str]) -> None:
    """X62 and a count that cannot be: the hold of the reject stays, and the forbidden one holds by itself."""
    assert held_lots(_disposed(**told).close()).get("L-411", set()) == held


def test_pieces_gone_before_are_not_there_to_be_disposed_of() -> None:
    """1 500 shipped and 490 scrapped of 2 000 leave ten: eleven cannot be disposed of."""
    builder = HeldBuilder()
    builder.reading(_at("09:00"), "Reject", **OUT_OF_TOLERANCE)
    scrap = {"kind": "disposition", "lot": "L-411", "part": "B-3124", "choice": "Scrap", "reason": "dinged"}
    builder.act(_at("08:00"), {"kind": "lot ship", "lot": "L-411", "quantity": 1500, "customer": "C", "order": "O"})
    builder.act(_at("08:30"), scrap | {"pieces": 490})
    builder.act(_at("11:00"), scrap | {"pieces": 11, "ends_hold": True, "characteristic": "BC5"})

    assert "X23" in held_lots(builder.close())["L-411"]


def test_a_thread_tapped_again_once_too_often_ends_no_hold() -> None:
    """N18 is one: the second re-tap of the same nuts is X63 and lifts nothing."""
    builder = HeldBuilder()
    builder.reading(_at("09:00"), ".0051", station="S31", characteristic="NC1", gauge="G-415", person="P-103",
                    lot="L-500")  # fmt: skip
    tap = {"kind": "disposition", "lot": "L-500", "part": "N-2208", "choice": "Re-tap", "reason": "burr", "pieces": 12}
    builder.act(_at("10:00"), tap)
    builder.act(_at("11:00"), tap | {"ends_hold": True})

    assert held_lots(builder.close())["L-500"] == {"X23", "X63"}
