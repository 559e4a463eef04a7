"""The worked case of a gauge found out, reckoned by hand: true = reading - .0003, limits .2835 and .2845 included."""

from fractions import Fraction

import pytest

from consolidator.lookback import Finding, LookBack, Where
from tests.unit.consolidator.lookback.looked import (
    LAST_GOOD,
    Plant,
    calibrated,
    finding_of,
    lists_with,
    points,
    told_of,
    true_of,
)

FOUND = "2026-03-20T14:00:00.000-04:00"


class WorkedCase:
    """The pages of the case by name, and the look-back."""

    def __init__(self) -> None:
        plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
        self.before = plant.blank("2025-12-18T09:00:00.000-05:00", ".2835", "L-380")
        self.jan = [
            plant.blank(f"2026-01-14T09:0{n}:00.000-05:00", k, "L-388") for n, k in enumerate((".2837", ".2839"))
        ]
        plant.ship("2026-02-02T12:00:00.000-05:00", "L-388", 2000)
        self.feb = [
            plant.blank(f"2026-02-11T09:0{n}:00.000-05:00", k, "L-395") for n, k in enumerate((".2838", ".2836"))
        ]
        plant.close_lot("2026-02-20T09:00:00.000-05:00", "L-395")
        self.mar = [
            plant.blank(f"2026-03-16T09:0{n}:00.000-04:00", k, "L-411") for n, k in enumerate((".2841", ".2847"))
        ]
        plant.calibrate(FOUND, points=points(("0.250", "0.0003"), ("0.300", "0.0003")))
        self.plant = plant
        self.back: LookBack = plant.look_back()


@pytest.fixture(scope="module")
def case() -> WorkedCase:
    """Give the case, looked back upon once."""
    return WorkedCase()


def test_six_readings_since_the_last_good_calibration_have_their_findings(case: WorkedCase) -> None:
    """.2837 is truly .2834 and fails; .2838 is truly .2835, on the limit and still inside; and so on by hand."""
    told = {page: (word, true) for page, word, true in told_of(case.back)}

    assert told == {
        case.jan[0]: ("Would now fail", str(Fraction(2834, 10_000))),
        case.jan[1]: ("Still inside", str(Fraction(2836, 10_000))),
        case.feb[0]: ("Still inside", str(Fraction(2835, 10_000))),
        case.feb[1]: ("Would now fail", str(Fraction(2833, 10_000))),
        case.mar[0]: ("Still inside", str(Fraction(2838, 10_000))),
        case.mar[1]: ("Would now pass", str(Fraction(2844, 10_000))),
    }


def test_a_reading_before_the_last_good_calibration_is_not_in_question(case: WorkedCase) -> None:
    """L-380 was measured the day before the calibration that left the gauge good, and is not listed."""
    assert finding_of(case.back, case.before) == ""
    assert "L-380" not in [lot.lot for lot in case.back.lots]


def test_shipped_lots_come_first_then_closed_then_running(case: WorkedCase) -> None:
    """The customer has L-388, L-395 is closed in stock, L-411 runs."""
    assert [(lot.lot, str(lot.where)) for lot in case.back.lots] == [
        ("L-388", "shipped"),
        ("L-395", "in stock"),
        ("L-411", "on the floor"),
    ]


def test_a_shipped_lot_that_would_now_fail_is_urgent_and_its_notice_holds_facts_only(case: WorkedCase) -> None:
    """Lot, quantity, dates, characteristic, size and direction of the error stand in it, and no judgement."""
    shipped, notice = case.back.lots[0], case.back.notices[0]

    assert (shipped.urgency, shipped.needs_hold, len(case.back.notices)) == ("A", True, 1)
    assert (notice.lot, notice.customer, notice.orders) == ("L-388", "invented customer", ("O-1",))
    for fact in (
        "L-388",
        "2000 pieces",
        "2026-02-02 12:00",
        "BC2 rolling blank diameter",
        "high by 0.0003 in",
        "1 would now fail",
    ):
        assert fact in notice.facts
    assert "P-10" not in notice.facts


def test_a_lot_in_stock_that_would_now_fail_is_held_and_a_sound_one_needs_one_signature(case: WorkedCase) -> None:
    """L-395 is held with urgency B; L-411, whose only change is a reject that would pass, gets no hold."""
    _, stock, floor = case.back.lots

    assert (stock.urgency, stock.needs_hold, stock.worst) == ("B", True, Finding.FAIL)
    assert (floor.needs_hold, floor.worst) == (False, Finding.INSIDE)
    assert floor.action.startswith("one signature")


def test_what_would_now_pass_stays_a_reject(case: WorkedCase) -> None:
    """The verdict of the .2847 is not touched by the look-back."""
    found = case.back.found
    row = next(row for row in found.rows.tolist() if found.day.pages.ref(row) == case.mar[1])

    assert found.day.verdicts.is_bad[row]
    assert finding_of(case.back, case.mar[1]) == "Would now pass"


def test_part_of_a_lot_that_shipped_leaves_the_rest_where_it_is() -> None:
    """1200 of 2000 pieces left; 800 are still in stock, and shipped comes first all the same."""
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
    plant.blank("2026-01-14T09:00:00.000-05:00", ".2837", "L-388")
    plant.close_lot("2026-01-20T09:00:00.000-05:00", "L-388")
    plant.ship("2026-02-02T12:00:00.000-05:00", "L-388", 1200)
    plant.calibrate(FOUND, points=points(("0.250", "0.0003"), ("0.300", "0.0003")))

    (lot,) = plant.look_back().lots

    assert (lot.here, lot.where, [each.quantity for each in lot.shipments]) == (800, Where.STOCK, [1200])


def test_of_two_neighbouring_points_the_worse_one_is_taken_for_each_reading() -> None:
    """+.0003 at .250 and -.0004 at .300: .2837 falls short by the first, .2842 runs over by the second (.2846)."""
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
    low = plant.blank("2026-01-14T09:00:00.000-05:00", ".2837")
    high = plant.blank("2026-01-14T09:01:00.000-05:00", ".2842")
    plant.calibrate(FOUND, points=points(("0.250", "0.0003"), ("0.300", "-0.0004"), ("0.500", "0.0090")))

    back = plant.look_back()

    assert (finding_of(back, low), true_of(back, low)) == ("Would now fail", str(Fraction(2834, 10_000)))
    assert (finding_of(back, high), true_of(back, high)) == ("Would now fail", str(Fraction(2846, 10_000)))
