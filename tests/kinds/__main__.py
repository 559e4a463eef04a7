"""`python -m tests.kinds`: prints the table of all exception kinds; exit 1 when one has no function or no unit test."""

import argparse
import sys

from tests.kinds.table import KindShown, kinds_shown


def main() -> int:
    """Print the table; return 1 when something that must be there is not."""
    told = argparse.ArgumentParser(prog="python -m tests.kinds", description=__doc__)
    told.add_argument("--all-tests", action="store_true", help="name every test of a kind, not the first alone")
    asked = told.parse_args()
    shown = kinds_shown()
    print("| No. | Plain name | Function | Unit tests | Scenarios | Planted fault | Oracle |")
    print("|---|---|---|---|---|---|---|")
    for kind in shown:
        print(_row(kind, is_whole=asked.all_tests))
    lacking = [kind for kind in shown if kind.lacks]
    print(
        f"\n{len(shown)} kinds; with a function {sum(bool(kind.function) for kind in shown)},"
        f" a unit test {sum(bool(kind.tests) for kind in shown)}, a scenario {sum(bool(k.scenarios) for k in shown)},"
        f" a planted fault {sum(bool(k.planted) for k in shown)}; judged by the oracle"
        f" {sum(kind.is_in_oracle for kind in shown)}."
    )
    for kind in lacking:
        print(f"{kind.number} lacks: {', '.join(kind.lacks)}")
    return 1 if lacking else 0


def _row(kind: KindShown, *, is_whole: bool) -> str:
    tests = ", ".join(kind.tests) if is_whole else _first_of(kind.tests)
    cells = (
        kind.number,
        kind.name,
        kind.function or "–",
        tests or "–",
        ", ".join(_short(name) for name in kind.scenarios) or "–",
        ", ".join(kind.planted) or "–",
        "yes" if kind.is_in_oracle else "–",
    )
    return f"| {' | '.join(cells)} |"


def _short(scenario: str) -> str:
    return scenario.partition("-")[0] + (" (not yet)" if scenario.endswith("(not yet)") else "")


def _first_of(tests: tuple[str, ...]) -> str:
    """Return the test that promises most, and how many more there are."""
    more = f" and {len(tests) - 1} more" if len(tests) > 1 else ""
    return f"{tests[0]}{more}" if tests else ""


if __name__ == "__main__":
    sys.exit(main())
