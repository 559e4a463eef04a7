"""Documents that are made by a command are the command's newest."""

import importlib

import pytest


@pytest.mark.parametrize(
    "module",
    [
        "kiosk.pages.reference",
        "consolidator.lists.reference",
        "consolidator.rules.reference",
        "consolidator.qc_room.reference",
        "consolidator.cli_reference",
    ],
)
def test_a_made_document_is_not_stale(module: str) -> None:
    """Whoever changes a page, a rule or a command runs the maker of its document."""
    maker = importlib.import_module(module)

    assert maker.DOCUMENT.read_text(encoding="utf-8") == maker.document(), f"run: python -m {module}"
