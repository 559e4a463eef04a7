"""What stands against closing a lot, read off a production day as it is judged at this moment.

Pure: tables in, conditions out. Must not judge anything itself.
"""

from collections.abc import Iterable, Mapping

from consolidator.close import ClosedDay
from consolidator.qc_room.lots import CloseConditions, OpenException

_SILENT = "X70"


def conditions_of(closed: ClosedDay, lot: str) -> CloseConditions:
    """Return the open exceptions and holds of a lot, and the kiosks not heard from where it was worked."""
    rows = [row for row in closed.exceptions.to_pylist() if row["state"] == "open" and lot in row["lots"].split(";")]
    holds = [row for row in closed.holds.to_pylist() if row["lot"] == lot and row["state"] == "held"]
    keys = {row["key"] for row in rows}
    return CloseConditions(
        exceptions=tuple(open_exception(row) for row in rows),
        # A hold of an open exception is told with the exception; only other holds are told by themselves.
        holds=tuple(f"{row['number']} since {row['since']}" for row in holds if row["key"] not in keys),
        silent_kiosks=tuple(row["cause"] for row in rows if row["number"] == _SILENT),
    )


def open_exception(row: Mapping[str, str]) -> OpenException:
    """Return an exception as a row of the ledger tells of it."""
    lots = tuple(lot for lot in row["lots"].split(";") if lot)
    return OpenException(row["key"], row["number"], row["urgency"], row["sentence"], row["cause"], lots)


def exceptions_of(closed: ClosedDay, readings: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Return the kinds that stand beside some readings of a day, tags left out; those of another day are not told."""
    wanted, found = set(readings), dict[str, tuple[str, ...]]()
    for row in closed.readings.select(["kiosk", "page", "exceptions"]).to_pylist():
        if (ref := f"{row['kiosk']}/{row['page']}") in wanted:
            marks = (mark for mark in row["exceptions"].split(";") if mark and not mark.endswith(" tag"))
            found[ref] = tuple(marks)
    return found
