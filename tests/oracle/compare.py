"""The oracle and close of day on the same plant: verdict, standing and exceptions of each reading, and the rest."""

from dataclasses import dataclass

from consolidator.close import CarriedOver, ClosedDay, close_day
from consolidator.close.closed import text_table
from consolidator.close.columns import EXCEPTION_COLUMNS, HOLD_COLUMNS
from consolidator.rules import JUDGED as JUDGED_AT_CLOSE
from tests.oracle.judge import JUDGED, NAMED, ON_READINGS, Judged, judge_day
from tests.oracle.plants import Plant


@dataclass(frozen=True)
class Compared:
    """What a comparison saw."""

    seed: int
    readings: int
    kinds: frozenset[str]
    """Kinds that either found, so that it shows which were met at all."""
    differences: tuple[str, ...]


def compare(plant: Plant) -> Compared:
    """Close a plant by both and return where they differ."""
    closed = close_day(plant.held, plant.lists, day=plant.day, at_utc=plant.at_utc, before=_before(plant))
    rows = {(f"{row['kiosk']}/{row['page']}", row["fingerprint"]): row for row in closed.readings.to_pylist()}
    found = {key: frozenset(row["exceptions"].split(";")) - {""} for key, row in rows.items()}
    beside = ON_READINGS & JUDGED_AT_CLOSE
    told = {key: frozenset(n for n in marks if n.removesuffix(" tag") not in beside) for key, marks in found.items()}
    oracle = judge_day(
        plant.held, plant.lists, day=plant.day, at_utc=plant.at_utc, carried=plant.carried, told=told,
        kinds=JUDGED & JUDGED_AT_CLOSE, raised=closed.exceptions.to_pylist(),
    )  # fmt: skip
    differences = []
    for key in sorted(rows.keys() | oracle.readings.keys()):
        row, judged = rows.get(key), oracle.readings.get(key)
        closes = None if row is None else Judged(row["verdict"], row["standing"], found[key])
        if closes != judged:
            differences.append(f"{key[0]}: close {_say(closes)}, oracle {_say(judged)}")
    named = _named(closed)
    for number, cause in sorted((named ^ oracle.named) - oracle.undecided):
        who = "close" if (number, cause) in named else "oracle"
        differences.append(f"{number} of {cause}: only {who}")
    kinds = frozenset(number for marks in found.values() for number in marks) | {number for number, _ in named}
    return Compared(plant.seed, len(rows), kinds, tuple(differences))


def _named(closed: ClosedDay) -> set[tuple[str, str]]:
    return {(row["number"], row["cause"]) for row in closed.exceptions.to_pylist() if row["number"] in NAMED}


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
