"""What the tests of lists start from."""

from pathlib import Path

import pytest

from tests.unit.consolidator.lists.folders import ListsFolder


@pytest.fixture
def deck(tmp_path: Path) -> ListsFolder:
    """A copy of the standard deck that may be spoilt."""
    return ListsFolder(tmp_path / "given")
