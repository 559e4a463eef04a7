"""The pictures of the documents show the screens as they are now."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.browser.for_docs import SIZE, WALKS, WORDS, looks
from tests.browser.kiosks import served
from tests.browser.person import Person

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(("station", "steps"), WALKS, ids=[station for station, _ in WALKS])
def test_what_can_be_read_in_the_pictures_is_what_the_screens_say(
    station: str, steps: tuple[str, ...], tmp_path: Path, somebody: Callable[..., Person]
) -> None:
    """Whoever changes a screen makes its pictures anew."""
    kept = json.loads(WORDS.read_text(encoding="utf-8"))

    with served(tmp_path, station) as kiosk:
        told = dict(looks(somebody(kiosk, SIZE["width"], SIZE["height"]), steps))

    assert told == {name: kept[name] for name in told}, "run: python -m tests.browser.for_docs"
