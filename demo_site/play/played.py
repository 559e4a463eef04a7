"""What is known after playing: which pages an event made, what was said, and the ledgers as they stand.

Owns looking things up by the names a scenario gives; must not judge anything.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from consolidator.ledger.folder import BookFolder, days_in, open_book, supplements_of
from consolidator.ledger.seal import seal_word
from consolidator.plant import Plant
from demo_site.play.scenario import ScenarioRefused

Row = Mapping[str, str]


@dataclass
class Trace:
    """What one event left behind."""

    pages: list[str] = field(default_factory=list)
    """Pages that stand for its readings or its act, as `S12-a/17`, one for each reading."""
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    day: date | None = None
    fingerprint: str | None = None


@dataclass
class Played:
    """A plant after events, seen through its files."""

    plant: Plant
    traces: dict[str, Trace] = field(default_factory=dict)
    marks: dict[str, dict[str, str]] = field(default_factory=dict)
    receipts: set[tuple[str, str]] = field(default_factory=set)
    """Stick and station."""
    closed_at: dict[str, datetime] = field(default_factory=dict)

    def trace(self, name: str) -> Trace:
        """Return what an event left behind.

        Raises:
            ScenarioRefused: no event of that name was played.
        """
        if name not in self.traces:
            raise ScenarioRefused(
                f"There is no event '{name}'.", why="Nothing of that name was played.", next_step="Mend the name."
            )
        return self.traces[name]

    def pages(self, name: str) -> list[str]:
        """Return the pages of an event, or of its n-th reading (`r#3`)."""
        event, _, place = name.partition("#")
        pages = self.trace(event).pages
        return pages if not place else [pages[int(place) - 1]]

    def days(self) -> list[date]:
        """Return the days that have a ledger, in order."""
        return days_in(self.plant.ledger)

    def book(self, day: date, supplement: int = 0) -> BookFolder:
        """Return a day's ledger or one of its supplements."""
        return open_book(self.plant.ledger, day, supplement)

    def books(self) -> Iterator[BookFolder]:
        """Give every ledger in order of days, each with its supplements after it."""
        for day in self.days():
            yield self.book(day)
            yield from supplements_of(self.plant.ledger, day)

    def rows(self, table: str, day: date | None = None) -> list[Row]:
        """Return the rows of one table of all ledgers, or of those of one day."""
        return [row for book in self.books() if day in (None, book.day) for row in book.table(table).to_pylist()]

    def readings(self) -> dict[str, Row]:
        """Return the row of each reading page; a later book's row wins."""
        return {f"{row['kiosk']}/{row['page']}": row for row in self.rows("readings")}

    def exceptions(self, day: date | None = None) -> list[Row]:
        """Return the latest row of each exception, in order of key."""
        latest = {row["key"]: row for row in self.rows("exceptions", day)}
        return [latest[key] for key in sorted(latest)]

    def touching(self, page: str) -> list[Row]:
        """Return the exceptions that touch a page."""
        keys = {row["key"] for row in self.rows("touched") if row["page"] == page}
        return [row for row in self.exceptions() if row["key"] in keys]

    def holds(self, day: date | None = None) -> list[Row]:
        """Return the holds of the last ledger, or of a day's; each lot and exception once."""
        day = day or (self.days()[-1] if self.days() else None)
        latest = {(row["lot"], row["key"]): row for row in self.rows("holds", day)}
        return list(latest.values())

    def fingerprints(self) -> dict[str, str]:
        """Return each ledger's fingerprint by day and supplement."""
        return {f"{book.day}/{book.supplement}": str(book.seal_file["ledger"]) for book in self.books()}

    def possible_word(self, day: date) -> str:
        """Return the word that the day's ledger can be sealed with now, no page being declared lost."""
        return str(seal_word(self.book(day))[0])

    def carry_log(self) -> str:
        """Return the carry log as text."""
        path = self.plant.intake / "carry-log.jsonl"
        return path.read_text(encoding="utf-8") if path.exists() else ""

    def everything(self) -> str:
        """Return every cell and every front sheet as text, a line each."""
        parts: list[str] = []
        for book in self.books():
            parts += _texts(book.front_sheet)
            for table in ("readings", "acts", "exceptions", "holds", "lines"):
                parts += [cell for row in book.table(table).to_pylist() for cell in row.values()]
        return "\n".join(parts)


def _texts(told: Any) -> list[str]:
    if isinstance(told, Mapping):
        return [text for value in told.values() for text in _texts(value)]
    if isinstance(told, list | tuple):
        return [text for value in told for text in _texts(value)]
    return [str(told)]
