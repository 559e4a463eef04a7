"""Events at the desk: any kind of page, kept in the desk's own book with the person's signature under it."""

from demo_site.pages_told import make_act, signed
from demo_site.played import Trace
from demo_site.player import Player
from demo_site.scenario import Event, ScenarioRefused
from kiosk.times import write_time


def desk_page(player: Player, event: Event, trace: Trace) -> None:
    """Keep one page of the desk."""
    if event.person is None:
        raise ScenarioRefused(f"'{event.do}' not played ({event.where}).", why="No person.", next_step="Name one.")
    act = make_act(event.do, event.told, zone=player.true.zone, pages=player.played.pages)
    act = signed(act, event.person, player.lists, write_time(player.true.now()))
    trace.pages.append(player.keep_at_desk(act, event.person).ref)
