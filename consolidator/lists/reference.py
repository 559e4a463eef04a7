"""The reference page of the lists, made from the tables the program itself reads by.

Run `python -m consolidator.lists.reference` after changing a table; it writes docs/reference/lists.md.
Owns the wording around the tables. Must not hold what a table holds.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from consolidator.lists.tables import TABLES, Column, Form, ListTable
from kiosk.lists.numbers import FIELD_OF, PlantNumbers

DOCUMENT: Final = Path(__file__).resolve().parents[2] / "docs" / "reference" / "lists.md"
"""Where the page lies."""

_OPENING: Final = """\
# Lists

<!-- Made by `python -m consolidator.lists.reference`; change consolidator/lists/tables.py or reference.py instead. -->

A folder of list files is checked as a whole and taken over as one new version, or refused with every fault named.
Each list is one file, named as below with the ending `.csv` or `.xlsx`.
Numbers in the examples are invented and never engineering limits.

## What a file looks like

* CSV as in RFC 4180, in UTF-8, with or without a byte order mark.
* Or XLSX with one filled sheet, every cell formatted as text.
* Row 1 holds the headings; their order is free and capitals do not matter.
  A yes/no column may be written as a question: `is heated` is `heated`.
* A column that is not needed may be missing; each of its cells then counts as empty.
* Blank rows are passed over, and spaces at the ends of a cell are left out.
* A cell with a formula, an error, an unseen character or a special space is refused, and so are merged cells.
* Beside the lists only `README`, `README.md`, `README.txt`, `plant.toml` and hidden files may lie in the folder.

## How a cell is written

* **text**: as it is, 40 characters at most (free words 2,000).
* **figure**: digits and a point, exactly as on the drawing with all its zeros, up to 9 digits on each side.
  `.3120` and `0.3120` are the same figure.
  A comma is refused, because it can stand for a point or for thousands.
* **whole number**: digits alone.
* **date**: `2026-03-10`, and no other way.
* **time**: `2026-03-10 14:05`, as the plant's clocks show it.
  An hour that the clocks show twice needs its offset behind it: `2026-11-01 01:30 -05:00`.
  A time that the clocks never show is refused.
* **yes or no**: `yes` or `no`.
* **one of the words**: exactly as listed.
* **several**: with `;` between, each once.
* A workbook's number cells are refused for figures and text, because a workbook drops zeros.
  Dates, times, whole numbers and yes/no may be real workbook values.

## Limits computed from a thread

* `derived from` names a feature of a thread, for example `pitch diameter of .3125-24 UNJF-3A`.
  The features are pitch diameter, major diameter, minor diameter and root radius.
* Lower and upper then come from the thread's standard, to the places it prints, and may stay empty.
  The kind and the unit must be those of the standard's limits: two-sided, or one limit alone; `in` or `mm`.
  With the rule over wires the pitch comes from the thread too.
* A figure written beside it must agree with it; a difference is a fault that names both figures.
* `consolidator lists check` and `take-over` show every step of how new limits were reached, for the two people
  who approve them; `taken-over.json` keeps what was shown.
* A row that was taken over keeps the limits it was approved with.
* [Screw threads](calculations/threads.md) gives the formulas.
  Where the drawing and the standard differ, the drawing comes first: write its limits instead.

## What changes, and from when

* A list whose file is not in the folder keeps its rows from the version before; a folder may hold only what changes.
* A file that is given holds the whole list.
  Rows that were in force once stay in it for ever, so that the past can be judged as it was.
  Only stations and shifts may be left out.
* `in force from` is when a row begins to work.
  Two rows for the same thing with different times are its history; the latest that has begun is in force.
* A good change works forwards only.
  After the first version, every new or changed row of parts, characteristics, plans, qualifications and plant numbers
  needs an `in force from` not before the take-over; the row that is in force is left as it is.
* Bad news may reach back: a gauge or master that is stopped or due sooner, a calibration found out, a person who left,
  a qualification that ends sooner.
* In a row in force these may change too: drawer, home station, interval, owner, serial and swap partner of a gauge;
  certificate and laboratory of a master; certificate and room temperature of a calibration;
  name, badges, language and hand of a person.
  Every other change of a gauge or master is a new row with its `in force from`.
* The quality manager and a second person are needed when parts, characteristics, plans or plant numbers change,
  when somebody is given authority to sign for others, and when a lot's part, revision, heat or training mark changes.
  Authority to sign for others is first-piece approver, calibrator, disposition authority, ledger sealer
  and quality manager.
  Both people are looked up as they stood before the take-over; the first is signed by people of its own lists.
* Each version is kept for ever under `lists/0001/` and so on: `lists.json` (RFC 8785), the files as given,
  and `taken-over.json` with time, people, reason and fingerprints (SHA-256).
"""


def document() -> str:
    """Return the whole reference page in Markdown."""
    return "\n".join([_OPENING, *(line for table in TABLES for line in _section(table)), *_numbers(), ""])


def _section(table: ListTable) -> Iterator[str]:
    same = ", ".join(f"`{column.heading}`" for column in table.columns if column.field in table.subject)
    yield f"## {table.name}"
    yield ""
    yield table.what
    times = " and time of force" if "in_force_from" in table.key else ""
    yield f"No two rows have the same {same}{times}."
    yield ""
    yield "| column | meaning | written as | unit | allowed words | needed | example |"
    yield "|---|---|---|---|---|---|---|"
    for column in table.columns:
        yield _line(column)
    yield ""


def _line(column: Column) -> str:
    words = ", ".join(column.words) if column.form is not Form.YES_NO else "yes, no"
    example = f"`{column.example}`" if column.example else ""
    needed = "yes" if column.needed else "no"
    cells = (f"`{column.heading}`", column.meaning, column.form, column.unit, words, needed, example)
    return "| " + " | ".join(cells) + " |"


def _numbers() -> Iterator[str]:
    yield "## The plant numbers"
    yield ""
    yield "| number | sets | default | from | to |"
    yield "|---|---|---|---|---|"
    schema = PlantNumbers.model_json_schema()["properties"]
    for number, field in FIELD_OF.items():
        told = schema[field]
        bounds: dict[str, object] = next((kind for kind in told.get("anyOf", [told]) if "minimum" in kind), {})
        low, high = (str(bounds.get(end, "")).removesuffix(".0") for end in ("minimum", "maximum"))
        if "pattern" in told:
            low, high = "00:00", "23:59"
        default = "1/3" if number == "N6a" else PlantNumbers.model_fields[field].default
        yield f"| {number} | {field.replace('_', ' ')} | {default} | {low} | {high} |"


if __name__ == "__main__":
    DOCUMENT.write_text(document(), encoding="utf-8")
