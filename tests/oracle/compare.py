"""The oracle and close of day on the same plant: verdict, standing and exceptions of each reading, and the rest."""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

import pyarrow as pa

from consolidator.close import CarriedOver, ClosedDay, close_day
from consolidator.close.closed import text_table
from consolidator.close.columns import EXCEPTION_COLUMNS, HOLD_COLUMNS
from consolidator.frame import make_day
from consolidator.lookback import FINDINGS, Read, rules
from consolidator.lookback.exceptions import look_backs_of
from consolidator.rules import JUDGED as JUDGED_AT_CLOSE
from consolidator.rules.kinds import BY_LOOK_BACK
from tests.oracle.found_out import Finding, Told
from tests.oracle.judge import JUDGED, NAMED, ON_READINGS, Judged, judge_day
from tests.oracle.plants import Plant

BOTH = JUDGED & (JUDGED_AT_CLOSE | BY_LOOK_BACK)
"""The kinds that both look for."""


@dataclass(frozen=True)
class Compared:
    """What a comparison saw."""

    plant: str
    readings: int
    kinds: frozenset[str]
    """Kinds that either found, so that it shows which were met at all."""
    findings: frozenset[str]
    """Findings of look-backs that were met."""
    differences: tuple[str, ...]


def compare(plant: Plant) -> Compared:
    """Close a plant by both and return where they differ."""
    closed = close_day(
        plant.held, plant.lists, day=plant.day, at_utc=plant.at_utc, before=_before(plant),
        more_rules=rules(_reader(plant)),
    )  # fmt: skip
    rows = {(f"{row['kiosk']}/{row['page']}", row["fingerprint"]): row for row in closed.readings.to_pylist()}
    found = {key: frozenset(row["exceptions"].split(";")) - {""} for key, row in rows.items()}
    beside = ON_READINGS & BOTH
    told = {key: frozenset(n for n in marks if n.removesuffix(" tag") not in beside) for key, marks in found.items()}
    oracle = judge_day(
        plant.held, plant.lists, day=plant.day, at_utc=plant.at_utc, carried=plant.carried, told=told,
        kinds=BOTH, raised=closed.exceptions.to_pylist(),
    )  # fmt: skip
    differences = []
    for key in sorted(rows.keys() | oracle.readings.keys()):
        row, judged = rows.get(key), oracle.readings.get(key)
        closes = None if row is None else Judged(row["verdict"], row["standing"], found[key])
        if closes != judged:
            differences.append(f"{key[0]}: close {_say(closes)}, oracle {_say(judged)}")
    named = _named(closed)
    differences += _apart((named ^ oracle.named) - oracle.undecided, named)
    found_out = set(_found_out(closed, plant.reading_refs))
    differences += _apart(found_out ^ oracle.found_out, found_out)
    findings = _findings(plant)
    looked = {finding[:2] for finding in findings}
    differences += _apart(findings ^ {each for each in oracle.findings if each[:2] in looked}, findings)
    kinds = frozenset(number for marks in found.values() for number in marks) | {number for number, _ in named}
    return Compared(plant.name, len(rows), kinds, frozenset(each[-1] for each in findings), tuple(differences))


def _apart(only_one: Iterable[tuple[str, ...] | Finding], of_close: Iterable[object]) -> Iterator[str]:
    known = set(of_close)
    for each in sorted(only_one):
        yield f"{' | '.join(map(str, each))}: only {'close' if each in known else 'oracle'}"


def _named(closed: ClosedDay) -> set[tuple[str, str]]:
    return {(row["number"], row["cause"]) for row in closed.exceptions.to_pylist() if row["number"] in NAMED}


def _found_out(closed: ClosedDay, readings: set[str]) -> Iterator[Told]:
    held, named = defaultdict[str, set[str]](set), defaultdict[str, set[str]](set)
    for row in closed.holds.to_pylist():
        held[row["key"]].add(row["lot"])
    for row in closed.touched.to_pylist():
        named[row["key"]].add(row["page"])
    for row in closed.exceptions.to_pylist():
        if row["number"] in BY_LOOK_BACK:
            lots, refs = held[row["key"]], named[row["key"]] & readings
            yield row["number"], row["cause"], row["urgency"], ";".join(sorted(lots)), ";".join(sorted(refs))


def _findings(plant: Plant) -> set[Finding]:
    """Return what the program's own look-backs find of every reading."""
    day = make_day(plant.held, plant.lists, day=plant.day, at_utc=plant.at_utc)
    told: set[Finding] = set()
    for back in look_backs_of(day, _reader(plant)):
        assert back.trouble is not None
        found, pages = back.found, back.found.day.pages
        for place, row in enumerate(found.rows.tolist()):
            finding = str(FINDINGS[int(found.rank[place])])
            told.add((back.number, back.trouble.at_ms, pages.ref(row), str(pages.fingerprint[row]), finding))
    return told


def _reader(plant: Plant) -> Read:
    """Return what hands out readings as the archive does: by gauge and master, by page, and what takes a place."""
    table = plant.held.readings
    rows = table.select(["gauge", "master", "replaces", "series", "number"]).to_pylist()

    def read(numbers: frozenset[str], pages: frozenset[str], _since: datetime | None) -> pa.Table:
        wanted = [
            bool({row["gauge"], row["master"]} & numbers)
            or row["replaces"] is not None
            or f"{row['series']}/{row['number']}" in pages
            for row in rows
        ]
        return table.filter(pa.array(wanted, pa.bool_()))

    return read


def _before(plant: Plant) -> CarriedOver | None:
    """Return the day before as far as this one needs it: lots on hold."""
    if not plant.carried:
        return None
    holds = [
        {"lot": lot, "key": f"X23 {lot} before", "number": "X23", "name": "Out of tolerance / Reject", "urgency": "B",
         "since": "2026-03-01T10:00:00.000-05:00", "state": "held"}
        for lot in sorted(plant.carried)
    ]  # fmt: skip
    return CarriedOver(text_table([], EXCEPTION_COLUMNS), text_table(holds, HOLD_COLUMNS))


def _say(judged: Judged | None) -> str:
    if judged is None:
        return "nothing"
    return f"{judged.verdict}, {judged.standing}, {';'.join(sorted(judged.exceptions)) or 'no exception'}"
