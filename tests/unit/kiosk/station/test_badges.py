"""Who stands at the station, and what is told at the door."""

import pytest

from kiosk.errors import BadgeRefused, GaugeAskedAgain, StepMissing
from kiosk.lists import PlantNumber
from kiosk.pages.station import BadgeIn, BadgeOut, Refusal
from tests.unit.kiosk import plant
from tests.unit.kiosk.plant import Post


def test_a_gauge_that_goes_out_in_the_shift_is_told_with_its_swap_partner() -> None:
    """At 22:00 on the due date, third shift: goes out at midnight, and where the swap lies."""
    post = Post(at="2026-03-10 22:00:00")

    done = post.work.badge_in("B-101")

    assert done.say == ("G-107 goes out at midnight. Swap: G-108 in drawer A-2.",)
    assert post.pages(BadgeIn)[0].told == ("G-107 goes out at midnight. Swap: G-108 in drawer A-2.",)
    assert (done.page.person, post.pages(BadgeIn)[0].shift) == ("P-101", 3)


def test_nothing_is_told_in_the_shift_before() -> None:
    """At 21:00 the second shift ends before midnight."""
    assert Post(at="2026-03-10 21:00:00").work.badge_in("B-101").say == ()


def test_a_gauge_already_out_is_told_as_out() -> None:
    """The day after."""
    told = Post(at="2026-03-11 06:00:00").work.badge_in("B-101").say

    assert told == ("G-107 is out: due 2026-03-10. Do not use it. Swap: G-108 in drawer A-2.",)


def test_taking_over_is_one_scan_and_the_job_stays_open() -> None:
    """Both persons have their page, the sample waits, and the gauge is scanned again by the new one."""
    post = Post().measuring()
    post.kept("BC1", ".3122")

    done = post.work.badge_in("B-102")

    assert post.pages(BadgeOut)[0].why == "taken over"
    assert post.pages(BadgeIn)[-1].takes_over_from == "P-101"
    assert "1 of 5 done – piece 2 next." in done.say[0]
    with pytest.raises(StepMissing, match="no gauge was scanned"):
        post.work.key("BC1", ".3123")
    post.work.take_gauge("BC1", "G-108")
    assert post.kept("BC1", ".3123").page.person == "P-102"


def test_the_badge_of_somebody_who_left_is_refused_and_the_refusal_kept() -> None:
    """A leaver's badge in somebody's hand is nobody's name."""
    post = Post()

    with pytest.raises(BadgeRefused) as told:
        post.work.badge_in("B-199")

    assert "Use your own badge" in told.value.next_step
    assert post.pages(Refusal)[0].what == "Not badged in: badge B-199 is no longer in use."


def test_a_badge_the_lists_do_not_know_may_still_record() -> None:
    """The floor never stops: the readings are kept under the badge and wait for the lead."""
    post = Post()

    done = post.work.badge_in("B-777")

    assert "not on this kiosk's lists" in done.say[0]
    assert post.work.state.person == "B-777"


def test_old_lists_are_told_with_their_age() -> None:
    """25 h: carry when you can; eight days: approvals are refused."""
    post = Post()
    post.clock.to("2026-03-10 10:00:00")
    day = post.work.badge_in("B-101").say
    post.clock.to("2026-03-17 10:00:00")
    week = post.work.badge_in("B-101").say

    assert "The lists here are 25 h old. Carry this kiosk when you can." in day
    assert "The lists here are 193 h old: readings go on, approvals are refused." in week


def test_a_gauge_in_hand_is_told_an_hour_before_and_after_it_goes_out() -> None:
    """Reminders come without anybody having done anything, and a badge tap is asked for after a while."""
    post = Post(at="2026-03-10 22:50:00").measuring("BC2", gauge="G-107")
    early = post.work.reminders()
    post.clock.to("2026-03-10 23:05:00")
    soon = post.work.reminders()
    post.clock.to("2026-03-11 00:00:00")
    out = post.work.reminders()

    assert early == ()
    assert soon == ("G-107 goes out at midnight. Swap: G-108 in drawer A-2.",)
    assert out[0].startswith("G-107 is out")
    assert out[-1] == "Tap your badge: is it still you?"


def test_a_gauge_idle_for_half_an_hour_is_scanned_again_and_the_sample_waits() -> None:
    """30 min is fine, a second more asks; a refusal and a remark do not make it fresh again."""
    post = Post().measuring()
    post.clock.wait(30 * 60)
    post.kept("BC1", ".3122")
    post.clock.wait(30 * 60 + 1)
    post.work.remark("coolant changed")
    for _ in range(2):
        with pytest.raises(GaugeAskedAgain, match="scan G-108 again"):
            post.work.key("BC1", ".3123")

    post.work.take_gauge("BC1", "G-108")

    assert post.kept("BC1", ".3123").page.act.piece == 2  # type: ignore[union-attr]


def test_badging_out_says_what_is_unfinished() -> None:
    """Nobody leaves half a sample without being told."""
    post = Post().measuring()
    post.kept("BC1", ".3122")

    assert post.work.badge_out().say == ("BC1, lot L-411: 1 of 5 done – piece 2 next.",)
    assert post.work.state.person is None


def test_timing_out_ends_the_person_but_not_the_job() -> None:
    """The next badge finds the job open."""
    post = Post().measuring()

    post.work.time_out()

    assert post.pages(BadgeOut)[0].why == "timed out"
    assert post.work.state.job is not None


def test_nothing_is_measured_without_a_badge() -> None:
    """A reading without a name is nobody's; the refusal is kept with its next step."""
    post = Post()

    with pytest.raises(StepMissing, match="nobody is badged in"):
        post.work.open_job("L-411", "60")

    assert post.pages(Refusal)[0].next_step == "Badge in, then do it again."


def test_a_gauge_that_is_stopped_is_not_told_as_going_out() -> None:
    """It is out of use already; and a swap partner without a drawer is told by its number."""
    rows = [g.model_copy(update={"state": "Stopped"}) if g.number == "G-107" else g for g in plant.LISTS.gauges]
    stopped = Post(at="2026-03-10 22:00:00", lists=plant.lists_with(gauges=rows)).work.badge_in("B-101").say
    rows = [g.model_copy(update={"drawer": None}) for g in plant.LISTS.gauges]
    loose = Post(at="2026-03-10 22:00:00", lists=plant.lists_with(gauges=rows)).work.badge_in("B-101").say

    assert stopped == ()
    assert loose == ("G-107 goes out at midnight. Swap: G-108.",)


def test_a_plant_whose_gauges_go_out_at_another_hour_is_told_that_hour() -> None:
    """N1 of 28 hours: out at 04:00."""
    numbers = (PlantNumber(number="N1", value="28"),)

    told = Post(at="2026-03-10 22:00:00", lists=plant.lists_with(plant_numbers=numbers)).work.badge_in("B-101").say

    assert told == ("G-107 goes out at 04:00. Swap: G-108 in drawer A-2.",)


def test_nothing_is_asked_of_a_station_without_a_job() -> None:
    """No job, no sample, no gauge."""
    post = Post()
    post.work.badge_in("B-101")

    with pytest.raises(StepMissing, match="no job is open"):
        post.work.begin_sample("BC1")
    assert post.work.state.sample_of("BC1") is None
    assert post.work.around(None, "60").is_first_piece_missing is False
