"""One gauge at a time: may it measure this characteristic, and how long may it go until its next calibration.

Owns the reasons with their figures; it decides nothing.
An interval is a suggestion for two people to sign, and a gauge that may measure may still be past its due date.
Least count against tolerance is plant number N4; the uncertainty ratio is `conformity`'s.
"""

import itertools
import math
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from enum import StrEnum

import numpy as np
from pydantic import BaseModel, Field
from scipy import stats

from consolidator.errors import NotComputed
from consolidator.study.conformity import uncertainty_ratio
from kiosk.lists import Characteristic, Gauge, PlantNumbers
from kiosk.lists.words import GaugeState
from kiosk.measure.limits import Limits
from kiosk.threads.characteristics import is_same_thread


class Finding(BaseModel, frozen=True):
    """One reason for or against a gauge, with its figure in words."""

    words: str
    is_against: bool = False
    is_doubt: bool = False


class Fitness(BaseModel, frozen=True):
    """What may be said about one gauge for one characteristic."""

    gauge: str
    findings: tuple[Finding, ...]
    ratio: Decimal | None = None
    """Tolerance over the span of the gauge's expanded uncertainty; None when it cannot be told."""

    @property
    def may_measure(self) -> bool:
        """True when nothing speaks against it."""
        return not any(finding.is_against for finding in self.findings)

    @property
    def is_doubtful(self) -> bool:
        """True when it may measure, but something should be put right (readings would be flagged)."""
        return self.may_measure and any(finding.is_doubt for finding in self.findings)


class Visit(BaseModel, frozen=True):
    """One calibration of a gauge; errors as signed shares of the permissible error at the worst point."""

    done_on: date
    as_found: float | None
    """None: not taken before the gauge was touched."""
    as_left: float

    @property
    def was_out(self) -> bool:
        """True when it was found beyond its permissible error."""
        return self.as_found is not None and abs(self.as_found) > 1


class Change(StrEnum):
    """Which way an interval should move."""

    SHORTER = "shorter"
    SAME = "same"
    LONGER = "longer"


class Suggestion(BaseModel, frozen=True):
    """An interval in days and the reason for it, for the interval review."""

    interval_days: int
    change: Change
    reason: str


class Bounds(BaseModel, frozen=True):
    """What a plant lets an interval be."""

    shortest_days: int = Field(default=7, ge=1)
    longest_days: int = Field(default=730, ge=1)
    most_lengthening: float = Field(default=1.5, gt=1)
    """An interval grows by no more than this factor at one review."""


VISITS_NEEDED = 3
"""As-found results that must be on record before an interval is moved."""
SURE = 0.95
"""One-sided confidence behind every suggestion."""


def judge_fitness(
    gauge: Gauge, characteristic: Characteristic, numbers: PlantNumbers, ratio_needed: Decimal | None = None
) -> Fitness:
    """Every reason for and against measuring this characteristic with this gauge.

    ratio_needed is the smallest uncertainty ratio the plan asks for, such as 4; None only reports it.
    Raises: ThreadNotUnderstood when a thread designation on record cannot be read.
    """
    findings = [_state(gauge), _kind(gauge, characteristic)]
    if gauge.kind.is_attribute:
        findings.append(_thread(gauge, characteristic))
        return Fitness(gauge=gauge.number, findings=tuple(findings))
    if characteristic.lower is None and characteristic.upper is None:
        findings.append(Finding(words="no limits on record, so nothing to compare", is_against=True))
        return Fitness(gauge=gauge.number, findings=tuple(findings))
    limits = Limits(lower=_figure(characteristic.lower), upper=_figure(characteristic.upper))
    if gauge.unit != characteristic.unit:
        words = f"reads in {gauge.unit}, the characteristic is in {characteristic.unit}"
        return Fitness(gauge=gauge.number, findings=(*findings, Finding(words=words, is_against=True)))
    findings += [_range(gauge, limits), _least_count(gauge, limits, numbers)]
    ratio = _ratio(gauge, limits)
    findings.append(_ratio_finding(ratio, ratio_needed))
    return Fitness(gauge=gauge.number, findings=tuple(findings), ratio=ratio)


def rank_gauges(
    gauges: Sequence[Gauge],
    characteristic: Characteristic,
    numbers: PlantNumbers,
    ratio_needed: Decimal | None = None,
) -> tuple[Fitness, ...]:
    """All gauges with their reasons: those that may measure first, of these the greatest uncertainty ratio first."""
    judged = [judge_fitness(gauge, characteristic, numbers, ratio_needed) for gauge in gauges]
    return tuple(sorted(judged, key=lambda f: (not f.may_measure, f.is_doubtful, -(f.ratio or Decimal(0)), f.gauge)))


def suggest_interval(history: Sequence[Visit], interval_days: int, bounds: Bounds | None = None) -> Suggestion:
    """Suggest one gauge's next interval from what it was found like, oldest visit first.

    Two found out in the last three: halve. Otherwise the drift between leaving and coming back, with its spread, tells
    after how many days the gauge is still good with 95 % confidence (OIML D 10 and ILAC-G24, control chart method).
    Raises: NotComputed when the visits are not in order of time.
    """
    allowed = bounds or Bounds()
    dates = [visit.done_on for visit in history]
    if any(later <= earlier for earlier, later in itertools.pairwise(dates)):
        raise NotComputed(
            "No interval was suggested.",
            why="The calibrations are not in order of time, or two are on one day.",
            next_step="Give them oldest first, one a day.",
        )
    taken = [visit for visit in history if visit.as_found is not None]
    if sum(visit.was_out for visit in taken[-3:]) >= 2:
        return _to(interval_days / 2, interval_days, allowed, "found out twice in the last three calibrations: halved")
    if len(taken) < VISITS_NEEDED:
        reason = f"{len(taken)} as-found results on record, {VISITS_NEEDED} are needed"
        return Suggestion(interval_days=interval_days, change=Change.SAME, reason=reason)
    return _by_drift(history, interval_days, allowed)


def suggest_for_kind(
    good_count: int, count: int, interval_days: int, target: float = 0.95, bounds: Bounds | None = None
) -> Suggestion:
    """Suggest the interval of a whole kind from how many came back good, by a constant rate of going out.

    The interval becomes interval x ln(target) / ln(share good) (NCSL RP-1, exponential model), and only when the count
    is large enough to tell the share from the target (Clopper-Pearson); never under half, nor over the bounds.
    Raises: NotComputed for counts that cannot be, or a target not between 0 and 1.
    """
    allowed = bounds or Bounds()
    if not 0 <= good_count <= count or count < 1 or not 0 < target < 1:
        raise NotComputed(
            "No interval was suggested.",
            why=f"{good_count} good of {count} and a target of {target} were given.",
            next_step="Give the calibrations of one kind with an as-found result, and a target such as 0.95.",
        )
    low = float(stats.beta.ppf(1 - SURE, good_count, count - good_count + 1)) if good_count else 0.0
    high = float(stats.beta.ppf(SURE, good_count + 1, count - good_count)) if good_count < count else 1.0
    share = good_count / count
    found = f"{good_count} of {count} came back good ({100 * share:.1f} %, target {100 * target:g} %)"
    if high < target:
        days = interval_days * math.log(target) / math.log(share) if share > 0 else 0.0
        return _to(max(days, interval_days / 2), interval_days, allowed, f"{found}: too few")
    if low > target:
        # The lower bound stands in for the share, so that a kind never found out still has a finite answer.
        days = interval_days * math.log(target) / math.log(low)
        longest = interval_days * allowed.most_lengthening
        return _to(min(days, longest), interval_days, allowed, f"{found}: more than needed")
    return Suggestion(
        interval_days=interval_days, change=Change.SAME, reason=f"{found}: too few calibrations to tell them apart"
    )


def _by_drift(history: Sequence[Visit], interval_days: int, bounds: Bounds) -> Suggestion:
    rates = [
        (after.as_found - before.as_left) / (after.done_on - before.done_on).days
        for before, after in itertools.pairwise(history)
        if after.as_found is not None
    ]
    if len(rates) < 2:
        return Suggestion(interval_days=interval_days, change=Change.SAME, reason="too few drifts on record")
    mean, spread = float(np.mean(rates)), float(np.std(rates, ddof=1))
    reach = float(stats.t.ppf(SURE, len(rates) - 1)) * spread * math.sqrt(1 + 1 / len(rates))
    left = history[-1].as_left
    # Days until the drift, at its fastest likely rate each way, uses up what is left of the permissible error.
    upward, downward = mean + reach, reach - mean
    days = min(
        (1 - left) / upward if upward > 0 else math.inf,
        (1 + left) / downward if downward > 0 else math.inf,
    )
    told = f"drift {100 * mean * interval_days:+.0f} % of the permissible error in {interval_days} days"
    if days < interval_days:
        why = f"{told}; with its spread it may be out after {max(days, 0):.0f} days"
        return _to(max(days, interval_days / 2), interval_days, bounds, why)
    longest = interval_days * bounds.most_lengthening
    # Good news needs more: enough drifts, the latest among them, and nothing found out lately.
    is_known = len(rates) >= VISITS_NEEDED and history[-1].as_found is not None
    if is_known and days >= longest and not any(visit.was_out for visit in history[-VISITS_NEEDED:]):
        return _to(longest, interval_days, bounds, f"{told}; with its spread still good at the longer interval")
    return Suggestion(interval_days=interval_days, change=Change.SAME, reason=f"{told}; the interval fits")


def _to(days: float, interval_days: int, bounds: Bounds, reason: str) -> Suggestion:
    new = min(max(math.floor(days), bounds.shortest_days), bounds.longest_days)
    change = Change.SAME if new == interval_days else Change.SHORTER if new < interval_days else Change.LONGER
    return Suggestion(interval_days=new, change=change, reason=reason)


def _figure(text: str | None) -> Decimal | None:
    return None if text is None else Decimal(text)


def _state(gauge: Gauge) -> Finding:
    is_in_use = gauge.state is GaugeState.IN_USE
    return Finding(words=f"state: {gauge.state}", is_against=not is_in_use)


def _kind(gauge: Gauge, characteristic: Characteristic) -> Finding:
    kinds = characteristic.gauge_kinds
    if not kinds or gauge.kind in kinds:
        return Finding(words=f"kind: {gauge.kind}")
    wanted = ", ".join(kinds)
    return Finding(words=f"kind: {gauge.kind}; the plan allows {wanted}", is_against=True)


def _thread(gauge: Gauge, characteristic: Characteristic) -> Finding:
    if not gauge.kind.is_thread_gauge or characteristic.thread is None:
        return Finding(words="accepts or rejects; no figure to compare")
    if gauge.thread is None:
        return Finding(words=f"no thread on record, needed {characteristic.thread}", is_against=True)
    if is_same_thread(gauge.thread, characteristic.thread):
        return Finding(words=f"made for {gauge.thread}")
    return Finding(words=f"made for {gauge.thread}, needed {characteristic.thread}", is_against=True)


def _range(gauge: Gauge, limits: Limits) -> Finding:
    low, high = _figure(gauge.range_low), _figure(gauge.range_high)
    if low is None or high is None:
        return Finding(words="no range on record", is_doubt=True)
    ends = [limit for limit in (limits.lower, limits.upper) if limit is not None]
    words = f"range {gauge.range_low} to {gauge.range_high}"
    if all(low <= end <= high for end in ends):
        return Finding(words=words)
    return Finding(words=f"{words} does not take in the limits", is_against=True)


def _least_count(gauge: Gauge, limits: Limits, numbers: PlantNumbers) -> Finding:
    count = _figure(gauge.least_count)
    tolerance = limits.tolerance
    if count is None:
        return Finding(words="no least count on record", is_doubt=True)
    if not tolerance:
        return Finding(words=f"least count {gauge.least_count}; no tolerance to set it against")
    percent = 100 * count / tolerance
    words = f"least count {gauge.least_count} is {percent:.1f} % of the tolerance {tolerance}"
    if percent <= numbers.coarse_percent:
        return Finding(words=words)
    if percent <= numbers.too_coarse_percent:
        return Finding(words=f"{words}: over {numbers.coarse_percent} %, coarse", is_doubt=True)
    return Finding(words=f"{words}: over {numbers.too_coarse_percent} %, too coarse", is_against=True)


def _ratio(gauge: Gauge, limits: Limits) -> Decimal | None:
    expanded = _figure(gauge.uncertainty)
    if not expanded or (limits.upper is None):
        return None
    return uncertainty_ratio(limits, expanded, nominal=Decimal(0))


def _ratio_finding(ratio: Decimal | None, needed: Decimal | None) -> Finding:
    if ratio is None:
        return Finding(words="uncertainty ratio cannot be told", is_against=needed is not None, is_doubt=needed is None)
    words = f"uncertainty ratio {ratio:.1f} to 1"
    if needed is None or ratio >= needed:
        return Finding(words=words)
    return Finding(words=f"{words}, {needed} to 1 needed", is_against=True)
