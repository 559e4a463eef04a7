"""Which gauge may measure this, and how long it may go, each with its figure and reason."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolidator.errors import NotComputed
from consolidator.study import gauges
from consolidator.study.gauges import Bounds, Change, Visit
from kiosk.lists import Characteristic, Gauge, PlantNumbers
from kiosk.lists.words import CharacteristicKind, GaugeKind, GaugeState

NUMBERS = PlantNumbers()


def _gauge(**fields: object) -> Gauge:
    usual = {
        "number": "G-1",
        "kind": GaugeKind.MICROMETER,
        "unit": "in",
        "range_low": "0",
        "range_high": "1",
        "least_count": "0.00005",
        "uncertainty": "0.00003",
    }
    return Gauge.model_validate(usual | fields)


def _diameter(**fields: object) -> Characteristic:
    usual = {
        "part": "TB-5",
        "revision": "C",
        "number": "BC1",
        "name": "shank diameter",
        "operation": "60",
        "kind": CharacteristicKind.TWO_SIDED,
        "unit": "in",
        "lower": "0.3120",
        "upper": "0.3125",
    }
    return Characteristic.model_validate(usual | fields)


def _words(fitness: gauges.Fitness) -> str:
    return "; ".join(finding.words for finding in fitness.findings)


def test_a_fine_micrometer_may_measure_a_ground_shank() -> None:
    """Least count .00005 of .0005 is 10.0 %, ratio .0005 / (2 x .00003) = 8.3 to 1 (hand calculation)."""
    fitness = gauges.judge_fitness(_gauge(), _diameter(), NUMBERS, Decimal(4))

    assert fitness.may_measure and not fitness.is_doubtful
    assert "10.0 % of the tolerance 0.0005" in _words(fitness)
    assert "8.3 to 1" in _words(fitness)


@pytest.mark.parametrize(
    ("fields", "why", "may", "doubt"),
    [
        ({"least_count": "0.0001"}, "20.0 % of the tolerance 0.0005: over 10 %", True, True),
        ({"least_count": "0.00011"}, "22.0 % of the tolerance 0.0005: over 20 %", False, False),
        ({"range_low": "1", "range_high": "2"}, "does not take in the limits", False, False),
        ({"unit": "mm"}, "reads in mm", False, False),
        ({"state": GaugeState.STOPPED}, "state: Stopped", False, False),
        ({"kind": GaugeKind.CALIPER}, "the plan allows micrometer", False, False),
        ({"uncertainty": "0.0001"}, "uncertainty ratio 2.5 to 1, 4 to 1 needed", False, False),
        ({"uncertainty": None}, "cannot be told", False, False),
        ({"least_count": None}, "no least count", True, True),
        ({"range_low": None}, "no range", True, True),
    ],
)
def test_each_reason_against_a_gauge_is_told_with_its_figure(
    fields: dict[str, object], why: str, may: bool, doubt: bool
) -> None:
    """Least count (N4: 10 and 20 %), range, unit, state, kind and uncertainty ratio each speak for themselves."""
    wanted = _diameter(gauge_kinds=(GaugeKind.MICROMETER,))

    fitness = gauges.judge_fitness(_gauge(**fields), wanted, NUMBERS, Decimal(4))

    assert why in _words(fitness)
    assert (fitness.may_measure, fitness.is_doubtful) == (may, doubt)


def test_one_sided_limits_follow_n4() -> None:
    """Upper only: the limit is the tolerance; lower only: least count is not set against anything."""
    runout = _diameter(kind=CharacteristicKind.UPPER, lower=None, upper="0.005")
    strength = _diameter(kind=CharacteristicKind.LOWER, lower="0.3", upper=None)
    indicator = _gauge(kind=GaugeKind.INDICATOR, least_count="0.0005", uncertainty="0.0005")

    assert "10.0 % of the tolerance 0.005" in _words(gauges.judge_fitness(indicator, runout, NUMBERS))
    assert "10.0 to 1" in _words(gauges.judge_fitness(indicator, runout, NUMBERS))
    low_only = gauges.judge_fitness(indicator, strength, NUMBERS)
    assert "no tolerance to set it against" in _words(low_only)
    assert low_only.ratio is None and low_only.is_doubtful


def test_a_thread_ring_must_be_made_for_the_thread() -> None:
    """The same thread spelled otherwise is the same; UN is not UNJ; an unnamed ring is told as such."""
    turns = _diameter(kind=CharacteristicKind.TURNS, thread=".3125-24 UNJF-3A", lower=None, upper=None)
    ring = {"kind": GaugeKind.THREAD_RING, "unit": None, "least_count": None, "uncertainty": None}

    assert gauges.judge_fitness(_gauge(**ring, thread="5/16-24 UNJF-3A"), turns, NUMBERS).may_measure
    assert not gauges.judge_fitness(_gauge(**ring, thread="5/16-24 UNF-3A"), turns, NUMBERS).may_measure
    unnamed = gauges.judge_fitness(_gauge(**ring), turns, NUMBERS)
    assert not unnamed.may_measure and "no thread on record" in _words(unnamed)
    plug = gauges.judge_fitness(_gauge(**ring | {"kind": GaugeKind.PLAIN_PLUG}), turns, NUMBERS)
    assert plug.may_measure and "no figure to compare" in _words(plug)
    without = gauges.judge_fitness(_gauge(), turns, NUMBERS)
    assert not without.may_measure and "no limits on record" in _words(without)


def test_gauges_that_may_measure_come_first_and_the_best_leads() -> None:
    """Order: fit before doubtful before unfit, then the greater uncertainty ratio."""
    register = [
        _gauge(number="G-4", least_count="0.001"),
        _gauge(number="G-3", least_count="0.0001"),
        _gauge(number="G-2", uncertainty="0.00005"),
        _gauge(number="G-1"),
    ]

    ranked = gauges.rank_gauges(register, _diameter(), NUMBERS)

    assert [fitness.gauge for fitness in ranked] == ["G-1", "G-2", "G-3", "G-4"]


def _history(*found: float | None, left: float = 0.0, every_days: int = 180) -> list[Visit]:
    start = date(2024, 1, 1)
    return [
        Visit(done_on=start + timedelta(days=every_days * k), as_found=share, as_left=left)
        for k, share in enumerate(found)
    ]


def test_found_out_twice_in_the_last_three_halves_the_interval() -> None:
    """Plant rule: two found out in the last three calibrations."""
    suggested = gauges.suggest_interval(_history(0.2, 1.3, 0.4, -1.1), 180)

    assert (suggested.interval_days, suggested.change) == (90, Change.SHORTER)
    assert "twice in the last three" in suggested.reason


def test_as_found_not_taken_teaches_nothing() -> None:
    """A calibration without as-found does not count; with fewer than three results the interval stays."""
    suggested = gauges.suggest_interval(_history(None, 0.1, None, 0.2), 180)

    assert (suggested.interval_days, suggested.change) == (180, Change.SAME)
    assert suggested.reason == "2 as-found results on record, 3 are needed"
    untouched = gauges.suggest_interval(_history(0.1, None, 0.2, None, 0.2, None), 180)
    assert untouched.change is not Change.LONGER


def test_steady_drift_is_followed_to_the_permissible_error() -> None:
    """0.8 of the error in each 100 days, exactly: out after 125 days, so 180 days become 125 (hand calculation)."""
    shorter = gauges.suggest_interval(_history(0.0, 0.8, 0.8, 0.8, every_days=100), 180)

    assert (shorter.interval_days, shorter.change) == (125, Change.SHORTER)
    assert "+144 % of the permissible error in 180 days" in shorter.reason


def test_a_gauge_that_hardly_moves_may_go_longer_but_not_past_the_bounds() -> None:
    """Small drifts lengthen by half at most, and never over the plant's longest interval."""
    calm = _history(0.02, -0.01, 0.03, 0.01, 0.02)

    longer = gauges.suggest_interval(calm, 180)
    bounded = gauges.suggest_interval(calm, 180, Bounds(longest_days=200))

    assert (longer.interval_days, longer.change) == (270, Change.LONGER)
    assert bounded.interval_days == 200
    assert "still good at the longer interval" in longer.reason


def test_a_gauge_found_out_once_is_not_lengthened() -> None:
    """One bad visit among the last three leaves the interval or shortens it."""
    suggested = gauges.suggest_interval(_history(0.1, 1.2, 0.1, 0.1), 180)

    assert suggested.change is not Change.LONGER


def test_downward_drift_counts_as_much_as_upward() -> None:
    """The same history with all signs turned gives the same interval."""
    up = gauges.suggest_interval(_history(0.0, 0.7, 0.9, 0.8), 180)
    down = gauges.suggest_interval(_history(0.0, -0.7, -0.9, -0.8), 180)

    assert up.interval_days == down.interval_days < 180


@given(
    found=st.lists(st.one_of(st.none(), st.floats(-2, 2)), min_size=0, max_size=8),
    days=st.integers(14, 700),
    left=st.floats(-0.5, 0.5),
)
def test_an_interval_never_leaves_the_bounds(found: list[float | None], days: int, left: float) -> None:
    """Whatever the history, a suggestion is between half and one and a half times the interval, within the plant's."""
    suggested = gauges.suggest_interval(_history(*found, left=left), days)

    assert 7 <= suggested.interval_days <= 730
    assert days // 2 <= suggested.interval_days <= days * 1.5
    assert (suggested.change is Change.LONGER) == (suggested.interval_days > days)
    assert suggested.reason


def test_a_kind_that_goes_out_too_often_is_shortened_by_its_own_rate() -> None:
    """80 of 100 good against 95 %: 365 x ln .95 / ln .80 = 84 days, held at half, 182 (hand calculation)."""
    suggested = gauges.suggest_for_kind(80, 100, 365)

    assert (suggested.interval_days, suggested.change) == (182, Change.SHORTER)
    assert "80 of 100 came back good (80.0 %, target 95 %)" in suggested.reason
    mild = gauges.suggest_for_kind(460, 500, 365)
    # 365 x ln .95 / ln .92 = 224.5
    assert mild.interval_days == 224


def test_a_kind_with_too_few_calibrations_stays() -> None:
    """19 of 20 good cannot be told from 95 %."""
    assert gauges.suggest_for_kind(19, 20, 365).change is Change.SAME
    assert gauges.suggest_for_kind(0, 3, 365).interval_days == 182


def test_a_kind_that_is_always_good_goes_longer_when_there_are_enough() -> None:
    """58 of 58 do not show 95 % with 95 % confidence, 59 of 59 do (success run); 500 of 500 go half as long again."""
    assert gauges.suggest_for_kind(58, 58, 365).change is Change.SAME
    assert gauges.suggest_for_kind(59, 59, 365).change is not Change.SHORTER
    assert gauges.suggest_for_kind(500, 500, 365).interval_days == 547


def test_histories_out_of_order_and_counts_that_cannot_be_are_refused() -> None:
    """The refusal says what to give instead."""
    with pytest.raises(NotComputed, match="order of time"):
        gauges.suggest_interval(list(reversed(_history(0.1, 0.2))), 180)
    with pytest.raises(NotComputed, match="5 good of 4"):
        gauges.suggest_for_kind(5, 4, 180)
