"""A scenario as one readable file: changes to the deck, events with times, and what is expected.

Owns the file's form; docs/reference/scenario-files.md tells it to the people who write them.
Every value in the file is text, exactly as written, so that `.3122` stays `.3122`.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any, Final

import yaml

from kiosk.errors import PersonCanMend
from kiosk.times import read_plant_time

Told = Mapping[str, Any]
"""Fields as written: text, lists of text, or fields again."""

HEADS: Final = (
    "scenario",
    "title",
    "given",
    "when",
    "then",
    "source",
    "continues",
    "expected to fail",
    "sampling",
    "lists",
    "kiosks",
    "events",
    "expect",
)
LINE: Final = "line of the file"


class ScenarioRefused(PersonCanMend):
    """A scenario file cannot be played as it is written."""


@dataclass(frozen=True)
class Event:
    """One thing that happens, at its true plant time."""

    at: datetime
    do: str
    name: str
    station: str | None
    person: str | None
    told: Told
    where: str
    """File and line, for messages."""


@dataclass(frozen=True)
class Check:
    """One expectation: which kind it is, of what, and the figures expected."""

    what: str
    of: str
    told: Told
    where: str


@dataclass(frozen=True)
class Scenario:
    """One scenario file, read."""

    path: Path
    number: str
    title: str
    expected_to_fail: str | None
    sampling: bool
    """Whether exceptions X39-X43 matter; they are left aside where a scenario does not name them."""
    lists: tuple[Told, ...]
    kiosks: Mapping[str, Told]
    events: tuple[Event, ...]
    checks: tuple[Check, ...]
    earlier: "Scenario | None" = field(default=None)


def read_scenario(path: Path, zone: tzinfo) -> Scenario:
    """Read a scenario file, and the one it continues.

    Raises:
        ScenarioRefused: the file is not readable, or a head, an event or an expectation is not understood.
    """
    told = _load(path)
    unknown = sorted(set(told) - {*HEADS, LINE})
    if unknown:
        raise _refused(path, told, f"'{unknown[0]}' is no head of a scenario file", f"Use: {', '.join(HEADS)}")
    for head in ("scenario", "title", "events"):
        if head not in told:
            raise _refused(path, told, f"'{head}' is missing", "Add it")
    scenario = Scenario(
        path=path,
        number=told["scenario"],
        title=told["title"],
        expected_to_fail=told.get("expected to fail"),
        sampling=told.get("sampling", "no") == "yes",
        lists=tuple(told.get("lists") or ()),
        kiosks={name: value for name, value in (told.get("kiosks") or {}).items() if name != LINE},
        events=tuple(read_events(path, told["events"] or (), zone)),
        checks=tuple(read_checks(path, told.get("expect") or ())),
    )
    if "continues" in told:
        return _after(scenario, read_scenario(path.parent / told["continues"], zone))
    return scenario


def read_events(path: Path, rows: Any, zone: tzinfo) -> Iterator[Event]:
    """Give the events of a file in the order written.

    Raises:
        ScenarioRefused: an event lacks `at` or `do`, or its time stands for none or two moments.
    """
    for count, row in enumerate(rows, start=1):
        if not isinstance(row, dict) or "at" not in row or "do" not in row:
            raise _refused(path, row, f"event {count} lacks 'at' or 'do'", "Give it both")
        try:
            at = read_plant_time(row["at"], zone)
        except ValueError as error:
            raise _refused(path, row, f"event {count}: {error}", "Mend the time") from error
        rest = {k: v for k, v in row.items() if k not in ("at", "do", "name", "station", "person", LINE)}
        yield Event(
            at=at,
            do=row["do"],
            name=row.get("name", f"event {count}"),
            station=row.get("station"),
            person=row.get("person"),
            told=rest,
            where=_place(path, row),
        )


def read_checks(path: Path, rows: Any) -> Iterator[Check]:
    """Give the expectations of a file; the first field of each says what kind it is.

    Raises:
        ScenarioRefused: an expectation is not a mapping.
    """
    for count, row in enumerate(rows, start=1):
        if not isinstance(row, dict) or len(row) < 2:
            raise _refused(path, row, f"expectation {count} is no list of fields", "Write e.g. {hold: L-411}")
        what = next(iter(row))
        rest = {k: v for k, v in row.items() if k not in (what, LINE)}
        yield Check(what=what, of=row[what], told=rest, where=_place(path, row))


def _after(scenario: Scenario, earlier: Scenario) -> Scenario:
    return replace(
        scenario, earlier=earlier, lists=earlier.lists + scenario.lists, kiosks={**earlier.kiosks, **scenario.kiosks}
    )


class _Loader(yaml.BaseLoader):
    """Every scalar stays text; each mapping also holds its line."""


def _mapping(loader: yaml.BaseLoader, node: yaml.MappingNode) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for key_node, value_node in node.value:
        key = loader.construct_object(key_node, deep=True)
        if key in made:
            raise yaml.constructor.ConstructorError(None, None, f"'{key}' stands twice", key_node.start_mark)
        made[key] = loader.construct_object(value_node, deep=True)
    made[LINE] = str(node.start_mark.line + 1)
    return made


_Loader.add_constructor("tag:yaml.org,2002:map", _mapping)


def _load(path: Path) -> dict[str, Any]:
    try:
        told = yaml.load(path.read_text(encoding="utf-8"), _Loader)
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as error:
        raise ScenarioRefused(
            f"Scenario file {path.name} not played.", why=f"It cannot be read: {error}.", next_step="Mend the file."
        ) from error
    if not isinstance(told, dict):
        raise _refused(path, told, "it holds no heads", "Begin with 'scenario:'")
    return told


def _place(path: Path, row: Any) -> str:
    line = row.get(LINE, "?") if isinstance(row, dict) else "?"
    return f"{path.name}, line {line}"


def _refused(path: Path, row: Any, why: str, next_step: str) -> ScenarioRefused:
    return ScenarioRefused(
        f"Scenario not played ({_place(path, row)}).", why=f"{why[0].upper()}{why[1:]}.", next_step=f"{next_step}."
    )
