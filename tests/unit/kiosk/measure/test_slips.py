"""Slips are named, never applied."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from kiosk.measure.limits import Limits, Window
from kiosk.measure.slips import fitting_slips, swapped_neighbours

SHANK = Limits(Decimal(".3120"), Decimal(".3125"))
WINDOW = Window(Decimal(".3105"), Decimal(".3140"))


def slips(keyed: str, unit: str = "in") -> tuple[str, ...]:
    """Slips of a plain value against .3120-.3125."""
    return fitting_slips(
        Decimal(keyed), unit=unit, keyed=keyed, limits=SHANK, window=WINDOW, value_of=lambda text: Decimal(text)
    )


def test_each_neighbouring_pair_is_swapped_once_and_the_point_stays() -> None:
    """Hand written; a pair of equal digits gives nothing new."""
    assert swapped_neighbours(".3142") == (".1342", ".3412", ".3124")
    assert swapped_neighbours("3.122") == ("1.322", "3.212")
    assert swapped_neighbours("-7") == ()


def test_a_decimal_slip_of_up_to_five_places_is_named() -> None:
    """Hand calculation: 31220 x 10^-5 = .3122 fits, 312200 is one place too far."""
    assert slips("31220") == ("X26",)
    assert slips("0.000003122") == ("X26",)
    assert slips("312200") == ("X30",)


def test_a_unit_slip_is_named_for_lengths_only() -> None:
    """Hand calculation: 7.93 / 25.4 = .31220; .3122 / 25.4 = .01229 is inch taken for millimetre twice over."""
    assert slips("7.93") == ("X27",)
    assert slips("7.93", unit="lbf") == ("X30",)
    assert slips("0.0123") == ("X27",)


def test_a_swap_must_land_in_tolerance_not_only_in_the_window() -> None:
    """.3142 swapped is .3124, in; .3182 swapped is .3128, believable but out."""
    assert slips(".3142") == ("X28",)
    assert slips(".3182") == ("X30",)


@given(st.decimals(min_value="0.3105", max_value="0.3140", places=6))
def test_a_believable_figure_is_never_asked_about(value: Decimal) -> None:
    """Inside the window, ends included, nothing is asked."""
    assert slips(str(value)) == ()


@given(st.decimals(min_value="0.3120", max_value="0.3125", places=6), st.integers(-5, 5).filter(lambda k: k != 0))
def test_every_moved_point_of_a_good_reading_is_named(value: Decimal, places: int) -> None:
    """Whatever way the point of a reading in tolerance slipped, the question comes and names the slip."""
    assert "X26" in slips(format(value.scaleb(places), "f"))
