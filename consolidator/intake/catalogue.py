"""The intake's own index: which packet holds which pages, contacts, findings, and what is screened.

Everything in it can be made again from the two logs, the packets and the screened files; it is never evidence.
Owns `intake/screened/catalogue.sqlite`.
"""

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import orjson

from consolidator.intake.held import Run, Unfit

_TABLES = """
CREATE TABLE IF NOT EXISTS packets(
  arrival INTEGER PRIMARY KEY, series TEXT, first INTEGER, last INTEGER, received_ms INTEGER,
  head TEXT, before TEXT, file TEXT, take TEXT);
CREATE INDEX IF NOT EXISTS packets_run ON packets(series, first);
CREATE TABLE IF NOT EXISTS arrived(series TEXT, first INTEGER, last INTEGER, received_ms INTEGER);
CREATE INDEX IF NOT EXISTS arrived_at ON arrived(received_ms);
CREATE INDEX IF NOT EXISTS arrived_series ON arrived(series, received_ms);
CREATE TABLE IF NOT EXISTS runs(
  series TEXT, first INTEGER, last INTEGER, PRIMARY KEY(series, first)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS findings(
  series TEXT, number INTEGER, unfit TEXT, fingerprint TEXT, why TEXT, found_ms INTEGER,
  PRIMARY KEY(series, number, unfit, fingerprint)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS unknown(
  series TEXT, first INTEGER, last INTEGER, received_ms INTEGER, is_withdrawn INTEGER, file TEXT);
CREATE TABLE IF NOT EXISTS contacts(
  series TEXT, session INTEGER, consolidator_ms INTEGER, kiosk_ms INTEGER, running_ms INTEGER);
CREATE INDEX IF NOT EXISTS contacts_session ON contacts(series, session, consolidator_ms);
CREATE INDEX IF NOT EXISTS contacts_time ON contacts(consolidator_ms);
CREATE INDEX IF NOT EXISTS contacts_series ON contacts(series, consolidator_ms);
CREATE TABLE IF NOT EXISTS differences(series TEXT, minutes INTEGER, first_ms INTEGER,
  PRIMARY KEY(series, minutes)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS sessions(series TEXT, session INTEGER, consolidator_ms INTEGER, running_ms INTEGER,
  PRIMARY KEY(series, session)) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS files(name TEXT PRIMARY KEY, kind TEXT, rows INTEGER);
CREATE TABLE IF NOT EXISTS spans(
  file TEXT, series TEXT, session INTEGER,
  kiosk_from INTEGER, kiosk_to INTEGER, running_from INTEGER, running_to INTEGER);
CREATE INDEX IF NOT EXISTS spans_file ON spans(file);
CREATE TABLE IF NOT EXISTS progress(name TEXT PRIMARY KEY, value INTEGER);
"""
CONFLICT = "conflict"


@dataclass(frozen=True)
class Arrival:
    """One packet taken in; `take` are the runs of it that were new or in conflict."""

    number: int
    series: str
    first: int
    last: int
    received_ms: int
    head: str
    before: str | None
    file: str
    take: tuple[Run, ...]


@dataclass(frozen=True)
class Span:
    """What a screened file holds of one power-on session: kiosk times and running times, first and last."""

    series: str
    session: int
    kiosk_from_ms: int
    kiosk_to_ms: int
    running_from_ms: int
    running_to_ms: int


class Catalogue:
    """The index; every change is made by whoever holds the intake's lock, inside `with catalogue:`."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self._sql = sqlite3.connect(folder / "catalogue.sqlite", isolation_level=None, check_same_thread=False)
        # NORMAL: a power cut may lose the last changes, never the file; the logs bring them back.
        self._sql.executescript("PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;" + _TABLES)

    def close(self) -> None:
        """Let go of the file."""
        self._sql.close()

    def __enter__(self) -> "Catalogue":
        self._sql.execute("BEGIN IMMEDIATE")
        return self

    def __exit__(self, kind: type[BaseException] | None, *rest: object) -> None:
        self._sql.execute("COMMIT" if kind is None else "ROLLBACK")

    def ask(self, question: str, *values: Any) -> list[Any]:
        """Return the rows that answer a question in SQL."""
        return self._sql.execute(question, values).fetchall()

    def progress(self, name: str) -> int:
        """Return how far `name` has come: bytes of a log, arrivals screened, files numbered."""
        rows = self.ask("SELECT value FROM progress WHERE name=?", name)
        return int(rows[0][0]) if rows else 0

    def set_progress(self, name: str, value: int) -> None:
        """Note how far `name` has come."""
        self.ask("INSERT OR REPLACE INTO progress VALUES(?,?)", name, value)

    def take_packet(self, line: dict[str, Any]) -> None:
        """Index one line of the carry log that tells of a packet; one refused has nothing to index."""
        if line["outcome"] == "refused":
            return
        series, received_ms = line["series"], line["received_ms"]
        if line["outcome"] == "taken":
            runs = [Run(first, last) for first, last in line["new_runs"]]
            take = [*line["new_runs"], *([each["number"]] * 2 for each in line["conflicts"])]
            self.ask(
                "INSERT INTO packets(series,first,last,received_ms,head,before,file,take) VALUES(?,?,?,?,?,?,?,?)",
                series, line["first"], line["last"], received_ms, line["head"], line["before"], line["file"],
                orjson.dumps(take).decode(),
            )  # fmt: skip
            for run in runs:
                self.ask("INSERT INTO arrived VALUES(?,?,?,?)", series, run.first, run.last, received_ms)
                self._join_run(series, run)
            for each in line["conflicts"]:
                for print_ in each["fingerprints"]:
                    self.find(series, each["number"], CONFLICT, print_, "", received_ms)
            for each in line["misfits"]:
                self.find(series, each["number"], each["unfit"], each["fingerprint"], each["why"], received_ms)
        if line["outcome"] == "unknown kiosk" or line.get("is_withdrawn"):
            self.ask(
                "INSERT INTO unknown VALUES(?,?,?,?,?,?)",
                series, line["first"], line["last"], received_ms, bool(line.get("is_withdrawn")), line["file"],
            )  # fmt: skip

    def take_contact(self, line: dict[str, Any]) -> None:
        """Index one line of the contacts."""
        series, session, running_ms = line["series"], line["session"], line["running_ms"]
        at_ms, kiosk_ms = line["consolidator_ms"], line["kiosk_ms"]
        self.ask("INSERT INTO contacts VALUES(?,?,?,?,?)", series, session, at_ms, kiosk_ms, running_ms)
        minutes = (at_ms - kiosk_ms) // 60_000
        self.ask("INSERT OR IGNORE INTO differences VALUES(?,?,?)", series, minutes, at_ms)
        self.ask("INSERT OR IGNORE INTO sessions VALUES(?,?,?,?)", series, session, at_ms, running_ms)

    def find(self, series: str, number: int, unfit: str, print_: str, why: str, found_ms: int) -> None:
        """Note a finding about one page; finding it again changes nothing."""
        self.ask("INSERT OR IGNORE INTO findings VALUES(?,?,?,?,?,?)", series, number, unfit, print_, why, found_ms)

    def has_altered(self, arrival: Arrival) -> bool:
        """True when a page of the arrival came with a fingerprint that its bytes do not fit."""
        question = "SELECT 1 FROM findings WHERE series=? AND number BETWEEN ? AND ? AND unfit=? LIMIT 1"
        return bool(self.ask(question, arrival.series, arrival.first, arrival.last, Unfit.FINGERPRINT))

    def forget(self) -> None:
        """Forget everything but the count of files, so that all of it is made again and no name is used twice."""
        for table in ("packets", "arrived", "runs", "findings", "unknown", "contacts", "differences", "sessions"):
            self.ask(f"DELETE FROM {table}")
        self.ask("DELETE FROM files")
        self.ask("DELETE FROM spans")
        self.ask("DELETE FROM progress WHERE name<>'file'")

    def runs(self, series: str) -> list[Run]:
        """Return the runs of page numbers held of one series."""
        return [Run(*row) for row in self.ask("SELECT first,last FROM runs WHERE series=? ORDER BY first", series)]

    def packets_over(self, series: str, first: int, last: int, longest: int) -> list[Arrival]:
        """Return arrivals that hold any page from `first` to `last`; no packet has more than `longest` pages."""
        rows = self.ask(
            "SELECT * FROM packets WHERE series=? AND first BETWEEN ? AND ? AND last>=? ORDER BY arrival",
            series, first - longest, last, first,
        )  # fmt: skip
        return [_arrival(row) for row in rows]

    def to_screen(self, page_limit: int) -> list[Arrival]:
        """Return the next arrivals that were not screened, up to about `page_limit` pages, at least one."""
        through = self.progress("screened")
        found: list[Arrival] = []
        pages = 0
        cursor = self._sql.execute("SELECT * FROM packets WHERE arrival>? ORDER BY arrival", (through,))
        for row in cursor:
            found.append(_arrival(row))
            pages += sum(run.last - run.first + 1 for run in found[-1].take)
            if pages >= page_limit:
                break
        return found

    def add_file(self, name: str, kind: str, rows: int, spans: Iterable[Span]) -> None:
        """Note a screened file and what it spans."""
        self.ask("INSERT INTO files VALUES(?,?,?)", name, kind, rows)
        for span in spans:
            self.ask(
                "INSERT INTO spans VALUES(?,?,?,?,?,?,?)",
                name, span.series, span.session,
                span.kiosk_from_ms, span.kiosk_to_ms, span.running_from_ms, span.running_to_ms,
            )  # fmt: skip

    def drop_file(self, name: str) -> None:
        """Forget a screened file that was joined into another."""
        self.ask("DELETE FROM files WHERE name=?", name)
        self.ask("DELETE FROM spans WHERE file=?", name)

    def file_rows(self, kind: str) -> list[tuple[str, int]]:
        """Return name and rows of each screened file of a kind, in the order they were made."""
        return [
            (name, rows) for name, rows in self.ask("SELECT name,rows FROM files WHERE kind=? ORDER BY rowid", kind)
        ]

    def file_names(self, kind: str) -> list[str]:
        """Return the names of the screened files of a kind, in the order they were made."""
        return [name for name, _ in self.file_rows(kind)]

    def spans(self, kind: str) -> dict[str, list[Span]]:
        """Return what each screened file of a kind spans, files in the order they were made."""
        rows = self.ask(
            "SELECT spans.* FROM files JOIN spans ON spans.file=files.name WHERE kind=? ORDER BY files.rowid", kind
        )
        found: dict[str, list[Span]] = {}
        for row in rows:
            found.setdefault(row[0], []).append(Span(*row[1:]))
        return found

    def _join_run(self, series: str, run: Run) -> None:
        touching = self.ask(
            "SELECT first,last FROM runs WHERE series=? AND first<=? AND last>=?", series, run.last + 1, run.first - 1
        )
        for first, _ in touching:
            self.ask("DELETE FROM runs WHERE series=? AND first=?", series, first)
        first = min([run.first, *(row[0] for row in touching)])
        last = max([run.last, *(row[1] for row in touching)])
        self.ask("INSERT INTO runs VALUES(?,?,?)", series, first, last)


def _arrival(row: tuple[Any, ...]) -> Arrival:
    number, series, first, last, received_ms, head, before, file, take = row
    runs = tuple(Run(a, b) for a, b in orjson.loads(take))
    return Arrival(number, series, first, last, received_ms, head, before, file, runs)
