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

from consolidator.cli_calculations import CAUTION, read_decimal, tell_tables
from consolidator.cli_plant import AsJson
from consolidator.errors import NotComputed
from kiosk.measure.decimals import write_figure

if TYPE_CHECKING:
    from consolidator.study.gauge_study import Shares, Variance
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
    source: Annotated[Path, typer.Argument(help="CSV with the columns part, appraiser, value.", metavar="READINGS")],
    tolerance: Annotated[Decimal | None, _figure(help="Upper less lower limit, for the share of it.")] = None,
    as_json: AsJson = False,
) -> None:
    """Print a gauge study by ranges and by analysis of variance from readings in the order they were taken.

    Example: consolidator gauge-study readings.csv --tolerance .002
    """
    from consolidator.study import gauge_study as study

    table = study.crossed_table(_read_readings(source))
    ranges, variance = study.by_ranges(table), study.by_variance(table)
    parts, appraisers, trials = table.shape
    told: dict[str, Any] = {"parts": parts, "appraisers": appraisers, "trials": trials}
    told |= {"ranges": _shares_told(ranges, tolerance), "variance": _variance_told(variance, tolerance)}
    tables = study_tables(f"{parts} parts, {appraisers} appraisers, {trials} trials", ranges, variance, tolerance)
    tell_tables(told, tables, [*ranges.remarks, *variance.shares.remarks, SHEET_WORDS], as_json)


SHEET_WORDS: Final = "Whether the gauge may be used is decided and signed by the people the plant names for it."
"""Stands under every gauge study: the tool prepares and never certifies."""


def study_tables(
    title: str, ranges: "Shares", variance: "Variance", tolerance: Decimal | None
) -> list[tuple[str, list[tuple[str, ...]]]]:
    """Return the tables of a gauge study: shares by ranges, the analysis of variance, and its shares."""
    heads = ("source", "standard deviation", "% of total", "% contribution", "% of tolerance")
    rows = [("source", "degrees of freedom", "sum of squares", "mean square", "F")]
    for row in variance.rows:
        f = variance.f_against_repeatability(row.source) if row.source != "repeatability" else None
        figures = (f"{row.sum_of_squares:.6g}", f"{row.mean_square:.6g}", "-" if f is None else f"{f:.4g}")
        rows.append((row.source, str(row.degrees_of_freedom), *figures))
    return [
        (f"Gauge study, {title}, by {ranges.method}", [heads, *_share_rows(ranges, tolerance)]),
        ("Analysis of variance", rows),
        (f"By {variance.shares.method}", [heads, *_share_rows(variance.shares, tolerance)]),
    ]


def _share_rows(shares: "Shares", tolerance: Decimal | None) -> list[tuple[str, ...]]:
    rows = []
    for name, deviation in _named(shares).items():
        of_tolerance = "-" if tolerance is None else f"{shares.percent_of_tolerance(float(tolerance), deviation):.1f}"
        percents = (f"{shares.percent_of_total(deviation):.1f}", f"{shares.percent_contribution(deviation):.1f}")
        rows.append((name, f"{deviation:.6g}", *percents, of_tolerance))
    kinds = "none: the gauge showed no spread" if shares.categories is None else str(shares.categories)
    return [*rows, ("distinct categories", kinds, "", "", "")]


def _named(shares: "Shares") -> dict[str, float]:
    return {
        "repeatability (EV)": shares.repeatability,
        "appraisers (AV)": shares.appraisers,
        "interaction": shares.interaction,
        "gauge (GRR)": shares.gauge,
        "parts (PV)": shares.parts,
        "total (TV)": shares.total,
    }


def _shares_told(shares: "Shares", tolerance: Decimal | None) -> dict[str, Any]:
    told: dict[str, Any] = {"method": shares.method, "deviations": _named(shares), "categories": shares.categories}
    told["gauge_percent_of_total"] = shares.percent_of_total(shares.gauge)
    told["gauge_percent_of_tolerance"] = None if tolerance is None else shares.percent_of_tolerance(float(tolerance))
    return told | {"remarks": list(shares.remarks)}


def _variance_told(variance: "Variance", tolerance: Decimal | None) -> dict[str, Any]:
    rows = [row.model_dump() | {"mean_square": row.mean_square} for row in variance.rows]
    told: dict[str, Any] = {"rows": rows, "interaction_f": variance.interaction_f}
    told |= {"interaction_p": variance.interaction_p, "is_pooled": variance.is_pooled}
    return told | _shares_told(variance.shares, tolerance)


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
