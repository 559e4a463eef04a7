"""From when to when readings are in question: the rule's own sentences, one test each."""

import pytest

from consolidator.errors import LookBackRefused
from consolidator.frame.world import ms_of
from consolidator.lookback import Why
from kiosk.times import read_time
from tests.unit.consolidator.lookback.looked import LAST_GOOD, Plant, calibrated, finding_of, lists_with, points

FOUND = "2026-03-20T14:00:00.000-04:00"
OUT = points(("0.250", "0.0003"), ("0.300", "0.0003"))
JAN, FEB, MAR = (f"2026-0{month}-14T09:00:00.000-0{offset}:00" for month, offset in ((1, 5), (2, 5), (3, 4)))


def _plant(*more: dict[str, object]) -> Plant:
    return Plant(lists_with(calibrated("G-108", LAST_GOOD), *more))


def _state(plant: Plant, at: str, state: str, **told: str) -> str:
    return plant.act(at, {"kind": "gauge state", "gauge": "G-108", "state": state} | told, person="P-105")


def test_a_gauge_stopped_before_its_as_found_was_out_of_use_from_then() -> None:
    """Stopped on 1 March and never put back: the reading of the 14th is no part of the window."""
    plant = _plant()
    feb, mar = plant.blank(FEB, ".2840"), plant.blank(MAR, ".2840")
    _state(plant, "2026-03-01T08:00:00.000-05:00", "Stopped")
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert (finding_of(back, feb), finding_of(back, mar)) == ("Still inside", "")
    assert back.windows[0].end.words == "stopped"


def test_a_gauge_put_back_to_use_was_in_use_until_its_as_found() -> None:
    """Stopped on 1 March, in use again from the 5th: both readings are in the window."""
    plant = _plant()
    feb, mar = plant.blank(FEB, ".2840"), plant.blank(MAR, ".2840")
    _state(plant, "2026-03-01T08:00:00.000-05:00", "Stopped")
    _state(plant, "2026-03-05T08:00:00.000-05:00", "In use")
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert {finding_of(back, feb), finding_of(back, mar)} == {"Still inside"}


def test_a_later_good_check_against_a_sound_master_closes_the_doubt_up_to_itself() -> None:
    """Found good on 1 March and not touched: January and February are out of question, 14 March is not."""
    plant = _plant()
    jan, feb, mar = (plant.blank(at, ".2840") for at in (JAN, FEB, MAR))
    good = points(("0.250", "0.0001"), ("0.300", "0"))
    plant.calibrate(
        "2026-03-01T08:00:00.000-05:00", points=good, as_found="Good", as_left="Good", action="none", stage="as-found"
    )
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert [finding_of(back, page) for page in (jan, feb, mar)] == ["", "", "Still inside"]


def test_a_good_zero_check_does_not_narrow_a_window() -> None:
    """It proves one size only: the January reading stays in question."""
    plant = _plant()
    jan = plant.blank(JAN, ".2837")
    plant.zero(FEB, "G-108", "M-14")
    plant.calibrate(FOUND, points=OUT)

    assert finding_of(plant.look_back(), jan) == "Would now fail"


def test_a_window_is_narrowed_by_two_signatures_and_by_one_not_at_all() -> None:
    """Proposed by the calibrator, it waits; signed by the disposition authority, January falls out."""
    plant = _plant()
    jan, mar = plant.blank(JAN, ".2837"), plant.blank(MAR, ".2837")
    plant.calibrate(FOUND, points=OUT)
    told = {"kind": "look-back window", "gauge": "G-108", "begins_at": FEB, "ends_at": FOUND, "reason": "referee check"}
    page = plant.act("2026-03-20T15:00:00.000-04:00", told, person="P-105")
    waiting = plant.look_back()
    second = {"kind": "second signature", "of": page, "meaning": "declared"}
    plant.act("2026-03-20T15:10:00.000-04:00", second, person="P-101")
    unauthorised = plant.look_back()
    plant.act("2026-03-20T15:20:00.000-04:00", second, person="P-108")
    narrowed = plant.look_back()

    assert [finding_of(back, jan) for back in (waiting, unauthorised, narrowed)] == ["Would now fail"] * 2 + [""]
    assert finding_of(narrowed, mar) == "Would now fail"
    assert "waits for its second signature" in waiting.notes[0]
    assert narrowed.windows[0].narrowed_by[0] == page


def test_a_narrowing_never_makes_a_window_wider() -> None:
    """Signed twice from 2024 on, the window still begins with the last good calibration."""
    plant = _plant()
    before = plant.blank("2025-12-18T09:00:00.000-05:00", ".2837")
    plant.calibrate(FOUND, points=OUT)
    told = {
        "kind": "look-back window", "gauge": "G-108", "begins_at": "2024-01-01T00:00:00.000-05:00",
        "ends_at": FOUND, "reason": "wider",
    }  # fmt: skip
    page = plant.act("2026-03-20T15:00:00.000-04:00", told, person="P-105")
    plant.act(
        "2026-03-20T15:20:00.000-04:00", {"kind": "second signature", "of": page, "meaning": "declared"}, person="P-108"
    )

    assert finding_of(plant.look_back(), before) == ""


def test_a_calibration_left_out_of_tolerance_begins_no_window() -> None:
    """Left out on 1 March, it proves nothing; the window goes back to December and ends where it was found out."""
    plant = _plant()
    jan, mar = plant.blank(JAN, ".2837"), plant.blank(MAR, ".2837")
    plant.calibrate("2026-03-01T08:00:00.000-05:00", points=OUT, as_left="Out")

    back = plant.look_back()

    assert (finding_of(back, jan), finding_of(back, mar)) == ("Would now fail", "")


def test_without_an_as_found_nothing_can_be_told() -> None:
    """X80: every reading since the last good calibration cannot be told."""
    plant = _plant()
    jan = plant.blank(JAN, ".2840")
    plant.calibrate(FOUND, points=[], as_found="Not taken")

    back = plant.look_back()

    assert back.windows[0].why is Why.UNTAKEN
    assert finding_of(back, jan) == "Cannot tell"


def test_an_as_found_entered_after_the_as_left_counts_as_not_taken() -> None:
    """Good as it says it was, it was written down after the touch."""
    plant = _plant()
    jan = plant.blank(JAN, ".2840")
    good = points(("0.250", "0"), ("0.300", "0"))
    left_at = "2026-03-20T14:30:00.000-04:00"
    plant.calibrate(left_at, stage="as-left", as_found="Not taken")
    entered_at = "2026-03-20T15:00:00.000-04:00"
    plant.calibrate(entered_at, done_at=FOUND, stage="as-found", as_found="Good", points=good, action="none")

    assert finding_of(plant.look_back(), jan) == "Cannot tell"


def test_of_a_lost_gauge_nothing_can_be_told_until_it_is_found_and_found_good() -> None:
    """Lost on 1 March; found on the 20th and found good, nothing is in question any more."""
    plant = _plant()
    jan = plant.blank(JAN, ".2840")
    _state(plant, "2026-03-01T08:00:00.000-05:00", "Lost")
    lost = plant.look_back()
    good = points(("0.250", "0"), ("0.300", "0"))
    plant.calibrate(FOUND, points=good, as_found="Good", action="none")

    assert (lost.windows[0].why, finding_of(lost, jan)) == (Why.LOST, "Cannot tell")
    assert plant.look_back().windows == ()


def test_a_gauge_never_calibrated_is_in_question_from_the_first_page_on() -> None:
    """No calibration left in tolerance is known, and the window says so."""
    plant = Plant(lists_with())
    old = plant.blank("2025-07-01T09:00:00.000-04:00", ".2837")
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert finding_of(back, old) == "Would now fail"
    assert back.windows[0].start.is_open


def test_two_as_founds_have_a_window_each_and_the_last_is_taken_unless_another_is_asked_for() -> None:
    """Found out on 1 February and left good, and again on 20 March: one reading each."""
    plant = _plant()
    jan, mar = plant.blank(JAN, ".2837"), plant.blank(MAR, ".2837")
    first = "2026-02-01T08:00:00.000-05:00"
    plant.calibrate(first, points=OUT)
    plant.calibrate(FOUND, points=OUT)

    last, earlier = plant.look_back(), plant.look_back(found_at=first)

    assert (finding_of(last, jan), finding_of(last, mar)) == ("", "Would now fail")
    assert (finding_of(earlier, jan), finding_of(earlier, mar)) == ("Would now fail", "")
    assert "Found out 2 times in the last 3 calibrations: halve its interval" in last.notes[0]


def test_a_reading_whose_time_is_in_doubt_is_in_the_window_if_it_may_be() -> None:
    """The clock was a day fast in another power-on: made on the 19th at 09:00, or up to a day later or earlier."""
    plant = _plant()
    page = plant.blank("2025-12-20T09:00:00.000-05:00", ".2837", received_at_ms=1_766_500_000_000)
    plant.contact("S12-a", "2025-12-23T09:00:00.000-05:00", kiosk="2025-12-24T09:00:00.000-05:00", session=2)
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert int(back.found.day.ms[0]) == ms_of(read_time("2025-12-19T09:00:00.000-05:00"))
    assert finding_of(back, page) == "Would now fail"


def test_a_gauge_that_was_not_found_out_is_not_in_question() -> None:
    """No window, no lot, and no fault."""
    back = _plant().look_back()

    assert (back.windows, back.lots, len(back.found)) == ((), (), 0)


def test_a_number_that_nobody_knows_is_refused() -> None:
    """It stands in no register and in no calibration."""
    with pytest.raises(LookBackRefused, match="G-999"):
        _plant().look_back("G-999")


def test_a_gauge_that_waited_and_was_calibrated_was_in_use_again() -> None:
    """Set aside on 1 February, left good on the 5th without another page: what it read in March is in question."""
    plant = _plant()
    jan, mar = plant.blank(JAN, ".2840"), plant.blank(MAR, ".2837")
    _state(plant, "2026-02-01T08:00:00.000-05:00", "Awaiting calibration")
    plant.calibrate("2026-02-05T08:00:00.000-05:00", points=OUT, as_found="Good", action="none")
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert (finding_of(back, jan), finding_of(back, mar)) == ("", "Would now fail")


def test_a_stop_that_stood_when_the_window_began_does_not_end_it() -> None:
    """Stopped on 1 December, calibrated on the 19th, never put back and used all the same until it was found out."""
    plant = _plant()
    _state(plant, "2025-12-01T08:00:00.000-05:00", "Stopped")
    jan = plant.blank(JAN, ".2837")
    plant.calibrate(FOUND, points=OUT)

    assert finding_of(plant.look_back(), jan) == "Would now fail"


def test_a_number_that_only_a_state_tells_of_may_be_lost() -> None:
    """Declared lost and in no register: its readings cannot be told, and nothing is refused."""
    plant = _plant()
    page = plant.reading(JAN, ".2840", characteristic="BC2", gauge="G-999")
    plant.act(FOUND, {"kind": "gauge state", "gauge": "G-999", "state": "Lost"}, person="P-105")

    assert finding_of(plant.look_back("G-999"), page) == "Cannot tell"
