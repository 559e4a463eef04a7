"""A look-back as JSON and as lines: complete, in order, and with its caution."""

import json
from datetime import date
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from consolidator.cli.look_back import ROWS_SHOWN, lines_of
from consolidator.lookback.told import told
from tests.unit.consolidator.lookback.looked import LAST_GOOD, Plant, calibrated, finding_of, lists_with, points

FOUND = "2026-03-20T14:00:00.000-04:00"
OUT = points(("0.250", "0.0003"), ("0.300", "0.0003"))


def _plant(readings: int = 2) -> Plant:
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
    for piece in range(readings):
        plant.blank(f"2026-01-14T09:{piece:02d}:00.000-05:00", ".2837", "L-388")
    plant.ship("2026-02-02T12:00:00.000-05:00", "L-388", 2000)
    plant.calibrate(FOUND, points=OUT)
    return plant


def _told(plant: Plant) -> dict[str, Any]:
    whole: dict[str, Any] = json.loads(json.dumps(told(plant.look_back()) | {"seconds": 0.1}))
    return whole


def test_every_reading_stands_in_the_json_with_its_error_true_value_and_finding() -> None:
    """Figures are text as written, times have their offset."""
    (lot,) = _told(_plant(1))["lots"]

    (row,) = lot["readings"]
    assert (row["page"], row["value"], row["error"], row["true"]) == ("S12-a/1", "0.2837", "0.0003", "0.2834")
    assert (row["finding"], row["verdict"], row["at"]) == (
        "Would now fail",
        "In tolerance",
        "2026-01-14T09:00:00.000-05:00",
    )


def test_the_window_says_from_what_to_what_and_why() -> None:
    """Both ends with what happened then, and the points with their errors."""
    (window,) = _told(_plant(1))["windows"]

    assert window["from"]["at"] == LAST_GOOD
    assert (window["to"]["at"], window["to"]["page"], window["why"]) == (FOUND, "desk-a/2", "found out at calibration")
    assert window["points"][0] == {"at": "0.25", "permissible": "0.0001", "as_found": "0.0003"}


def test_the_caution_stands_beside_every_look_back() -> None:
    """Delivered product: the customer must be told; the quality manager decides and sends."""
    whole = _told(_plant(1))

    assert "the customer must be told promptly" in whole["caution"]
    assert lines_of(whole)[-1] == whole["caution"]


def test_the_lines_print_a_long_lot_in_part_and_say_so() -> None:
    """Nothing is left out silently."""
    lines = lines_of(_told(_plant(ROWS_SHOWN + 5)))

    assert sum(": Would now fail" in line for line in lines) == ROWS_SHOWN
    assert "   and 5 more; --json gives all" in lines


def test_a_gauge_that_is_not_in_question_is_said_to_be_so() -> None:
    """No table, no caution about delivered product."""
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))

    assert lines_of(_told(plant))[0].startswith("G-108 is not in question")


def test_no_person_s_name_stands_in_a_look_back() -> None:
    """It is about a gauge, its readings and lots."""
    assert "P-10" not in json.dumps(_told(_plant()))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(min_value=2_806, max_value=2_874), min_size=1, max_size=8),
    st.lists(st.integers(min_value=-6, max_value=6), min_size=3, max_size=3),
    st.integers(min_value=1, max_value=28),
)
def test_random_plants_agree_with_plain_whole_numbers(keyed: list[int], found: list[int], day: int) -> None:
    """Everything in tenths of a thou as whole numbers: points at 2800, 2840 and 2880, limits 2835 and 2845.

    Only believable figures (within three tolerances of the limits) are drawn; others are not judged at all.
    """
    plant = Plant(lists_with(calibrated("G-108", LAST_GOOD)))
    at = date(2026, 2, day).isoformat()
    pages = [plant.blank(f"{at}T09:{n:02d}:00.000-05:00", f"0.{value}") for n, value in enumerate(keyed)]
    plant.calibrate(
        FOUND, points=points(*((f"0.{p}", f"{e / 10_000:.4f}") for p, e in zip((2800, 2840, 2880), found, strict=True)))
    )

    back = plant.look_back()

    for page, value in zip(pages, keyed, strict=True):
        assert finding_of(back, page) == _by_whole_numbers(value, found)


def _by_whole_numbers(value: int, found: list[int]) -> str:
    errors = dict(zip((2800, 2840, 2880), found, strict=True))
    near = (
        [errors[value]]
        if value in errors
        else [errors[2800 if value < 2840 else 2840], errors[2840 if value < 2840 else 2880]]
    )
    if any(not 2835 <= value - error <= 2845 for error in near):
        return "Would now fail"
    return "Still inside" if 2835 <= value <= 2845 else "Would now pass"
