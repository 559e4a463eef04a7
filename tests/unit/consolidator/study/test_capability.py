"""Capability figures come out as published, and are kept back where they may not be shown."""

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from consolidator.errors import NotComputed
from consolidator.study import capability, shapes
from consolidator.study.capability import Question, Worth
from consolidator.study.charts import Within, deviation_within
from consolidator.study.shapes import Shape
from kiosk.measure.limits import Limits
from tests.published import agrees, document, same

EXAMPLES = {each["example_id"]: each for each in document("t05_spc_examples")}
RINGS = EXAMPLES["SPC-pistonrings"]
RUNOUT = Limits(None, Decimal("0.005"))


def _ring_limits() -> Limits:
    return Limits(lower=Decimal("73.95"), upper=Decimal("74.05"))


def test_piston_rings_have_the_published_capability() -> None:
    """R News 4/1 (2004) p. 15: Cp 1.686 (1.476 to 1.895), Cpk 1.646 (1.433 to 1.859), Cpm 1.674."""
    published = RINGS["results"]["published"]
    samples = RINGS["data"][:25]
    spread = deviation_within(samples, Within.POOLED_UNBIASED)
    mean = float(np.mean(samples))
    low, high = capability.ppk_sides(_ring_limits(), mean, spread)
    cp = capability.pp_index(capability.pp(_ring_limits(), spread), 124)
    cpk = capability.ppk_index(capability.ppk(_ring_limits(), mean, spread), 125)

    assert agrees(cp.value, str(published["Cp"]))
    assert low is not None and agrees(low, str(published["Cp_l"]))
    assert high is not None and agrees(high, str(published["Cp_u"]))
    assert [agrees(a, str(b)) for a, b in zip((cp.low, cp.high), published["Cp_95CI"], strict=True)] == [True, True]
    assert [agrees(a, str(b)) for a, b in zip((cpk.low, cpk.high), published["Cpk_95CI"], strict=True)] == [True, True]
    assert agrees(capability.cpm(_ring_limits(), mean, spread, 74.0), str(published["Cpm"]))
    assert cpk.low < cpk.lower_bound < cpk.value < cpk.high


def test_the_handbook_s_formulas_give_the_handbook_s_figures() -> None:
    """NIST/SEMATECH e-Handbook 6.1.6: limits 8 and 20, mean 16, s 2 give Cp 1, Cpu .6667, Cpl 1.3333, k .3333."""
    published = EXAMPLES["SPC-nist-Cpk"]["results"]["published"]
    limits = Limits(lower=Decimal(8), upper=Decimal(20))
    low, high = capability.ppk_sides(limits, 16, 2)

    assert same(capability.pp(limits, 2), str(published["Cp"]))
    assert high is not None and agrees(high, str(published["Cpu"]))
    assert low is not None and agrees(low, str(published["Cpl"]))
    assert agrees(capability.ppk(limits, 16, 2), str(published["Cpk"]))
    assert agrees(capability.off_centre(limits, 16), str(published["k"]))


def test_fewer_than_25_readings_give_no_figure() -> None:
    """The summary says how many there were and nothing more."""
    summary = capability.summarise(Question(readings=tuple(np.linspace(1, 2, 24)), limits=_ring_limits()))

    assert summary.worth is Worth.NOT_ENOUGH
    assert (summary.pp, summary.ppk, summary.cp, summary.cpk, summary.mean) == (None,) * 5
    assert (summary.count, summary.smallest, summary.largest) == (24, 1.0, 2.0)


def test_no_readings_at_all_are_told_as_such() -> None:
    """An empty period has a count of zero and no figure, not an error."""
    summary = capability.summarise(Question(readings=(), limits=_ring_limits(), blocked_count=3))

    assert (summary.count, summary.blocked_count, summary.smallest) == (0, 3, None)


@pytest.mark.parametrize(("count", "worth"), [(25, Worth.INDICATIVE), (99, Worth.INDICATIVE), (100, Worth.FIRM)])
def test_a_figure_says_what_its_number_of_readings_is_worth(count: int, worth: Worth) -> None:
    """From 25 to 99 readings a figure is indicative, from 100 on it is firm (plant rule)."""
    readings = tuple(np.random.default_rng(3).normal(74, 0.01, count))

    summary = capability.summarise(Question(readings=readings, limits=_ring_limits(), blocked_count=2, reject_count=1))

    assert summary.worth is worth
    assert (summary.count, summary.blocked_count, summary.reject_count) == (count, 2, 1)
    assert summary.ppk is not None and summary.ppk.lower_bound < summary.ppk.value


def test_a_quiet_run_shows_cp_and_a_disturbed_one_does_not() -> None:
    """Cp and Cpk stand only where the run plot shows no signal; Pp and Ppk stand either way."""
    quiet = tuple(float(v) for sample in RINGS["data"][:25] for v in sample)
    disturbed = tuple(float(v) for sample in RINGS["data"] for v in sample)

    first = capability.summarise(Question(readings=quiet, limits=_ring_limits(), sample_size=5))
    second = capability.summarise(Question(readings=disturbed, limits=_ring_limits(), sample_size=5))

    assert first.is_stable is True and first.cp is not None and first.cpk is not None
    assert second.is_stable is False and second.cp is None and second.cpk is None
    assert second.pp is not None and second.ppk is not None
    assert first.deviation_within == pytest.approx(deviation_within(RINGS["data"][:25], Within.POOLED))


def test_single_readings_take_their_spread_from_moving_ranges() -> None:
    """The spread within is the mean moving range over d2, and its bound allows for how little that knows."""
    readings = tuple(np.random.default_rng(11).normal(74, 0.008, 120))
    summary = capability.summarise(Question(readings=readings, limits=_ring_limits()))
    ranges = np.abs(np.diff(readings)).mean() * math.sqrt(math.pi) / 2

    assert summary.deviation_within == pytest.approx(ranges)
    assert summary.is_stable is True and summary.cp is not None and summary.pp is not None
    assert summary.cp.low / summary.cp.value < summary.pp.low / summary.pp.value


def test_runout_is_judged_by_its_own_shape() -> None:
    """One-sided readings never get the bell curve by default, nor a Pp that needs two limits."""
    readings = tuple(np.random.default_rng(5).rayleigh(0.001, 150))

    summary = capability.summarise(Question(readings=readings, limits=RUNOUT))

    assert summary.shape is not Shape.NORMAL and summary.shape is not Shape.BEST
    assert summary.pp is None and summary.cp is None and summary.cpk is None
    assert summary.ppk is not None and summary.misfit is not None and summary.misfit < 2.5


def test_the_rayleigh_percentiles_are_exact() -> None:
    """Rayleigh: median s root(2 ln 2), far point s root(2 ln(1 / .00135)); the bound follows chi-squared to 1 %."""
    readings = np.random.default_rng(9).rayleigh(0.001, 400)
    fitted = shapes.fit(readings.tolist(), Shape.RAYLEIGH)
    s = math.sqrt(float(np.mean(readings**2)) / 2)
    middle, far = s * math.sqrt(2 * math.log(2)), s * math.sqrt(2 * math.log(1 / 0.00135))

    value, error = shapes.performance(fitted, readings.tolist(), RUNOUT)

    assert value == pytest.approx((0.005 - middle) / (far - middle), rel=1e-9)
    # 2 n s-hat^2 / s^2 is chi-squared with 2 n degrees of freedom, so s-hat varies by 1 / (2 root n) of itself.
    slope = 0.005 / (far - middle)
    assert error == pytest.approx(slope / (2 * math.sqrt(400)), rel=0.01)


@pytest.mark.parametrize(
    ("shape", "law"),
    [
        (Shape.FOLDED_NORMAL, stats.foldnorm(2.0, scale=0.001)),
        (Shape.WEIBULL, stats.weibull_min(2.5, scale=0.002)),
        (Shape.LOGNORMAL, stats.lognorm(0.4, scale=0.0015)),
    ],
)
def test_a_shape_is_found_again_from_its_own_readings(shape: Shape, law: "stats.distributions.rv_frozen") -> None:
    """4000 readings drawn from a shape give its true Ppk back within four standard errors."""
    readings = law.rvs(4000, random_state=np.random.default_rng(2)).tolist()
    middle = float(law.median())
    true = (0.005 - middle) / (float(law.ppf(0.99865)) - middle)

    value, error = shapes.performance(shapes.fit(readings, shape), readings, RUNOUT)

    assert abs(value - true) < 4 * error
    assert shapes.fit(readings, Shape.BEST).likelihood_loss <= shapes.fit(readings, shape).likelihood_loss


def test_a_lower_limit_alone_looks_at_the_low_side() -> None:
    """Tensile strengths above a minimum: a nearer limit gives a smaller figure."""
    readings = tuple(np.random.default_rng(4).weibull(30, 60) * 190_000)
    far, near = (
        capability.summarise(Question(readings=readings, limits=Limits(Decimal(limit), None))).ppk
        for limit in (140_000, 160_000)
    )

    assert far is not None and near is not None and far.value > near.value > 0


def test_zero_runouts_leave_out_the_shapes_that_cannot_hold_them() -> None:
    """A reading of exactly zero rules out Weibull and lognormal, and the refusal names what to use."""
    readings = [0.0, *np.random.default_rng(5).rayleigh(0.001, 60)]

    assert shapes.fit(readings, Shape.BEST).shape in (Shape.RAYLEIGH, Shape.FOLDED_NORMAL)
    with pytest.raises(NotComputed, match="zero"):
        shapes.fit(readings, Shape.LOGNORMAL)
    with pytest.raises(NotComputed, match="zero or above"):
        shapes.fit([-0.001, 0.002], Shape.RAYLEIGH)


def test_readings_no_shape_can_hold_leave_the_rest_of_the_summary_standing() -> None:
    """A runout keyed below zero has no figure; count, mean and the reason are still told."""
    readings = (-0.001, *np.random.default_rng(5).rayleigh(0.001, 60).tolist())

    summary = capability.summarise(Question(readings=readings, limits=RUNOUT))

    assert summary.ppk is None and summary.mean is not None and summary.count == 61
    assert any("zero or above" in remark for remark in summary.remarks)


def test_strengths_far_from_zero_are_fitted_without_overflow() -> None:
    """A narrow spread far from zero (190 000 +/- 1 %) gives a figure close to the bell curve's on a symmetric shape."""
    readings = tuple(np.random.default_rng(6).normal(190_000, 1_000, 200))
    limits = Limits(Decimal(185_000), None)

    own = capability.summarise(Question(readings=readings, limits=limits)).ppk
    bell = capability.summarise(Question(readings=readings, limits=limits, shape=Shape.NORMAL)).ppk

    assert own is not None and bell is not None
    assert own.value == pytest.approx(bell.value, rel=0.05)


def test_alike_readings_have_no_capability() -> None:
    """A gauge too coarse to show any spread yields a remark, not an infinite figure."""
    summary = capability.summarise(Question(readings=(74.0,) * 40, limits=_ring_limits()))

    assert summary.ppk is None
    assert any("alike" in remark for remark in summary.remarks)
    with pytest.raises(NotComputed, match="do not vary"):
        capability.ppk(_ring_limits(), 74, 0.0)
    with pytest.raises(NotComputed, match="only one limit"):
        capability.pp(RUNOUT, 1.0)


def test_what_is_known_of_the_readings_stands_beside_the_figure() -> None:
    """Sorting, piling up at a limit and the gauge's share are told in words."""
    readings = tuple(np.random.default_rng(3).normal(74, 0.01, 30))
    question = Question(readings=readings, limits=_ring_limits(), is_sorted=True, is_piled_up=True, gauge_share=0.267)

    remarks = capability.summarise(question).remarks

    assert len(remarks) == 3
    assert "gauge's share of the spread: 26.7 %" in remarks


def test_the_lower_bound_holds_as_often_as_it_says() -> None:
    """Of 400 drawn runs of 50 readings, about 95 % have a bound below the true Ppk (drawn with a fixed seed)."""
    drawn = np.random.default_rng(8).normal(0, 1, (400, 50))
    limits = Limits(lower=Decimal(-4), upper=Decimal(4))
    true = 4 / 3

    held = sum(
        capability.ppk_index(capability.ppk(limits, float(row.mean()), float(row.std(ddof=1))), 50).lower_bound <= true
        for row in drawn
    )

    assert 0.92 <= held / 400 <= 0.99
