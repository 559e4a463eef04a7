"""Control lines and signals come out as the published examples print them."""

import json
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolidator.errors import NotComputed
from consolidator.study import charts
from consolidator.study.charts import ISO_7870_2, NELSON, WESTERN_ELECTRIC, Within
from tests.published import agrees, document, held, meets, rows, same

EXAMPLES: dict[str, Any] = {each["example_id"]: each for each in document("t05_spc_examples")}
EXTRA = {row["check_id"]: row for row in rows("t05_t06_extra_examples")}
RINGS = EXAMPLES["SPC-pistonrings"]["data"]


def _published(name: str) -> dict[str, float]:
    figures: dict[str, float] = EXAMPLES[name]["results"]["published"]
    return figures


def test_piston_rings_have_the_published_means_chart() -> None:
    """R News 4/1 (2004) p. 11 and Montgomery: centre, limits by pooled spread and by ranges, 25 samples of 5."""
    published = _published("SPC-pistonrings")
    paired = charts.xbar_r(RINGS[:25])
    spread = charts.deviation_within(RINGS[:25], Within.POOLED_UNBIASED)
    means = charts.means_plot(RINGS[:25], paired.location.centre, spread)

    assert agrees(spread, str(published["stddev_unweighted_pooled"]))
    assert agrees(means.centre, str(published["center"]))
    assert agrees(means.limits_at(0)[1], str(published["UCL"]))
    assert agrees(means.limits_at(0)[0], str(published["LCL"]))
    assert agrees(paired.spread.centre, str(published["Montgomery_Rbar"]))
    assert agrees(paired.location.limits_at(0)[1], str(published["Montgomery_UCL_xbar"]))
    assert agrees(paired.location.limits_at(0)[0], str(published["Montgomery_LCL_xbar"]))
    assert meets(paired.spread.limits_at(0)[1], str(published["Montgomery_UCL_R"]))
    assert paired.spread.limits_at(0)[1] == pytest.approx(published["Montgomery_UCL_R"], abs=1e-5)
    assert paired.spread.limits_at(0)[0] == 0


def test_later_rings_signal_as_published() -> None:
    """Of samples 26 to 40, three lie beyond the limits and one closes a run of seven (R News 4/1)."""
    published = _published("SPC-pistonrings")
    spread = charts.deviation_within(RINGS[:25], Within.POOLED_UNBIASED)
    plot = charts.means_plot(RINGS, 74.001176, spread)

    signals = [s for s in charts.find_signals(plot.distances, ISO_7870_2) if s.position >= 25]

    assert same(sum(s.rule.startswith("1 point") for s in signals), str(published["phase2_beyond_limits"]))
    assert same(sum("one side" in s.rule for s in signals), str(published["phase2_violating_runs"]))


def test_flow_rates_have_the_published_chart_of_individuals() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2: mean and mean moving range as printed, limits with the exact d2."""
    published = _published("SPC-nist-IMR")
    paired = charts.individuals(EXAMPLES["SPC-nist-IMR"]["data"])
    lower, upper = paired.location.limits_at(0)

    assert agrees(paired.location.centre, str(published["mean"]))
    assert agrees(paired.spread.centre, str(published["MRbar"]))
    assert meets(upper, str(published["UCL"]))
    assert meets(lower, str(published["LCL"]))
    assert meets(paired.spread.limits_at(0)[1], str(published["UCL_MR_by_D4_3p267"]))
    assert upper == pytest.approx(50.81 + 3 * published["MRbar"] / (2 / math.sqrt(math.pi)), abs=1e-4)
    assert upper == pytest.approx(published["UCL"], abs=2e-3)
    assert lower == pytest.approx(published["LCL"], abs=2e-3)
    assert paired.spread.limits_at(0)[1] == pytest.approx(published["UCL_MR_by_D4_3p267"], abs=2e-3)


def test_the_running_sums_signal_where_published() -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.3: the first signal is at observation 14."""
    example = EXAMPLES["SPC-nist-CUSUM"]
    published = example["results"]["published"]

    steps = charts.cusum(example["data"], 325, published["k"], published["h"])

    assert same([step.is_signal for step in steps].index(True) + 1, str(published["first_signal_obs"]))


def test_wafers_have_the_published_share_chart() -> None:
    """NIST/SEMATECH e-Handbook 6.3.3.2: centre .2313, limits .0524 and .4102 (printed .4103); two points beyond."""
    example = EXAMPLES["SPC-nist-p"]
    published = example["results"]["published"]
    plot = charts.p_chart(example["data"], [published["n"]] * 30)
    lower, upper = plot.limits_at(0)

    assert agrees(plot.centre, str(published["pbar"]))
    assert agrees(lower, str(published["LCL"]))
    assert meets(upper, str(published["UCL"]))
    assert agrees(upper, "0.4102")
    assert [s.position + 1 for s in charts.find_signals(plot.distances, WESTERN_ELECTRIC[:1])] == [15, 23]


@pytest.mark.parametrize("name", [name for name in EXTRA if name.startswith("PCH-")])
def test_a_share_chart_of_the_textbook_comes_out(name: str) -> None:
    """Montgomery exercise 6-1 and NIST 6.3.3.2: centre and limits as printed (source in the row)."""
    row = EXTRA[name]
    inputs = json.loads(row["inputs"])
    n = inputs["n"]
    samples = inputs.get("m", 200)
    found = inputs.get("sumD", round(inputs.get("pbar", 0) * n * samples))
    counts = [found // samples + (1 if k < found % samples else 0) for k in range(samples)]
    plot = charts.p_chart(counts, [n] * samples)
    lower, upper = plot.limits_at(0)

    computed = upper if "UCL" in row["quantity"] else lower if "LCL" in row["quantity"] else plot.centre

    assert agrees(computed, row["value"], int(row["decimals"]))


def test_a_number_chart_clears_zero_and_reaches_three_deviations() -> None:
    """Centre 7.2 with standard deviation 2.4 has limits 14.4 and 0 (source in the row); np = 7.2 of 36 pieces."""
    row = EXTRA["NPCH-1"]
    plot = charts.np_chart([7, 7, 7, 7, 8], 36)

    assert plot.centre == pytest.approx(7.2)
    assert agrees(plot.limits_at(0)[1], row["value"], int(row["decimals"]))
    assert plot.limits_at(0)[0] == pytest.approx(0)


def test_fault_charts_take_their_spread_from_the_count() -> None:
    """c: 9 +/- 3 x 3 = 0 and 18; u: 2 faults a unit over 4 units give 2 +/- 3 x root(2 / 4) (hand calculation)."""
    c = charts.c_chart([9, 8, 10])
    u = charts.u_chart([8, 8], [4, 4])

    assert c.limits_at(0) == pytest.approx((0, 18))
    assert u.limits_at(1) == pytest.approx((0, 2 + 3 * math.sqrt(0.5)))


def test_michelson_and_other_hard_readings_keep_their_digits() -> None:
    """NIST StRD: certified mean and standard deviation to nine digits (Michelson read, the others from memory)."""
    pairs = [(EXAMPLES[n]["data"], EXAMPLES[n]["results"]["published"]) for n in ("StRD-Michelson", "StRD-NumAcc1")]
    hard = [1000000.2] + [1000000.1, 1000000.3] * 500
    for values, certified in [*pairs, (hard, EXAMPLES["StRD-NumAcc3"]["results"]["published"])]:
        plot = charts.xbar_s([values])
        mean, deviation = plot.location.centre, plot.spread.values[0]
        assert held(str(certified["mean"]), mean == pytest.approx(certified["mean"], rel=1e-12))
        assert held(str(certified["sd"]), deviation == pytest.approx(certified["sd"], rel=1e-8))


def test_standard_deviation_charts_use_b3_and_b4() -> None:
    """For samples of 5, B4 = 2.089 and B3 = 0 times the mean standard deviation (published table)."""
    plot = charts.xbar_s(RINGS[:25]).spread

    assert plot.limits_at(0)[1] / plot.centre == pytest.approx(2.089, abs=5e-4)
    assert plot.limits_at(0)[0] == 0
    assert charts.deviation_within(RINGS[:25], Within.POOLED) < charts.deviation_within(
        RINGS[:25], Within.POOLED_UNBIASED
    )


QUIET = [0.4, -0.3, 0.6, -0.8, 0.1, 0.2, -0.4, -1.2, 0.3, 1.4, -0.2]


@pytest.mark.parametrize(
    ("rule", "pattern", "closes_at"),
    [
        ("1 point beyond 3", [0.1, 3.1], 1),
        ("9 points in a row on one", [0.2, 0.5] * 4 + [0.1], 8),
        ("6 points in a row rising", [-0.5, -0.2, 0.1, 0.4, 0.7, 1.3], 5),
        ("14 points", [0.3, -0.3] * 7, 13),
        ("2 of 3", [2.1, 0.0, 2.5], 2),
        ("4 of 5", [-1.2, -1.1, 0.2, -1.3, -1.4], 4),
        ("15 points", [0.5, 0.2, -0.5] * 5, 14),
        ("8 points in a row beyond 1", [1.2, -1.4, 1.1, 1.3, -1.2, -1.5, 1.2, -1.1], 7),
    ],
)
def test_each_of_nelson_s_tests_finds_its_own_pattern(rule: str, pattern: list[float], closes_at: int) -> None:
    """A pattern made by hand is found at the point that completes it (Nelson 1984, rules from memory)."""
    signals = [s for s in charts.find_signals(pattern, NELSON) if s.rule.startswith(rule)]

    assert [s.position for s in signals][:1] == [closes_at]


@pytest.mark.parametrize(("key", "rules"), [("western_electric", WESTERN_ELECTRIC), ("nelson", NELSON)])
def test_the_rule_sets_hold_the_figures_on_record(key: str, rules: tuple[charts.RunRule, ...]) -> None:
    """Counts and spans are those written down for each set (from memory, as the table says)."""
    published = EXAMPLES["SPC-rules"]["results"][key]
    written = [
        [int(word) for word in words.replace("-", " ").split() if word.isdigit()] for words in published.values()
    ]

    for rule, figures in zip(rules, written, strict=True):
        assert rule.count == figures[0]
        assert rule.span == (figures[1] if " of " in rule.name else figures[0])
        assert not rule.sigmas or int(rule.sigmas) == figures[-1]


def test_a_quiet_stretch_gives_no_signal() -> None:
    """Eleven ordinary points raise nothing under any set of rules."""
    for rules in (WESTERN_ELECTRIC, NELSON, ISO_7870_2):
        assert charts.find_signals(QUIET, rules) == ()
    assert charts.find_signals([], NELSON) == ()


def test_false_alarms_are_one_in_370() -> None:
    """Beyond three standard deviations: 0.0027, once in 370.4 points (published, from memory)."""
    published = EXAMPLES["SPC-rules"]["results"]["false_alarm_ARL0"]

    assert agrees(charts.false_alarm_probability(), str(published["rule1 two-sided alpha"]))
    assert agrees(1 / charts.false_alarm_probability(), str(published["rule1"]))


@given(values=st.lists(st.floats(-4, 4), min_size=0, max_size=60), cut=st.integers(0, 60))
def test_a_border_loses_no_signal_when_its_history_comes_along(values: list[float], cut: int) -> None:
    """Signals after a border are the same whether the whole record is looked at or only the history needed."""
    cut = min(cut, len(values))
    start = max(0, cut - charts.history_needed(NELSON))

    whole = {(s.rule, s.position) for s in charts.find_signals(values, NELSON) if s.position >= cut}
    part = {(s.rule, s.position + start) for s in charts.find_signals(values[start:], NELSON)}

    assert whole == {(rule, position) for rule, position in part if position >= cut}


def test_unequal_samples_and_empty_counts_are_refused() -> None:
    """Each refusal says what was wrong and what to do."""
    with pytest.raises(NotComputed, match="one size"):
        charts.xbar_r([[1.0, 2.0], [1.0, 2.0, 3.0]])
    with pytest.raises(NotComputed, match="one size"):
        charts.xbar_r([])
    with pytest.raises(NotComputed, match="are needed"):
        charts.individuals([1.0, 2.0])
    with pytest.raises(NotComputed, match="below zero"):
        charts.c_chart([])
    with pytest.raises(NotComputed, match="Nothing was inspected"):
        charts.p_chart([0], [0])


def test_points_without_spread_stand_on_the_centre_line() -> None:
    """Alike readings give limits on the centre and distances of zero, not a division by zero."""
    plot = charts.individuals([2.0, 2.0, 2.0]).location

    assert plot.limits_at(1) == (2.0, 2.0)
    assert plot.distances == (0.0, 0.0, 0.0)
    assert np.isfinite(plot.distances).all()
