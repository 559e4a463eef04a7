"""The factors of charts are the published ones, within the last digit where print itself is off."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolidator.errors import NotComputed
from consolidator.study.chart_constants import c4_for, constants_for, d2_star
from consolidator.study.gauge_study import k1, k2
from tests.published import agrees, meets, rows

TABLE = rows("t05_control_chart_constants") + rows("t05_control_chart_constants_2")


def _computed(row: dict[str, str]) -> float:
    constants = constants_for(int(row["n"]))
    return 1 / constants.c4 if row["constant"] == "inv_c4" else float(getattr(constants, row["constant"]))


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row["check_id"])
def test_a_factor_is_the_published_one(row: dict[str, str]) -> None:
    """ASTM/Montgomery-style tables and the Handbook for Quality Management p.401 (source and status in the row)."""
    computed, decimals = _computed(row), int(row["decimals"])

    assert meets(computed, row["value"], decimals)
    assert abs(computed - float(row["value"])) <= 1.01 * 10**-decimals


@pytest.mark.parametrize("row", rows("t06_grr_factors"), ids=lambda row: row["check_id"])
def test_the_range_method_s_k_factors_are_the_published_ones(row: dict[str, str]) -> None:
    """K1 .5908, K2 .5231, K3 .3146 and the others as the worksheets print them (source and status in the row)."""
    n = int(row["n"])

    assert agrees(k1(n) if row["factor"] == "K1" else k2(n), row["value"])


def test_factors_of_two_pieces_have_their_closed_form() -> None:
    """For n = 2: d2 = 2 / root pi, d3 = root(2 - 4 / pi), c4 = root(2 / pi)."""
    two = constants_for(2)

    assert two.d2 == pytest.approx(2 / math.sqrt(math.pi), abs=1e-12)
    assert two.d3 == pytest.approx(math.sqrt(2 - 4 / math.pi), abs=1e-10)
    assert two.c4 == pytest.approx(math.sqrt(2 / math.pi), abs=1e-12)
    assert two.D1 == 0 and pytest.approx(two.d2 + 3 * two.d3) == two.D2
    assert pytest.approx(2.659574, abs=2e-3) == two.E2
    assert d2_star(2, groups=1) == pytest.approx(math.sqrt(2))


def test_the_range_of_three_has_its_closed_form() -> None:
    """For n = 3 the mean range is 3 / root pi (order statistics of the normal distribution)."""
    assert constants_for(3).d2 == pytest.approx(3 / math.sqrt(math.pi), abs=1e-12)


def test_large_samples_agree_with_drawn_ones() -> None:
    """50 000 drawn samples of 100 have the computed mean and spread of range, within four standard errors."""
    ranges = np.ptp(np.random.default_rng(7).standard_normal((50_000, 100)), axis=1)
    constants = constants_for(100)

    assert abs(ranges.mean() - constants.d2) < 4 * constants.d3 / math.sqrt(50_000)
    assert abs(ranges.std() - constants.d3) < 4 * constants.d3 / math.sqrt(2 * 50_000) * 1.5


@given(n=st.integers(2, 99))
def test_factors_move_steadily_with_the_sample(n: int) -> None:
    """A larger sample has a wider mean range, a better standard deviation and closer limits of means."""
    smaller, larger = constants_for(n), constants_for(n + 1)

    assert larger.d2 > smaller.d2
    assert larger.d3 < smaller.d3 or n == 2  # the one step upward: .853 for 2 pieces, .888 for 3
    assert 1 > larger.c4 > smaller.c4
    assert larger.A < smaller.A and larger.A2 < smaller.A2 and larger.A3 < smaller.A3
    assert larger.B3 >= smaller.B3 and larger.B4 < smaller.B4
    assert larger.B5 >= smaller.B5 and larger.B6 < smaller.B6
    assert larger.D3 >= smaller.D3 and larger.D4 < smaller.D4


@pytest.mark.parametrize("n", [1, 0, -3, 101])
def test_samples_outside_the_table_are_refused(n: int) -> None:
    """Factors are kept for 2 to 100 pieces, and the person is told so."""
    with pytest.raises(NotComputed, match="2 to 100"):
        constants_for(n)


def test_c4_goes_on_for_pooled_degrees_of_freedom() -> None:
    """c4 is near 1 - 1 / (4 n) for many readings (first terms of its series)."""
    assert c4_for(1001) == pytest.approx(1 - 1 / 4000, abs=1e-6)
    with pytest.raises(NotComputed):
        c4_for(1)
