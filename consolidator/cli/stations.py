"""Words to a station at the command line. Thin: arguments in, words or JSON out."""

from typing import Annotated

import typer

from consolidator.cli.plant import AsJson, Folder, clock_of, tell
from consolidator.desk import open_desk, take_in_desk
from consolidator.desk.opening import desk_of
from consolidator.intake import Intake
from consolidator.plant import Plant
from consolidator.qc_room.stations import tell_station
from kiosk.ports import SystemChance

stations_app = typer.Typer()


@stations_app.command("tell-station")
def tell_a_station(
    folder: Folder,
    station: Annotated[str, typer.Argument(help="Number of the station.", metavar="STATION")],
    words: Annotated[str, typer.Argument(help="By lot, and what is to be done; never who did what.", metavar="WORDS")],
    by: Annotated[str, typer.Option(help="Number or badge of the person who tells it.")],
    as_json: AsJson = False,
) -> None:
    """Tell a station something; it is shown at the next badge-in after the kiosk's next contact.

    Example: consolidator tell-station plant S12 "L-411 is on hold. Do not move it." --by P-106
    """
    plant = Plant.open(folder)
    clock = clock_of(plant)
    with open_desk(plant, clock=clock, chance=SystemChance()) as book, Intake(plant, now=clock.now) as intake:
        done = tell_station(desk_of(plant, book, intake, clock), by, station, words)
        take_in_desk(plant, book, intake)
    lines = [f"Kept as page {done.page.ref}; station {station} reads it after its next contact."]
    tell({"station": station, "page": done.page.ref}, lines, as_json)
