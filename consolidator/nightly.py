"""The two passes of the night: a bulk pass in the middle of the third shift, and the final one when the day is over.

Owns when a pass is due, catching up after the machine was off, and the record of passes.
A pass that fails leaves the ledger as it stood, and says what to do. Must not judge anything.
"""

import fcntl
import json
import os
import time as machine_time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from typing import Any, Final

import schedule

from consolidator.desk import open_desk, take_in_desk
from consolidator.errors import PassRunning
from consolidator.intake import Archive, Intake
from consolidator.ledger.closing import Closing, close_plant_day
from consolidator.lists import as_known
from consolidator.plant import Plant
from consolidator.settings import Settings
from kiosk.errors import BookInUse, TellingError
from kiosk.ports import Chance, Clock, SyncedDisk, SystemChance
from kiosk.times import write_time

RECORD: Final = "passes.jsonl"
_LOCK: Final = ".pass"


class PassKind(StrEnum):
    """What a pass is for."""

    BULK = "bulk"
    """02:00: the running day, so that little is left to do in the morning."""
    FINAL = "final"
    """06:05: the day that ended at 06:00."""


@dataclass(frozen=True, order=True)
class Pass:
    """One pass: when it was due, and the production day it closes."""

    due_at: datetime
    kind: PassKind
    day: date


@dataclass(frozen=True)
class PassDone:
    """What became of one pass; `fault` says what failed, why and what to do, and is none when it went well."""

    what: Pass
    closing: Closing | None
    fault: TellingError | None
    notes: tuple[str, ...] = ()


def passes_of(local_date: date, zone: Any, *, bulk: time, final: time) -> tuple[Pass, Pass]:
    """Return both passes of one calendar date; they close the production day that began the day before."""
    day = local_date - timedelta(days=1)
    moments = [datetime.combine(local_date, at, tzinfo=zone) for at in (bulk, final)]
    return Pass(moments[0], PassKind.BULK, day), Pass(moments[1], PassKind.FINAL, day)


def passes_due(plant: Plant, now: datetime, *, settings: Settings | None = None) -> list[Pass]:
    """Return the passes that were due and not done, oldest first; a bulk pass falls away once the final one is due.

    A plant without a record begins with the last day that ended. Looks back no further than the kept limit.
    """
    settings = settings or Settings()
    numbers = as_known(plant, now).numbers(now)
    bulk, final = time.fromisoformat(numbers.bulk_pass), time.fromisoformat(numbers.final_pass)
    told = read_record(plant)
    done = {(line["kind"], line["day"]) for line in told if line["fault"] is None}
    days = [date.fromisoformat(line["day"]) for line in told]
    today = now.astimezone(plant.zone).date()
    first = max(min(days, default=today - timedelta(days=1)), today - timedelta(days=settings.nightly_back_days))
    due: list[Pass] = []
    for ahead in range((today - first).days):
        of_night = passes_of(first + timedelta(days=ahead + 1), plant.zone, bulk=bulk, final=final)
        ready = [one for one in of_night if one.due_at <= now]
        due += [one for one in ready[-1:] if (one.kind, one.day.isoformat()) not in done]
    return due


def run_due(
    plant: Plant, clock: Clock, *, chance: Chance | None = None, settings: Settings | None = None
) -> list[PassDone]:
    """Run every pass that is due now, one at a time, and stop at the first that fails.

    Running it twice does nothing twice. A pass that failed is tried again after the kept wait.

    Raises:
        PassRunning: another program is at it.
    """
    settings = settings or Settings()
    results: list[PassDone] = []
    with _one_at_a_time(plant):
        for what in passes_due(plant, clock.now(), settings=settings):
            if _failed_lately(plant, what, clock.now(), settings):
                break
            results.append(run_pass(plant, what, clock, chance=chance or SystemChance()))
            _note(plant, results[-1], clock.now())
            if results[-1].fault is not None:
                break
    return results


def run_pass(plant: Plant, what: Pass, clock: Clock, *, chance: Chance) -> PassDone:
    """Take in the desk's book and close the day as known now."""
    try:
        notes = take_in_desk_first(plant, clock, chance)
        with Archive(plant) as archive:
            closing = close_plant_day(plant, what.day, at=clock.now(), archive=archive)
    except TellingError as error:
        return PassDone(what, None, error)
    return PassDone(what, closing, None, (*notes, *closing.notes))


def keep_passes(
    plant: Plant,
    clock: Clock,
    tell: Callable[[PassDone], None],
    *,
    wait: Callable[[float], None] = machine_time.sleep,
    settings: Settings | None = None,
) -> None:
    """Look again and again whether a pass is due, and run it; ends only with the program.

    The ticking is by the machine; what is due is told by `clock` alone, so a change of the hour moves nothing.
    """
    settings = settings or Settings()
    scheduler = schedule.Scheduler()

    def look() -> None:
        for done in _run_unless_running(plant, clock, settings):
            tell(done)

    scheduler.every(settings.nightly_look_s).seconds.do(look)
    look()
    while True:
        wait(max(0.0, min(scheduler.idle_seconds or 0.0, settings.nightly_look_s)))
        scheduler.run_pending()


def read_record(plant: Plant) -> list[dict[str, Any]]:
    """Return the record of passes, oldest first; a torn last line, left by a power cut, is passed over."""
    path = plant.ledger / RECORD
    lines = path.read_bytes().splitlines() if path.exists() else []
    told: list[dict[str, Any]] = []
    for line in lines:
        try:
            told.append(json.loads(line))
        except ValueError:
            continue
    return told


def _run_unless_running(plant: Plant, clock: Clock, settings: Settings) -> list[PassDone]:
    try:
        return run_due(plant, clock, settings=settings)
    except PassRunning:
        return []


def take_in_desk_first(plant: Plant, clock: Clock, chance: Chance) -> tuple[str, ...]:
    """Take in what the desk's book holds before a day is closed; return a note when that could not be."""
    try:
        with open_desk(plant, clock=clock, chance=chance) as book, Intake(plant, now=clock.now) as intake:
            take_in_desk(plant, book, intake)
    except BookInUse:
        return ("The desk's book is open in another program; what is new in it comes with the next pass.",)
    return ()


def _failed_lately(plant: Plant, what: Pass, now: datetime, settings: Settings) -> bool:
    failed = [line for line in read_record(plant) if (line["kind"], line["day"]) == (what.kind, what.day.isoformat())]
    if not failed or failed[-1]["fault"] is None:
        return False
    return now - datetime.fromisoformat(failed[-1]["at"]) < timedelta(minutes=settings.nightly_retry_min)


def _note(plant: Plant, done: PassDone, now: datetime) -> None:
    fault = done.fault
    line = {
        "kind": done.what.kind,
        "day": done.what.day.isoformat(),
        "due_at": write_time(done.what.due_at),
        "at": write_time(now),
        "fault": None if fault is None else {"what": fault.what, "why": fault.why, "next_step": fault.next_step},
        "notes": list(done.notes),
    }
    # A torn last line of a power cut is ended first, so that it cannot swallow this one.
    path = plant.ledger / RECORD
    torn = path.exists() and not path.read_bytes().endswith(b"\n") and path.stat().st_size > 0
    content = json.dumps(line, ensure_ascii=False).encode() + b"\n"
    SyncedDisk().append_synced(path, b"\n" + content if torn else content)


@contextmanager
def _one_at_a_time(plant: Plant) -> Iterator[None]:
    plant.ledger.mkdir(parents=True, exist_ok=True)
    file = os.open(plant.ledger / _LOCK, os.O_RDWR | os.O_CREAT, 0o644)
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    except BlockingIOError as error:
        raise PassRunning(
            "No pass was begun.",
            why="Another program is closing this plant's day now.",
            next_step="Wait until it is done; `consolidator front-sheet PLANT` shows what stands.",
        ) from error
    finally:
        os.close(file)
