"""Each scenario file is played through the real path, and all it expects holds."""

from pathlib import Path

import pytest

from demo_site.play.around_plant import close_all
from demo_site.play.player import Player, all_events, played_scenario
from demo_site.play.scenario import Event, read_checks, read_scenario
from demo_site.play.usual import prepare
from demo_site.play.verbs import verb
from kiosk.ports import SyncedDisk
from tests.scenarios.conftest import DECK, ZONE
from tests.scenarios.expectations import misses


@pytest.mark.slow
@pytest.mark.timeout(300)
def test_a_scenario_comes_out_as_its_file_expects(scenario_file: Path) -> None:
    """Station, book, packet, intake, close and ledger together do what the file says they must."""
    scenario = read_scenario(scenario_file, ZONE)
    with played_scenario(scenario, DECK, SyncedDisk()) as player:
        prepare(player)
        found = [miss for event in all_events(scenario) for miss in _play(player, event)]
        if not any(event.do == "close" for event in player.events):
            close_all(player)
        found += misses(player.played, scenario.checks)

    assert not found, "\n".join(found)


def _play(player: Player, event: Event) -> list[str]:
    if event.do == "expect":
        checks = tuple(read_checks(Path(event.where.split(",")[0]), event.told["expect"]))
        return misses(player.played, checks)
    player.play(event, verb(event.do))
    return []
