"""What the demo prints of its own: how far it is, planted against found, and where everything lies.

Owns looks and words only. The front sheet and the list are printed by the consolidator.
"""

import sys
from collections import Counter
from collections.abc import Sequence
from datetime import date
from pathlib import Path
from types import TracebackType
from typing import Final

from rich import box
from rich import progress as bars
from rich.console import Console
from rich.table import Table

from consolidator.ledger.front_sheet import count, many
from consolidator.ledger.seal import sealed_as
from consolidator.rules import KINDS
from demo_site.comparing import Compared
from demo_site.plant import DAYS, ZONE
from demo_site.play.played import Played
from demo_site.play.player import Player
from demo_site.play.scenario import Event
from demo_site.playing import PASS, Plan
from kiosk.times import shift_of

_SHIFTS: Final = ("1st", "2nd", "3rd")


class Progress:
    """A moving bar on a terminal; elsewhere a line for each shift and each pass of the night."""

    def __init__(self, console: Console, plan: Plan) -> None:
        self._console = console
        self._shift: tuple[date, int] | None = None
        self._bar = bars.Progress(
            bars.TextColumn("{task.description:<42}"), bars.BarColumn(), bars.TaskProgressColumn(),
            bars.TimeElapsedColumn(), console=console, disable=not console.is_terminal, transient=True,
        )  # fmt: skip
        self._task = self._bar.add_task("", total=len(plan.events))
        events = [event for event in plan.events if event.do == "reading"]
        self._readings = Counter(shift_of(event.at, ZONE) for event in events)

    def tell(self, event: Event, player: Player) -> None:
        """Show that an event is about to happen."""
        shift = shift_of(event.at, ZONE)
        if event.do in (PASS, "seal"):
            self._say(f"{event.at:%a %d %b %H:%M}  {event.do}")
        elif shift != self._shift and shift[0] in DAYS:
            self._shift = shift
            readings = many(self._readings[shift], "reading")
            self._say(f"{event.at:%a %d %b %H:%M}  {_SHIFTS[shift[1] - 1]} shift of {shift[0]}: {readings} to come")
        self._bar.update(
            self._task, advance=1, description=f"{event.at:%a %d %b %H:%M}  {event.station or ''} {event.do}"
        )

    def _say(self, words: str) -> None:
        self._bar.console.print(words)

    def __enter__(self) -> "Progress":
        self._bar.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._bar.stop()


def print_comparison(console: Console, rows: Sequence[Compared]) -> None:
    """Print every planted fault with what was found of it, then the sum in one sentence."""
    console.print()
    console.rule("Planted and found", characters="=")
    table = Table(box=box.ASCII, expand=False)
    for head in ("kind", "planted", "found", "cause, and the story behind it"):
        table.add_column(head, justify="right" if head in ("planted", "found") else "left")
    for row in rows:
        table.add_row(f"{row.number}", _figure(row.planted), _figure(row.found), _story(row))
    console.print(table)
    console.print("Planted and found are readings; a kind that is about a gauge, a kiosk or a gap may touch none.")
    console.print(_sum(rows))


def print_where_it_lies(console: Console, played: Played, folder: Path) -> None:
    """Print the seals, where the files are, and commands that can be tried on them."""
    console.print()
    console.rule("Where it all lies", characters="=")
    for book in played.books():
        seal = book.seal_file.get("seal")
        word = f"sealed: {sealed_as(seal)}" if seal else "not sealed"
        name = f"{book.day} supplement {book.supplement}" if book.supplement else f"{book.day}"
        console.print(f"{name}: {book.front_sheet['sum']}; {word}")
    plant, program = _shown(played.plant.root), _shown(Path(sys.executable).with_name("consolidator"))
    places = (
        ("plant folder", plant), ("its lists as given", _shown(folder / "lists-as-given")),
        ("ledgers", f"{plant}/ledger"), ("packets as they came, and the carry log", f"{plant}/intake"),
        ("the kiosks' own books", _shown(folder / "kiosks")), ("sticks", _shown(folder / "sticks")),
    )  # fmt: skip
    for what, where in places:
        console.print(f"{what}: {where}", soft_wrap=True)
    console.print()
    console.print("Try next:")
    for command in (
        f"front-sheet {plant} --day 2026-03-10", f"exceptions {plant} --day 2026-03-09", f"verify {plant}",
        f"export {plant} lot-L-723 --lot L-723 --from 2026-03-10 --by P-106",
        f"seal {plant} --day 2026-03-11 --by P-106 --second P-108", f"serve {plant}",
    ):  # fmt: skip
        console.print(f"  {program} {command}", soft_wrap=True)
    kiosk = _shown(Path(sys.executable).with_name("kiosk"))
    console.print(f"  {kiosk} status {_shown(folder / 'kiosks' / 'S24-a')}", soft_wrap=True)


def _sum(rows: Sequence[Compared]) -> str:
    planted = [row for row in rows if row.planted is not None]
    good = [row for row in planted if row.is_good]
    kinds = len({row.kind for row in planted})
    alarms = [row for row in rows if row.planted is None]
    words = f"{count(len(good))} of {many(len(planted), 'planted exception')} of {kinds} kinds found as planted; "
    return words + ("nothing else was found." if not alarms else f"{many(len(alarms), 'exception')} more found.")


def _figure(readings: int | None) -> str:
    return "-" if readings is None else count(readings)


def _story(row: Compared) -> str:
    mark = "" if row.is_good else "DIFFERS  "
    name = f"{mark}{KINDS[row.number].name}: {row.cause}."
    if not row.kind:
        return f"{name} Not planted; first raised in {row.day}."
    return f"{name} {row.story}." if row.kind == row.number else f"{name} Follows from {row.kind}: {row.story}."


def _shown(path: Path) -> str:
    return str(path.relative_to(Path.cwd())) if path.is_relative_to(Path.cwd()) else str(path)
