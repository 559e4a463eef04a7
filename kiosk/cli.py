"""The kiosk's commands: carry and status. Thin: arguments in, words or JSON out.

Exit codes: 0 done, 1 refused, 2 misuse, 3 damage found.
"""

import json
from pathlib import Path
from typing import Annotated, Any
from zoneinfo import ZoneInfo

import typer

from kiosk.book import Book, examine, find_identity
from kiosk.carry import Enrolment, last_receipt, lists_version
from kiosk.carry.network import Carried, NetworkCarry
from kiosk.carry.sticks import StickCarry
from kiosk.errors import Damaged, NoBookHere, TellingError
from kiosk.ports import MachineClock, SyncedDisk, SystemChance

STORES = ("store-a", "store-b")
"""The two stores in a kiosk's folder: built-in and removable."""

app = typer.Typer(no_args_is_help=True, add_completion=False, pretty_exceptions_enable=False)
Folder = Annotated[Path, typer.Argument(help="The kiosk's folder, the one with kiosk.toml.", metavar="KIOSK")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for machines.")]


@app.callback()
def _told() -> None:
    """A kiosk at a station: what it has kept, and how its pages are carried."""


@app.command()
def status(folder: Folder, as_json: AsJson = False) -> None:
    """Say what the kiosk holds, what is not carried yet, and how its stores are. Changes nothing.

    Example: kiosk status /srv/kiosk-s12
    """
    enrolment = Enrolment.open(folder)
    receipt = last_receipt(folder, enrolment)
    told: dict[str, Any] = {
        "station": enrolment.station,
        "series": enrolment.series,
        "lists_version": lists_version(folder),
        "stores": [_store(folder / name) for name in STORES],
        "carried_through": receipt.through if receipt else 0,
        "carried_at": receipt.at if receipt else None,
    }
    told["last_page"] = max((store["last_page"] for store in told["stores"]), default=0)
    told["not_carried_pages"] = max(0, told["last_page"] - told["carried_through"])
    since = f"since {told['carried_at']}" if receipt else "yet"
    lines = [
        f"Station {told['station']}, series {told['series']}, last page {told['last_page']}.",
        f"Not carried {since}: {told['not_carried_pages']} pages safe here."
        if told["not_carried_pages"]
        else f"All pages carried ({told['carried_at']}).",
        f"Lists version {told['lists_version']}.",
        *(f"Store {store['name']}: {store['words']}" for store in told["stores"]),
    ]
    _tell(told, lines, as_json)
    if any(store["is_damaged"] for store in told["stores"]):
        raise typer.Exit(3)


@app.command()
def carry(
    folder: Folder,
    stick: Annotated[Path | None, typer.Option(help="Carry by this stick instead of the network.")] = None,
    as_json: AsJson = False,
) -> None:
    """Carry what is not carried yet to the consolidator, by network or by a stick of the plant.

    Example: kiosk carry /srv/kiosk-s12 --stick /media/K-7
    """
    enrolment = Enrolment.open(folder)
    clock = MachineClock(ZoneInfo(enrolment.zone))
    disk = SyncedDisk()
    stores = tuple(folder / name for name in STORES)
    with Book.open(stores, clock=clock, chance=SystemChance(), disk=disk, series=enrolment.series) as book:
        if stick is not None:
            done = StickCarry(folder, stick, disk).carry(book)
        else:
            with NetworkCarry(folder, disk) as network:
                done = network.carry(book, clock, session=book.session)
    _tell_carried(done, as_json)
    if done.refusals:
        raise typer.Exit(1)


@app.command()
def run(
    folder: Folder,
    is_opened: Annotated[bool, typer.Option("--open", help="Start the browser full-screen on it.")] = False,
    port: Annotated[int, typer.Option(help="Port on this machine.", min=1024, max=65535)] = 8300,
) -> None:
    """Serve the touch screens on this machine only, until stopped.

    Example: kiosk run /srv/kiosk-s12 --open
    """
    # Only this command draws; the others start without the screens' libraries.
    from kiosk.screens import serve

    serve(folder, port=port, is_opened=is_opened, started=lambda address: typer.echo(f"The kiosk is at {address}"))


def main() -> int:
    """Run a command; print what failed, why and the next step where it could not be done."""
    try:
        app()
    except TellingError as told:
        typer.echo(f"{told.what}\n{told.why}\n{told.next_step}", err=True)
        return 3 if isinstance(told, Damaged) else 1
    return 0


def _store(folder: Path) -> dict[str, Any]:
    try:
        identity = find_identity(folder)
        if identity is None:
            return _said(folder, 0, "its book.json is damaged.", is_damaged=True)
        found = examine(folder, identity)
    except OSError as error:
        return _said(folder, 0, f"away ({error.strerror}).", is_damaged=False)
    except NoBookHere as told:
        return _said(folder, 0, told.why, is_damaged=False)
    if found.damage:
        return _said(folder, found.last_number, f"damaged: {found.damage[0]}.", is_damaged=True)
    return _said(folder, found.last_number, f"good, last page {found.last_number}.", is_damaged=False)


def _said(folder: Path, last: int, words: str, *, is_damaged: bool) -> dict[str, Any]:
    return {"name": folder.name, "last_page": last, "words": words, "is_damaged": is_damaged}


def _tell_carried(done: Carried, as_json: bool) -> None:
    told = {
        "packets": done.packets,
        "pages": done.pages,
        "difference_s": done.difference_s,
        "lists_version": done.lists.version if done.lists else None,
        "refusals": list(done.refusals),
    }
    lines = [f"Carried {done.pages} pages in {done.packets} packets."]
    if done.difference_s is not None and abs(done.difference_s) > 1:
        lines.append(f"This kiosk's clock differs by {done.difference_s:+.0f} s from the consolidator's.")
    if done.lists is not None:
        lines.append(f"Fresh lists taken: version {done.lists.version}.")
    _tell(told, [*lines, *done.refusals], as_json)


def _tell(told: dict[str, Any], lines: list[str], as_json: bool) -> None:
    typer.echo(json.dumps(told, ensure_ascii=False) if as_json else "\n".join(lines))
