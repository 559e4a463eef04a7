"""Published figures with the source and status of each, and how a computed figure is held against them.

Status READ: read in the source named. MEMORY: recalled, not read. COMPUTED: made from a formula by other code.
The columns `calc`, `exact`, `recomputed` are a second implementation's figures; tests use the published column.

Each figure carries where it was printed, and each comparison is noted in `TALLY`:
`python -m tests.published` runs the tests that use these tables and counts what was tried and what agreed.
"""

import csv
import json
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any, NamedTuple

from tests.published.exceptions import REASONS

_HERE = Path(__file__).parent

SLACK = Decimal("0.51")
"""Units of the last printed place that rounding may take."""


class Origin(NamedTuple):
    """Where a figure was printed: table, row and column."""

    table: str
    row: str
    column: str


class Printed(str):
    """A cell exactly as printed, that knows where it stands."""

    origin: Origin

    def __new__(cls, text: str, origin: Origin) -> "Printed":
        """Make the cell."""
        cell = super().__new__(cls, text)
        cell.origin = origin
        return cell


class _Number(float):
    """A published number of a worked example; its text knows where it stands."""

    origin: Origin
    text: str

    def __str__(self) -> str:
        return Printed(self.text, self.origin)


class _Whole(int):
    """A published whole number of a worked example."""

    origin: Origin

    def __str__(self) -> str:
        return Printed(int.__repr__(self), self.origin)


TALLY: dict[Origin, list[tuple[str, bool]]] = {}
"""Every comparison made in this process: how (`printed` to its decimals, `otherwise` as its test says), and its end."""


def rows(name: str) -> list[dict[str, str]]:
    """The rows of one table, every figure as printed."""
    with (_HERE / f"{name}.csv").open(encoding="utf-8", newline="") as table:
        return [
            {column: Printed(text, Origin(name, row["check_id"], column)) for column, text in row.items()}
            for row in csv.DictReader(table)
        ]


def document(name: str) -> Any:
    """One JSON file of worked examples; below `published` each number knows where it stands."""
    examples = json.loads((_HERE / f"{name}.json").read_text(encoding="utf-8"))
    for example in examples:
        for holder in (example, example.get("results", {})):
            for key in ("published", "false_alarm_ARL0"):
                if key in holder:
                    holder[key] = _placed(holder[key], Origin(name, example["example_id"], ""))
    return examples


def agrees(computed: float | Decimal, printed: str, decimals: int | None = None) -> bool:
    """Whether a computed figure rounds to the printed one, by its decimals as printed unless given."""
    figure = Decimal(printed)
    exponent = figure.as_tuple().exponent
    assert isinstance(exponent, int)
    place = Decimal(1).scaleb(exponent if decimals is None else -decimals)
    return _noted(printed, "printed", abs(Decimal(str(computed)) - figure) <= SLACK * place)


def meets(computed: float | Decimal, printed: str, decimals: int | None = None) -> bool:
    """Whether a computed figure rounds to the printed one; where an exception stands for it, whether it does not."""
    return agrees(computed, printed, decimals) is not is_excepted(printed)


def same(computed: object, printed: str) -> bool:
    """Whether a computed figure or word is exactly the printed one."""
    try:
        is_same = Decimal(str(computed)) == Decimal(printed)
    except InvalidOperation:
        is_same = str(computed) == printed
    return _noted(printed, "printed", is_same)


def held(printed: str, is_held: bool) -> bool:
    """Note a comparison made otherwise: a bound, a zone, a range of sources, a misprint not repeated."""
    return _noted(printed, "otherwise", is_held)


def is_excepted(printed: str) -> bool:
    """Whether an exception with its reason stands for a cell."""
    origin = getattr(printed, "origin", None)
    return origin is not None and (origin.row, origin.column) in REASONS


def _noted(printed: str, how: str, is_good: bool) -> bool:
    origin = getattr(printed, "origin", None)
    if origin is not None:
        TALLY.setdefault(origin, []).append((how, is_good))
    return is_good


def _placed(value: Any, at: Origin) -> Any:
    if isinstance(value, dict):
        return {key: _placed(each, at._replace(column=f"{at.column}.{key}".strip("."))) for key, each in value.items()}
    if isinstance(value, list):
        return [_placed(each, at._replace(column=f"{at.column}.{k}")) for k, each in enumerate(value)]
    if isinstance(value, int):
        whole = _Whole(value)
        whole.origin = at
        return whole
    if isinstance(value, float):
        number = _Number(value)
        number.origin, number.text = at, repr(value)
        return number
    return value
