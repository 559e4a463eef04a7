"""The standard deck's lists, taken over once, and a small desk for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from kiosk.lists import Lists
from tests.unit.carried import make_plant, take_over_lists
from tests.unit.consolidator.desk.small_desk import SmallDesk


@pytest.fixture(scope="session")
def deck(tmp_path_factory: pytest.TempPathFactory) -> Lists:
    """The lists of the standard deck."""
    return take_over_lists(make_plant(tmp_path_factory.mktemp("deck") / "plant"))


@pytest.fixture
def small(tmp_path: Path, deck: Lists) -> Iterator[SmallDesk]:
    """A desk on 16 March 2026 at 09:00."""
    desk = SmallDesk(tmp_path, deck)
    yield desk
    desk.book.close()
