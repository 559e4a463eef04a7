"""A list between its file and its models: headings and rows in, with every fault found; rows out again.

Owns the reading of one list at a time. Must not compare one list with another.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import tzinfo
from typing import Final

from pydantic import ValidationError

from consolidator.lists.cells import CellFaulty, Value, is_blank, read_cell, short, write_cell
from consolidator.lists.faults import Fault
from consolidator.lists.files import Cell, Grid
from consolidator.lists.tables import Column, Form, ListTable, heading
from kiosk.pages._base import Frozen

_LARGE: Final = ("less_than_equal", "greater_than_equal")
_LIMIT_SAID: Final = {"le": "{} at most", "ge": "{} at least", "max_length": "{} characters at most"}


@dataclass(frozen=True)
class Row:
    """One row that could be read: where it stands and what it says; without a number when kept from before."""

    file: str
    number: int | None
    entry: Frozen

    def fault(self, field: str | None, what: str, *, why: str, next_step: str) -> Fault:
        """Return a fault of this row, at the column of `field`."""
        return Fault(self.file, self.number, None if field is None else heading(field), what, why, next_step)


@dataclass(frozen=True)
class ReadList:
    """One list as read, or as kept from the version before when its file was not given.

    `named` holds what stands in the first key column of every row, faulty rows too, so that a fault in one
    row is not told again for each row that points at it; none when the file could not be read.
    """

    table: ListTable
    rows: tuple[Row, ...]
    named: frozenset[str] | None
    faults: tuple[Fault, ...] = ()
    is_given: bool = True


def keep_list(table: ListTable, entries: Iterable[Frozen]) -> ReadList:
    """Return the rows of the version before, for a list whose file was not given."""
    file = f"{table.name} (kept as taken over before)"
    rows = tuple(Row(file, None, entry) for entry in entries)
    named = frozenset(str(getattr(row.entry, table.key[0])) for row in rows)
    return ReadList(table, rows, named, is_given=False)


def read_list(table: ListTable, grid: Grid, zone: tzinfo) -> ReadList:
    """Read every row of `grid` as a row of `table`, and find every fault that shows in one list alone."""
    if grid.faults and not grid.rows:
        return ReadList(table, (), None, grid.faults)
    faults = list(grid.faults)
    columns = _read_headings(table, grid, faults)
    if columns is None:
        return ReadList(table, (), None, tuple(faults))
    rows: list[Row] = []
    named: set[str] = set()
    for number, cells in enumerate(grid.rows[1:], start=2):
        if all(is_blank(cell) for cell in cells):
            continue
        named.update(_name_of(table, columns, cells))
        if len(cells) != len(grid.rows[0]):
            faults.append(_wrong_width(grid.file, number, len(cells), len(grid.rows[0])))
            continue
        row = _read_row(table, columns, cells, _Place(grid.file, number, zone, faults))
        if row is not None:
            rows.append(row)
    return ReadList(table, tuple(rows), frozenset(named), tuple(faults))


def rows_as_text(table: ListTable, entries: Iterable[Frozen]) -> list[list[str]]:
    """Return the heading row and every row as the cells that `read_list` reads back to the same entries."""
    headings = [column.heading for column in table.columns]
    return [headings, *([write_cell(getattr(e, c.field), c) for c in table.columns] for e in entries)]


@dataclass(frozen=True)
class _Place:
    """Where a row stands, the plant's zone, and where its faults are gathered."""

    file: str
    number: int
    zone: tzinfo
    faults: list[Fault]


def _read_headings(table: ListTable, grid: Grid, faults: list[Fault]) -> list[Column | None] | None:
    """Return the column of each place of the heading row; none at all when the rows cannot be read by it."""
    cells = grid.rows[0]
    written = [" ".join(cell.casefold().replace("_", " ").split()) if isinstance(cell, str) else "" for cell in cells]
    columns = [table.by_heading.get(text) for text in written]
    if not any(columns):
        what = "row 1 is not the heading row"
        why = f"none of its cells is a column of the list of {table.name}"
        faults.append(Fault(grid.file, 1, None, what, why, f"write in row 1: {table.headings}"))
        return None
    known = len(faults)
    for place, (cell, text, column) in enumerate(zip(cells, written, columns, strict=True), start=1):
        if column is None and not (text == "" and _is_column_blank(grid, place - 1)):
            faults.append(_unknown_heading(grid.file, cell, place, table))
        elif column is not None and column in columns[: place - 1]:
            why = f"it stands in column {columns.index(column) + 1} and in column {place}"
            said = ("the column is there twice", why, "keep one of the two")
            faults.append(Fault(grid.file, 1, column.heading, *said))
    for column in table.columns:
        if column.needed and column not in columns:
            said = ("the column is missing", "every row needs it", "add the column and fill it in")
            faults.append(Fault(grid.file, 1, column.heading, *said))
    return columns if len(faults) == known else None


def _is_column_blank(grid: Grid, place: int) -> bool:
    return all(place >= len(row) or is_blank(row[place]) for row in grid.rows)


def _unknown_heading(file: str, cell: Cell, place: int, table: ListTable) -> Fault:
    name = short(str(cell).strip(" "))[1:-1] or f"number {place}"
    why = f"the list of {table.name} has no such column"
    next_step = f"take it out, or name it one of: {table.headings}"
    return Fault(file, 1, name, f"the heading {short(str(cell))} is not known", why, next_step)


def _wrong_width(file: str, number: int, found: int, needed: int) -> Fault:
    why = f"the heading row has {needed} cells and this row has {found}"
    next_step = (
        "put quotation marks around a cell with a comma in it, write figures with a point, and fill up with empty cells"
        if found > needed
        else "fill the row up with empty cells"
    )
    return Fault(file, number, None, "the cells do not fit the headings", why, next_step)


def _name_of(table: ListTable, columns: Sequence[Column | None], cells: Sequence[Cell]) -> Iterable[str]:
    for column, cell in zip(columns, cells, strict=False):
        if column is not None and column.field == table.key[0]:
            yield str(cell).strip(" ")


def _read_row(table: ListTable, columns: Sequence[Column | None], cells: Sequence[Cell], place: _Place) -> Row | None:
    values: dict[str, Value] = {}
    known = len(place.faults)
    for column, cell in zip(columns, cells, strict=True):
        if column is None:
            continue
        try:
            value = read_cell(cell, column, place.zone)
        except CellFaulty as wrong:
            said = (wrong.what, wrong.why, wrong.next_step)
            place.faults.append(Fault(place.file, place.number, column.heading, *said))
            continue
        if value is not None:
            values[column.field] = value
    if len(place.faults) > known:
        return None
    try:
        return Row(place.file, place.number, table.model.model_validate(values))
    except ValidationError as error:
        place.faults.extend(_model_faults(table, place, error))
        return None


def _model_faults(table: ListTable, place: _Place, error: ValidationError) -> Iterable[Fault]:
    """Say what a row's model refused: only lengths and sizes are left by then."""
    forms = {column.field: column.form for column in table.columns}
    for wrong in error.errors(include_url=False):
        field = str(wrong["loc"][0])
        limits = wrong.get("ctx", {})
        why = ", ".join(_LIMIT_SAID[key].format(limits[key]) for key in _LIMIT_SAID if key in limits)
        is_size = wrong["type"] in _LARGE and forms[field] is Form.WHOLE
        next_step = "write a number within it" if is_size else "write it shorter"
        what = f"{short(str(wrong['input']))} was not taken"
        yield Fault(
            place.file, place.number, heading(field), what, f"the column takes {why or wrong['msg']}", next_step
        )
