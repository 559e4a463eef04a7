"""What may change from one version of the lists to the next, and who must sign for it.

Owns that a good change works forwards only, that bad news may reach back, and that limits take two people.
Must not read or write a file.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo
from typing import Any, Final

from consolidator.lists.checks import Draft, identity
from consolidator.lists.faults import TAKE_OVER, Fault
from consolidator.lists.rows import ReadList, Row
from consolidator.lists.tables import TABLES, heading
from kiosk.lists import Gauge, Lists, Master, Person, Qualification, in_force
from kiosk.lists.words import GaugeState, Level
from kiosk.pages._base import Frozen
from kiosk.times import read_time

Same = Callable[[Any, Any], bool]

_FORWARDS: Final = ("parts", "characteristics", "plans", "qualifications", "plant-numbers")
"""Every new or changed row of these works from its time of force, never before the take-over."""
_MAY_GO: Final = ("stations", "shifts")
"""Rows of these may be left out; a row of any other list that was in force stays for ever."""
_TWO_PEOPLE: Final = ("parts", "characteristics", "plans", "plant-numbers")
_AUTHORITY: Final = (
    Level.FIRST_PIECE,
    Level.LEAD,
    Level.CALIBRATOR,
    Level.DISPOSITION,
    Level.SEALER,
    Level.QUALITY_MANAGER,
)
"""Levels that let a person sign for others; granting one takes two people."""
_LOT_IDENTITY: Final = ("part", "revision", "heat", "is_training")


@dataclass(frozen=True)
class Occasion:
    """A take-over: at which moment, over which version, and by whom; `by` none when lists are only checked."""

    at: datetime
    zone: tzinfo
    before: Lists | None
    by: str | None = None
    second: str | None = None

    @property
    def is_first(self) -> bool:
        """True when there is nothing to compare with."""
        return self.before is None or self.before.version == 0

    def entries_before(self, name: str) -> tuple[Frozen, ...]:
        """Return the rows that a list had."""
        return () if self.before is None else getattr(self.before, name.replace("-", "_"))

    @property
    def first_minute(self) -> str:
        """The first whole minute, in plant local time, that is not before the take-over."""
        up = self.at if self.at == self.at.replace(second=0, microsecond=0) else self.at + timedelta(minutes=1)
        return up.astimezone(self.zone).strftime("%Y-%m-%d %H:%M")


@dataclass(frozen=True)
class _Changed:
    """The rows of one list that are new or changed, each with what it said before, and the rows left out."""

    read: ReadList
    rows: list[tuple[Row, Frozen | None]] = field(default_factory=list)
    left_out: list[Frozen] = field(default_factory=list)


def changed_lists(draft: Draft, occasion: Occasion) -> tuple[str, ...]:
    """Return the names of the lists that differ from the version before, in the order of the reference page."""
    return tuple(table.name for table in TABLES if _is_changed(_compare(draft.lists[table.name], occasion)))


def check_changes(draft: Draft, occasion: Occasion) -> Iterator[Fault]:
    """Yield a fault for every change that would make something good in the past, or lose history."""
    before = occasion.before
    if before is not None and before.taken_over_at is not None and occasion.at < read_time(before.taken_over_at):
        why = f"version {before.version} was taken over at {before.taken_over_at}"
        said = "this take-over is dated before the last one"
        yield Fault(TAKE_OVER, None, "time", said, why, "look at the clock of this machine")
    if occasion.is_first:
        return
    for table in TABLES:
        changed = _compare(draft.lists[table.name], occasion)
        if table.name in _FORWARDS:
            yield from _forwards(changed, occasion)
        elif table.name in _REACHES_BACK:
            yield from _bad_news_only(changed, occasion, _REACHES_BACK[table.name])
        if table.name not in _MAY_GO:
            yield from _left_out(changed, occasion)


def check_people(draft: Draft, occasion: Occasion) -> Iterator[Fault]:
    """Yield a fault when those who take over may not, or a second person is needed and missing."""
    known = _people(draft, occasion)
    for column, number in (("by", occasion.by), ("second", occasion.second)):
        if number is None:
            continue
        person = known.get(number)
        if person is None or (person.left_at is not None and read_time(person.left_at) <= occasion.at):
            why = "the list of people has nobody of that number at the plant"
            yield Fault(TAKE_OVER, None, column, f"{number} cannot sign", why, "name a person of the list of people")
    if occasion.by is not None and occasion.by == occasion.second:
        why = f"{occasion.by} signed first and second"
        yield Fault(TAKE_OVER, None, "second", "one person signed twice", why, "let another person sign second")
    needed = _needing_two(draft, occasion)
    if not needed:
        return
    why = f"{', '.join(needed)} changed, and that takes the quality manager and a second person"
    if occasion.second is None:
        yield Fault(TAKE_OVER, None, "second", "a second person is missing", why, "name the second person who signs")
    elif not any(_is_quality_manager(number, draft, occasion) for number in (occasion.by, occasion.second)):
        said = "neither of the two is the quality manager"
        yield Fault(TAKE_OVER, None, "by", said, why, "let the quality manager take the lists over")


def _compare(read: ReadList, occasion: Occasion) -> _Changed:
    changed = _Changed(read)
    if not read.is_given:
        return changed
    old = {identity(read.table, entry): entry for entry in occasion.entries_before(read.table.name)}
    new = {identity(read.table, row.entry) for row in read.rows}
    for row in read.rows:
        was = old.get(identity(read.table, row.entry))
        if was != row.entry:
            changed.rows.append((row, was))
    if not read.faults:
        changed.left_out.extend(entry for key, entry in old.items() if key not in new)
    return changed


def _is_changed(changed: _Changed) -> bool:
    return bool(changed.rows or changed.left_out)


def _start(entry: Frozen) -> datetime | None:
    text = getattr(entry, "in_force_from", None)
    return None if text is None else read_time(text)


def _forwards(changed: _Changed, occasion: Occasion) -> Iterator[Fault]:
    why = "a good change works forwards only"
    for row, was in changed.rows:
        start = _start(row.entry)
        if (start is not None and start >= occasion.at) or (was is not None and _ends_sooner(was, row.entry)):
            continue
        if start is not None:
            said = "the row works from before the take-over"
            next_step = f"write an in force from of {occasion.first_minute} or later"
        elif was is None:
            said = "the row is new and has no time of force"
            next_step = f"write an in force from of {occasion.first_minute} or later"
        else:
            said = f"the {_first_difference(was, row.entry)} was changed in a row that is in force"
            next_step = (
                "put the row back as it was, and add a new row"
                f" with the change and an in force from of {occasion.first_minute} or later"
            )
        yield row.fault("in_force_from", said, why=why, next_step=next_step)


def _ends_sooner(was: Frozen, now: Frozen) -> bool:
    """True when all that changed is that a qualification ends sooner: bad news, which may reach back."""
    if not isinstance(was, Qualification) or not isinstance(now, Qualification) or now.valid_until is None:
        return False
    is_sooner = was.valid_until is None or now.valid_until < was.valid_until
    return is_sooner and was.model_copy(update={"valid_until": now.valid_until}) == now


def _first_difference(was: Frozen, now: Frozen) -> str:
    return heading(next(name for name in type(now).model_fields if getattr(was, name) != getattr(now, name)))


def _is_worse_state(was: GaugeState, now: GaugeState) -> bool:
    return now is not GaugeState.IN_USE


def _is_sooner(was: Any, now: Any) -> bool:
    return now is not None and (was is None or now < was)


def _leaves_sooner(was: str | None, now: str | None) -> bool:
    return now is not None and (was is None or read_time(now) < read_time(was))


def _is_out(was: str, now: str) -> bool:
    return now != "Good"


def _always(was: object, now: object) -> bool:
    return True


def _any_of(*fields: str) -> dict[str, Same]:
    return dict.fromkeys(fields, _always)


_REACHES_BACK: Final[dict[str, dict[str, Same]]] = {
    "gauges": {
        "state": _is_worse_state,
        "due": _is_sooner,
        **_any_of("serial", "owner", "home_station", "interval_days", "swap_partner", "drawer"),
    },
    "masters": {"state": _is_worse_state, "due": _is_sooner, **_any_of("certificate", "laboratory")},
    "calibrations": {
        "as_found": _is_out,
        "as_left": _is_out,
        "due": _is_sooner,
        **_any_of("certificate", "room_temperature", "temperature_unit"),
    },
    "people": {"left_at": _leaves_sooner, **_any_of("name", "badges", "language", "hand")},
}
"""What may change in a row that is in force: bad news, and what no reading is judged by."""


def _bad_news_only(changed: _Changed, occasion: Occasion, allowed: dict[str, Same]) -> Iterator[Fault]:
    for row, same in changed.rows:
        start = _start(row.entry)
        was = same if same is not None else _in_force_then(row.entry, start, occasion)
        if was is None or (start is not None and start >= occasion.at):
            continue
        for name in type(row.entry).model_fields:
            old, new = getattr(was, name), getattr(row.entry, name)
            if name == "in_force_from" or old == new or (name in allowed and allowed[name](old, new)):
                continue
            if name == "left_at" and old is not None and read_time(old) >= occasion.at:
                continue
            yield row.fault(
                *(name, f"the {heading(name)} was {old if old is not None else 'empty'} before"),
                why="only bad news may reach back, and a good change works forwards only",
                next_step=_forward_step(row, occasion),
            )


def _forward_step(row: Row, occasion: Occasion) -> str:
    if isinstance(row.entry, Gauge | Master):
        return (
            f"put it back, and add a new row with the change and an in force from of {occasion.first_minute} or later"
        )
    if isinstance(row.entry, Person):
        return "put it back; a person who comes back is entered under a new number"
    return "put it back; a calibration done again is a row of its own"


def _in_force_then(entry: Frozen, start: datetime | None, occasion: Occasion) -> Frozen | None:
    """Return the row that the version before had in force where a further row of the same gauge or master begins."""
    if not isinstance(entry, Gauge | Master):
        return None
    name = "gauges" if isinstance(entry, Gauge) else "masters"
    rows: list[Any] = [row for row in occasion.entries_before(name) if getattr(row, "number", None) == entry.number]
    found: Frozen | None = in_force(rows, occasion.at if start is None else start)
    return found


def _left_out(changed: _Changed, occasion: Occasion) -> Iterator[Fault]:
    table = changed.read.table
    file = changed.read.rows[0].file if changed.read.rows else f"{table.name} list"
    for entry in changed.left_out:
        start = _start(entry)
        if start is not None and start > occasion.at:
            continue
        subject = " ".join(str(getattr(entry, name)) for name in table.subject)
        since = "" if start is None else f" with in force from {getattr(entry, 'in_force_from', '')[:16]}"
        yield Fault(
            *(file, None, None, f"the row of {subject}{since} was left out"),
            "what was in force once stays in the list, so that the past can be judged as it was",
            _INSTEAD.get(table.name, "put the row back, and end it with a new row that has an in force from"),
        )


_INSTEAD: Final = {
    "gauges": "put the row back; a gauge that is gone has the state Lost or Retired",
    "masters": "put the row back; a master that is gone has the state Lost or Retired",
    "calibrations": "put the row back; a calibration done again is a row of its own",
    "people": "put the row back and write when the person left",
    "qualifications": "put the row back and write its last date under valid until",
    "lots": "put the row back",
}


def _needing_two(draft: Draft, occasion: Occasion) -> list[str]:
    needed = [name for name in _TWO_PEOPLE if _is_changed(_compare(draft.lists[name], occasion))]
    granted = _compare(draft.lists["qualifications"], occasion)
    if any(isinstance(row.entry, Qualification) and row.entry.level in _AUTHORITY for row, _ in granted.rows):
        needed.append("qualifications that let a person sign for others")
    for row, was in _compare(draft.lists["lots"], occasion).rows:
        if was is not None and any(getattr(was, name) != getattr(row.entry, name) for name in _LOT_IDENTITY):
            needed.append("what a lot is made of")
            break
    return needed


def _people(draft: Draft, occasion: Occasion) -> dict[str, Person]:
    entries = _as_they_stood(draft, occasion, "people")
    return {entry.number: entry for entry in entries if isinstance(entry, Person)}


def _as_they_stood(draft: Draft, occasion: Occasion, name: str) -> Iterable[Frozen]:
    """Return the rows before this take-over, for nobody grants himself authority by it; the first has only its own."""
    return [row.entry for row in draft.lists[name].rows] if occasion.is_first else occasion.entries_before(name)


def _is_quality_manager(number: str | None, draft: Draft, occasion: Occasion) -> bool:
    day = occasion.at.astimezone(occasion.zone).date()
    for held in _as_they_stood(draft, occasion, "qualifications"):
        if not isinstance(held, Qualification) or held.person != number or held.level is not Level.QUALITY_MANAGER:
            continue
        start = _start(held)
        has_begun = held.valid_from <= day and (start is None or start <= occasion.at)
        if has_begun and (held.valid_until is None or day <= held.valid_until):
            return True
    return False
