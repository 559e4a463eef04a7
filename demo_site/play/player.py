"""Plays events through the real path: station → book → packet → intake → close → ledger.

Owns the order of events and the played plant; each kind of event is a function in a module of its own.
"""

import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import Final

from consolidator.desk import open_desk
from consolidator.lists import current, take_over
from consolidator.plant import Plant
from demo_site.play.clocks import KioskTime, PlayedChance, TrueTime
from demo_site.play.floor import PlayedKiosk, Serving, fill, open_kiosk
from demo_site.play.list_changes import Deck
from demo_site.play.played import Played, Trace
from demo_site.play.scenario import Event, Scenario, ScenarioRefused, Told
from kiosk.book import Book
from kiosk.errors import TellingError
from kiosk.lists import Lists
from kiosk.pages import Act, Page
from kiosk.ports import Disk

DESK: Final = "desk-a"
LEAD: Final = timedelta(hours=26)
"""How long before the first event the plant begins, so that the evening before can be played."""
SIGNERS: Final = ("P-106", "P-108")
"""Who takes over the deck's lists: quality manager and second person."""


@dataclass
class Player:
    """One played plant and everything in it."""

    played: Played
    true: TrueTime
    deck: Deck
    serving: Serving
    desk: Book
    disk: Disk
    kiosks: dict[str, PlayedKiosk] = field(default_factory=dict)
    """By series; the newest one of a station stands last."""
    told: Mapping[str, Told] = field(default_factory=dict)
    """What the scenario says of kiosks."""
    first_lists: Lists | None = None
    newest: Lists | None = None
    seen: set[str] = field(default_factory=set)
    """What was done by itself once, e.g. a day check."""
    events: tuple[Event, ...] = ()
    putting: Callable[..., PlayedKiosk] = open_kiosk
    """How a kiosk is put at a station; a test in a browser puts one whose acts go through its screens."""

    @property
    def plant(self) -> Plant:
        """The plant's folder."""
        return self.played.plant

    @property
    def lists(self) -> Lists:
        """The plant's newest lists, read again only after a take-over."""
        if self.newest is None:
            self.newest = current(self.plant)
        return self.newest

    def kiosk(self, station: str) -> PlayedKiosk:
        """Return the newest kiosk of a station; the first is put there when it is needed."""
        found = [kiosk for kiosk in self.kiosks.values() if kiosk.station == station]
        return found[-1] if found else self.put_kiosk(station, f"{station}-a")

    def put_kiosk(self, station: str, series: str) -> PlayedKiosk:
        """Put a kiosk at a station."""
        told = self.told.get(station, {})
        knows_changes = told.get("knows changes", "yes") == "yes"
        kiosk = self.putting(
            self.plant,
            self.plant.root.parent / "kiosks" / series,
            station=station,
            series=series,
            true=self.true,
            address=self.serving.address,
            lists=self.lists if knows_changes or self.first_lists is None else self.first_lists,
            error=read_difference(told.get("clock", "+0 min")),
            disk=self.disk,
        )
        self.kiosks[series] = kiosk
        fill(kiosk, int(told.get("pages before", 0)))
        return kiosk

    def play(self, event: Event, do: Callable[["Player", Event, Trace], None]) -> None:
        """Play one event; what is refused is kept with its words."""
        self.true.go_to(event.at)
        trace = self.played.traces.setdefault(event.name, Trace())
        try:
            do(self, event, trace)
        except ScenarioRefused:
            raise
        except TellingError as told:
            trace.refused.append(str(told))

    def keep_at_desk(self, act: Act, person: str) -> Page:
        """Keep an act in the desk's book."""
        return self.desk.keep(act, person=person, lists_version=self.lists.version)

    def carry_all(self) -> None:
        """Let every kiosk that has its network carry."""
        for kiosk in self.kiosks.values():
            if kiosk.is_online:
                kiosk.carry(self.true)

    def take_over(self, *, reason: str, by: str = SIGNERS[0], second: str | None = SIGNERS[1]) -> Lists:
        """Take over the deck as it stands now."""
        with tempfile.TemporaryDirectory() as folder:
            self.deck.write(Path(folder))
            self.newest = take_over(
                self.plant, Path(folder), by=by, second=second, reason=reason, at_utc=self.true.now().astimezone(UTC)
            )
        return self.newest

    def close(self) -> None:
        """Let go of every book and the server."""
        for kiosk in self.kiosks.values():
            kiosk.book.close()
        self.desk.close()
        self.serving.stop()

    def __enter__(self) -> "Player":
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.close()


def begin(  # noqa: PLR0913 - a plant is named by all of these at once, and only here
    folder: Path, deck: Deck, *, number: str, name: str, zone: str, start: datetime, disk: Disk
) -> Player:
    """Make a plant in `folder`, with its desk, its intake served on this machine, and no kiosk yet."""
    plant = Plant.create(folder / "plant", number=number, name=name, zone=zone)
    true = TrueTime(start, plant.zone)
    serving = Serving(plant, true)
    desk = open_desk(plant, clock=KioskTime(true), chance=PlayedChance(DESK))
    return Player(Played(plant), true, deck, serving, desk, disk)


@contextmanager
def played_scenario(scenario: Scenario, deck_folder: Path, disk: Disk) -> Iterator[Player]:
    """Give a plant with the scenario's lists taken over and nothing played yet; its folder goes away afterwards."""
    folder = Path(tempfile.mkdtemp(prefix="scenario-"))
    try:
        start = min(event.at for event in all_events(scenario)) - LEAD
        with begin(
            folder, Deck(deck_folder), number="P-INV", name="Invented Fastener Works", zone="America/New_York",
            start=start, disk=disk,
        ) as player:  # fmt: skip
            _take_over_lists(player, scenario)
            player.told = scenario.kiosks
            player.events = tuple(all_events(scenario))
            yield player
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def all_events(scenario: Scenario) -> list[Event]:
    """Return the events of a scenario and of those it continues, in order of time."""
    events = list(scenario.events)
    earlier = scenario.earlier
    while earlier is not None:
        events = [*earlier.events, *events]
        earlier = earlier.earlier
    return sorted(repeated(events), key=lambda event: event.at)


def repeated(events: Iterable[Event]) -> Iterator[Event]:
    """Give each event as often as it says (`repeat`, `repeat every`)."""
    for event in events:
        step = read_span(event.told.get("repeat every", "0 s"))
        for turn in range(int(event.told.get("repeat", 1))):
            told = {key: value for key, value in event.told.items() if key not in ("repeat", "repeat every")}
            yield Event(event.at + turn * step, event.do, event.name, event.station, event.person, told, event.where)


def read_span(text: str) -> timedelta:
    """Return the span written as `20 s`, `30 min` or `2 h`.

    Raises:
        ScenarioRefused: it is none.
    """
    number, _, unit = text.strip().partition(" ")
    units = {"s": "seconds", "min": "minutes", "h": "hours"}
    if unit not in units or not number.replace(".", "", 1).isdigit():
        raise ScenarioRefused(f"'{text}' is no span of time.", why="It has no unit known.", next_step="Write 30 min.")
    return timedelta(**{units[unit]: float(number)})


def read_difference(text: str) -> timedelta:
    """Return a clock's difference, written as `+47 min` (fast) or `-5 min` (slow)."""
    sign = -1 if text.startswith("-") else 1
    return sign * read_span(text.lstrip("+-"))


def _take_over_lists(player: Player, scenario: Scenario) -> None:
    """Take over the deck; changes are version 1 as well, or version 2 where a kiosk is not to know them."""
    is_split = any(told.get("knows changes", "yes") != "yes" for told in scenario.kiosks.values())
    if is_split:
        player.first_lists = player.take_over(reason="the standard deck")
    player.deck.change(scenario.lists)
    player.take_over(reason="the deck of this scenario")
