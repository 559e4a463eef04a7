"""The job and what happens round it: changeover, stop, heat, counts, corrections, fresh lists."""

import pytest

from kiosk.errors import LotNotKnown, NumberMistyped, PlanNotHere, StepMissing
from kiosk.measure.check_character import printed_number
from kiosk.pages.readings import Correction, Reading
from kiosk.pages.station import (
    Changeover,
    HeatScan,
    JobOpen,
    ListsTaken,
    MachineCounter,
    OutOfHeat,
    PieceCount,
    Refusal,
    Remark,
    StopBegin,
    StopEnd,
)
from kiosk.pages.words import ClockState
from kiosk.station import Station
from tests.unit.kiosk import plant
from tests.unit.kiosk.plant import Post


def here(at: str = "2026-03-09 09:00:00", number: str = "S12") -> Post:
    """A post with somebody badged in."""
    post = Post(number, at=at)
    post.work.badge_in("P-101")
    return post


def test_one_scan_opens_the_job_with_all_that_is_known() -> None:
    """Part, revision and plan are fetched, never keyed."""
    post = here()

    post.work.open_job("L-411", "60")

    job = post.pages(JobOpen)[0]
    assert (job.lot, job.operation, job.part, job.revision, job.plan_version) == ("L-411", "60", "B-3124", "C", "C1")


def test_a_lot_nobody_knows_opens_with_its_part_and_is_blocked() -> None:
    """Without the part nothing can be measured; with it the floor goes on and QC settles the lot."""
    post = here()
    with pytest.raises(LotNotKnown) as told:
        post.work.open_job("L-999", "60")

    done = post.work.open_job("L-999", "60", part="B-3124")
    post.work.take_gauge("BC1", "G-108")
    post.work.begin_sample("BC1")

    assert "Scan the part number" in told.value.next_step
    assert done.say[0].startswith("Lot L-999 is not on the lists here.")
    assert post.kept("BC1", ".3122").judged.reasons == ("X44",)


def test_a_label_of_another_part_is_refused_and_blocked_when_worked_anyway() -> None:
    """The lot on the tote is of a nut, the traveller of a bolt."""
    post = here()
    with pytest.raises(LotNotKnown, match="another part"):
        post.work.open_job("L-500", "60", part="B-3124")
    post.work.open_job("L-500", "60", part="B-3124", measured_anyway=True)
    post.work.take_gauge("BC1", "G-108")
    post.work.begin_sample("BC1")

    assert post.kept("BC1", ".3122").judged.reasons == ("X45",)
    assert [refusal.by_rule for refusal in post.pages(Refusal)] == ["X45"]


def test_an_operation_without_a_plan_points_to_the_paper_form() -> None:
    """No plan, no limits, no unit."""
    post = here()

    with pytest.raises(PlanNotHere) as told:
        post.work.open_job("L-411", "999")
    with pytest.raises(LotNotKnown):
        post.work.open_job("L-998", "60", part="B-0000")

    assert "paper form" in told.value.next_step


def test_a_characteristic_of_another_operation_is_not_in_the_job() -> None:
    """Only what the plan of this operation has is measured here."""
    post = here()
    post.work.open_job("L-411", "60")

    with pytest.raises(PlanNotHere, match="BC4"):
        post.work.take_gauge("BC4", "G-301", master="W-24")
    with pytest.raises(StepMissing, match="no sample of BC1 is open"):
        post.work.key("BC1", ".3122")


def test_a_typed_lot_is_marked_on_every_reading() -> None:
    """Typed as printed, with its check character; a slip is refused."""
    post = here()
    with pytest.raises(NumberMistyped):
        post.work.open_job("L-411", "60", is_typed=True)
    post.work.open_job(printed_number("L-411"), "60", is_typed=True)
    post.work.take_gauge("BC1", "G-108")
    post.work.begin_sample("BC1")
    post.kept("BC1", ".3122")

    assert (post.pages(JobOpen)[0].lot, post.pages(Reading)[0].typed) == ("L-411", ("lot",))


def test_another_lot_without_line_clearance_is_told() -> None:
    """Cleared: nothing is said; not cleared: said at once."""
    post = here()
    post.work.open_job("L-411", "60")
    told = post.work.open_job("L-412", "60").say
    post.work.change_over("L-411", is_line_clear=True)
    cleared = post.work.open_job("L-411", "60").say
    unclear = post.work.change_over("L-412", is_line_clear=False).say

    assert told == ("No line clearance is logged for L-412. Clear the line first.",)
    assert cleared == ()
    assert unclear[0].startswith("STOP. Clear the line before L-412 starts")
    assert [(c.from_lot, c.to_lot) for c in post.pages(Changeover)] == [("L-412", "L-411"), ("L-411", "L-412")]


def test_an_operation_not_of_this_station_is_told_and_opened() -> None:
    """A borrowed station is no reason to stop."""
    done = here(number="S31").work.open_job("L-411", "60")

    assert done.say == ("Operation 60 is not on this station's list.",)


def test_a_training_lot_says_that_its_numbers_are_invented() -> None:
    """Never use them as limits."""
    lots = (*plant.LISTS.lots, plant.LISTS.lots[0].model_copy(update={"number": "T-1", "is_training": True}))
    post = Post(lists=plant.lists_with(lots=lots))
    post.work.badge_in("P-101")

    assert "invented" in post.work.open_job("T-1", "60").say[0]


def test_stop_and_run_again_are_one_tap_each() -> None:
    """The state shows since when the machine stands, and why."""
    post = here()
    post.work.open_job("L-411", "60")

    post.work.stop("wheel dress")
    standing = post.work.state.stop
    post.work.run_again()

    assert standing is not None and standing.reason == "wheel dress"
    assert post.work.state.stop is None
    assert (post.pages(StopBegin)[0].lot, post.pages(StopEnd)[0].lot) == ("L-411", "L-411")


def test_another_heat_than_the_lots_is_told_at_once_and_kept() -> None:
    """Mixed heats are not sorted by eye."""
    post = here()
    post.work.open_job("L-411", "60")

    right = post.work.scan_heat("H-7703").say
    wrong = post.work.scan_heat("H-7704", is_typed=True).say

    assert right == ()
    assert wrong == ("STOP. Heat H-7704 does not belong to L-411. Segregate, do not sort by eye, call QC.",)
    assert [scan.heat for scan in post.pages(HeatScan)] == ["H-7703", "H-7704"]


def test_pieces_that_do_not_add_up_are_told_and_kept() -> None:
    """2000 in; 1960 + 30 + 5 + 5 = 2000; 1960 + 30 + 5 = 1995. Hand calculation."""
    post = here()
    post.work.open_job("L-411", "60")

    right = post.work.count_pieces(pieces_in=2000, good=1960, scrap=30, test=5, in_hand=5).say
    wrong = post.work.count_pieces(pieces_in=2000, good=1960, scrap=30, test=5).say

    assert right == ()
    assert wrong == ("The pieces do not add up: 1995 found, 2000 came in. Count again.",)
    assert len(post.pages(PieceCount)) == 2


def test_out_of_heat_warns_of_hot_parts() -> None:
    """A hot part reads large and burns."""
    post = here()
    post.work.open_job("L-411", "60")

    done = post.work.out_of_heat(tote="T-4")

    assert "Hot parts read large and burn." in done.say[0] and "30 min" in done.say[0]
    assert post.pages(OutOfHeat)[0].out_at == "2026-03-09T09:00:00.000-04:00"


def test_counter_remark_and_correction_are_pages() -> None:
    """Each keeps what was said; a correction never touches the old page."""
    post = here()
    before = len(post.book.pages)
    post.work.read_counter("M-7", "start", 10_450)
    post.work.remark("coolant changed", about="S12-a/1")
    done = post.work.correct(
        Correction(of="S12-a/9", field="value", old=".3128", new=".3123", reason="keyed wrong", words="8 for 3")
    )

    assert (post.pages(MachineCounter)[0].pieces, post.pages(Remark)[0].about) == (10_450, "S12-a/1")
    assert "The old verdict stands" in done.say[0]
    assert len(post.book.pages) == before + 3


def test_fresh_lists_work_from_the_moment_they_are_taken() -> None:
    """A gauge stopped in the new lists is out of use from here; the page before stays as judged."""
    post = Post().measuring("BC2", gauge="G-107")
    before = post.kept("BC2", ".2840")
    gauges = tuple(g.model_copy(update={"state": "Stopped"}) if g.number == "G-107" else g for g in plant.LISTS.gauges)
    post.clock.wait(60)

    post.work.take_lists(
        ListsTaken(version=8, fingerprint="0" * 64, by="network"),
        plant.lists_with(gauges=gauges, version=8),
        taken_at="2026-03-09T09:01:00.000-04:00",
    )

    after = post.kept("BC2", ".2841")
    assert (before.judged.reasons, after.judged.reasons) == ((), ("X04",))
    assert (before.page.lists_version, after.page.lists_version) == (7, 8)


def test_what_the_kiosk_knows_of_its_clock_and_lists_stands_in_every_page() -> None:
    """A clock that is off and lists confirmed at a contact."""
    post = here()
    post.work.know_clock(ClockState.OFF)
    post.work.lists_confirmed("2026-03-09T08:59:00.000-04:00")

    page = post.work.remark("checked").page

    assert (page.clock_state, page.lists_taken_at) == (ClockState.OFF, "2026-03-09T08:59:00.000-04:00")
    assert (post.work.number, post.work.lists.version) == ("S12", 7)


def test_lists_of_unknown_age_refuse_nothing_and_say_nothing() -> None:
    """A kiosk that never took lists by carry does not know how old they are."""
    post = Post()
    work = Station(post.book, plant.LISTS, number="S12", clock=post.clock, zone=plant.ZONE)
    work.badge_in("P-101")
    work.open_job("L-411", "60")

    told = work.take_gauge("BC1", "G-120").say

    assert any(sentence.startswith("STOP") for sentence in told)


def test_a_part_that_left_the_lists_is_worked_by_the_lots_own_revision() -> None:
    """The lot still names its revision."""
    post = Post(lists=plant.lists_with(parts=()))
    post.work.badge_in("P-101")

    post.work.open_job("L-411", "60")

    assert post.pages(JobOpen)[0].revision == "C"


def test_a_gauge_without_a_swap_partner_points_to_the_calibration_room() -> None:
    """Nobody is left with a gauge that goes out and no next step."""
    told = here("2026-08-31 22:00:00").work.badge_in("P-101").say

    assert "G-109 goes out at midnight. No swap partner is listed: call the calibration room." in told
