"""The consolidator's commands. Thin: arguments in, words or JSON out.

Exit codes: 0 done, 1 refused, 2 misuse, 3 damage found.
"""

import json
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Annotated, Any

import typer

from consolidator.cli.calculations import calculations_app
from consolidator.cli.look_back import look_back_app
from consolidator.cli.lots import lots_app
from consolidator.cli.plant import AsJson, Folder, clock_of, plant_app, read_moment, tell
from consolidator.cli.printing import front_sheet_told, lines_of, make_console, print_front_sheet, print_lines
from consolidator.cli.stations import stations_app
from consolidator.cli.study import study_app
from consolidator.desk import open_desk
from consolidator.desk.sealing import seal_day
from consolidator.intake import Archive
from consolidator.ledger.closing import close_plant_day
from consolidator.ledger.export import Format, Wanted, days_between, export
from consolidator.ledger.folder import BookFolder, days_in, locked, open_book
from consolidator.ledger.seal import name_of, sealed_as
from consolidator.ledger.verify import verify
from consolidator.lists import current
from consolidator.nightly import PassDone, keep_passes, run_due, take_in_desk_first
from consolidator.plant import Plant
from kiosk.errors import Damaged, TellingError
from kiosk.pages.desk import LedgerRead
from kiosk.ports import SystemChance
from kiosk.times import production_day

app = typer.Typer(no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False)
app.add_typer(plant_app)
app.add_typer(look_back_app)
app.add_typer(lots_app)
app.add_typer(stations_app)
app.add_typer(calculations_app)
app.add_typer(study_app)

Day = Annotated[datetime | None, typer.Option(formats=["%Y-%m-%d"], help="Production day; default: the last one.")]
Supplement = Annotated[int, typer.Option(min=0, help="Number of a supplement; 0 is the day itself.")]


@app.callback()
def _told() -> None:
    """The consolidator: pages taken in, days closed, ledgers sealed, checked and exported."""


@app.command()
def close(
    folder: Folder,
    day: Day = None,
    at: Annotated[
        str | None, typer.Option(help="Moment of closing with its UTC offset (ISO 8601); default: now.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Close a production day: judge all its pages and write its ledger; late pages of sealed days go to supplements.

    Example: consolidator close plant --day 2026-03-10 --at 2026-03-11T06:05:00-04:00
    """
    plant = Plant.open(folder)
    clock = clock_of(plant)
    moment = clock.now() if at is None else read_moment(at)
    which = _last_ended(plant, moment) if day is None else day.date()
    notes = list(take_in_desk_first(plant, clock, SystemChance()))
    with Archive(plant) as archive:
        closing = close_plant_day(plant, which, at=moment, archive=archive)
    books = [book for book in (closing.book, *closing.closed_again, *closing.supplements) if book is not None]
    told = {
        "day": which.isoformat(),
        "books": [_book_told(book) for book in books],
        "notes": [*notes, *closing.notes],
    }
    lines = [
        f"{name_of(book)}: {book.front_sheet['sum']}. Ledger fingerprint {book.seal_file['ledger']}" for book in books
    ]
    if closing.book is None and not closing.supplements:
        lines.append(f"{which} is sealed, and no page of it came since.")
    tell(told, [*lines, *notes, *closing.notes], as_json)


@app.command("front-sheet")
def front_sheet(folder: Folder, day: Day = None, supplement: Supplement = 0, as_json: AsJson = False) -> None:
    """Print the front sheet of a day: is everything in, what to stop, what is held, gauges, set-ups, and the sum.

    Example: consolidator front-sheet plant --day 2026-03-10
    """
    told = front_sheet_told(_open(folder, day, supplement))
    if as_json:
        typer.echo(json.dumps(told, ensure_ascii=False))
    else:
        print_front_sheet(make_console(), told)


@app.command()
def exceptions(folder: Folder, day: Day = None, supplement: Supplement = 0, as_json: AsJson = False) -> None:
    """Print the morning exceptions list of a day: one line for each cause, most urgent first.

    Example: consolidator exceptions plant --day 2026-03-10
    """
    book = _open(folder, day, supplement)
    lines, told = lines_of(book), front_sheet_told(book)
    if as_json:
        first = told["lines"][0]
        whole = {"day": told["day"], "everything_in": first, "lines": lines, "caution": told["caution"]}
        typer.echo(json.dumps(whole, ensure_ascii=False))
    else:
        print_lines(make_console(), lines, told)


@app.command()
def seal(
    folder: Folder,
    by: Annotated[str, typer.Option(help="Number of the person who seals.")],
    day: Day = None,
    supplement: Supplement = 0,
    second: Annotated[str | None, typer.Option(help="Number of the second person, when it is not Complete.")] = None,
    as_json: AsJson = False,
) -> None:
    """Seal a day or a supplement for good, and say how whole it is.

    Example: consolidator seal plant --day 2026-03-10 --by P-106
    """
    plant = Plant.open(folder)
    which = (_chosen(plant, day), supplement)
    book = seal_day(plant, which, (by, second), clock=clock_of(plant), chance=SystemChance())
    sealed = book.seal_file["seal"]
    lines = [
        f"{name_of(book)} is sealed as: {sealed_as(sealed)}.",
        f"Seal no. {sealed['number']}, {sealed['pages']} pages, {sealed['sealed_at']}.",
        f"Ledger fingerprint {sealed['ledger']}",
        f"Seal fingerprint   {book.seal_file['fingerprint']}",
        "Write both fingerprints into the bound book.",
    ]
    tell(_book_told(book), lines, as_json)


@app.command("verify")
def verify_ledger(folder: Folder, day: Day = None, as_json: AsJson = False) -> None:
    """Check the ledger where it lies: every row, every run of pages, every seal. Without a day, all of it.

    Example: consolidator verify plant --day 2026-03-10
    """
    plant = Plant.open(folder)
    with locked(plant.ledger, shared=True):
        found = verify(plant.ledger, None if day is None else [day.date()])
    told: dict[str, Any] = {"good": found.is_good, "books": found.books, "pages": found.pages}
    told |= {"faults": list(found.faults), "notes": list(found.notes)}
    good = "Good: nothing was added, removed, changed or moved." if found.is_good else "Damage found."
    lines = [*found.notes, *(f"DAMAGE  {fault}" for fault in found.faults)]
    tell(told, [*lines, f"{found.books} books, {found.pages} pages. {good}"], as_json)
    if not found.is_good:
        raise typer.Exit(3)


@app.command("export")
def export_ledger(  # noqa: PLR0913 - each is an option of the command
    folder: Folder,
    to: Annotated[Path, typer.Argument(help="A folder that does not exist yet.", metavar="FOLDER")],
    by: Annotated[str, typer.Option(help="Number of the person who exports; it is kept in the reading log.")],
    first: Annotated[datetime, typer.Option("--from", formats=["%Y-%m-%d"], help="First production day.")],
    last: Annotated[
        datetime | None, typer.Option("--to", formats=["%Y-%m-%d"], help="Last one; default: the first.")
    ] = None,
    lot: Annotated[str | None, typer.Option(help="Only this lot; no other lot is named in it.")] = None,
    formats: Annotated[list[Format] | None, typer.Option("--format", help="Beside CSV; may be given twice.")] = None,
    as_json: AsJson = False,
) -> None:
    """Export days or one lot, with seals, column dictionary, and a check that needs nothing of ours.

    Example: consolidator export plant lot-411 --lot L-411 --from 2026-03-10 --to 2026-03-12 --by P-106
    """
    plant = Plant.open(folder)
    clock = clock_of(plant)
    with locked(plant.ledger, shared=True):
        days = days_between(plant.ledger, first.date(), (last or first).date())
        names = export(plant.ledger, Wanted(days, lot, tuple(formats or ())), to)
    what = f"{f'lot {lot}' if lot else 'the ledger'}, {', '.join(names)}"
    with open_desk(plant, clock=clock, chance=SystemChance()) as desk:
        desk.keep(LedgerRead(what=what[:2_000], exported=True), person=by, lists_version=current(plant).version)
    lines = [
        f"Exported {what} to {to}.",
        "It stays in the plant; it leaves only by authority.",
        f"Check it: python3 {to}/check_ledger.py {to}",
    ]
    tell({"folder": str(to), "books": names}, lines, as_json)


@app.command()
def nightly(
    folder: Folder,
    once: Annotated[bool, typer.Option("--once", help="Run what is due now, and end.")] = False,
    as_json: AsJson = False,
) -> None:
    """Run the passes of 02:00 and 06:05 plant local time, those missed first, until stopped.

    Example: consolidator nightly plant --once
    """
    plant = Plant.open(folder)
    if not once:
        keep_passes(plant, clock_of(plant), lambda done: _tell_pass(done, as_json))
    results = run_due(plant, clock_of(plant))
    for done in results:
        _tell_pass(done, as_json)
    if not results and not as_json:
        typer.echo("Nothing is due.")
    faults = [done.fault for done in results if done.fault is not None]
    if faults:
        raise typer.Exit(3 if isinstance(faults[0], Damaged) else 1)


def main() -> int:
    """Run a command; print what failed, why and the next step where it could not be done."""
    try:
        app()
    except TellingError as told:
        typer.echo(f"{told.what}\n{told.why}\n{told.next_step}", err=True)
        return 3 if isinstance(told, Damaged) else 1
    return 0


def _last_ended(plant: Plant, moment: datetime) -> date:
    return production_day(moment, plant.zone) - timedelta(days=1)


def _chosen(plant: Plant, day: datetime | None) -> date:
    days = days_in(plant.ledger)
    if day is not None or not days:
        return day.date() if day is not None else _last_ended(plant, clock_of(plant).now())
    return days[-1]


def _open(folder: Path, day: datetime | None, supplement: int) -> BookFolder:
    plant = Plant.open(folder)
    with locked(plant.ledger, shared=True):
        return open_book(plant.ledger, _chosen(plant, day), supplement)


def _book_told(book: BookFolder) -> dict[str, Any]:
    return {
        "day": book.day.isoformat(),
        "supplement": book.supplement,
        "ledger": book.seal_file["ledger"],
        "totals": book.body["totals"],
        "seal": book.seal_file.get("seal"),
        "seal_fingerprint": book.seal_file.get("fingerprint"),
    }


def _tell_pass(done: PassDone, as_json: bool) -> None:
    fault = done.fault
    told: dict[str, Any] = {"pass": done.what.kind, "day": done.what.day.isoformat(), "notes": list(done.notes)}
    told["fault"] = None if fault is None else {"what": fault.what, "why": fault.why, "next_step": fault.next_step}
    words = f"{done.what.kind} pass of {done.what.day}: "
    lines = [words + "done."] if fault is None else [words + fault.what, fault.why, fault.next_step]
    tell(told, [*lines, *done.notes], as_json)
