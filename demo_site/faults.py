"""Planted faults: files in `planted/`, each with its story, the events that plant it, and what must be found of it.

Owns reading them, filling in good pieces around them, and counting what must be found, all before anything is played.
A file has the form of a scenario (docs/reference/scenario-files.md); a kind of exception is added by adding a file.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from typing import Final

from demo_site.days import AT_STATION, SECOND, WAYS, Production
from demo_site.plant import ZONE
from demo_site.play.scenario import LINE, Check, Event, Scenario, ScenarioRefused, Told, read_scenario
from kiosk.times import read_plant_time

FOLDER: Final = Path(__file__).parent / "planted"
GOOD: Final = "good pieces"
NONE_TAKEN: Final = "no samples"
PLACE: Final = re.compile(r"<([^>]+)>")
"""A page named by its event inside a cause, `<x72#3>`; its number is known after playing."""


@dataclass(frozen=True)
class Wanted:
    """One exception that must be found: its kind, its cause, the production day it is first raised in, and how much."""

    number: str
    cause: str
    day: date
    readings: int
    kind: str
    """The kind that the fault was planted for; another one when this follows from it."""
    story: str


def read_faults(folder: Path = FOLDER) -> list[Scenario]:
    """Return the planted faults in order of kind."""
    return [read_scenario(path, ZONE) for path in sorted(folder.glob("*.yaml"))]


def list_changes(faults: Iterable[Scenario]) -> list[Told]:
    """Return what the faults change in the plant's lists before they are taken over."""
    return [change for fault in faults for change in fault.lists]


def fault_events(faults: Iterable[Scenario], production: Production) -> list[Event]:
    """Return the events that plant the faults, with `good pieces` made into readings."""
    events: list[Event] = []
    for fault in faults:
        for event in fault.events:
            named = replace(
                event, name=f"{fault.number} {event.name}" if event.name.startswith("event ") else event.name
            )
            if event.do != NONE_TAKEN:
                events += _good_pieces(named, production) if event.do == GOOD else [named]
    return events


def left_out(faults: Iterable[Scenario], ordinary: Iterable[Event]) -> list[Event]:
    """Return ordinary events without the samples that a fault says were never taken (`no samples`)."""
    gaps = [event for fault in faults for event in fault.events if event.do == NONE_TAKEN]
    return [
        event
        for event in ordinary
        if event.do != "reading"
        or not any(event.station == gap.station and gap.at <= event.at < _moment(gap.told["until"]) for gap in gaps)
    ]


def wanted(faults: Iterable[Scenario], events: Iterable[Event]) -> list[Wanted]:
    """Return all that must be found; `events` are those of the whole plant, from which stretches are counted.

    Raises:
        ScenarioRefused: a fault says nothing of what must be found, or not of which day.
    """
    readings = [event for event in events if event.do == "reading"]
    found = []
    for fault in faults:
        if not any(check.of == fault.number for check in fault.checks):
            why = f"Its number is {fault.number} and no expectation names it."
            raise ScenarioRefused(
                f"Fault {fault.path.name} not planted.", why=why, next_step="Add an exception to expect."
            )
        found += [_wanted(fault, check, readings) for check in fault.checks]
    return found


def pieces_of(event: Event) -> int:
    """Return how many readings an event makes."""
    return len(event.told["keyed"].split())


def _good_pieces(event: Event, production: Production) -> Iterator[Event]:
    """Give good readings of the characteristics of the station (or those named), five pieces or as many as told."""
    told, at = event.told, event.at
    assert event.station is not None
    pieces = int(told.get("pieces", 5))
    for characteristic in told.get("characteristics", " ".join(AT_STATION[event.station])).split():
        made = production.readings(
            event.station, told["lot"], characteristic, at, planned=pieces, sample=told["sample"]
        )
        name = made.name if event.name.startswith("X") else f"{event.name} {characteristic}"
        yield replace(made, name=name, person=event.person or made.person, where=event.where)
        at += (pieces * WAYS[characteristic].pace_s[1] + 6) * SECOND


def _wanted(fault: Scenario, check: Check, readings: list[Event]) -> Wanted:
    told = check.told
    if check.what != "exception" or "cause" not in told or "day" not in told:
        why = f"{check.where} names no exception with its cause and day."
        raise ScenarioRefused(
            f"Fault {fault.path.name} not planted.", why=why, next_step="Write {exception: X01, cause: …}."
        )
    known = {"cause", "day", "readings", "counted at", "lot", "from", "until", LINE}
    unknown = sorted(set(told) - known)
    if unknown:
        why = f"{check.where} says '{unknown[0]}'."
        raise ScenarioRefused(
            f"Fault {fault.path.name} not planted.", why=why, next_step=f"Use {', '.join(sorted(known))}."
        )
    count = int(told["readings"]) if "readings" in told else sum(pieces_of(each) for each in _stretch(told, readings))
    return Wanted(check.of, told["cause"], date.fromisoformat(told["day"]), count, fault.number, fault.title)


def _stretch(told: Told, readings: list[Event]) -> Iterator[Event]:
    """Give the readings taken at a station in a stretch of time, of one lot where it is named."""
    first, last = (_moment(told[side]) for side in ("from", "until"))
    for event in readings:
        is_there = event.station == told["counted at"] and first <= event.at < last
        if is_there and told.get("lot", event.told["lot"]) == event.told["lot"]:
            yield event


def _moment(text: str) -> datetime:
    return read_plant_time(text, ZONE)
