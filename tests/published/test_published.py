"""The count of published figures holds: every row read or computed is tried, and differences have reasons."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.published import TALLY, Origin, Printed, agrees, held, meets, rows, same
from tests.published.__main__ import faults
from tests.published.exceptions import REASONS

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.slow
def test_every_row_that_was_read_or_computed_is_tried_and_at_least_1200_figures_agree() -> None:
    """The command that gives the figures of the closing note ends well (1,200: the least that was asked for)."""
    command = [sys.executable, "-m", "tests.published"]

    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=300)

    assert done.returncode == 0, done.stdout[-4000:]
    sums = next(line for line in done.stdout.splitlines() if line.startswith("all ")).split()
    assert int(sums[-3]) + int(sums[-2]) >= 1200


@pytest.fixture
def cell(monkeypatch: pytest.MonkeyPatch) -> Printed:
    """A cell printed as 1.25 in a table that is nowhere, with an empty tally."""
    monkeypatch.setattr("tests.published.TALLY", {})
    monkeypatch.setattr("tests.published.__main__.TALLY", {})
    return Printed("1.25", Origin("t00", "row", "value"))


def test_a_figure_agrees_within_half_its_last_place(cell: Printed) -> None:
    """Up to .51 of the last place is rounding; words and figures alike can be held to be the same."""
    assert agrees(1.2551, cell) and not agrees(1.2448, cell)
    assert same("1.250", cell) and not same("1.2", cell)
    assert same("Z", Printed("Z", cell.origin)) and not same("Z", Printed("Y", cell.origin))
    assert held(cell, True) and not held(cell, False)


def test_a_difference_without_a_reason_and_a_reason_without_a_difference_are_told(
    cell: Printed, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is passed over, and no exception outlives its reason."""
    here = {cell.origin: [("printed", False)]}
    monkeypatch.setattr("tests.published.__main__.TALLY", here)
    known = {cell.origin._replace(column=""): "READ", Origin("t00", "other", ""): "COMPUTED"}

    assert faults(known) == ["t00 other: COMPUTED, and not tried", "row value: differs, and no reason stands for it"]

    here[cell.origin] = [("printed", True)]
    monkeypatch.setitem(REASONS, ("row", "value"), "no reason at all")
    assert "row value: a reason for nothing" in faults(known)
    assert not meets(1.25, cell)
    assert meets(1.3, cell)


def test_every_reason_names_a_row_that_stands_in_a_table() -> None:
    """The list of exceptions holds nothing that no published row answers to."""
    known = {row["check_id"] for path in Path(__file__).parent.glob("t*.csv") for row in rows(path.stem)}
    examples = {"SPC-pistonrings", "SPC-nist-IMR", "SPC-nist-p", "GRR-AIAG"}

    assert {row for row, _ in REASONS} <= known | examples
    assert isinstance(TALLY, dict)
