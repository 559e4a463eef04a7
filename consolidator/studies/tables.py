"""A gauge study as tables: its readings, its shares by ranges, and its analysis of variance.

Owns the words and places of the figures, for the terminal and for the printed sheet alike.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from consolidator.studies.collected import CollectedStudy
from consolidator.study.gauge_study import Shares, Variance, by_ranges, by_variance, crossed_table

Rows = list[tuple[str, ...]]

SHEET_WORDS: Final = "Whether the gauge may be used is decided and signed by the people the plant names for it."
"""Stands under every gauge study: the tool prepares and never certifies."""
_SHARE_HEADS: Final = ("source", "standard deviation", "% of total", "% contribution", "% of tolerance")
_VARIANCE_HEADS: Final = ("source", "degrees of freedom", "sum of squares", "mean square", "F")


@dataclass(frozen=True)
class Outcome:
    """What the readings of a study come to; `tolerance` in their unit, none where nobody gave it."""

    parts: int
    appraisers: int
    trials: int
    ranges: Shares
    variance: Variance
    tolerance: Decimal | None = None

    @property
    def remarks(self) -> tuple[str, ...]:
        """What must be known beside the figures, each once."""
        return tuple(dict.fromkeys((*self.ranges.remarks, *self.variance.shares.remarks)))

    def told(self) -> dict[str, Any]:
        """Return the whole outcome for machines."""
        counts = {"parts": self.parts, "appraisers": self.appraisers, "trials": self.trials}
        rows = [row.model_dump() | {"mean_square": row.mean_square} for row in self.variance.rows]
        test = {"interaction_f": self.variance.interaction_f, "interaction_p": self.variance.interaction_p}
        variance = {"rows": rows, **test, "is_pooled": self.variance.is_pooled}
        return {
            **counts,
            "ranges": self._shares_told(self.ranges),
            "variance": {**variance, **self._shares_told(self.variance.shares)},
        }

    def _shares_told(self, shares: Shares) -> dict[str, Any]:
        of_tolerance = None if self.tolerance is None else shares.percent_of_tolerance(float(self.tolerance))
        return {
            "method": shares.method,
            "deviations": _named(shares),
            "categories": shares.categories,
            "gauge_percent_of_total": shares.percent_of_total(shares.gauge),
            "gauge_percent_of_tolerance": of_tolerance,
            "remarks": list(shares.remarks),
        }


def outcome_of(readings: Sequence[tuple[str, str, float]], tolerance: Decimal | None = None) -> Outcome:
    """Reckon a study from readings (part, appraiser, value) in the order of the rounds.

    Raises:
        NotComputed: a reading is missing, or there are too few.
    """
    table = crossed_table(readings)
    ranges, variance = by_ranges(table), by_variance(table)
    parts, appraisers, trials = table.shape
    return Outcome(parts, appraisers, trials, ranges, variance, tolerance)


def outcome_tables(outcome: Outcome) -> list[tuple[str, Rows]]:
    """Return the tables of a study, each a title and its rows with the headings first."""
    count = f"{outcome.parts} parts, {outcome.appraisers} appraisers, {outcome.trials} trials"
    rows: Rows = [_VARIANCE_HEADS]
    for row in outcome.variance.rows:
        f = "-"
        if row.source != "repeatability":
            f = f"{outcome.variance.f_against_repeatability(row.source):.4g}"
        figures = (f"{row.sum_of_squares:.6g}", f"{row.mean_square:.6g}", f)
        rows.append((row.source, str(row.degrees_of_freedom), *figures))
    shares = outcome.variance.shares
    return [
        (f"Gauge study, {count}, by {outcome.ranges.method}", _share_rows(outcome.ranges, outcome.tolerance)),
        ("Analysis of variance", rows),
        (f"By {shares.method}", _share_rows(shares, outcome.tolerance)),
    ]


def reading_table(study: CollectedStudy) -> tuple[str, Rows]:
    """Return the readings as they were keyed: a row for each piece, a column for each appraiser and round."""
    order = study.order
    columns = [(who, trial) for who in order.appraisers for trial in range(1, order.trials + 1)]
    keyed = {(each.turn.part, each.turn.appraiser, each.turn.trial): each.keyed for each in study.taken}
    rows: Rows = [("piece", *(f"{who} round {trial}" for who, trial in columns))]
    rows += [(piece, *(keyed.get((piece, *column), "-") for column in columns)) for piece in order.pieces]
    return f"Readings as keyed, {order.unit}", rows


def _share_rows(shares: Shares, tolerance: Decimal | None) -> Rows:
    rows: Rows = [_SHARE_HEADS]
    for name, deviation in _named(shares).items():
        of_tolerance = "-" if tolerance is None else f"{shares.percent_of_tolerance(float(tolerance), deviation):.1f}"
        percents = (f"{shares.percent_of_total(deviation):.1f}", f"{shares.percent_contribution(deviation):.1f}")
        rows.append((name, f"{deviation:.6g}", *percents, of_tolerance))
    kinds = "none: the gauge showed no spread" if shares.categories is None else str(shares.categories)
    return [*rows, ("distinct categories", kinds, "", "", "")]


def _named(shares: Shares) -> dict[str, float]:
    return {
        "repeatability (EV)": shares.repeatability,
        "appraisers (AV)": shares.appraisers,
        "interaction": shares.interaction,
        "gauge (GRR)": shares.gauge,
        "parts (PV)": shares.parts,
        "total (TV)": shares.total,
    }
