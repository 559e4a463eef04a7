"""Which function plays which event; any kind of page is an event as well."""

from collections.abc import Callable
from typing import Final

from demo_site.play import around_plant, at_station
from demo_site.play.at_desk import desk_page
from demo_site.play.played import Trace
from demo_site.play.player import Player
from demo_site.play.scenario import Event

Do = Callable[[Player, Event, Trace], None]

VERBS: Final[dict[str, Do]] = {
    "reading": at_station.reading,
    "badge in": at_station.badge_in,
    "taking over": at_station.badge_in,
    "badge out": at_station.badge_out,
    "zero check": at_station.check,
    "day check": at_station.check,
    "incident": at_station.incident,
    "gauge incident": at_station.incident,
    "stop": at_station.stop,
    "run again": at_station.stop,
    "changeover": at_station.changeover,
    "countersign": at_station.countersign,
    "out of heat": at_station.out_of_heat,
    "first-piece approval": at_station.first_piece,
    "gauge movement": at_station.movement,
    "heat scan": at_station.heat_scan,
    "network down": around_plant.network,
    "network up": around_plant.network,
    "carry": around_plant.carry,
    "stick out": around_plant.stick_out,
    "stick load": around_plant.stick_load,
    "stick back": around_plant.stick_back,
    "power cut": around_plant.power_cut,
    "clock": around_plant.clock,
    "new kiosk": around_plant.new_kiosk,
    "withdraw": around_plant.withdraw_series,
    "lists": around_plant.lists,
    "close": around_plant.close,
    "close again": around_plant.close_again,
    "seal": around_plant.seal,
    "mark ledgers": around_plant.mark,
}
"""Events that are more than one page."""


def verb(do: str) -> Do:
    """Return the function that plays an event; what is no event of its own is a kind of page."""
    return VERBS.get(do, _page)


def _page(player: Player, event: Event, trace: Trace) -> None:
    (at_station.other_page if event.station is not None else desk_page)(player, event, trace)
