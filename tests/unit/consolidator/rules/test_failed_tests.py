"""X23 from a test record: a tensile, proof-load or hardness test that is bad speaks against its lot. By hand."""

from typing import Any

import pytest

from tests.unit.consolidator.held_builder import HeldBuilder, deck, exception_of, held_lots, numbers_of

LIMITS: dict[str, dict[str, Any]] = {
    "BC9": {"name": "ultimate tensile load", "operation": "95", "kind": "lower limit only", "unit": "lbf",
            "lower": "12800"},
    "BC8": {"name": "hardness", "operation": "40", "kind": "two-sided", "unit": "HRC", "lower": "44.0",
            "upper": "48.0"},
}  # fmt: skip


def _plant() -> HeldBuilder:
    rows = [{"part": "B-3124", "revision": "C", "number": number, **row} for number, row in LIMITS.items()]
    return HeldBuilder(deck(characteristics=rows))


def _test(builder: HeldBuilder, characteristic: str, results: tuple[str, ...], verdict: str = "In tolerance") -> None:
    pieces = [
        {"piece": str(n), "lot": "L-411", "result": each, "verdict": "In tolerance"} for n, each in enumerate(results)
    ]
    what = "tensile" if characteristic == "BC9" else "hardness load"
    record = {"kind": "test record", "number": "TR-1", "what": what, "lot": "L-411", "part": "B-3124",
              "characteristic": characteristic, "method": "plan", "frame": "G-700", "pieces": pieces,
              "unit": LIMITS[characteristic]["unit"], "verdict": verdict}  # fmt: skip
    builder.act("2026-03-09T10:00:00.000-04:00", record)


@pytest.mark.parametrize(
    ("characteristic", "results", "verdict", "is_bad"),
    [
        ("BC9", ("12800", "14000", "13000"), "In tolerance", False),
        ("BC9", ("12799", "14000", "13000"), "In tolerance", True),
        ("BC9", ("12800", "14000", "13000"), "Reject", True),
        ("BC8", ("44.0", "48.0"), "In tolerance", False),
        ("BC8", ("44.0", "48.1"), "In tolerance", True),
        ("BC8", ("43.9", "48.0"), "In tolerance", True),
    ],
    ids=["least itself", "one pound less", "head failure, told by the record", "both limits", "too hard", "too soft"],
)
def test_a_bad_test_record_is_a_reject_of_its_lot(
    characteristic: str, results: tuple[str, ...], verdict: str, is_bad: bool
) -> None:
    """Limits belong to the good side; the record's own bad word stands whatever its figures are."""
    builder = _plant()
    _test(builder, characteristic, results, verdict)

    closed = builder.close()

    assert ("X23" in numbers_of(closed)) is is_bad
    assert ("X23" in held_lots(closed).get("L-411", set())) is is_bad
    if is_bad:
        row = exception_of(closed, "X23")
        assert (row["cause"], row["urgency"], row["readings"]) == ("L-411", "B", "0")
        assert results[0] in row["sentence"]


def test_a_bad_test_of_a_closed_lot_is_urgent() -> None:
    """A: the lot was closed before."""
    builder = _plant()
    builder.act("2026-03-09T09:00:00.000-04:00", {"kind": "lot close", "lot": "L-411", "quantity": 2000})
    _test(builder, "BC9", ("12799",))

    assert exception_of(builder.close(), "X23")["urgency"] == "A"
