"""Zero checks and day checks, with limits worked out by hand from N7 and the block's own tolerance."""

import pytest

from kiosk.errors import NotANumber, StepMissing
from kiosk.lists import CalibrationRecord
from kiosk.lists.words import GaugeKind
from kiosk.pages.readings import Check
from kiosk.pages.station import ListsTaken
from kiosk.pages.words import CheckVerdict, KeyedAs
from kiosk.station import Entry, KeptReading
from tests.unit.kiosk import plant
from tests.unit.kiosk.plant import Post


def at_grinding() -> Post:
    """A post at the grinding station with its job open."""
    post = Post()
    post.work.badge_in("P-101")
    post.work.open_job("L-411", "60")
    return post


@pytest.mark.parametrize(
    ("gauge", "keyed", "verdict", "limit", "named"),
    [
        ("G-220", ".00005", CheckVerdict.GOOD, "0.00005", ("B-3124:BC1",)),
        ("G-220", "-.00005", CheckVerdict.GOOD, "0.00005", ("B-3124:BC1",)),
        ("G-220", ".00006", CheckVerdict.FAILED, "0.00005", ("B-3124:BC1",)),
        ("G-222", ".0001", CheckVerdict.GOOD, "0.0001", ("B-3124:BC2",)),
        ("G-222", ".00011", CheckVerdict.FAILED, "0.0001", ("B-3124:BC2",)),
    ],
)
def test_a_zero_check_fails_beyond_a_tenth_of_the_tightest_tolerance(
    gauge: str, keyed: str, verdict: CheckVerdict, limit: str, named: tuple[str, ...]
) -> None:
    """A tenth of .0005 is .00005, one least count; set on .28450 the gauge reaches only BC2: a tenth of .0010."""
    post = at_grinding()

    post.work.check_zero(gauge, keyed)

    check = post.pages(Check)[0]
    assert (check.verdict, float(check.limit), check.characteristics) == (verdict, float(limit), named)


def test_a_zero_check_is_never_tighter_than_one_least_count() -> None:
    """A gauge that reads .0001 on a tolerance of .0005: the limit is .0001, not .00005."""
    gauges = tuple(
        g.model_copy(update={"least_count": "0.0001"}) if g.number == "G-220" else g for g in plant.LISTS.gauges
    )
    post = Post(lists=plant.lists_with(gauges=gauges))
    post.work.badge_in("P-101")
    post.work.open_job("L-411", "60")

    post.work.check_zero("G-220", ".0001")

    assert post.pages(Check)[0].verdict is CheckVerdict.GOOD


def test_a_zero_check_may_be_keyed_as_divisions_or_as_the_whole_value() -> None:
    """Two divisions of .00005 are .00010; .31230 on a master of .31225 is .00005."""
    post = at_grinding()

    post.work.check_zero("G-220", "2", keyed_as=KeyedAs.DIVISIONS)
    post.work.check_zero("G-220", ".31230", keyed_as=KeyedAs.VALUE)

    assert [(c.error, c.verdict) for c in post.pages(Check)] == [
        ("0.00010", CheckVerdict.FAILED),
        ("0.00005", CheckVerdict.GOOD),
    ]


def reading(post: Post) -> KeptReading:
    """One deviation of nothing on BC1 with G-220."""
    post.clock.wait(20)
    post.work.take_gauge("BC1", "G-220")
    post.work.begin_sample("BC1")
    answer = post.work.key("BC1", "0", Entry(keyed_as=KeyedAs.DEVIATION))
    assert isinstance(answer, KeptReading)
    return answer


def test_a_comparator_needs_a_zero_check_by_each_person_in_each_shift() -> None:
    """None: blocked; by me: counts; taken over: again; next shift: again."""
    post = at_grinding()
    none = reading(post)
    post.work.check_zero("G-220", "0")
    mine = reading(post)
    post.work.badge_in("P-102")
    theirs = reading(post)
    post.work.badge_in("P-101")
    back = reading(post)
    post.clock.to("2026-03-09 14:00:00")
    next_shift = reading(post)

    found = [answer.judged.reasons for answer in (none, mine, theirs, back)]
    assert found == [("X10",), (), ("X10",), ()]
    assert next_shift.judged.reasons == ("X10", "X11")


def test_a_zero_check_is_late_after_four_and_a_half_hours() -> None:
    """Checked at 06:00: at 10:30 in time, later flagged."""
    post = Post(at="2026-03-09 06:00:00")
    post.work.badge_in("P-101")
    post.work.open_job("L-411", "60")
    post.work.check_zero("G-220", "0")
    post.clock.to("2026-03-09 10:29:40")
    in_time = reading(post)
    post.clock.to("2026-03-09 10:31:00")

    assert (in_time.judged.reasons, reading(post).judged.reasons) == ((), ("X11",))


def test_after_a_failed_zero_check_readings_are_blocked_until_a_good_one() -> None:
    """Failed, blocked, zeroed and checked again, counts."""
    post = at_grinding()
    failed = post.work.check_zero("G-220", ".0003")
    blocked = reading(post)
    post.work.check_zero("G-220", "0")

    assert failed.say == ("STOP. G-220 is off zero. Clean it, zero it on the master and check again.",)
    assert (blocked.judged.reasons, reading(post).judged.reasons) == (("X12",), ())


def at_hardness(at: str = "2026-03-09 09:00:00") -> Post:
    """A post at the hardness tester with its job open."""
    post = Post("S05", at=at)
    post.work.badge_in("P-104")
    post.work.open_job("L-411", "40")
    return post


@pytest.mark.parametrize(
    ("keyed", "verdict"),
    [("46.2", CheckVerdict.GOOD), ("44.2", CheckVerdict.GOOD), ("46.3", CheckVerdict.FAILED)],
)
def test_a_day_check_is_held_against_the_blocks_own_tolerance(keyed: str, verdict: CheckVerdict) -> None:
    """Block 45.2 with 1.0 allowed: 46.2 and 44.2 are good, 46.3 is not."""
    post = at_hardness()

    post.work.check_day("G-610", keyed)

    assert post.pages(Check)[0].verdict is verdict


def test_hardness_is_blocked_until_the_days_check_is_good() -> None:
    """Without: blocked; good: counts; the next production day asks again, also for the third shift after midnight."""

    def hardness(post: Post) -> tuple[str, ...]:
        post.clock.wait(20)
        post.work.take_gauge("BC8", "G-610")
        post.work.begin_sample("BC8")
        return post.kept("BC8", "45.0").judged.reasons

    post = at_hardness()
    before = hardness(post)
    post.work.check_day("G-610", "45.4")
    after = hardness(post)
    post.clock.to("2026-03-10 05:59:30")
    same_day = hardness(post)
    post.clock.to("2026-03-10 06:00:00")

    assert (before, after, same_day, hardness(post)) == (("X60",), (), (), ("X60",))


def test_a_check_that_cannot_be_made_says_why() -> None:
    """No figure; a gauge or master nobody knows."""
    post = at_grinding()

    with pytest.raises(NotANumber):
        post.work.check_zero("G-220", "zero")
    with pytest.raises(StepMissing, match="G-999 is not on this kiosk's lists"):
        post.work.check_zero("G-999", "0")
    with pytest.raises(StepMissing, match="M-99 is not on this kiosk's lists"):
        post.work.check_zero("G-220", ".31225", master="M-99", keyed_as=KeyedAs.VALUE)

    assert post.pages(Check) == []


def test_a_zero_limit_is_found_across_units() -> None:
    """A gauge in mm that reads .001 mm on .0005 in: a tenth is .00127 mm; .0012 is good, .0013 is not. By hand."""
    gauges = tuple(
        g.model_copy(update={"unit": "mm", "least_count": "0.001", "range_low": "-0.1", "range_high": "0.1"})
        if g.number == "G-220" and g.kind is GaugeKind.SNAP
        else g
        for g in plant.LISTS.gauges
    )
    post = Post(lists=plant.lists_with(gauges=gauges))
    post.work.badge_in("P-101")
    post.work.open_job("L-411", "60")

    post.work.check_zero("G-220", ".0012")
    post.work.check_zero("G-220", ".0013")

    assert [c.verdict for c in post.pages(Check)] == [CheckVerdict.GOOD, CheckVerdict.FAILED]
    assert float(post.pages(Check)[0].limit) == pytest.approx(0.00127)


def test_a_frame_without_a_block_is_checked_on_its_own_zero() -> None:
    """One least count, one pound, is good; two are not, and the frame is not to be used."""
    post = Post("S38")
    post.work.badge_in("P-104")

    good = post.work.check_day("G-700", "1")
    failed = post.work.check_day("G-700", "-2")

    assert [check.verdict for check in post.pages(Check)] == [CheckVerdict.GOOD, CheckVerdict.FAILED]
    assert good.say == ("Good. G-700 may be used.",)
    assert failed.say == ("STOP. G-700 failed its day check. Do not test with it; call the calibration room.",)


def test_a_gauge_no_plan_names_is_checked_to_one_least_count() -> None:
    """A micrometer on a master of the plant: nothing measured with it here sets a tighter limit."""
    rows = tuple(c for c in plant.LISTS.characteristics if GaugeKind.MICROMETER not in c.gauge_kinds)
    post = Post(lists=plant.lists_with(characteristics=rows))
    post.work.badge_in("P-101")

    post.work.check_zero("G-108", ".00005", master="M-14")

    assert (post.pages(Check)[0].verdict, float(post.pages(Check)[0].limit)) == (CheckVerdict.GOOD, 0.00005)


def test_a_calibration_after_a_drop_makes_the_gauge_fit_again() -> None:
    """Known from fresh lists: dropped at 09:00, calibrated good at 10:00."""
    post = Post().measuring(gauge="G-108")
    post.work.report_incident("G-108")
    post.clock.to("2026-03-09 11:00:00")
    told = post.work.take_gauge("BC1", "G-108").say
    record = CalibrationRecord(
        gauge="G-108", done_at="2026-03-09T10:00:00.000-04:00", technician="P-105", as_found="Good", as_left="Good"
    )
    post.work.take_lists(
        ListsTaken(version=8, fingerprint="0" * 64, by="network"),
        plant.lists_with(calibrations=(record,)),
        taken_at="2026-03-09T11:00:00.000-04:00",
    )

    assert any("dropped" in sentence for sentence in told)
    assert post.work.take_gauge("BC1", "G-108").say == ()
