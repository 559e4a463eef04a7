"""What stands against closing a lot, and the board of unproven set-ups, at the command line. Thin: it only prints."""

from dataclasses import asdict
from datetime import UTC, datetime
from typing import Annotated, Any
from zoneinfo import ZoneInfo

import typer

from consolidator.cli.plant import AsJson, Folder, clock_of, read_moment, tell
from consolidator.frame import make_day
from consolidator.frame.words import say_time
from consolidator.frame.world import moment_of
from consolidator.intake import Archive
from consolidator.lists import as_known
from consolidator.nightly import take_in_desk_first
from consolidator.plant import Plant
from consolidator.production.board import WaitingSetUp, waiting_set_ups
from consolidator.qc_room.closing import conditions_at
from kiosk.ports import SystemChance
from kiosk.times import in_zone, production_day, write_time

lots_app = typer.Typer()
At = Annotated[str | None, typer.Option(help="Moment with its UTC offset (ISO 8601); default: now.")]


@lots_app.command("check-lot")
def check_lot(
    folder: Folder,
    lot: Annotated[str, typer.Option(help="The lot to be closed.")],
    at: At = None,
    as_json: AsJson = False,
) -> None:
    """Say everything that stands against closing a lot now. Nothing is changed.

    Example: consolidator check-lot plant --lot L-411
    """
    plant, moment, notes = _opened(folder, at)
    with Archive(plant) as archive:
        found = conditions_at(plant, lot, at=moment, archive=archive)
    known = as_known(plant, moment.astimezone(UTC)).lot(lot)
    against = list(found.against) if known is not None else [f"{lot} is not in the register of lots"]
    told = {"lot": lot, "at": write_time(moment), "may_close": not against, "against": against}
    told |= {"silent_kiosks": list(found.silent_kiosks), "notes": notes}
    lines = [f"{lot}: nothing stands against closing it."] if not against else [f"{lot} cannot be closed:"]
    lines += [f"   {each}" for each in against]
    if found.silent_kiosks:
        lines.append(f"Not heard from: {', '.join(found.silent_kiosks)}; it takes a second person (X70).")
    tell(told, [*lines, *notes], as_json)


@lots_app.command("set-ups")
def set_ups(folder: Folder, at: At = None, as_json: AsJson = False) -> None:
    """Show the board of rolling set-ups that are not proven, with the pieces rolled at risk. Nothing is changed.

    Example: consolidator set-ups plant
    """
    plant, moment, notes = _opened(folder, at)
    lists = as_known(plant, moment.astimezone(UTC))
    zone = ZoneInfo(lists.zone)
    with Archive(plant) as archive:
        day = production_day(moment, zone)
        held = archive.held(day, by_utc=moment.astimezone(UTC))
    board = waiting_set_ups(make_day(held, lists, day=day, at_utc=moment.astimezone(UTC)))
    lines = [_line(each, zone) for each in board] or ["Every rolling set-up is proven."]
    tell({"at": write_time(moment), "set_ups": [_told(each, zone) for each in board], "notes": notes},
         [*lines, *notes], as_json)  # fmt: skip


def _opened(folder: Any, at: str | None) -> tuple[Plant, datetime, list[str]]:
    plant = Plant.open(folder)
    clock = clock_of(plant)
    moment = clock.now() if at is None else read_moment(at)
    return plant, moment, list(take_in_desk_first(plant, clock, SystemChance()))


def _told(each: WaitingSetUp, zone: ZoneInfo) -> dict[str, Any]:
    told = asdict(each)
    times = {name: write_time(in_zone(moment_of(told.pop(f"{name}_ms")), zone)) for name in ("begun", "since")}
    return told | {"begun_at": times["begun"], "since": times["since"], "lots": list(each.lots)}


def _line(each: WaitingSetUp, zone: ZoneInfo) -> str:
    why = {"X55": "not yet proven", "X56": "proof failed", "X57": "changed since proof"}[each.because]
    lots = ", ".join(each.lots) or "no lot"
    rolled = (
        f"{each.pieces_rolled} pieces rolled"
        if each.pieces_rolled is not None
        else f"pieces not counted, at most {each.pieces_of_lots}"
    )
    first = "" if each.is_approved else ", first piece not approved"
    since = say_time(each.since_ms, zone)
    return f"{each.set_up} ({each.station}): {why} ({each.because}) since {since}{first}; {rolled}; {lots}"
