"""Three production days of the demo plant, played through the real code from the first badge to the last close.

Owns the plan of the three days: people at work, carries, both passes of each night, the seals.
Must not know which fault is which.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path
from typing import Final

from consolidator.lists import write_csv
from consolidator.nightly import run_due
from demo_site.comparing import named
from demo_site.copied_kiosk import bring_another_page
from demo_site.days import Production, begins, in_working_order, ordinary_days
from demo_site.faults import Wanted, fault_events, left_out, list_changes, read_faults, wanted
from demo_site.plant import CREWS, DAYS, NAME, NUMBER, ZONE, demo_lists
from demo_site.play.at_desk import desk_let_go
from demo_site.play.clocks import PlayedChance
from demo_site.play.list_changes import Deck
from demo_site.play.played import Played, Trace
from demo_site.play.player import SIGNERS, Player, begin
from demo_site.play.scenario import Event, ScenarioRefused, Told
from demo_site.play.usual import prepare
from demo_site.play.verbs import Do, verb
from kiosk.ports import SyncedDisk
from kiosk.times import read_plant_time

SEED: Final = 20260309
PASS: Final = "pass of the night"
_TOLD: Final = ("zero check", "day check", "set-up start", "operation sign-off")
"""Acts that people do unasked, unless some event does them."""


@dataclass(frozen=True)
class Plan:
    """What happens in the three days, in order, what is changed in the lists before, and what must be found."""

    events: tuple[Event, ...]
    changes: tuple[Told, ...]
    wanted: tuple[Wanted, ...]


def make_plan(*, is_quick: bool, seed: int = SEED) -> Plan:
    """Return the three days: ordinary production with the faults planted in it, and the nights."""
    faults, production = read_faults(), Production(seed + 1)
    ordinary = left_out(faults, ordinary_days(seed, is_quick=is_quick))
    worked = in_working_order([*ordinary, *fault_events(faults, production)])
    events = sorted([*worked, *_nights()], key=lambda event: event.at)
    return Plan(tuple(events), tuple(list_changes(faults)), tuple(wanted(faults, worked)))


def play(plan: Plan, folder: Path, tell: Callable[[Event, Player], None]) -> Played:
    """Play a plan in an empty folder and return what is known after it; `tell` is called before each event.

    Raises:
        ScenarioRefused: an event could not be played as planned.
    """
    lists = folder / "lists-as-given"
    write_csv(demo_lists(), lists)
    deck = Deck(lists)
    deck.change(plan.changes)
    deck.write(lists)
    with begin(
        folder, deck, number=NUMBER, name=NAME, zone=ZONE.key, start=begins(), disk=SyncedDisk()
    ) as player:  # fmt: skip
        player.events = tuple(_looked_at(plan.events))
        player.take_over(reason="the first lists of the demo plant")
        for station in CREWS:
            player.kiosk(station)
        prepare(player)
        for event in plan.events:
            tell(event, player)
            _play(player, event)
        return player.played


def _looked_at(events: Iterable[Event]) -> Iterator[Event]:
    """Give what decides about things done unasked: the first reading of each lot at each station, and acts told."""
    seen = set()
    for event in events:
        place = (event.station, event.told.get("lot"))
        if event.do in _TOLD or (event.do == "reading" and place not in seen):
            yield event
        if event.do == "reading":
            seen.add(place)


def _play(player: Player, event: Event) -> None:
    player.play(_with_numbers(event, player.played), _OWN.get(event.do) or verb(event.do))
    refused = player.played.trace(event.name).refused
    if refused:
        raise ScenarioRefused(
            f"{event.name} ({event.where}) was not played.", why=refused[0], next_step="This is a fault of the demo."
        )


def _with_numbers(event: Event, played: Played) -> Event:
    """Return an event with the pages that it names by an earlier event, `<x72#3>`, replaced by their numbers."""
    told = {key: named(text, played) if isinstance(text, str) else text for key, text in event.told.items()}
    return replace(event, told=told)


def _nights() -> list[Event]:
    """Return both passes of each night, and the seals of the days before the last at ten in the morning."""
    events = []
    for day in DAYS:
        morning = day + timedelta(days=1)
        for clock in ("02:00", "06:05"):
            events.append(_at(f"{morning} {clock}", PASS))
        if day != DAYS[-1]:
            people = {"day": day.isoformat(), "second": SIGNERS[1]}
            events.append(replace(_at(f"{morning} 10:00", "seal"), person=SIGNERS[0], told=people))
    return events


def _at(when: str, do: str) -> Event:
    return Event(read_plant_time(when, ZONE), do, f"{do} {when}", None, None, {}, "the nights")


def run_passes(player: Player, event: Event, trace: Trace) -> None:
    """Carry what lies in the kiosks, and run what is due of the night, as the consolidator does by itself."""
    player.carry_all()
    with desk_let_go(player):
        for done in run_due(player.plant, player.true, chance=PlayedChance(event.name)):
            if done.fault is not None:
                trace.refused.append(str(done.fault))
            trace.day = done.what.day


_OWN: Final[dict[str, Do]] = {PASS: run_passes, "another page": bring_another_page}
