"""Every act of an operator's day is reached by keys alone and keeps the page it should."""

from dataclasses import replace

import pytest

from kiosk.acts import WAYS, Mark, Steps
from kiosk.acts.shown import meant_on_a_number_pad
from kiosk.acts.steps import Note, Wanted
from kiosk.pages.readings import Check, Countersign, Reading, SampleEnd
from kiosk.pages.station import (
    BadgeIn,
    Changeover,
    FirstPieceApproval,
    GaugeIncident,
    GaugeMovement,
    HeatScan,
    OutOfHeat,
    PieceCount,
    Refusal,
    SetUpChange,
    SetUpEnd,
    SetUpStart,
    StopBegin,
    StopEnd,
)
from kiosk.pages.studies import GaugeStudyEnd, GaugeStudyOrder, GaugeStudyReading
from kiosk.settings import Settings
from tests.unit.kiosk.acts.at_a_screen import AtAScreen, measuring


def zeroed(at: AtAScreen) -> AtAScreen:
    """Take the snap gauge for the shank and zero it."""
    return at.pick("BC1").scan("G-220").pick("Check G-220 now").key("0")


def test_a_sample_of_five_is_measured_and_ended() -> None:
    """Master .31225, a division .00005: 2 under is .31215 (by hand)."""
    at = zeroed(measuring())

    for figure in ("2-", "1+", "0", "3-", "5+"):
        at.key(figure)
    at.pick("End the sample")

    assert [act.value for act in at.post.pages(Reading)] == ["0.31215", "0.31230", "0.31225", "0.31210", "0.31250"]
    assert [act.got for act in at.post.pages(SampleEnd)] == [5]


def test_limits_are_hidden_until_the_value_is_kept() -> None:
    """Neither limit stands anywhere before; both stand on the bar after."""
    at = zeroed(measuring())
    assert at.steps.bar is None
    assert "312" not in at.words

    at.key("2-")

    assert at.steps.shown.bar is not None
    assert (at.steps.shown.bar.lower_words, at.steps.shown.bar.upper_words) == (".3120", ".3125")


def test_first_pieces_hide_limits_and_values_until_all_are_in() -> None:
    """Four of five: progress only; after the fifth the bar and the figure stand there."""
    at = measuring().more("Another kind", "First, last").pick("BC1", "First pieces")
    at.scan("G-220").pick("Check G-220 now").key("0")

    for figure in ("2-", "1+", "0", "3-"):
        at.key(figure)
        assert at.steps.shown.bar is None
        assert ".312" not in at.words
    at.key("5+")

    assert at.steps.shown.bar is not None
    assert "Kept: .31250" in at.words


def test_a_gauge_past_due_is_no_longer_offered_a_check() -> None:
    """A check at the station mends no due date: take another one is the strong key."""
    at = measuring()
    at.post.clock.to("2026-03-11 09:00:00")
    at.pick("BC1").scan("G-107")

    assert "Check G-107" not in at.words
    assert [one.words for one in at.steps.choices() if one.is_strong] == ["Take another gauge"]
    assert Mark.STOP in at.marks


def test_over_wires_asks_for_the_wire_set_and_keeps_no_refusal() -> None:
    """Micrometer first, then wires; the reading names both."""
    at = measuring("S24", "B-102").pick("BC4").scan("G-301")
    assert "scan the wire set" in at.words

    at.scan("W-24").key("0.3215")

    assert not at.post.pages(Refusal)
    assert [(act.gauge, act.master) for act in at.post.pages(Reading)] == [("G-301", "W-24")]


def test_dropped_is_one_tap_from_anywhere_with_one_gauge_in_hand() -> None:
    """One key on the value screen: the page is kept, and nobody is blamed."""
    at = zeroed(measuring())

    at.press("pick dropped")

    assert [act.gauge for act in at.post.pages(GaugeIncident)] == ["G-220"]
    assert "Nobody is blamed" in at.words


@pytest.mark.parametrize(
    ("news", "kind"),
    [("I do not have it", "not found"), ("Issued", "issued"), ("Borrowed", "borrowed"), ("Given back", "returned")],
)
def test_where_a_gauge_is_can_be_told(news: str, kind: str) -> None:
    """Custody is a page, whoever has the gauge."""
    at = measuring().more("Gauges", "Something else").scan("G-220").pick(news)

    assert [act.movement for act in at.post.pages(GaugeMovement)] == [kind]


def test_a_stop_has_its_reason_and_the_screen_says_that_the_machine_stands() -> None:
    """Stop, look, run again."""
    at = measuring().more("Machine", "The machine stands", "Wheel dress")
    assert "The machine stands. Tell here" in at.words

    at.more("Machine", "The machine runs again")

    assert [act.reason for act in at.post.pages(StopBegin)] == ["wheel dress"]
    assert len(at.post.pages(StopEnd)) == 1
    assert "Tell here" not in at.words


def test_the_next_lot_waits_for_a_clear_line() -> None:
    """Not clear yet: told to stop, and the old lot stays open; clear: the next is open."""
    at = measuring().more("Lot, heat", "Next lot").scan("L-412").pick("Not clear yet")
    assert at.marks[0] is Mark.STOP
    assert at.post.work.state.job is not None and at.post.work.state.job.lot == "L-411"

    at.more("Lot, heat", "Next lot").pick("L-412", "The line is clear")

    assert [act.is_line_clear for act in at.post.pages(Changeover)] == [False, True]
    assert at.post.work.state.job.lot == "L-412"


def test_heat_and_count_are_kept() -> None:
    """Out of heat, another heat's number, a balance that does not add up."""
    at = measuring().more("Lot, heat", "Pieces came out")
    at.more("Lot, heat", "Heat number").scan("H-9999")
    assert at.marks[0] is Mark.STOP
    at.more("Lot, heat", "Count the pieces").key("2000").key("1990").key("5").key("1").key("0")

    assert len(at.post.pages(OutOfHeat)) == 1
    assert [act.heat for act in at.post.pages(HeatScan)] == ["H-9999"]
    assert [(act.pieces_in, act.good, act.scrap, act.test) for act in at.post.pages(PieceCount)] == [(2000, 1990, 5, 1)]
    assert "do not add up: 1996 found, 2000 came in" in at.words


def test_temperatures_go_with_the_readings_of_the_sample() -> None:
    """95 F on the part, 68 F on the gauge: the reading carries both."""
    at = zeroed(measuring()).more("This sample", "Temperature").key("95").key("68")
    at.key("0")

    assert [(act.part_temperature, act.gauge_temperature) for act in at.post.pages(Reading)] == [("95", "68")]


def test_a_set_up_is_begun_approved_with_another_badge_and_pin_touched_and_ended() -> None:
    """The wrong PIN signs nothing; the right one does, and a touch ends the approval."""
    at = measuring("S24", "B-102").more("Machine", "Set-up").pick("Begin a set-up", "New lot", "Cold")
    assert "Run no pieces" in at.words

    at.more("Machine", "Set-up").pick("First pieces").scan("B-104").pick("Approved").key("123456")
    assert not at.post.pages(FirstPieceApproval)
    assert [page.person for page in at.post.book.pages if page.act.kind == "refusal"] == ["P-104"]
    at.key("274951")
    assert "Run no pieces" not in at.words
    at.more("Machine", "Set-up").pick("The set-up was touched", "Dies changed")
    assert "Run no pieces" in at.words
    at.more("Machine", "Set-up").pick("End this set-up")

    approvals = at.post.pages(FirstPieceApproval)
    assert [(act.result, act.signature is not None) for act in approvals] == [("Approved", True)]
    assert [page.person for page in at.post.book.pages if page.act.kind == "first-piece approval"] == ["P-104"]
    assert len(at.post.pages(SetUpStart)) == len(at.post.pages(SetUpChange)) == len(at.post.pages(SetUpEnd)) == 1


def test_who_set_it_up_approves_nothing_whatever_badge_and_pin_say() -> None:
    """P-102 begins the set-up and signs it: the page is kept and signed, STOP is said, no piece may run (X54)."""
    at = measuring("S24", "B-102").more("Machine", "Set-up").pick("Begin a set-up", "New lot", "Cold")

    at.more("Machine", "Set-up").pick("First pieces").scan("B-102").pick("Approved").key("274951")

    assert [act.result for act in at.post.pages(FirstPieceApproval)] == ["Approved"]
    assert Mark.STOP in at.marks
    assert Mark.OK not in at.marks
    assert "Run no pieces" in at.words


def test_a_pin_never_stands_on_the_screen() -> None:
    """Dots only."""
    at = measuring("S24", "B-102").more("Machine", "Set-up").pick("Begin a set-up", "New lot", "Cold")
    at.more("Machine", "Set-up").pick("First pieces").scan("B-104").pick("Refused").press("2", "7", "4")

    assert "274" not in at.words
    assert at.steps.shown.figure == "\N{BULLET}" * 3


def test_whoever_takes_over_is_named_and_scans_the_gauge_again() -> None:
    """The job and the sample stay open."""
    at = zeroed(measuring()).key("2-")

    at.scan("B-102")

    assert [act.takes_over_from for act in at.post.pages(BadgeIn)] == [None, "P-101"]
    assert "You took over from Ana" in at.words
    assert "1 of 5 done" in at.words
    at.pick("BC1")
    assert "scan the gauge" in at.words


def test_a_trainer_countersigns_inside_the_sample() -> None:
    """Bo trains for operation 80; Ana measures there."""
    at = measuring("S24", "B-101").pick("BC5").scan("G-502").pick("Accept")

    at.more("This sample", "Trainer").scan("B-102")

    assert [act.trainee for act in at.post.pages(Countersign)] == ["P-101"]
    assert at.post.work.state.person == "P-101"


def test_a_blind_re_measure_names_its_order_and_hides_the_earlier_value() -> None:
    """One piece; the page of the earlier reading stands in the new one."""
    at = zeroed(measuring()).key("2-").press("pick back")

    at.more("Another kind", "Re-measure").scan("S12-a/8").pick("BC1").scan("G-220")
    assert ".31215" not in at.words
    at.key("1-")

    kept = at.post.pages(Reading)[-1]
    assert (kept.sample_kind, kept.re_measure_of) == ("re-measure", "S12-a/8")


def test_an_order_of_the_qc_room_is_told_at_the_door_and_done_blind() -> None:
    """Picked from the list, one piece, and off the list once it was measured."""
    at = AtAScreen()
    at.steps.orders = (Wanted("S31-a/7", "L-411", "BC1", 3, "blue tag"),)
    at.scan("B-101", "L-411")
    at.more("Another kind", "Re-measure")
    assert "[BC1, lot L-411, piece 3]" in at.words

    at.pick("BC1")
    assert "From the QC room: blue tag" in at.words
    at.scan("G-220").pick("Check G-220 now").key("0").key("1-")

    assert [act.re_measure_of for act in at.post.pages(Reading)] == ["S31-a/7"]
    assert not at.steps.orders


def test_a_message_of_the_qc_room_is_told_once_to_each_person() -> None:
    """At the door; the next badge-in of the same person is not held up by it again."""
    at = AtAScreen()
    at.steps.messages = (Note("desk-a/9", "L-411 is on hold. Do not move it."),)

    at.scan("B-101")
    assert "From the QC room: L-411 is on hold" in at.words
    at.scan("B-101")
    assert "From the QC room" not in at.words
    at.scan("B-102")
    assert "From the QC room" in at.words


def test_a_gauge_study_is_ordered_measured_blind_and_ended_short() -> None:
    """The leader sees the trays, the appraiser a place and his own progress."""
    at = AtAScreen().scan("B-104").more("Gauges", "Gauge study").pick("Begin a gauge study").scan("G-220")
    at.pick("BC1", "5 pieces").scan("B-101", "B-102").pick("Begin the study", "Card of round 1")
    assert "P5" in at.words

    at.scan("B-101").more("Gauges", "Gauge study").pick("GS-S12").scan("G-220").key("0.3123")
    assert "1 of 5 in this round" in at.words
    at.scan("B-104").more("Gauges", "Gauge study").pick("GS-S12", "End the study")

    order, ended = at.post.pages(GaugeStudyOrder)[0], at.post.pages(GaugeStudyEnd)[0]
    assert (order.appraisers, len(order.pieces), order.trials, order.tolerance) == (("P-101", "P-102"), 5, 3, "0.0005")
    assert [act.gauge for act in at.post.pages(GaugeStudyReading)] == ["G-220"]
    assert (ended.planned, ended.got, ended.why_short) == (30, 1, "ended by its leader")


def test_a_day_check_is_asked_for_and_kept() -> None:
    """45.3 on a block of 45.2 +-1.0 HRC is good."""
    at = measuring("S05", "B-104").pick("BC8").scan("G-610").pick("Check G-610 now").key("45.3")

    assert [(act.check_kind, act.verdict) for act in at.post.pages(Check)] == [("day check", "Good")]
    assert "Piece 1" in at.words


def test_a_hardness_reject_says_what_may_not_be_done() -> None:
    """The caution stands beside the verdict."""
    at = measuring("S05", "B-104").pick("BC8").scan("G-610").pick("Check G-610 now").key("45.3")

    at.key("42").key("42")

    assert at.marks[0] is Mark.STOP
    assert "heat-treat again" in at.words


def test_wiping_ignores_touch_for_ten_seconds_and_no_longer() -> None:
    """A hand on the glass keys nothing; a scanner still works."""
    at = zeroed(measuring()).more("Wipe")
    at.steps.touch("7")
    assert at.steps.figure == ""

    at.post.clock.wait(10)
    at.steps.touch("7")

    assert at.steps.figure == "7"


def test_after_a_power_cut_the_same_screen_is_up() -> None:
    """A new set of screens over the same book: 1 of 5 done, piece 2 next."""
    at = zeroed(measuring()).key("2-")

    again = Steps(at.post.work, at.post.clock, WAYS, Settings())

    assert again.shown.title == at.steps.shown.title
    assert again.shown.count_words == "1 of 5 done \N{EN DASH} piece 2 next"


def test_after_twenty_minutes_the_badge_is_asked_for_once_and_never_over_a_figure() -> None:
    """Not at 19 minutes, not while a figure is half keyed, then once; a tap of the badge begins anew."""
    at = zeroed(measuring())
    at.post.clock.wait(19 * 60)
    assert not at.steps.remind()

    at.post.clock.wait(2 * 60)
    at.press("2")
    assert not at.steps.remind()
    at.press("back one")
    assert at.steps.remind()

    assert "LOOK Tap your badge" in at.words
    assert not at.steps.remind()
    at.scan("B-101")
    at.post.clock.wait(21 * 60)
    assert at.steps.remind()


def test_a_number_pad_reaches_what_a_finger_does() -> None:
    """The slash goes back where nothing is keyed; where sentences are cut off the star reads on in place of More."""
    at = zeroed(measuring())
    pad, choices = at.steps.shown, AtAScreen().steps.shown

    assert meant_on_a_number_pad("back one", pad, is_cut=False) == "pick back"
    assert meant_on_a_number_pad("back one", replace(pad, figure="2"), is_cut=False) == "back one"
    assert meant_on_a_number_pad("more", pad, is_cut=True) == "read on"
    assert meant_on_a_number_pad("more", choices, is_cut=True) == "more"
    assert meant_on_a_number_pad(".", choices, is_cut=True) == "read on"
    assert meant_on_a_number_pad(".", pad, is_cut=False) == "."
