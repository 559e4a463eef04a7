"""A scenario's day played on the screens ends in the ledger that its file expects and that the station core gives."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest
from playwright.sync_api import Browser

from demo_site.play.around_plant import close_all
from demo_site.play.player import Player, all_events, played_scenario
from demo_site.play.scenario import Event, Scenario, read_checks, read_scenario
from demo_site.play.usual import prepare
from demo_site.play.verbs import verb
from kiosk.ports import SyncedDisk
from tests.browser.played import setting_up, verbs
from tests.browser.played.floor import PANEL, Floor
from tests.scenarios.conftest import DECK, HERE, ZONE
from tests.scenarios.expectations import misses

pytestmark = pytest.mark.browser
COMPARED: Final = (
    "production_day", "effective_time", "station", "lot", "operation", "sample", "sample_kind", "piece",
    "characteristic", "value", "gauge", "master", "part_temperature", "person", "countersign", "source",
    "verdict_at_kiosk", "verdict", "standing", "exceptions",
)  # fmt: skip
"""What must be the same in both ledgers; page numbers and how a figure was keyed may differ."""
PLAYED: Final = ("O01", "O02", "O03", "O04", "O05", "O06", "O07", "O08", "O11", "O19", "O21", "O22")


@pytest.fixture(scope="module")
def floor(browser: Browser) -> Iterator[Floor]:
    """One context of the browser, touched with fingers, for all kiosks of all scenarios."""
    context = browser.new_context(
        viewport={"width": PANEL.panel_width_px, "height": PANEL.panel_height_px}, has_touch=True
    )
    one = Floor(context)
    yield one
    one.stop()
    context.close()


@pytest.mark.parametrize("number", PLAYED)
def test_a_day_on_the_screens_ends_in_the_same_ledger_as_the_scenario_file(number: str, floor: Floor) -> None:
    """Every expectation of the file holds, and every reading has the row that the station core gives it."""
    scenario = read_scenario(next((HERE / "files").glob(f"{number}-*.yaml")), ZONE)

    wrong, rows = played_on_screens(scenario, floor)

    assert rows == played_by_core(scenario)
    if scenario.expected_to_fail is None:
        assert not wrong, "\n".join(wrong)


def played_on_screens(scenario: Scenario, floor: Floor) -> tuple[list[str], list[tuple[str, ...]]]:
    """Play a scenario through the screens; return what does not hold, and the rows of its readings."""
    with played_scenario(scenario, DECK, SyncedDisk()) as player:
        player.putting = floor.put
        try:
            setting_up.prepare(player)
            wrong = [miss for event in all_events(scenario) for miss in _play(player, event)]
            _end(player)
        finally:
            floor.clear()
        return [*wrong, *misses(player.played, scenario.checks)], _rows(player)


def played_by_core(scenario: Scenario) -> list[tuple[str, ...]]:
    """Play a scenario by the station core; return the rows of its readings."""
    with played_scenario(scenario, DECK, SyncedDisk()) as player:
        prepare(player)
        for event in all_events(scenario):
            if event.do != "expect":
                player.play(event, verb(event.do))
        _end(player)
        return _rows(player)


def _play(player: Player, event: Event) -> list[str]:
    if event.do == "expect":
        return misses(player.played, tuple(read_checks(Path(event.where.split(",")[0]), event.told["expect"])))
    verbs.play(player, event)
    return []


def _end(player: Player) -> None:
    if not any(event.do == "close" for event in player.events):
        close_all(player)


def _rows(player: Player) -> list[tuple[str, ...]]:
    """Return the readings of all ledgers in order of time."""
    return sorted(tuple(row[column] for column in COMPARED) for row in player.played.readings().values())
