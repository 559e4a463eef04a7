"""From a closed day to the book that is written: the day's own book, or a supplement of what came after its seal.

Pure. A day that is sealed already is never made again: only its pages that are in no sealed book yet are.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from typing import Any
from zoneinfo import ZoneInfo

import pyarrow as pa
import pyarrow.compute as pc

from consolidator.close.closed import ClosedDay, text_table
from consolidator.close.columns import LOT_COLUMNS, TOTAL_PARTS
from consolidator.ledger.books import COLUMNS, Book, Heading, make_book
from consolidator.ledger.check_ledger import FORMAT, PAGE_TABLES
from consolidator.ledger.front_sheet import make_sheet, make_supplement_sheet
from consolidator.settings import Settings
from kiosk.lists import Lists
from kiosk.pages.words import SampleKind, Standing, Verdict
from kiosk.times import write_time

Tables = Mapping[str, pa.Table]


def day_book(
    closed: ClosedDay,
    lists: Lists,
    lists_json: bytes,
    *,
    judged: Collection[str] = (),
    settings: Settings | None = None,
) -> Book:
    """Return the book of a closed day; `judged` names the exception kinds that close of day looks for."""
    heading = _heading(closed, lists, 0)
    tables = _tables(closed)
    at = closed.at_utc.astimezone(ZoneInfo(lists.zone))
    return make_book(
        heading,
        tables,
        front_sheet=_headed(heading, make_sheet(tables, closed.totals, lists, at, judged=judged)),
        totals=closed.totals,
        lists_json=lists_json,
        chunk_rows=(settings or Settings()).ledger_chunk_rows,
    )


def supplement_book(
    closed: ClosedDay,
    lists: Lists,
    lists_json: bytes,
    *,
    sealed: Iterable[Tables],
    number: int,
    settings: Settings | None = None,
) -> Book | None:
    """Return supplement `number` of a day whose `sealed` books are given, or none when no page came since.

    It holds the late pages, the exceptions and holds they touch, and those that changed their state since.
    """
    sealed = list(sealed)
    tables = _late_tables(_tables(closed), sealed)
    if not any(tables[name].num_rows for name in PAGE_TABLES):
        return None
    totals = page_totals(tables)
    heading = _heading(closed, lists, number)
    at = closed.at_utc.astimezone(ZoneInfo(lists.zone))
    return make_book(
        heading,
        tables,
        front_sheet=_headed(heading, make_supplement_sheet(tables, totals, lists, at)),
        totals=totals,
        lists_json=lists_json,
        chunk_rows=(settings or Settings()).ledger_chunk_rows,
    )


def page_totals(tables: Tables) -> dict[str, int]:
    """Return how many pages the tables hold, and the parts that add up to it."""
    parts = dict.fromkeys(TOTAL_PARTS, 0)
    readings = tables["readings"].select(["sample_kind", "standing"]).to_pylist()
    for row in readings:
        parts["set_up_pieces" if row["sample_kind"] == SampleKind.SET_UP else _STANDING_PART[row["standing"]]] += 1
    for row in tables["acts"].select(["kind", "section"]).to_pylist():
        parts[_ACT_PART.get(row["section"]) or _ACT_PART.get(row["kind"]) or "other_acts"] += 1
    return {"readings": len(readings), "pages": sum(parts.values())} | parts


_STANDING_PART = {
    Standing.COUNTS: "counting",
    Standing.FLAGGED: "flagged",
    Standing.BLOCKED: "blocked",
    Standing.RELEASED: "released",
}
_ACT_PART = {"checks": "checks", "correction": "corrections", "re-keyed": "re_keyed"}


def _heading(closed: ClosedDay, lists: Lists, supplement: int) -> Heading:
    return Heading(
        plant=closed.plant,
        day=closed.day,
        supplement=supplement,
        hours=closed.hours,
        closed_at=write_time(closed.at_utc.astimezone(ZoneInfo(lists.zone))),
        lists_version=closed.lists_version,
    )


def _headed(heading: Heading, sheet: Mapping[str, Any]) -> dict[str, Any]:
    top = {
        "format": FORMAT,
        "plant": heading.plant,
        "day": heading.day.isoformat(),
        "supplement": heading.supplement,
        "hours": heading.hours,
        "closed_at": heading.closed_at,
        "lists_version": heading.lists_version,
    }
    return top | dict(sheet)


def _tables(closed: ClosedDay) -> dict[str, pa.Table]:
    return {name: getattr(closed, name) for name in COLUMNS}


def _late_tables(whole: Tables, sealed: list[Tables]) -> dict[str, pa.Table]:
    tables = {name: _not_in(whole[name], [book[name] for book in sealed], ("fingerprint",)) for name in PAGE_TABLES}
    pages = {f"{row['kiosk']}/{row['page']}" for name in PAGE_TABLES for row in _keys(tables[name], ("kiosk", "page"))}
    kiosks = {page.rsplit("/", 1)[0] for page in pages}
    lots = {row["lot"] for name in PAGE_TABLES for row in _keys(tables[name], ("lot",))}
    tables["touched"] = _with(whole["touched"], "page", pages)
    tables["exceptions"] = _changed(whole, sealed, "exceptions", ("key",), set(tables["touched"]["key"].to_pylist()))
    tables["holds"] = _changed(whole, sealed, "holds", ("lot", "key"), set())
    keys = set(tables["exceptions"]["key"].to_pylist())
    told = [bool(keys & set(text.split(";"))) for text in whole["lines"]["keys"].to_pylist()]
    tables["lines"] = whole["lines"].filter(pa.array(told, pa.bool_()))
    tables["kiosks"] = _with(whole["kiosks"], "kiosk", kiosks)
    tables["lots"] = _counted(_with(whole["lots"], "lot", lots), tables["readings"])
    return tables


def _keys(table: pa.Table, names: tuple[str, ...]) -> list[dict[str, str]]:
    rows: list[dict[str, str]] = table.select(list(names)).to_pylist()
    return rows


def _not_in(table: pa.Table, books: list[pa.Table], names: tuple[str, ...]) -> pa.Table:
    known = {tuple(row.values()) for book in books for row in _keys(book, names)}
    return table.filter(pa.array([tuple(row.values()) not in known for row in _keys(table, names)], pa.bool_()))


def _with(table: pa.Table, name: str, wanted: set[str]) -> pa.Table:
    return table.filter(pc.is_in(table[name].cast(pa.string()), pa.array(sorted(wanted), pa.string())))


def _changed(whole: Tables, sealed: list[Tables], name: str, keys: tuple[str, ...], touched: set[str]) -> pa.Table:
    """Return the rows that are new or in another state than when they were last sealed, and those touched."""
    known = {tuple(row[key] for key in keys): row["state"] for book in sealed for row in book[name].to_pylist()}
    told = [
        row["key"] in touched or known.get(tuple(row[key] for key in keys)) != row["state"]
        for row in whole[name].to_pylist()
    ]
    return whole[name].filter(pa.array(told, pa.bool_()))


def _counted(lots: pa.Table, readings: pa.Table) -> pa.Table:
    """Return the lots' rows with their readings counted among `readings` only, not over the whole day."""
    found: dict[str, Counter[str]] = {}
    for row in readings.select(["lot", "sample_kind", "standing", "verdict"]).to_pylist():
        counter = found.setdefault(row["lot"], Counter())
        counter["readings"] += 1
        counter["bad"] += Verdict(row["verdict"]).is_bad
        is_set_up = row["sample_kind"] == SampleKind.SET_UP
        counter["set_up_pieces" if is_set_up else _STANDING_PART[row["standing"]]] += 1
    names = ("readings", "counting", "flagged", "blocked", "released", "set_up_pieces", "bad")
    rows = [row | {name: str(found.get(row["lot"], Counter())[name]) for name in names} for row in lots.to_pylist()]
    return text_table(rows, LOT_COLUMNS)
