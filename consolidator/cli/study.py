"""The commands of samples and studies: what plan a lot needs, and how much of a spread is the gauge.

Thin: arguments in, tables or JSON out; what is reckoned is reckoned by `consolidator.study`.
"""

import csv
from collections.abc import Sequence
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import typer

from consolidator.cli.calculations import CAUTION, read_decimal, tell_tables
from consolidator.cli.plant import AsJson
from consolidator.errors import NotComputed
from consolidator.intake import Intake
from consolidator.lists import current
from consolidator.plant import Plant
from kiosk.measure.decimals import write_figure

if TYPE_CHECKING:
    from consolidator.study.sampling import Plan

# The studies bring scipy with them, half a second that no other command has to wait for:
# each command loads what it needs.

study_app = typer.Typer()

_figure = partial(typer.Option, parser=read_decimal, metavar="FIGURE")
_SHARES: Final = (0.001, 0.0025, 0.005, 0.01, 0.015, 0.02, 0.03, 0.05, 0.075, 0.1, 0.15, 0.2, 0.3)
"""Incoming qualities of the curve printed, as shares of bad pieces."""
_SMALL_LOT: Final = 10
"""Up to this many times the sample a lot counts as small, and its curve is hypergeometric (common practice)."""
_LONG_RUN: Final = (
    "Producer's point (accepted 95 times in 100), limiting quality (10 in 100) and outgoing limit (AOQL) are those"
    " of a long run of lots."
)
_COLUMNS: Final = ("part", "appraiser", "value")


@study_app.command("sample-plan")
def sample_plan(
    lot: Annotated[int, typer.Argument(help="Pieces in the lot.", metavar="LOT", min=2)],
    aql: Annotated[Decimal | None, _figure(help="AQL, percent, for a plan of ISO 2859-1.")] = None,
    level: Annotated[str, typer.Option(help="Inspection level S-1 to S-4, I, II or III.")] = "II",
    severity: Annotated[str, typer.Option(help="normal, tightened or reduced.")] = "normal",
    zero: Annotated[
        str | None, typer.Option(help="Verification level I to VII, for a plan that accepts on zero (MIL-STD-1916).")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Print the sample a lot needs, how many of it may fail, and what such a plan lets through.

    Example: consolidator sample-plan 2000 --aql 1.0 --level II
    """
    from consolidator.study import sampling

    if (aql is None) == (zero is None):
        raise typer.BadParameter("Give either --aql or --zero.")
    how = _one_of(severity, tuple(each for each in sampling.Severity if each != "stopped"), "severity")
    if zero is not None:
        plan = sampling.zero_acceptance_plan(lot, zero, sampling.Severity(how))
    else:
        inspected = sampling.Level(_one_of(level, tuple(sampling.Level), "level"))
        assert aql is not None
        plan = sampling.plan_for_lot(lot, aql, inspected, sampling.Severity(how))
    told = _plan_told(plan, lot) | {"curve": _curve(plan, lot)}
    rows = [(name.replace("_", " "), _cell(value)) for name, value in told.items() if name != "curve"]
    heads = ("bad pieces in the lot, %", "chance of acceptance, %", "leaves after sorting, %")
    curve = [(f"{100 * bad:.2f}", f"{100 * chance:.1f}", f"{100 * left:.3f}") for bad, chance, left in told["curve"]]
    title = f"A lot of {lot}, {plan.source}, {plan.severity}"
    words = [f"Chances by the {told['chances_by']} distribution.", _LONG_RUN, CAUTION]
    tell_tables(told | {"caution": CAUTION}, [(title, [("", ""), *rows]), ("Curve", [heads, *curve])], words, as_json)


@study_app.command("gauge-study")
def gauge_study(
    source: Annotated[
        Path,
        typer.Argument(help="CSV with the columns part, appraiser, value; or the plant's folder.", metavar="SOURCE"),
    ],
    study: Annotated[str | None, typer.Option(help="Number of a study collected at a kiosk of the plant.")] = None,
    tolerance: Annotated[Decimal | None, _figure(help="Upper less lower limit; default: the order's.")] = None,
    sheet: Annotated[Path | None, typer.Option(help="Write the study as a sheet to print (HTML), a new file.")] = None,
    as_json: AsJson = False,
) -> None:
    """Print a gauge study by ranges and by analysis of variance: from a file of readings, or one collected at a kiosk.

    Readings of a file stand in the order they were taken.

    Example: consolidator gauge-study readings.csv --tolerance .002
    """
    from consolidator import studies

    if source.is_dir():
        if study is None:
            raise typer.BadParameter("Give the number of the study with --study.")
        _collected_study(source, study, (tolerance, sheet), as_json)
        return
    if study is not None or sheet is not None:
        raise typer.BadParameter("--study and --sheet are for a study collected at a kiosk: give the plant's folder.")
    outcome = studies.outcome_of(_read_readings(source), tolerance)
    words = [*outcome.remarks, studies.SHEET_WORDS]
    tell_tables(outcome.told(), studies.outcome_tables(outcome), words, as_json)


def _collected_study(folder: Path, number: str, wanted: tuple[Decimal | None, Path | None], as_json: bool) -> None:
    from consolidator import studies

    plant, (tolerance, sheet) = Plant.open(folder), wanted
    with Intake(plant) as intake:
        found = studies.collect(studies.held_studies(intake), number)
    given = None if found.order.tolerance is None else Decimal(found.order.tolerance)
    outcome: studies.Outcome | str
    try:
        outcome = studies.outcome_of(found.readings, given if tolerance is None else tolerance)
    except NotComputed as missing:
        outcome = f"{missing.what} {missing.why} {missing.next_step}"
    words = [*found.notes, *((outcome,) if isinstance(outcome, str) else outcome.remarks), studies.SHEET_WORDS]
    told: dict[str, Any] = {"study": number, "page": found.page, "held": len(found.taken), "planned": found.planned}
    told |= {"notes": list(found.notes), "outcome": outcome if isinstance(outcome, str) else outcome.told()}
    if sheet is not None:
        names = {person.number: person.name for person in current(plant).people}
        _write_new(sheet, studies.sheet_html(found, outcome, names))
        told["sheet"] = str(sheet)
        words.append(f"The sheet to print is {sheet}.")
    tables = [studies.reading_table(found), *([] if isinstance(outcome, str) else studies.outcome_tables(outcome))]
    tell_tables(told, tables, words, as_json)


def _write_new(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise NotComputed(
            f"The sheet {path} was not written.",
            why=f"{error.strerror}.",
            next_step="Name a file that does not exist yet, in a folder that does.",
        ) from error


def _read_readings(source: Path) -> list[tuple[str, str, float]]:
    """Return the readings of a CSV file in the order they stand."""
    try:
        text = source.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise _unread(source, f"It could not be read ({error}).") from error
    rows = list(csv.reader(text.splitlines()))
    heads = [cell.strip().lower() for cell in rows[0]] if rows else []
    if not set(_COLUMNS) <= set(heads):
        raise _unread(source, "Its first line does not name the columns part, appraiser and value.")
    at = [heads.index(name) for name in _COLUMNS]
    readings = []
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        try:
            part, appraiser, value = (row[place].strip() for place in at)
            readings.append((part, appraiser, float(Decimal(value))))
        except (ArithmeticError, IndexError) as error:
            raise _unread(source, f"Line {number} does not hold a part, an appraiser and a figure.") from error
    return readings


def _unread(source: Path, why: str) -> NotComputed:
    return NotComputed(
        f"No study was made of {source}.",
        why=why,
        next_step="Give a CSV file whose lines are part, appraiser, value, in the order the readings were taken.",
    )


def _plan_told(plan: "Plan", lot: int) -> dict[str, Any]:
    from consolidator.study import operating_curves as curves

    size, allowed = plan.sample_size, plan.acceptance_number
    told: dict[str, Any] = {"lot": lot, "code_letter": plan.code_letter, "sample": size}
    told |= {"accept_at_most": allowed, "do_not_accept_at": plan.rejection_number}
    told |= {"aql": None if plan.aql is None else write_figure(plan.aql), "is_every_piece": plan.is_every_piece}
    if not plan.is_every_piece:
        told["producer_point_percent"] = round(100 * curves.share_at(size, allowed, 0.95), 3)
        told["limiting_quality_percent"] = round(100 * curves.share_at(size, allowed, 0.10), 3)
        told["outgoing_limit_percent"] = round(100 * curves.outgoing_limit(size, allowed, lot).limit, 3)
    return told | {"chances_by": "hypergeometric" if _is_small(plan, lot) else "binomial"}


def _is_small(plan: "Plan", lot: int) -> bool:
    return lot <= _SMALL_LOT * plan.sample_size


def _curve(plan: "Plan", lot: int) -> list[tuple[float, float, float]]:
    """Return points of the curve: share of bad pieces, chance of acceptance, share that leaves."""
    from consolidator.study import operating_curves as curves

    size, allowed = plan.sample_size, plan.acceptance_number
    left = 1 - size / lot
    if not _is_small(plan, lot):
        return [(s, p := curves.acceptance(size, allowed, s), s * p * left) for s in _SHARES]
    counts = sorted({round(share * lot) for share in _SHARES} - {0})
    chances = [curves.acceptance_of_lot(size, allowed, lot_size=lot, bad_pieces=bad) for bad in counts]
    return [(bad / lot, chance, bad / lot * chance * left) for bad, chance in zip(counts, chances, strict=True)]


def _one_of(text: str, words: Sequence[str], what: str) -> str:
    if text not in words:
        raise typer.BadParameter(f"'{text}' is no {what}; give one of {', '.join(words)}.")
    return text


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "-" if value is None else str(value)
