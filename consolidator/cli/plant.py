"""The commands around the ledger: making a plant, its lists, its kiosks and sticks, and serving the intake.

Thin: arguments in, words or JSON out.
"""

import json
import os
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
import uvicorn

from consolidator.desk.kiosks import enrol_new_kiosk
from consolidator.intake import Intake, Place, enrol, issue_stick, load_stick, make_app, withdraw
from consolidator.intake.enrolment import OWN_CERTIFICATE_FILE, TLS_KEY_FILE
from consolidator.lists import DerivedLimits, check_lists, current, derived_limits, take_over, taken_over
from consolidator.plant import Plant
from kiosk.ports import MachineClock

plant_app = typer.Typer()
lists_app = typer.Typer(no_args_is_help=True, help="The plant's lists in plain files.")
plant_app.add_typer(lists_app, name="lists")

Folder = Annotated[Path, typer.Argument(help="The plant's folder, the one with plant.toml.", metavar="PLANT")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for machines.")]


def tell(told: Mapping[str, Any], lines: Sequence[str], as_json: bool) -> None:
    """Print what was done: JSON for machines, lines for people."""
    typer.echo(json.dumps(told, ensure_ascii=False) if as_json else "\n".join(lines))


def read_moment(text: str) -> datetime:
    """Return a moment written in ISO 8601 with its UTC offset; anything else is misuse."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise typer.BadParameter(f"'{text}' is no time; write it like 2026-03-11T06:05:00-04:00.") from error
    if moment.utcoffset() is None:
        raise typer.BadParameter(f"'{text}' lacks its UTC offset; write it like 2026-03-11T06:05:00-04:00.")
    return moment


def clock_of(plant: Plant) -> MachineClock:
    """Return this machine's clock in the plant's zone."""
    return MachineClock(plant.zone)


@plant_app.command("make-plant")
def make_plant(
    folder: Folder,
    number: Annotated[str, typer.Option(help="The plant's number.")],
    name: Annotated[str, typer.Option(help="The plant's name.")],
    zone: Annotated[str, typer.Option(help="IANA name of its time zone.")],
    as_json: AsJson = False,
) -> None:
    """Make the folder of a new plant, with its keys.

    Example: consolidator make-plant plant --number P1 --name "Invented works" --zone America/New_York
    """
    plant = Plant.create(folder, number=number, name=name, zone=zone)
    with Intake(plant) as intake:
        key = intake.keys.signing_hex
    lines = [f"Plant {number} made in {folder}.", f"It seals with the key {key}: write it into the bound book."]
    tell({"plant": number, "key": key}, lines, as_json)


@lists_app.command("check")
def lists_check(
    folder: Folder, files: Annotated[Path, typer.Argument(metavar="FILES")], as_json: AsJson = False
) -> None:
    """Check list files as a whole and name every fault, or show the limits derived from threads; nothing is taken over.

    Example: consolidator lists check plant new-lists
    """
    plant = Plant.open(folder)
    before, now = current(plant), clock_of(plant).now().astimezone(UTC)
    lists = check_lists(files, plant=plant.number, zone=plant.zone, before=before, at_utc=now)
    words = f"No fault found; they would be version {lists.version}."
    _tell_derived(lists.version, derived_limits(lists, before), words, as_json)


@lists_app.command("take-over")
def lists_take_over(
    folder: Folder,
    files: Annotated[Path, typer.Argument(metavar="FILES")],
    by: Annotated[str, typer.Option(help="Number of the person who takes them over.")],
    reason: Annotated[str, typer.Option(help="Why they change.")],
    second: Annotated[str | None, typer.Option(help="Number of the second person, where one is needed.")] = None,
    as_json: AsJson = False,
) -> None:
    """Check list files and take them over as the plant's next version, whole or not at all.

    Example: consolidator lists take-over plant new-lists --by P-106 --second P-108 --reason "revision D"
    """
    plant = Plant.open(folder)
    now = clock_of(plant).now().astimezone(UTC)
    lists = take_over(plant, files, by=by, second=second, reason=reason, at_utc=now)
    words = f"Lists taken over as version {lists.version}."
    _tell_derived(lists.version, taken_over(plant, lists.version).derived, words, as_json)


def _tell_derived(version: int, derived: Sequence[DerivedLimits], words: str, as_json: bool) -> None:
    """Tell a version with the limits that are new in it and come from a standard, for those who approve them."""
    told = {"version": version, "derived": [each.model_dump(mode="json", exclude_none=True) for each in derived]}
    lines = [line for each in derived for line in each.sentences]
    tell(told, [*(["Limits derived from threads:"] if derived else []), *lines, words], as_json)


@plant_app.command("enrol")
def enrol_kiosk(
    folder: Folder,
    series: Annotated[str, typer.Argument(help="A new series, e.g. S12-a.", metavar="SERIES")],
    station: Annotated[str, typer.Option(help="Station of the kiosk.")],
    kiosk: Annotated[Path, typer.Option(help="Where to write what the kiosk needs.")],
    address: Annotated[str | None, typer.Option(help="Where it reaches the consolidator; none: by stick only.")] = None,
    as_json: AsJson = False,
) -> None:
    """Enrol a kiosk: give it its series and its keys.

    Example: consolidator enrol plant S12-a --station S12 --kiosk kiosk-s12 --address https://127.0.0.1:8443
    """
    plant = Plant.open(folder)
    enrol(plant, series=series, station=station, now=clock_of(plant).now(), kiosk_folder=kiosk, address=address)
    words = f"Series {series} enrolled at station {station}; its folder is {kiosk}."
    tell({"series": series, "station": station, "kiosk": str(kiosk)}, [words], as_json)


@plant_app.command("enrol-stick")
def enrol_stick(  # noqa: PLR0913 - each is an option of the command
    folder: Folder,
    stick: Annotated[Path, typer.Argument(help="The stick with the new kiosk's request.", metavar="STICK")],
    series: Annotated[str, typer.Option(help="A new series, e.g. S12-b; never that of a dead kiosk.")],
    station: Annotated[str, typer.Option(help="Station of the kiosk.")],
    number: Annotated[str, typer.Option(help="The number that the kiosk shows, all its digits.")],
    by: Annotated[str, typer.Option(help="Number of the quality manager.")],
    second: Annotated[str, typer.Option(help="Number of the second person, who read the number at the kiosk.")],
    address: Annotated[str | None, typer.Option(help="Where it reaches the consolidator; none: by stick only.")] = None,
    as_json: AsJson = False,
) -> None:
    """Enrol a new kiosk by stick: its keys were made in it and stay there.

    Example: consolidator enrol-stick plant stick-7 --series S12-b --station S12 --number 1234567890123456 --by P-106 --second P-108
    """  # noqa: E501 - an example is one line
    plant = Plant.open(folder)
    place, persons = Place(series, station, address), (by, second)
    answer = enrol_new_kiosk(plant, stick, place, number, persons, clock=clock_of(plant))
    lines = [
        f"Series {series} is enrolled at station {station}; the answer is on the stick.",
        f"Number of the consolidator: {answer.number}",
        "Write it down, bring the stick back to the kiosk, and compare it there before you go on.",
    ]
    tell({"series": series, "station": station, "number": answer.number}, lines, as_json)


@plant_app.command("withdraw")
def withdraw_kiosk(
    folder: Folder, series: Annotated[str, typer.Argument(metavar="SERIES")], as_json: AsJson = False
) -> None:
    """Withdraw a series: it takes no more pages; those it brought stay.

    Example: consolidator withdraw plant S12-a
    """
    plant = Plant.open(folder)
    withdrawn = withdraw(plant, series, clock_of(plant).now())
    words = f"Series {series} withdrawn at {withdrawn.withdrawn_at}."
    tell({"series": series, "withdrawn_at": withdrawn.withdrawn_at}, [words], as_json)


@plant_app.command("issue-stick")
def issue_plant_stick(
    folder: Folder,
    stick: Annotated[Path, typer.Argument(help="The empty stick's folder.", metavar="STICK")],
    number: Annotated[str, typer.Option(help="The number painted on it.")],
    as_json: AsJson = False,
) -> None:
    """Make an empty stick one of the plant's.

    Example: consolidator issue-stick plant stick-7 --number K-7
    """
    plant = Plant.open(folder)
    with Intake(plant) as intake:
        issue_stick(intake, stick, number, clock_of(plant).now())
    tell({"stick": number}, [f"Stick {number} is the plant's."], as_json)


@plant_app.command("load-stick")
def load_plant_stick(
    folder: Folder, stick: Annotated[Path, typer.Argument(metavar="STICK")], as_json: AsJson = False
) -> None:
    """Take in every packet on a stick, and put receipts and fresh lists on it.

    Example: consolidator load-stick plant stick-7
    """
    plant = Plant.open(folder)
    with Intake(plant) as intake:
        loaded = load_stick(intake, stick, clock_of(plant).now())
    told = {"stick": loaded.stick, "held": loaded.held, "new": loaded.new, "refusals": list(loaded.refusals)}
    tell(told, [loaded.words, *loaded.refusals], as_json)
    if loaded.refusals:
        raise typer.Exit(1)


@plant_app.command()
def serve(
    folder: Folder,
    host: Annotated[str, typer.Option(help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="Port to listen on.")] = 8443,
) -> None:
    """Serve the intake to the kiosks over TLS, with the plant's own certificate, until stopped.

    Example: consolidator serve plant --host 127.0.0.1 --port 8443
    """
    plant = Plant.open(folder)
    certificate, key = plant.keys / OWN_CERTIFICATE_FILE, plant.keys / TLS_KEY_FILE
    uvicorn.run(make_app(plant), host=host, port=port, ssl_certfile=os.fspath(certificate), ssl_keyfile=os.fspath(key))
