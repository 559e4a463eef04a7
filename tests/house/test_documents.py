"""Documents that are made by a command are the command's newest."""

import importlib
import json
import re
from pathlib import Path

import pytest

from tests.published import calculations

ROOT = Path(__file__).resolve().parents[2]
PICTURES = ROOT / "docs/tutorials/pictures"


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


def test_every_picture_has_its_place_in_a_document_and_its_words() -> None:
    """No document shows a picture that is not there, and none is made for nothing."""
    documents = [ROOT / "README.md", *(ROOT / "docs").rglob("*.md")]
    shown = {
        (path.parent / link).resolve()
        for path in documents
        for link in re.findall(r"!\[[^]]*\]\(([^)]+)\)", path.read_text(encoding="utf-8"))
    }
    made = json.loads((PICTURES / "words.json").read_text(encoding="utf-8"))

    assert shown == set(PICTURES.glob("*.png"))
    assert {path.stem for path in shown} == set(made)
