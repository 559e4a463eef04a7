"""Chances of acceptance, outgoing quality and found plans are the published ones."""

import itertools
import json
from collections.abc import Callable
from math import comb

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolidator.errors import NotComputed
from consolidator.study import operating_curves as curves
from tests.published import agrees, held, meets, rows


def _computed(row: dict[str, str]) -> float:
    name = row["check_id"]
    i = json.loads(row["inputs"])
    good, poor = (0.05, 0.95), (0.15, 0.075)
    by_name: dict[str, Callable[[], float]] = {
        "plan-n": lambda: curves.find_attributes_plan(good, poor).sample_size,
        "plan-c": lambda: curves.find_attributes_plan(good, poor).acceptance_number,
        "OCs-49": lambda: curves.find_variables_plan(good, poor).sample_size,
        "OCs-pa": lambda: curves.acceptance_by_variables(i["n"], i["k"], i["p"], is_sigma_known=True),
        "C0-plan": lambda: curves.poisson_sample(i["LTPD"], i["c"], i["beta"]),
        "C0-m": lambda: curves.poisson_mean_at(1, 0.1),
    }
    if name in by_name:
        return by_name[name]()
    if name.startswith("OCv"):
        return curves.acceptance_by_variables(i["n"], i["k"], i["p"])
    if name.startswith("C0-"):
        return curves.zero_failure_sample(i["conf"], i["p"])
    if name.startswith("H-"):
        return curves.acceptance_of_lot(i["n"], i["c"], lot_size=i["N"], bad_pieces=i["D"])
    if name.startswith("DBL"):
        return curves.acceptance_double((i["n1"], i["n2"]), (i["c1"], i["c2"]), i["r1"], i["p"])
    chance = curves.acceptance(i["n"], i["c"], i["p"])
    return 1 - chance if "alpha" in row["quantity"] else chance


@pytest.mark.parametrize("row", rows("t07_oc_values"), ids=lambda row: row["check_id"])
def test_a_published_chance_or_plan_comes_out(row: dict[str, str]) -> None:
    """Binomial, hypergeometric, Poisson, double and measured plans to their printed decimals (source in the row)."""
    is_small = 0 < abs(float(row["value"])) < 1e-3

    assert meets(_computed(row), row["value"], None if is_small else int(row["decimals"]))


def test_the_sample_of_59_that_shows_95_percent_reliability() -> None:
    """ln .05 / ln .95 = 58.4, so 59 pieces without a failure (source in the row)."""
    row = next(row for row in rows("t04_decision_rules_extra") if row["check_id"] == "N-EOPR")

    assert held(row["value"], curves.zero_failure_sample(0.95, 0.05) == int(float(row["value"])) + 1 == 59)
    assert curves.zero_failure_sample(0.19, 0.1) == 2  # 0.9 x 0.9 = 0.81 exactly


@given(lot=st.integers(5, 60), size=st.integers(1, 30), allowed=st.integers(0, 5))
def test_a_small_lot_is_counted_exactly(lot: int, size: int, allowed: int) -> None:
    """Chances of a lot equal a plain count of combinations, and fall as bad pieces rise."""
    size = min(size, lot)
    chances = curves.lot_curve(size, allowed, lot)

    for bad in (0, lot // 3, lot):
        ways = sum(comb(bad, k) * comb(lot - bad, size - k) for k in range(min(allowed, bad, size) + 1))
        assert chances[bad] == pytest.approx(ways / comb(lot, size), rel=1e-9, abs=1e-12)
    assert all(a >= b - 1e-12 for a, b in itertools.pairwise(chances))


@given(size=st.integers(1, 500), allowed=st.integers(0, 20), share=st.floats(0, 1), step=st.floats(0, 0.5))
def test_the_operating_curve_falls(size: int, allowed: int, share: float, step: float) -> None:
    """A worse lot is never accepted oftener; a larger sample with the same allowance never accepts more."""
    worse = min(1.0, share + step)
    here, there = curves.operating_curve(size, allowed, [share, worse])

    assert there <= here + 1e-12
    assert curves.acceptance(size + 1, allowed, share) <= here + 1e-12
    assert curves.acceptance(size, allowed + 1, share) >= here - 1e-12


@given(share=st.floats(0.0001, 0.4), step=st.floats(0.001, 0.3), k=st.floats(0.5, 3), size=st.integers(3, 200))
def test_measured_plans_fall_too(share: float, step: float, k: float, size: int) -> None:
    """A worse process is never accepted oftener by a measured plan, its spread known or not."""
    for known in (True, False):
        here = curves.acceptance_by_variables(size, k, share, is_sigma_known=known)
        assert curves.acceptance_by_variables(size, k, share + step, is_sigma_known=known) <= here + 1e-9


@pytest.mark.parametrize(("allowed", "factor"), [(0, 0.3679), (1, 0.8400), (2, 1.371), (3, 1.942)])
def test_the_outgoing_limit_follows_the_old_factors(allowed: int, factor: float) -> None:
    """Dodge and Romig's AOQL = y (1/n - 1/N), y .3679, .8400, 1.371, 1.942 for c = 0 to 3 (from memory; Poisson)."""
    found = curves.outgoing_limit(1000, allowed, 5000)

    assert found.limit == pytest.approx(factor * (1 / 1000 - 1 / 5000), rel=2e-3)
    for nearby in (0.9, 1.1):
        assert curves.outgoing_quality(1000, allowed, found.at_share * nearby, 5000) < found.limit


@given(size=st.integers(1, 300), allowed=st.integers(0, 6), share=st.floats(0, 1))
def test_nothing_worse_than_the_limit_leaves_on_average(size: int, allowed: int, share: float) -> None:
    """The outgoing share never exceeds AOQL, whatever comes in."""
    if allowed < size:
        limit = curves.outgoing_limit(size, allowed).limit
        assert curves.outgoing_quality(size, allowed, share) <= limit * (1 + 1e-6)


def test_the_quality_at_a_chance_is_the_curve_read_the_other_way() -> None:
    """For n = 50, c = 1 the limiting quality at 10 % is .0756; put back into the curve it gives 10 %."""
    limiting = curves.share_at(50, 1, 0.10)

    assert curves.acceptance(50, 1, limiting) == pytest.approx(0.10)
    # Zero accepted: 1 - 0.1^(1/50) in closed form.
    assert curves.share_at(50, 0, 0.10) == pytest.approx(1 - 0.1 ** (1 / 50))


def test_a_found_plan_keeps_both_promises_and_no_smaller_one_does() -> None:
    """Search by hand over all smaller samples finds none that keeps both points, in a long run and in a lot of 100."""
    good, poor = (0.02, 0.9), (0.15, 0.1)
    for lot in (None, 100):
        plan = curves.find_attributes_plan(good, poor, lot)

        def keeps(n: int, c: int, lot: int | None = lot) -> bool:
            chance = [
                curves.acceptance(n, c, share)
                if lot is None
                else curves.acceptance_of_lot(n, c, lot_size=lot, bad_pieces=round(share * lot))
                for share in (good[0], poor[0])
            ]
            return chance[0] >= good[1] and chance[1] <= poor[1]

        assert keeps(plan.sample_size, plan.acceptance_number)
        assert not any(keeps(n, c) for n in range(1, plan.sample_size) for c in range(n))


def test_an_all_good_sample_of_a_lot_is_the_smallest_that_shows_it() -> None:
    """Lot of 100, five bad or more, 95 %: 45 pieces leave C(95,45)/C(100,45) below 5 %, 44 do not."""
    found = curves.zero_failure_sample_of_lot(0.95, 100, 5)

    assert comb(95, found) / comb(100, found) <= 0.05 < comb(95, found - 1) / comb(100, found - 1)


def test_faults_are_counted_as_poisson() -> None:
    """50 pieces with .04 faults each: mean 2, none found with chance e^-2 = .1353 (hand calculation)."""
    assert agrees(curves.acceptance_of_faults(50, 0, 0.04), "0.1353")


def test_requests_that_make_no_sense_are_refused() -> None:
    """Shares over one, samples larger than the lot and points the wrong way round are told, each with a next step."""
    with pytest.raises(NotComputed, match="lies between 0 and 1"):
        curves.acceptance(10, 0, 1.5)
    with pytest.raises(NotComputed, match="do not fit a lot"):
        curves.acceptance_of_lot(20, 0, lot_size=10, bad_pieces=1)
    with pytest.raises(NotComputed, match="The points"):
        curves.find_attributes_plan((0.1, 0.95), (0.01, 0.1))
    with pytest.raises(NotComputed, match="keeps both"):
        # In a lot of 100 both shares are one bad piece: nothing can tell them apart.
        curves.find_attributes_plan((0.01, 0.95), (0.012, 0.05), lot_size=100)
    with pytest.raises(NotComputed, match="accepts everything"):
        curves.share_at(5, 5, 0.1)
    with pytest.raises(NotComputed, match="chance of 1"):
        curves.share_at(5, 0, 1)
    with pytest.raises(NotComputed, match="both lie between"):
        curves.zero_failure_sample(1.0, 0.1)
    with pytest.raises(NotComputed, match="from 1 bad piece"):
        curves.zero_failure_sample_of_lot(0.9, 10, 0)
    assert curves.acceptance_by_variables(10, 1.5, 0.0) == 1
    assert curves.acceptance_by_variables(10, 1.5, 1.0) == 0
