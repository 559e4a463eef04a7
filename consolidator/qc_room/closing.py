"""Everything that stands against closing a lot, at this moment: read off the days judged now and the ledgers before.

Owns putting it together, and what no exception tells: operations nobody signed off, and characteristics a lot is
accepted on of which too few pieces count. Must not judge a reading itself.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import pyarrow.compute as pc

from consolidator.authority import AUTHORITIES, Deed, levels_at, role_for
from consolidator.close import ClosedDay
from consolidator.frame.words import many
from consolidator.intake import Archive, HeldPage
from consolidator.ledger.closing import judge_day
from consolidator.ledger.folder import BookFolder, days_in, open_book, supplements_of
from consolidator.lists import as_known
from consolidator.plant import Plant
from consolidator.production.acceptance import ACCEPTING, AGAIN, SAMPLED
from consolidator.qc_room.lots import CloseConditions, OpenException
from kiosk.lists import Characteristic, Lists, Lot, in_force
from kiosk.pages.desk import OperationSignOff
from kiosk.pages.words import Standing, Verdict
from kiosk.times import day_bounds_utc, production_day, read_time

Row = Mapping[str, str]
_SILENT: Final = "X70"
_COLUMNS: Final = [
    "lot",
    "operation",
    "characteristic",
    "sample",
    "sample_kind",
    "piece",
    "kiosk",
    "standing",
    "verdict",
]


def conditions_at(plant: Plant, lot: str, *, at: datetime, archive: Archive) -> CloseConditions:
    """Return everything that stands against closing a lot as known at `at` (aware); nothing is written.

    The production day under way is judged anew, and the day before it too where its ledger was made before it ended.
    """
    lists = as_known(plant, at.astimezone(UTC))
    judged = judged_now(plant, at=at, archive=archive)
    told = conditions_of(judged[-1], lot)
    known = lists.lot(lot)
    if known is None:
        return told
    signed = archive.told([OperationSignOff.model_fields["kind"].default], by_utc=at.astimezone(UTC)).acts
    missing = list(unsigned_operations(known, lists, at=at, acts=signed))
    if not any(each.number == "X43" for each in told.exceptions):
        books = list(_books_before(plant, judged[0].day, lot))
        tables = [*(day.readings for day in judged), *(book.table("readings") for book in books)]
        rows = [
            row
            for table in tables
            for row in table.select(_COLUMNS).filter(pc.equal(table["lot"].cast("string"), lot)).to_pylist()
        ]
        is_settled = _is_settled([*(day.exceptions for day in judged), *(book.exceptions for book in books)], lot)
        missing += [] if is_settled else not_enough(known, lists, at=at, rows=rows)
    return replace(told, missing=tuple(missing))


def judged_now(plant: Plant, *, at: datetime, archive: Archive) -> list[ClosedDay]:
    """Return the production day under way as judged now, after the day before it where no whole ledger of it stands."""
    zone = ZoneInfo(as_known(plant, at.astimezone(UTC)).zone)
    today = production_day(at, zone)
    before = today - timedelta(days=1)
    if _is_whole(plant, before, zone):
        return [judge_day(plant, today, at=at, archive=archive)]
    first = judge_day(plant, before, at=at, archive=archive)
    return [first, judge_day(plant, today, at=at, archive=archive, before=first)]


def unsigned_operations(lot: Lot, lists: Lists, *, at: datetime, acts: Iterable[HeldPage]) -> Iterator[str]:
    """Give the operations that others may not start before, and that nobody who may has signed off for the lot."""
    signed = {held.page.act.operation for held in acts if _is_signed(held, lot, lists)}  # type: ignore[union-attr]
    plans = [p for p in lists.plans if (p.part, p.revision) == (lot.part, lot.revision)]
    for operation in sorted({p.after_operation for p in plans if p.after_operation is not None}):
        if operation not in signed:
            yield f"operation {operation} not signed off (X48)"


def not_enough(lot: Lot, lists: Lists, *, at: datetime, rows: Sequence[Row]) -> list[str]:
    """Return the characteristics of which too few pieces count or too many are rejects, over all the lot's days (X43).

    A piece counts when some reading of it counts; it is told by its sample and number, re-measures by those too.
    """
    final_operations = {
        p.operation for p in lists.plans if (p.part, p.revision) == (lot.part, lot.revision) and p.is_final
    }
    told = []
    for characteristic in _accepting(lot, lists, at):
        mine = [row for row in rows if row["characteristic"] == characteristic.number]
        kinds = (*ACCEPTING, *(SAMPLED if characteristic.operation in final_operations else ()))
        final = {_piece(row) for row in mine if row["sample_kind"] in kinds}
        taken = [row for row in mine if row["sample_kind"] in (*kinds, *AGAIN) and _piece(row) in final]
        counting = len({_piece(row) for row in taken if row["standing"] != Standing.BLOCKED})
        rejects, allowed = _rejects(taken), characteristic.rejects_allowed
        if rejects > allowed:
            told.append(
                f"{characteristic.number} {characteristic.name}: {many(rejects, 'reject')}, {allowed} allowed (X43)"
            )
        if counting < characteristic.acceptance_n:
            told.append(
                f"{characteristic.number} {characteristic.name}: {counting} of {characteristic.acceptance_n} pieces "
                f"of lot acceptance count (X43)"
            )
    return told


def _rejects(rows: Iterable[Row]) -> int:
    """Return how many pieces are rejects: by a counting reading, or by a blocked one that no counting one refutes."""
    bad_words = {str(verdict) for verdict in Verdict if verdict.is_bad}
    good, bad, accused = set[tuple[str, str, str]](), set[tuple[str, str, str]](), set[tuple[str, str, str]]()
    for row in rows:
        is_bad, counts = row["verdict"] in bad_words, row["standing"] != Standing.BLOCKED
        if is_bad:
            (bad if counts else accused).add(_piece(row))
        elif counts:
            good.add(_piece(row))
    return len(bad | (accused - good))


def _accepting(lot: Lot, lists: Lists, at: datetime) -> list[Characteristic]:
    rows = [c for c in lists.characteristics if (c.part, c.revision) == (lot.part, lot.revision)]
    numbers = dict.fromkeys(c.number for c in rows)
    now = (in_force([c for c in rows if c.number == number], at) for number in numbers)
    return [c for c in now if c is not None and c.acceptance_n > 0]


def _piece(row: Row) -> tuple[str, str, str]:
    return row["operation"], row["sample"], row["piece"]


def _is_signed(held: HeldPage, lot: Lot, lists: Lists) -> bool:
    act = held.page.act
    if not isinstance(act, OperationSignOff) or act.lot != lot.number:
        return False
    signer = act.signature.person if act.signature is not None else held.page.person
    levels = levels_at(signer or "", lists, read_time(held.page.kiosk_time), operation=act.operation)
    return role_for(AUTHORITIES[Deed.SIGN_OFF].first, levels) is not None


def _is_whole(plant: Plant, day: date, zone: ZoneInfo) -> bool:
    """True when a ledger of the day stands that was made after the day had ended."""
    if day not in days_in(plant.ledger):
        return False
    return read_time(str(open_book(plant.ledger, day).body["closed_at"])) >= day_bounds_utc(day, zone)[1]


def _books_before(plant: Plant, day: date, lot: str) -> Iterator[BookFolder]:
    """Give the books and supplements of earlier days in which the lot stands."""
    for earlier in (other for other in days_in(plant.ledger) if other < day):
        for book in (open_book(plant.ledger, earlier), *supplements_of(plant.ledger, earlier)):
            if lot in book.table("lots")["lot"].to_pylist():
                yield book


def _is_settled(tables: Iterable[object], lot: str) -> bool:
    """True when an X43 of the lot was closed by somebody: quality has counted what these rows cannot show."""
    return any(
        row["number"] == "X43" and row["state"] == "closed" and lot in row["lots"].split(";")
        for table in tables
        for row in table.to_pylist()  # type: ignore[attr-defined]
    )


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
