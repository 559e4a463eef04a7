"""Counts the published figures that the program is held against: `python -m tests.published`.

Runs the tests that use the tables of this folder, then prints for each table how many rows and figures were tried,
how many agree as printed or as their test says, and every exception with its reason.
Ends with 1 when a test fails, a row that was read or computed is not tried, or a difference has no reason.
"""

import contextlib
import io
import sys
from collections import Counter
from pathlib import Path
from typing import Final

import pytest

from tests.published import TALLY, Origin, document, rows
from tests.published.exceptions import REASONS

_HERE: Final = Path(__file__).parent
_TESTS: Final = (
    "tests/unit/kiosk/threads",
    "tests/unit/kiosk/measure",
    "tests/unit/consolidator/study",
)


def statuses() -> dict[Origin, str]:
    """Status of every row of every table, by its origin without a column."""
    found = {}
    for path in sorted(_HERE.glob("t*.csv")):
        for row in rows(path.stem):
            found[Origin(path.stem, row["check_id"], "")] = row["status"]
    for path in sorted(_HERE.glob("t*.json")):
        for example in document(path.stem):
            words, is_mixed = example["status"].split(" (")[0], "MEMORY" in example["status"][6:]
            found[Origin(path.stem, example["example_id"], "")] = "READ+MEMORY" if is_mixed else words
    return found


def is_good(origin: Origin) -> bool:
    """Whether every comparison of a cell came out well."""
    return all(good for _, good in TALLY[origin])


def is_as_printed(origin: Origin) -> bool:
    """Whether a cell was compared to its printed decimals at least once."""
    return any(how == "printed" for how, _ in TALLY[origin])


def table_lines(known: dict[Origin, str]) -> list[str]:
    """One line for each table, and the sums under them."""
    heads = ("table", "rows", "read", "computed", "memory", "tried", "figures", "as printed", "otherwise", "excepted")
    lines = [f"{heads[0]:42}" + "".join(f"{head:>11}" for head in heads[1:])]
    sums: Counter[str] = Counter()
    for table in sorted({origin.table for origin in known}):
        status = [each for origin, each in known.items() if origin.table == table]
        cells = [origin for origin in TALLY if origin.table == table]
        count = {
            "rows": len(status),
            "read": sum("READ" in each for each in status),
            "computed": sum(each == "COMPUTED" for each in status),
            "memory": sum(each == "MEMORY" for each in status),
            "tried": len({origin.row for origin in cells}),
            "figures": len(cells),
            "as printed": sum(is_good(cell) and is_as_printed(cell) for cell in cells),
            "otherwise": sum(is_good(cell) and not is_as_printed(cell) for cell in cells),
            "excepted": sum(not is_good(cell) for cell in cells),
        }
        sums.update(count)
        lines.append(f"{table:42}" + "".join(f"{count[head]:11}" for head in heads[1:]))
    return [*lines, f"{'all':42}" + "".join(f"{sums[head]:11}" for head in heads[1:])]


def status_line(known: dict[Origin, str]) -> str:
    """How many of the figures tried were read, computed by other code, or recalled."""
    of = Counter(known[origin._replace(column="")] for origin in TALLY)
    return "Figures tried by status: " + ", ".join(f"{status} {count}" for status, count in sorted(of.items()))


def faults(known: dict[Origin, str]) -> list[str]:
    """What must not be: rows passed over, differences without a reason, reasons without a difference."""
    tried = {origin._replace(column="") for origin in TALLY}
    excused = {row for row, _ in REASONS}
    found = [
        f"{origin.table} {origin.row}: {status}, and not tried"
        for origin, status in known.items()
        if origin not in tried and origin.row not in excused and status != "MEMORY" and _has_figures(origin)
    ]
    differing = {(origin.row, origin.column) for origin in TALLY if not is_good(origin)}
    found += [f"{row} {column}: differs, and no reason stands for it" for row, column in differing - set(REASONS)]
    compared = {(origin.row, origin.column) for origin in TALLY}
    found += [f"{row} {column}: a reason for nothing" for row, column in set(REASONS) & compared - differing]
    return found


def _has_figures(origin: Origin) -> bool:
    """False for a worked example that prints no figure of its own, only data."""
    if not (_HERE / f"{origin.table}.json").is_file():
        return True
    example = next(each for each in document(origin.table) if each["example_id"] == origin.row)
    return bool(example.get("published") or example.get("results", {}).get("published"))


def main() -> int:
    """Run, count and print."""
    TALLY.clear()
    told = io.StringIO()
    with contextlib.redirect_stdout(told):
        ended = pytest.main(["-q", "-p", "no:cacheprovider", *_TESTS])
    if ended != 0:
        print(told.getvalue())
        return 1
    known = statuses()
    lines = table_lines(known)
    lines += ["", status_line(known), "", "Exceptions, each with its reason:"]
    lines += [f"  {row} {column}: {reason}" for (row, column), reason in REASONS.items()]
    wrong = faults(known)
    print(
        "\n".join(
            [*lines, "", *(wrong or ["Every row that was read or computed is tried, and agrees or is excepted."])]
        )
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
