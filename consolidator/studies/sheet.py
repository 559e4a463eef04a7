"""The printed sheet of a gauge study: one HTML page that needs nothing beside itself and prints on any printer.

Owns looks only; black on white, figures in one width.
"""

from collections.abc import Mapping
from html import escape
from typing import Final

from consolidator.studies.collected import CollectedStudy
from consolidator.studies.tables import SHEET_WORDS, Outcome, Rows, outcome_tables, reading_table

_STYLE: Final = (
    "body{font:11pt serif;margin:15mm;color:#000;background:#fff}"
    "h1{font-size:15pt}h2{font-size:12pt;margin:1.2em 0 .3em}table{border-collapse:collapse}"
    "td,th{border:1px solid #000;padding:2px 8px;text-align:right;font-variant-numeric:tabular-nums}"
    "td:first-child,th:first-child{text-align:left}"
    ".sign td{height:14mm;min-width:50mm;text-align:left;vertical-align:top}@page{size:A4 landscape}"
)
_SIGNED_BY: Final = ("Leader of the study", "Decided by", "Second person")


def sheet_html(study: CollectedStudy, outcome: Outcome | str, names: Mapping[str, str]) -> str:
    """Return the sheet of a study; `outcome` is in words where nothing could be reckoned, `names` by number of person.

    The same study gives the same bytes.
    """
    order = study.order
    parts = [
        f"<h1>Gauge study {escape(order.study)}</h1>",
        _table([("", ""), *_facts(study, outcome, names)]),
    ]
    tables = [reading_table(study), *([] if isinstance(outcome, str) else outcome_tables(outcome))]
    parts += [f"<h2>{escape(title)}</h2>{_table(rows)}" for title, rows in tables]
    notes = [*study.notes, *((outcome,) if isinstance(outcome, str) else outcome.remarks)]
    if notes:
        parts.append("<h2>To be known</h2><ul>" + "".join(f"<li>{escape(note)}</li>" for note in notes) + "</ul>")
    cells = "".join(f"<td>{escape(who)}, date:</td>" for who in _SIGNED_BY)
    parts += [f"<p>{escape(SHEET_WORDS)}</p>", f'<table class="sign"><tr>{cells}</tr></table>']
    head = f'<meta charset="utf-8"><title>Gauge study {escape(order.study)}</title><style>{_STYLE}</style>'
    return f'<!DOCTYPE html>\n<html lang="en"><head>{head}</head>\n<body>\n' + "\n".join(parts) + "\n</body></html>\n"


def _facts(study: CollectedStudy, outcome: Outcome | str, names: Mapping[str, str]) -> Rows:
    order = study.order
    tolerance = order.tolerance if isinstance(outcome, str) else outcome.tolerance
    people = ", ".join(_named(number, names) for number in order.appraisers)
    return [
        ("gauge", order.gauge),
        ("characteristic", order.characteristic),
        ("tolerance", "not given" if tolerance is None else f"{tolerance} {order.unit}"),
        ("led by", _named(study.leader, names)),
        ("appraisers", people),
        ("ordered", f"{study.ordered_at}, page {study.page}"),
        ("ended", study.ended_at or "not ended"),
        ("readings held", f"{len(study.taken)} of {study.planned}"),
        ("keyed anew", str(sum(len(each.earlier) for each in study.taken))),
    ]


def _named(number: str, names: Mapping[str, str]) -> str:
    return f"{number} {names[number]}" if number in names else number


def _table(rows: Rows) -> str:
    head = "".join(f"<th>{escape(cell)}</th>" for cell in rows[0]) if any(rows[0]) else ""
    body = "".join("<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows[1:])
    return f"<table>{f'<tr>{head}</tr>' if head else ''}{body}</table>"
