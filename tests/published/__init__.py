"""Published figures with the source and status of each, and how a computed figure is held against them.

Status READ: read in the source named. MEMORY: recalled, not read. COMPUTED: made from a formula by other code.
The columns `calc`, `exact`, `recomputed` are a second implementation's figures; tests use the published column.
"""

import csv
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

_HERE = Path(__file__).parent

SLACK = Decimal("0.51")
"""Units of the last printed place that rounding may take."""


def rows(name: str) -> list[dict[str, str]]:
    """The rows of one table, every figure as printed."""
    with (_HERE / f"{name}.csv").open(encoding="utf-8", newline="") as table:
        return list(csv.DictReader(table))


def document(name: str) -> Any:
    """One JSON file of worked examples."""
    return json.loads((_HERE / f"{name}.json").read_text(encoding="utf-8"))


def agrees(computed: float | Decimal, printed: str, decimals: int | None = None) -> bool:
    """Whether a computed figure rounds to the printed one, by its decimals as printed unless given."""
    figure = Decimal(printed)
    exponent = figure.as_tuple().exponent
    assert isinstance(exponent, int)
    place = Decimal(1).scaleb(exponent if decimals is None else -decimals)
    return abs(Decimal(str(computed)) - figure) <= SLACK * place
