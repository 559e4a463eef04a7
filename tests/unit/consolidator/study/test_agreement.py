"""Kappas, bias and linearity come out as published."""

import json
import math

import pytest

from consolidator.errors import NotComputed
from consolidator.study import agreement
from consolidator.study.agreement import Weights
from tests.published import agrees, rows

TABLE = rows("t06_attribute_agreement")

# AIAG MSA 4th edition III-B, linearity example: 5 masters x 12 indications (data and results from memory).
MASTERS: dict[float, list[float]] = {
    2: [2.7, 2.5, 2.4, 2.5, 2.7, 2.3, 2.5, 2.5, 2.4, 2.4, 2.6, 2.4],
    4: [5.1, 3.9, 4.2, 5.0, 3.8, 3.9, 3.9, 3.9, 3.9, 4.0, 4.1, 3.8],
    6: [5.8, 5.7, 5.9, 5.9, 6.0, 6.1, 6.0, 6.1, 6.4, 6.3, 6.0, 6.1],
    8: [7.6, 7.7, 7.8, 7.7, 7.8, 7.8, 7.8, 7.7, 7.8, 7.5, 7.6, 7.7],
    10: [9.1, 9.3, 9.5, 9.3, 9.4, 9.5, 9.5, 9.5, 9.6, 9.2, 9.3, 9.4],
}


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row["check_id"])
def test_a_published_kappa_comes_out(row: dict[str, str]) -> None:
    """Cohen's and Fleiss's kappas as other packages and AIAG MSA print them (source and status in the row)."""
    data = json.loads(row["data"])
    name = row["check_id"]

    if name.startswith("fleiss"):
        computed = agreement.fleiss_kappa(data)
    elif name == "kap-irr-1":
        computed = agreement.kappa(agreement.cross_table([r[1] for r in data], [r[2] for r in data])).kappa
    else:
        found = agreement.kappa(data)
        computed = found.standard_error if name == "kap-1b" else found.kappa

    assert agrees(computed, row["value"], int(row["decimals"]))


def test_the_interval_and_the_test_of_a_kappa_are_the_printed_ones() -> None:
    """95 % interval .2137 to .7547 and z 3.2626 for the first table (source in its row)."""
    row = next(row for row in TABLE if row["check_id"] == "kap-1b")
    found = agreement.kappa(json.loads(row["data"]))
    low, high = found.interval()

    assert "CI .2137..0.7547, z(H0) 3.2626" in row["quantity"]
    assert agrees(low, "0.2137") and agrees(high, "0.7547") and agrees(found.z, "3.2626")


def test_weights_forgive_near_misses() -> None:
    """Linear weights by hand: credits 1, .5, 0 give .8158 observed and .6524 by chance, kappa .4701."""
    table = [[0, 4, 1], [0, 8, 0], [0, 1, 5]]

    linear = agreement.kappa(table, Weights.LINEAR)

    # Hand: (13 + .5 x 5) / 19 observed; chance from margins 5, 8, 6 and 0, 13, 6.
    assert linear.agreement == pytest.approx((13 + 2.5) / 19)
    chance = (8 * 13 + 6 * 6 + 0.5 * (5 * 13 + 8 * 0 + 8 * 6 + 6 * 13)) / 361
    assert linear.agreement_by_chance == pytest.approx(chance)
    assert agreement.kappa(table, Weights.QUADRATIC).agreement > linear.agreement
    # For two categories near misses do not exist, so weights change nothing.
    two = [[44, 6], [3, 97]]
    assert agreement.kappa(two, Weights.LINEAR).kappa == pytest.approx(agreement.kappa(two).kappa)


def test_full_agreement_has_a_kappa_of_one() -> None:
    """Perfect tables give 1, with no error about it; uniform chance gives 1 as well."""
    assert agreement.kappa([[5, 0], [0, 7]]).kappa == 1
    assert agreement.kappa([[5, 0], [0, 7]]).standard_error == pytest.approx(0)
    assert agreement.fleiss_kappa([[3, 0], [0, 3]], is_chance_uniform=True) == 1


def test_calls_in_one_category_only_are_refused_with_advice() -> None:
    """If nobody ever rejects, agreement proves nothing, and the study needs other pieces."""
    with pytest.raises(NotComputed, match="one category") as refused:
        agreement.kappa([[9, 0], [0, 0]])
    assert "near the limits" in refused.value.next_step
    with pytest.raises(NotComputed, match="one category"):
        agreement.fleiss_kappa([[3, 0], [3, 0]])
    with pytest.raises(NotComputed, match="same number of times"):
        agreement.fleiss_kappa([[3, 0], [1, 1]])
    with pytest.raises(NotComputed, match="not square"):
        agreement.kappa([[1, 2]])
    with pytest.raises(NotComputed, match="2 calls and the other 1"):
        agreement.cross_table([True, False], [True])


def test_screening_counts_misses_and_false_alarms() -> None:
    """Four pieces, two calls each, by hand: effective 2 of 4, misses 1 of 4 calls on bad, false alarms 2 of 4."""
    calls = [[True, True], [False, False], [True, False], [False, False]]
    found = agreement.screen(calls, [True, False, False, True])

    assert (found.effective, found.repeated) == (2, 3)
    assert found.effectiveness == 0.5 and found.repeatability == 0.75
    assert found.miss_rate == 1 / 4
    assert found.false_alarm_rate == 2 / 4
    only_good = agreement.screen([[True]], [True])
    assert only_good.miss_rate == 0 and only_good.false_alarm_rate == 0
    assert agreement.screen([[False]], [False]).false_alarm_rate == 0
    with pytest.raises(NotComputed, match="have a reference"):
        agreement.screen([[True]], [])


def test_linearity_of_five_masters_comes_out_as_printed() -> None:
    """AIAG MSA III-B from memory: slope -.13167, intercept .73667, t -12.043 and 10.158, both beyond chance."""
    sizes = [size for size, seen in MASTERS.items() for _ in seen]
    biases = [each - size for size, seen in MASTERS.items() for each in seen]

    found = agreement.linearity(sizes, biases)

    assert agrees(found.line.slope, "-0.13167") and agrees(found.line.intercept, "0.73667")
    assert agrees(found.t_slope, "-12.043") and agrees(found.t_intercept, "10.158")
    assert agrees(found.r_squared, "0.714") and agrees(found.line.residual_deviation, "0.23954")
    assert found.is_linear_error and found.is_offset
    low, high = found.bias_interval(6.0)
    assert low < found.line.at(6.0) < high


def test_a_bias_is_tested_against_its_own_spread() -> None:
    """Four indications of a 6.0 master by hand: mean 6.05, s .1291, t .05 / (.1291 / 2) = .7746, not beyond chance."""
    found = agreement.bias_at([5.9, 6.0, 6.1, 6.2], 6.0)

    assert found.bias == pytest.approx(0.05)
    assert agrees(found.repeatability, "0.1291") and agrees(found.t, "0.7746")
    # Student's t for 3 degrees of freedom, 95 %: 3.182 (GUM Table G.2).
    assert found.high - found.bias == pytest.approx(3.182 * 0.0645497, rel=1e-3)
    assert not found.is_significant
    assert agreement.bias_at([6.05, 6.05], 6.0, repeatability=0.001).is_significant
    with pytest.raises(NotComputed, match="do not vary"):
        agreement.bias_at([6.0, 6.0], 6.0)


def test_biases_all_on_a_line_have_no_uncertain_slope() -> None:
    """A perfect line is beyond chance at any level; a flat zero line is none."""
    steep = agreement.linearity([1, 2, 3], [0.0, 1.0, 2.0])
    assert steep.t_slope == math.inf and steep.is_linear_error
    flat = agreement.linearity([1, 2, 3], [0.0, 0.0, 0.0])
    assert flat.t_slope == 0 and not flat.is_linear_error and flat.r_squared == 0
