"""What is found of readings that are not plain: gauged, deviations, over wires, other units, borrowed, corrected."""

from fractions import Fraction
from typing import Any

import pytest

from tests.unit.consolidator.lookback.looked import (
    LAST_GOOD,
    Plant,
    calibrated,
    finding_of,
    lists_with,
    points,
    true_of,
)

FOUND = "2026-03-20T14:00:00.000-04:00"
JAN = "2026-01-14T09:00:00.000-05:00"
OUT = points(("0.250", "0.0003"), ("0.300", "0.0003"))


def _plant(gauge: str = "G-108") -> Plant:
    return Plant(lists_with(calibrated(gauge, LAST_GOOD)))


def test_an_attribute_gauge_found_out_cannot_tell() -> None:
    """A worn GO ring gives no figure to take an error from."""
    plant = _plant("G-502")
    page = plant.reading(JAN, "Accept", characteristic="BC5", gauge="G-502", keyed_as="accept/reject")
    plant.calibrate(FOUND, "G-502", points=points(("0", "0.0004")))

    assert finding_of(plant.look_back("G-502"), page) == "Cannot tell"


@pytest.mark.parametrize(
    ("told", "why"),
    [
        ([("0.290", "0.0003"), ("0.300", "0.0003")], "not calibrated on both sides"),
        ([("0.100", "0.0003"), ("0.250", "0.0003")], "not calibrated on both sides"),
        ([("0.250", "0.0003"), ("0.300", None)], "not calibrated on both sides"),
        ([], "not on record point by point"),
    ],
)
def test_where_a_neighbouring_point_is_missing_nothing_can_be_told(told: Any, why: str) -> None:
    """Below the first point, above the last, beside one not taken, or with no points at all."""
    plant = _plant()
    page = plant.blank(JAN, ".2840")
    plant.calibrate(FOUND, points=points(*told))

    back = plant.look_back()

    assert finding_of(back, page) == "Cannot tell"
    assert why in back.found.told_of(0).why


def test_on_a_calibrated_point_that_point_alone_counts() -> None:
    """.2840 lies on the point at .284 (+.0001): true .2839, whatever the neighbours say."""
    plant = _plant()
    page = plant.blank(JAN, ".2840")
    plant.calibrate(FOUND, points=points(("0.250", "0.0090"), ("0.284", "0.0001"), ("0.300", "0.0090")))

    assert true_of(plant.look_back(), page) == str(Fraction(2839, 10_000))


def test_a_deviation_is_looked_up_by_what_the_dial_showed() -> None:
    """Master .31225, dial -.0002, +.0001 there: true .31225 - .0002 - .0001 = .31195, below .3120."""
    plant = _plant("G-220")
    page = plant.reading(JAN, "-.0002", gauge="G-220", master="M-14", keyed_as="deviation")
    plant.calibrate(FOUND, "G-220", points=points(("-0.005", "0.0001"), ("0.005", "0.0001")))

    back = plant.look_back("G-220")

    assert (finding_of(back, page), true_of(back, page)) == ("Would now fail", str(Fraction(31195, 100_000)))


def test_over_wires_the_error_is_taken_where_the_micrometer_read() -> None:
    """M .32000 reads +.0004 high: the pitch diameter of M - 3 x .02406 + .866025 / 24 comes out .0004 too large."""
    plant = _plant("G-301")
    page = plant.reading(
        JAN, ".32000", station="S24", characteristic="BC4", gauge="G-301", master="W-24", keyed_as="over wires",
        person="P-102",
    )  # fmt: skip
    plant.calibrate(FOUND, "G-301", points=points(("0.300", "0.0004"), ("0.350", "0.0004")))

    back = plant.look_back("G-301")
    by_hand = Fraction(32, 100) - 3 * Fraction(2406, 100_000) + Fraction(866025, 1_000_000) / 24 - Fraction(4, 10_000)

    assert abs(Fraction(true_of(back, page)) - by_hand) < Fraction(1, 10**12)
    assert finding_of(back, page) == "Still inside"


def test_an_error_in_millimetres_is_taken_from_inches_exactly() -> None:
    """A micrometer in mm, +.0127 mm at 7.2 mm is +.0005 in: .2840 is truly .2835, on the limit and still inside."""
    plant = _plant()
    page = plant.blank(JAN, ".2840")
    plant.calibrate(FOUND, unit="mm", points=points(("7.0", "0.0127"), ("7.5", "0.0127"), permissible="0.002"))

    back = plant.look_back()

    assert (finding_of(back, page), true_of(back, page)) == ("Still inside", str(Fraction(2835, 10_000)))


def test_a_reading_at_a_borrowed_station_and_a_referee_s_have_findings_too() -> None:
    """The gauge counts, not where it was or who held it."""
    plant = _plant()
    borrowed = plant.blank(JAN, ".2837", station="S13")
    referee = plant.blank(JAN, ".2837", sample_kind="referee", person="P-104", station="QC")
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert {finding_of(back, borrowed), finding_of(back, referee)} == {"Would now fail"}
    assert back.lots[0].stations == ("QC", "S13")


def test_a_reject_that_stays_one_would_now_fail_and_is_counted_apart() -> None:
    """.2850 is truly .2847, outside as before: it needs no new name, and the lot says that it was known."""
    plant = _plant()
    page = plant.blank(JAN, ".2850")
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert finding_of(back, page) == "Would now fail"
    assert back.lots[0].already_bad == 1


def test_a_reading_that_was_not_judged_cannot_be_told() -> None:
    """2.840 was never asked about: without a verdict there is nothing to judge again."""
    plant = _plant()
    page = plant.blank(JAN, "2.840")
    plant.calibrate(FOUND, points=OUT)

    assert finding_of(plant.look_back(), page) == "Cannot tell"


def test_a_keying_whose_place_another_took_in_the_sample_is_left_out() -> None:
    """.2737 was wiped for .2837 in the open sample; only what stands has a finding."""
    plant = _plant()
    first = plant.blank(JAN, ".2737", piece=1)
    second = plant.blank("2026-01-14T09:00:20.000-05:00", ".2837", piece=1, replaces=1)
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert (finding_of(back, first), finding_of(back, second)) == ("", "Would now fail")


def _correct(plant: Plant, of: str, field: str, old: str, new: str) -> None:
    told = {
        "kind": "correction",
        "of": of,
        "field": field,
        "old": old,
        "new": new,
        "reason": "other",
        "words": "read again",
    }
    plant.act("2026-01-14T10:00:00.000-05:00", told, person="P-104")


def test_a_value_corrected_for_the_worse_is_judged_by_the_corrected_one() -> None:
    """.2840 corrected to .2830 works at once; truly .2827."""
    plant = _plant()
    page = plant.blank(JAN, ".2840")
    _correct(plant, page, "value", ".2840", ".2830")
    plant.calibrate(FOUND, points=OUT)

    assert true_of(plant.look_back(), page) == str(Fraction(2827, 10_000))


def test_a_value_corrected_for_the_better_is_judged_both_ways_and_the_worse_stands() -> None:
    """.2847 would truly pass (.2844); corrected to .2836 it is truly .2833 and fails: nothing is taken for granted."""
    plant = _plant()
    page, other = plant.blank(JAN, ".2847"), plant.blank(JAN, ".2847")
    _correct(plant, page, "value", ".2847", ".2836")
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert (finding_of(back, page), true_of(back, page)) == ("Would now fail", str(Fraction(2833, 10_000)))
    assert finding_of(back, other) == "Would now pass"


def test_a_value_corrected_for_the_worse_keeps_the_finding_it_was_first_keyed_with() -> None:
    """.2837 would truly fail (.2834); corrected to .1 nothing can be told of it, which hides nothing."""
    plant = _plant()
    page = plant.blank(JAN, ".2837")
    _correct(plant, page, "value", ".2837", ".1")
    plant.calibrate(FOUND, points=OUT)

    assert finding_of(plant.look_back(), page) == "Would now fail"


def test_a_reading_corrected_to_the_gauge_is_in_question_with_either_gauge() -> None:
    """Recorded with G-107 and corrected to G-108, it belongs to both until somebody has looked."""
    plant = _plant()
    page, other = plant.blank(JAN, ".2837", gauge="G-107"), plant.blank(JAN, ".2837", gauge="G-107")
    _correct(plant, page, "gauge", "G-107", "G-108")
    plant.calibrate(FOUND, points=OUT)

    back = plant.look_back()

    assert (finding_of(back, page), finding_of(back, other)) == ("Would now fail", "")
