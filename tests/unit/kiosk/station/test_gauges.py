"""Gauges at the station: warned of hard, and refused only where they cannot do the measurement."""

import pytest

from kiosk.errors import GaugeRefused, NumberMistyped, StepMissing
from kiosk.measure.check_character import printed_number
from kiosk.pages.readings import Reading
from kiosk.pages.station import GaugeIncident, GaugeMovement, GaugeScan, Refusal
from kiosk.pages.words import GaugeIncidentKind, KeyedAs, Standing
from kiosk.station import Entry
from tests.unit.kiosk.plant import Post


def at_rolling(person: str = "P-102") -> Post:
    """A post at the thread rolling station with its job open."""
    post = Post("S24")
    post.work.badge_in(person)
    post.work.open_job("L-411", "80")
    return post


def at_grinding(at: str = "2026-03-09 09:00:00") -> Post:
    """A post at the grinding station with its job open."""
    post = Post(at=at)
    post.work.badge_in("P-101")
    post.work.open_job("L-411", "60")
    return post


@pytest.mark.parametrize(
    ("characteristic", "gauge", "rule"), [("BC5", "G-505", "X19"), ("BC5", "G-503", "X19"), ("BC4", "G-108", "X18")]
)
def test_a_gauge_made_for_something_else_is_refused_while_the_lists_are_fresh(
    characteristic: str, gauge: str, rule: str
) -> None:
    """A ring of another class, the other member, a kind the plan does not allow: refused and the refusal kept."""
    post = at_rolling()

    with pytest.raises(GaugeRefused) as told:
        post.work.take_gauge(characteristic, gauge, master="W-24" if characteristic == "BC4" else None)

    refusal = post.pages(Refusal)[0]
    assert (refusal.by_rule, refusal.what) == (rule, told.value.what)
    assert post.pages(GaugeScan) == []


def test_a_caliper_is_refused_for_a_ground_diameter() -> None:
    """Too coarse, and no kind the plan allows."""
    with pytest.raises(GaugeRefused, match="does not allow"):
        at_grinding().work.take_gauge("BC1", "G-120")


def test_a_frame_that_cannot_reach_the_limits_is_refused() -> None:
    """A 1-2 in micrometer for a .3125 shank; and nothing of the limits is told."""
    with pytest.raises(GaugeRefused, match="range does not reach") as told:
        at_grinding().work.take_gauge("BC1", "G-109")

    assert ".312" not in str(told.value)


def test_measured_with_it_anyway_is_recorded_and_blocked() -> None:
    """The floor never stops: what was measured is written down, and does not count."""
    post = at_rolling()

    done = post.work.take_gauge("BC5", "G-505", measured_anyway=True)
    post.work.begin_sample("BC5")
    answer = post.kept("BC5", "Accept")

    assert done.say[0].startswith("STOP. G-505 or its wires do not fit this thread.")
    assert answer.judged.standing is Standing.BLOCKED
    assert post.pages(GaugeScan)[0].told == ("X13", "X19")


def test_old_lists_refuse_no_gauge() -> None:
    """After 24 h the lists may be wrong: the gauge is warned of, taken, and close of day decides."""
    post = at_rolling()
    post.clock.wait(24 * 3600 + 1)

    done = post.work.take_gauge("BC5", "G-505")

    assert "STOP" in done.say[0]


@pytest.mark.parametrize("gauge", ["G-107", "G-999"])
def test_a_gauge_past_due_or_unknown_is_warned_of_and_recorded(gauge: str) -> None:
    """Due on 10 March, scanned on 12 March; and a number nobody knows."""
    post = at_grinding("2026-03-12 09:00:00")

    done = post.work.take_gauge("BC2", gauge)
    post.work.begin_sample("BC2")

    assert done.say[0].startswith("STOP.")
    assert post.kept("BC2", ".2841").judged.standing is Standing.BLOCKED


def test_over_wires_asks_for_the_wire_set() -> None:
    """Nothing is assumed about which wires are in use."""
    with pytest.raises(StepMissing, match="scan the wire set"):
        at_rolling().work.take_gauge("BC4", "G-301")


def test_wires_for_another_pitch_are_refused_and_blocked_when_used_anyway() -> None:
    """28 threads an inch on a 24-thread part."""
    post = at_rolling()
    with pytest.raises(GaugeRefused, match="or the wires are"):
        post.work.take_gauge("BC4", "G-301", master="W-28")

    post.work.take_gauge("BC4", "G-301", master="W-28", measured_anyway=True)
    post.work.begin_sample("BC4")

    assert "X19" in post.kept("BC4", ".3198").judged.reasons


def test_a_typed_number_must_pass_its_check_character() -> None:
    """Typed as printed it is taken and marked; with two neighbours swapped it is refused on the spot."""
    post = at_grinding()
    printed = printed_number("G-108")
    post.work.take_gauge("BC1", printed, typed=("gauge",))
    post.work.begin_sample("BC1")
    post.kept("BC1", ".3122")

    with pytest.raises(NumberMistyped):
        post.work.take_gauge("BC1", printed.replace("10", "01"), typed=("gauge",))

    assert post.pages(GaugeScan)[0].gauge == "G-108"
    assert post.pages(Reading)[0].typed == ("gauge",)
    assert len(post.pages(Refusal)) == 1


def test_dashes_left_out_of_a_typed_number_do_not_matter() -> None:
    """The register's own writing is kept in the book."""
    post = at_grinding()

    post.work.take_gauge("BC1", printed_number("G-108").replace("-", "").lower(), typed=("gauge",))

    assert post.pages(GaugeScan)[0].gauge == "G-108"


def test_dropping_a_gauge_takes_one_tap_and_no_badge() -> None:
    """Thanked, told where the swap lies, and the gauge is out of the hand."""
    post = at_grinding()
    post.work.take_gauge("BC1", "G-108")
    post.work.badge_out()

    done = post.work.report_incident("G-108")

    assert done.say[0].startswith("Thank you. Put G-108 aside and tag it")
    assert done.say[1] == "Swap: G-107 in drawer A-1."
    assert post.pages(GaugeIncident)[0].what is GaugeIncidentKind.DROPPED
    assert done.page.person is None


def test_readings_after_a_drop_are_blocked_until_a_good_check() -> None:
    """Dropped, used all the same: blocked; checked good on its master: counts again from there."""
    post = at_grinding()
    post.work.check_zero("G-220", "0")
    post.work.report_incident("G-220", GaugeIncidentKind.KNOCKED)
    post.clock.wait(60)
    told = post.work.take_gauge("BC1", "G-220").say
    post.work.begin_sample("BC1")
    before = post.work.key("BC1", "0", Entry(keyed_as=KeyedAs.DEVIATION))
    post.clock.wait(60)
    post.work.check_zero("G-220", "0")
    post.clock.wait(60)
    after = post.work.key("BC1", "0", Entry(keyed_as=KeyedAs.DEVIATION))

    assert "STOP. G-220 was dropped or knocked and not checked since." in told
    assert [answer.judged.reasons for answer in (before, after)] == [("X05",), ()]  # type: ignore[union-attr]


def test_a_gauge_issued_here_is_at_home_and_a_borrowed_one_returned_is_not() -> None:
    """Custody moves with its page."""
    post = at_rolling()
    away = post.work.take_gauge("BC5", "G-505", measured_anyway=True)
    post.work.move_gauge("G-505", "borrowed")
    here = post.work.take_gauge("BC5", "G-505", measured_anyway=True)
    post.work.move_gauge("G-505", "returned", to_station="CRIB")

    assert "G-505 belongs to another station. That is noted." in away.say
    assert "G-505 belongs to another station. That is noted." not in here.say
    assert [move.movement for move in post.pages(GaugeMovement)] == ["borrowed", "returned"]
    assert post.work.state.issued == frozenset()
