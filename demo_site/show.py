"""`python -m demo_site.show`: plays three days of the invented plant and shows what comes out.

Owns the order of what is shown and the exit code: 0 when all planted faults were found and nothing else, 1 when not.
"""

import argparse
import shutil
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from rich.console import Console

from consolidator.cli.printing import front_sheet_told, lines_of, make_console, print_front_sheet, print_lines
from demo_site.comparing import compare
from demo_site.plant import NAME
from demo_site.play.played import Played
from demo_site.playing import make_plan, play
from demo_site.telling import Progress, print_comparison, print_where_it_lies
from kiosk.errors import TellingError

OUT: Final = Path(__file__).parent / "out" / "demo-plant"
MARK: Final = "made-by-the-demo.txt"
"""A folder with this file in it was made by the demo and may be made anew."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Play and show; return 0, 1 when planted and found differ, 2 when the folder may not be used."""
    asked = _arguments(arguments)
    console = make_console()
    folder: Path = asked.folder.resolve()
    if not _make_anew(folder):
        print(
            f"Not begun: {folder} holds something that this demo did not make. Name an empty folder.", file=sys.stderr
        )
        return 2
    try:
        return _show(console, folder, asked)
    except TellingError as told:
        print(f"{told.what}\n{told.why}\n{told.next_step}", file=sys.stderr)
        return 1


def _show(console: Console, folder: Path, asked: argparse.Namespace) -> int:
    console.print(f"{NAME}: three production days, 9 to 11 March 2026.", style="bold")
    console.print("Plant, people, parts and limits are invented; never use its numbers as engineering limits.")
    console.print()
    began = time.monotonic()
    plan = make_plan(is_quick=asked.quick)
    with Progress(console, plan) as progress:
        played = play(plan, folder, progress.tell)
    console.print(f"Played in {time.monotonic() - began:.0f} s.")
    _print_last_day(console, played)
    rows = compare(plan.wanted, played)
    print_comparison(console, rows)
    print_where_it_lies(console, played, folder)
    if not all(row.is_good for row in rows):
        return 1
    if not asked.no_serve and console.is_terminal:
        _serve(console, played)
    return 0


def _print_last_day(console: Console, played: Played) -> None:
    book = played.book(played.days()[-1])
    told = front_sheet_told(book)
    console.rule("What lies on the quality manager's desk on Thursday morning", characters="=")
    print_front_sheet(console, told)
    console.print()
    console.rule("The morning exceptions list", characters="=")
    print_lines(console, lines_of(book), told)


def _serve(console: Console, played: Played) -> None:
    console.print("The intake is served on this machine only, until Ctrl-C.")
    command = [sys.executable, "-m", "consolidator", "serve", str(played.plant.root)]
    try:
        subprocess.run(command, check=False)
    except KeyboardInterrupt:
        console.print("Stopped.")


def _make_anew(folder: Path) -> bool:
    """Make the folder empty; leave alone what the demo did not make, and return whether it may be used."""
    is_ours = (folder / MARK).exists()
    if folder.exists() and not is_ours and any(folder.iterdir()):
        return False
    if is_ours:
        shutil.rmtree(folder)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARK).write_text("This folder is made anew each time the demo runs. Keep nothing of yours here.\n")
    return True


def _arguments(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python3 -m demo_site",
        description="Plays three production days of an invented plant through the real program and shows what comes "
        "out: the front sheet, the exceptions list, and every planted fault with what was found of it.",
    )
    parser.add_argument("--quick", action="store_true", help="less ordinary production; the same faults")
    parser.add_argument("--folder", type=Path, default=OUT, help="where to make the plant; empty, or made by the demo")
    parser.add_argument("--no-serve", action="store_true", help="end when all is shown; do not serve the intake")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    sys.exit(main())
