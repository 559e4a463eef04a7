"""The reading pages of a night as columns, in an order that does not depend on how they came in.

Owns which columns there are. Knows nothing of lists or rules.
"""

from dataclasses import dataclass, fields
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from consolidator.frame.coded import Coded, Codes, Ints, coded, ints

NO_TIME: Final = -(2**62)
"""Stands where a page has no such time."""

_TEXTS: Final = (
    "series",
    "station",
    "person",
    "lot",
    "operation",
    "part",
    "revision",
    "plan_version",
    "set_up",
    "characteristic",
    "sample_kind",
    "position",
    "gauge",
    "master",
    "keyed",
    "keyed_as",
    "unit",
    "earlier",
    "part_temperature",
    "gauge_temperature",
    "temperature_unit",
    "source",
    "taken_by",
    "read_back_by",
    "re_measure_of",
    "computed_from",
    "verdict",
    "reasons",
    "remark",
    "clock_state",
)
_NUMBERS: Final = (
    "number",
    "received_at_ms",
    "kiosk_time_ms",
    "kiosk_offset_min",
    "running_ms",
    "session",
    "sample",
    "piece",
)
_TIMES: Final = ("lists_taken_at_ms", "out_of_heat_at_ms", "paper_taken_at_ms")


@dataclass(frozen=True)
class Pages:
    """One row for each reading page, by series, number, fingerprint; names as in `kiosk.pages.readings.Reading`."""

    fingerprint: pa.ChunkedArray
    series: Coded
    station: Coded
    person: Coded
    lot: Coded
    operation: Coded
    part: Coded
    revision: Coded
    plan_version: Coded
    set_up: Coded
    characteristic: Coded
    sample_kind: Coded
    position: Coded
    gauge: Coded
    master: Coded
    keyed: Coded
    keyed_as: Coded
    unit: Coded
    earlier: Coded
    part_temperature: Coded
    gauge_temperature: Coded
    temperature_unit: Coded
    source: Coded
    taken_by: Coded
    read_back_by: Coded
    re_measure_of: Coded
    computed_from: Coded
    verdict: Coded
    reasons: Coded
    """What the kiosk found, numbers joined with `;`."""
    remark: Coded
    clock_state: Coded
    number: Ints
    received_at_ms: Ints
    kiosk_time_ms: Ints
    kiosk_offset_min: Ints
    running_ms: Ints
    session: Ints
    sample: Ints
    piece: Ints
    replaces: Ints
    """Page number in the same series, 0 where it replaces none."""
    lists_taken_at_ms: Ints
    out_of_heat_at_ms: Ints
    paper_taken_at_ms: Ints

    def __len__(self) -> int:
        return len(self.number)

    def taken(self, rows: Ints) -> "Pages":
        """Return the frame of the rows named, in that order."""
        columns: dict[str, Any] = {each.name: _taken(getattr(self, each.name), rows) for each in fields(self)}
        return Pages(**columns)

    def ref(self, row: int) -> str:
        """Return how other pages name this one, e.g. `S12-a/1877`."""
        return f"{self.series.at(row)}/{int(self.number[row])}"


def _taken(column: Any, rows: Ints) -> Any:
    if isinstance(column, pa.ChunkedArray | pa.Array):
        return column.take(pa.array(rows))
    return column.taken(rows) if isinstance(column, Coded) else column[rows]


def pages_of(readings: pa.Table) -> Pages:
    """Return the frame of `Held.readings`; rows are put in the order series, number, fingerprint."""
    columns: dict[str, Any] = {name: coded(readings[name]) for name in _TEXTS}
    columns["earlier"] = _without(columns["earlier"], "[]")
    numbers: dict[str, Any] = {name: ints(readings[name], 0) for name in _NUMBERS}
    numbers["replaces"] = ints(readings["replaces"], 0)
    numbers |= {name: ints(readings[name], NO_TIME) for name in _TIMES}
    pages = Pages(fingerprint=readings["fingerprint"], **columns, **numbers)
    order = _page_order(pages.series.codes, pages.number, pages.fingerprint)
    return pages if order is None else pages.taken(order)


def _page_order(series: Codes, number: Ints, prints: pa.StringArray) -> Ints | None:
    """Return the rows in page order; none when they are in it already."""
    same = series[1:] == series[:-1]
    rises = (series[1:] > series[:-1]) | (same & (number[1:] > number[:-1]))
    if bool(rises.all()):
        return None
    by_print = np.asarray(pc.sort_indices(prints).to_numpy(), dtype=np.int64)
    rank = np.empty(len(series), dtype=np.int64)
    rank[by_print] = np.arange(len(series))
    return np.lexsort((rank, number, series)).astype(np.int64)


def _without(column: Coded, text: str) -> Coded:
    """Return the column with `text` counted as no text."""
    code = column.code_of(text)
    return (
        column if code < 0 else Coded(np.where(column.codes == code, -1, column.codes).astype(np.int32), column.labels)
    )
