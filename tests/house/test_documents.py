"""Documents that are made by a command are the command's newest."""

import importlib

import pytest

from tests.published import calculations


@pytest.mark.parametrize(
    "module",
    [
        "kiosk.pages.reference",
        "consolidator.lists.reference",
        "consolidator.rules.reference",
        "consolidator.qc_room.reference",
        "kiosk.cli_reference",
        "consolidator.cli.reference",
        "tests.published.calculations",
    ],
)
def test_a_made_document_is_not_stale(module: str) -> None:
    """Whoever changes a page, a rule or a command runs the maker of its document."""
    maker = importlib.import_module(module)

    assert maker.DOCUMENT.read_text(encoding="utf-8") == maker.document(), f"run: python -m {module}"


def test_every_formula_in_the_index_has_its_standard_and_a_check() -> None:
    """No page of the calculations is left out, and no formula stands without a way to check it."""
    assert {path.stem for path in calculations.FOLDER.glob("*.md")} == set(calculations.PAGES)
    rows = [line for line in calculations.document().splitlines() if line.startswith("| ") and "---" not in line]

    assert [row for row in rows if "|  |" in row] == []
    assert len(rows) > 100
