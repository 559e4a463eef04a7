"""Makes docs/reference/calculations.md, the index of the pages beside it: `python -m tests.published.calculations`.

Owns the form of the index only; each formula, its standard and its check value stand on the page it is taken from.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).resolve().parents[2] / "docs" / "reference" / "calculations"
DOCUMENT: Final = FOLDER.with_suffix(".md")
PAGES: Final = (
    "threads",
    "wires",
    "strength",
    "temperature",
    "conformity",
    "charts",
    "capability",
    "gauge-study",
    "sampling",
    "gauges",
    "intervals",
)
"""Every page of the folder, in the order of the index."""

_HEAD: Final = """# Calculations

Made by `python -m tests.published.calculations` from the pages in `calculations/`; do not edit by hand.

Every formula the program reckons with, by which standard and clause, and a value to check it with.
Each page says how it is rounded, where it is valid, and which of its values rest on memory alone.
Drawing, specification, contract and law come first: where they and this differ, stop and ask.

`python -m tests.published` runs the tests against the published tables in `tests/published/`.
It prints how many rows and figures were tried, how many agree, and every exception with its reason.
At the command line: `consolidator thread`, `wires`, `strength`, `hardness`, `sample-plan` and `gauge-study`
([commands](consolidator-commands.md)).
"""


def document() -> str:
    """Return the whole index."""
    parts = [_HEAD]
    for name in PAGES:
        lines = (FOLDER / f"{name}.md").read_text(encoding="utf-8").splitlines()
        rows = list(_formulas(lines))
        parts.append(f"## [{lines[0].removeprefix('# ')}](calculations/{name}.md)\n")
        parts.append("| figure | formula or rule | standard, clause | check |\n|---|---|---|---|")
        parts.append("\n".join(f"| {' | '.join(row)} |" for row in rows) + "\n")
    parts.append("## What rests on memory alone\n")
    parts.append("Compare these with the plant's own copy of the standard before a release decision rests on them.\n")
    parts += [f"* {page}: {words}" for page, words in _from_memory()]
    return "\n".join(parts) + "\n"


def _formulas(lines: list[str]) -> Iterator[tuple[str, str, str, str]]:
    """Yield figure, formula, standard and check of every formula of a page, in its order."""
    section, standard, heads = "", "", [""]
    for at, line in enumerate(lines):
        if line.startswith("#"):
            section, heads = line.lstrip("# "), [""]
        elif line.startswith("| ") and at + 1 < len(lines) and lines[at + 1].startswith("|---"):
            heads = [cell.lower().partition(",")[0] for cell in _cells(line)]
        elif line.startswith("| ") and "check" in heads:
            row = dict(zip(heads, _cells(line), strict=True))
            standard = _standard(row, section, standard)
            yield row[heads[0]], row[heads[1]], standard, row["check"]
        elif line.startswith(("Check: ", "Check by hand: ")):
            named, _, by = section.partition(": ")
            yield named, "see the page", by, line.partition(": ")[2].rstrip(".")


def _standard(row: dict[str, str], section: str, before: str) -> str:
    """Return by which standard and clause a row is; a clause alone belongs to the standard its section names."""
    source = row.get("source", row.get("standard", ""))
    if source == "the same":
        return before
    of_section = "GUM" if "gum clause" in row else section.partition(": ")[2] or section
    clause = row.get("clause", row.get("gum clause", "")).strip("—")
    return source or (f"{of_section}, {clause}" if clause else of_section)


def _cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip().removeprefix("|").removesuffix("|").split("|")]


def _from_memory() -> Iterator[tuple[str, str]]:
    for name in PAGES:
        lines = (FOLDER / f"{name}.md").read_text(encoding="utf-8").splitlines()
        page = f"[{lines[0].removeprefix('# ').lower()}](calculations/{name}.md)"
        under = False
        for line in lines:
            if line.startswith("#"):
                under = "memory alone" in line
            elif under and line and not line.startswith("Compare them"):
                yield page, line.removeprefix("* ")
            elif line.startswith(("From memory alone: ", "From memory: ")):
                yield page, line.partition(": ")[2]


def main() -> None:
    """Write the index."""
    DOCUMENT.write_text(document(), encoding="utf-8")


if __name__ == "__main__":
    main()
