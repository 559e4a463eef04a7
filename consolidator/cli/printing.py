"""The front sheet, the morning list and plain tables as words on a terminal, in a file or in a pipe.

Owns looks only: a shape and a word for everything, never a colour alone; ASCII frames, so that any printer has them.
Must not judge, count or sort anything.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from statistics import median
from typing import Any, Final

import pyarrow as pa
from rich import box
from rich.console import Console
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from consolidator.ledger.folder import BookFolder, days_in, open_book, supplements_of
from consolidator.ledger.front_sheet import many
from consolidator.ledger.seal import sealed_as

PLAIN_WIDTH: Final = 100
"""Columns when the output is no terminal."""
_GOOD, _LOOK = "[ok]", "[!!]"
_USUAL_DAYS: Final = 8
_DAY_NAMES: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def make_console() -> Console:
    """Return a console that prints plainly, and wide enough, where nobody watches."""
    console = Console(highlight=False, emoji=False, markup=False)
    return console if console.is_terminal else Console(highlight=False, emoji=False, markup=False, width=PLAIN_WIDTH)


def front_sheet_told(book: BookFolder) -> dict[str, Any]:
    """Return the front sheet with what stands beside it: seal, supplements, and what is usual on that weekday."""
    ledger = book.path.parent
    return {
        **book.front_sheet,
        "ledger": book.seal_file["ledger"],
        "seal": book.seal_file.get("seal"),
        "seal_fingerprint": book.seal_file.get("fingerprint"),
        "supplements": [
            {
                "supplement": each.supplement,
                "pages": each.body["totals"]["pages"],
                "seal": each.seal_file.get("seal"),
                "ledger": each.seal_file["ledger"],
            }
            for each in (supplements_of(ledger, book.day) if not book.supplement else [])
        ],
        "usual_pages": usual_pages(book) if not book.supplement else None,
    }


def usual_pages(book: BookFolder) -> int | None:
    """Return the median page count of the last eight same weekdays in the ledger; none when there is none."""
    ledger = book.path.parent
    same = [day for day in days_in(ledger) if day < book.day and day.weekday() == book.day.weekday()]
    found = [int(open_book(ledger, day).body["totals"]["pages"]) for day in same[-_USUAL_DAYS:]]
    return round(median(found)) if found else None


def print_front_sheet(console: Console, told: Mapping[str, Any]) -> None:
    """Print the front sheet: is everything in, first and largest when it is not; then the other lines in order."""
    day = date.fromisoformat(told["day"])
    title = f"Supplement {told['supplement']} of" if told["supplement"] else "Production day"
    hours = "" if told["hours"] == 24 else f" ({told['hours']} hours)"
    console.print(f"{title} {_DAY_NAMES[day.weekday()]} {day}{hours}, plant {told['plant']}", style="bold")
    console.print(f"Closed {told['closed_at']}   {_seal_words(told['seal'])}")
    console.print()
    first = told["lines"][0]
    if not first["is_good"]:
        words = Text(f"{_LOOK} {first['title'].upper()}\n\n{first['sentence']}", style="bold")
        console.print(Panel(words, box=box.ASCII, padding=(1, 2)))
    for at, line in enumerate(told["lines"], 1):
        _print_line(console, at, line)
    console.print()
    console.print(told["sum"])
    if told["usual_pages"] is not None:
        console.print(f"Usual for a {_DAY_NAMES[day.weekday()]}: {many(told['usual_pages'], 'page')}")
    for each in told["supplements"]:
        late = f"Supplement {each['supplement']}: {many(each['pages'], 'page')} that came late"
        console.print(f"{late}   {_seal_words(each['seal'])}")
    console.print()
    for words in (told["caution"], told["decision_rule"], told["not_proved"]):
        console.print(words)
    console.print(f"Ledger fingerprint {told['ledger']}", soft_wrap=True)
    if told["seal_fingerprint"]:
        console.print(f"Seal fingerprint   {told['seal_fingerprint']}", soft_wrap=True)


def print_table(console: Console, title: str, rows: Sequence[Sequence[str]]) -> None:
    """Print a table without frames: its title, its first row as headings, figures one under another."""
    console.print(title, style="bold", soft_wrap=True)
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), show_header=any(rows[0]))
    for place, heading in enumerate(rows[0]):
        table.add_column(heading, justify="left" if place == 0 else "right", overflow="fold")
    for row in rows[1:]:
        table.add_row(*row)
    console.print(table)
    console.print()


def print_lines(console: Console, lines: Sequence[Mapping[str, str]], told: Mapping[str, Any]) -> None:
    """Print the morning list: one entry for each cause, in the list's own order, each with its sentence."""
    console.print(f"Morning exceptions list of {told['day']}, closed {told['closed_at']}", style="bold")
    first = told["lines"][0]
    console.print(f"{_GOOD if first['is_good'] else _LOOK} {first['sentence']}")
    console.print(f"{len(lines)} line{'' if len(lines) == 1 else 's'}, one for each cause.")
    for row in lines:
        console.print()
        kinds = [kind for kind in row["kinds"].split(";") if kind and kind != row["number"]]
        also = f" (also {', '.join(kinds)})" if kinds else ""
        console.print(Text(f"{row['urgency']}  {row['number']} {row['name']}{also}", style="bold"))
        console.print(Text(f"   {row['sentence']}"))
        console.print(Text(f"   {_touched(row)}"))
    console.print()
    console.print(told["caution"])


def lines_of(book: BookFolder) -> list[dict[str, str]]:
    """Return the morning list of a book, one row for each cause, in its fixed order."""
    table: pa.Table = book.table("lines")
    rows: list[dict[str, str]] = table.to_pylist()
    return rows


def _touched(row: Mapping[str, str]) -> str:
    lots, stations = row["lots"].replace(";", ", "), row["stations"].replace(";", ", ")
    moved = {"shipped": "shipped", "today": "ships today", "later": "ships later"}.get(row["ships"], "")
    parts = [
        many(int(row["readings"]), "reading") if row["readings"] not in ("", "0") else "",
        many(int(row["pieces"]), "piece") if row["pieces"] not in ("", "0") else "",
        f"lots {lots}" if lots else "",
        f"stations {stations}" if stations else "",
        moved,
        f"open {row['age_h']} h" if row["age_h"] else "",
        f"for {row['who']}" if row["who"] else "",
    ]
    return "; ".join(part for part in parts if part)


def _print_line(console: Console, at: int, line: Mapping[str, Any]) -> None:
    mark = _GOOD if line["is_good"] else _LOOK
    console.print(Text(f"{at} {mark} {line['title']}: {line['sentence']}"))
    for detail in line["details"]:
        console.print(Text(f"       {detail}"))


def _seal_words(seal: Mapping[str, Any] | None) -> str:
    if seal is None:
        return "NOT SEALED"
    second = f" and {seal['second']['name']}" if seal["second"] else ""
    return f"SEALED: {sealed_as(seal)} (no. {seal['number']}, {seal['sealed_at']}, {seal['sealed_by']['name']}{second})"
