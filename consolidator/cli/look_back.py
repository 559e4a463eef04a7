"""The look-back at the command line. Thin: arguments in, words or JSON out."""

import json
import time
from datetime import datetime
from typing import Annotated, Any, Final

import typer

from consolidator.cli.plant import AsJson, Folder, clock_of
from consolidator.intake import Archive
from consolidator.lookback.at_plant import look_back_at
from consolidator.lookback.told import told
from consolidator.nightly import take_in_desk_first
from consolidator.plant import Plant
from kiosk.ports import SystemChance
from kiosk.times import read_plant_time

look_back_app = typer.Typer()
ROWS_SHOWN: Final = 20
"""Readings printed of one lot; all of them stand in the JSON."""


@look_back_app.command("look-back")
def look_back(
    folder: Folder,
    gauge: Annotated[str | None, typer.Option(help="The gauge found out.")] = None,
    master: Annotated[str | None, typer.Option(help="The master found out, with everything set by it.")] = None,
    found: Annotated[
        str | None, typer.Option(help="Plant time of an earlier as-found, e.g. '2026-03-20 14:00'; default: the last.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Look back upon a gauge or master found out: every reading in question, by lot, shipped first. Nothing is changed.

    Example: consolidator look-back plant --gauge G-108
    """
    if (gauge is None) == (master is None):
        raise typer.BadParameter("Name one of --gauge and --master.")
    number = str(gauge or master)
    plant, begun = Plant.open(folder), time.perf_counter()
    found_at = None if found is None else _moment(found, plant)
    clock = clock_of(plant)
    notes = take_in_desk_first(plant, clock, SystemChance())
    with Archive(plant) as archive:
        back = look_back_at(plant, number, at=clock.now(), archive=archive, found_at=found_at)
    whole = told(back) | {"seconds": round(time.perf_counter() - begun, 2)}
    whole["notes"] = [*notes, *whole["notes"]]
    typer.echo(json.dumps(whole, ensure_ascii=False) if as_json else "\n".join(lines_of(whole)))


def lines_of(whole: dict[str, Any]) -> list[str]:
    """Return a look-back as lines for people: windows, gauges of a master, lots with their readings, notices."""
    if not whole["windows"]:
        return [
            f"{whole['number']} is not in question: it was not found out, and no master of it was.",
            *whole["notes"],
        ]
    lines = [line for window in whole["windows"] for line in _window_lines(window)]
    lines += [_gauge_line(each) for each in whole["gauges"]]
    lines.append(
        f"{whole['readings']} readings in question, on {len(whole['lots'])} lots. Found in {whole['seconds']} s."
    )
    for lot in whole["lots"]:
        lines += ["", *_lot_lines(lot)]
    for notice in whole["notices"]:
        lines += ["", f"Customer notice to prepare, {notice['customer']}, lot {notice['lot']} (facts, not sent):"]
        lines += [f"   {line}" for line in notice["facts"].split("\n")]
    return [*lines, "", *whole["notes"], whole["caution"]]


def _window_lines(window: dict[str, Any]) -> list[str]:
    start, end = window["from"], window["to"]
    since = start["at"] or "the beginning"
    return [
        f"{window['sentence']}.",
        f"   in question from {since} ({start['because']}) to {end['at']} ({end['because']})",
    ]


def _gauge_line(gauge: dict[str, Any]) -> str:
    state = "checked against a sound master" if gauge["is_settled"] else "TO BE CHECKED against a sound master"
    return f"   {gauge['number']}: {gauge['windows'][0]['from']['because']}; {state}"


def _lot_lines(lot: dict[str, Any]) -> list[str]:
    rows = lot["readings"]
    lines = [f"{lot['urgency']}  {lot['sentence']}", f"   {lot['action']}"]
    for row in rows[:ROWS_SHOWN]:
        true = f"truly {row['true']}" if row["true"] is not None else row["why"]
        what = (
            f"{row['characteristic']} sample {row['sample']} piece {row['piece']}, {row['gauge']} at {row['station']}"
        )
        lines.append(
            f"   {row['page']}  {row['at']}  {what}: read {row['value'] or row['keyed']}, {true}: {row['finding']}"
        )
    more = len(rows) - ROWS_SHOWN
    return [*lines, f"   and {more} more; --json gives all"] if more > 0 else lines


def _moment(text: str, plant: Plant) -> datetime:
    try:
        return read_plant_time(text, plant.zone)
    except ValueError as error:
        raise typer.BadParameter(str(error)) from error
