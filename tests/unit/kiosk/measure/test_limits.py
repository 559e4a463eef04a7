"""Comparison with limits, and where a reading is believable."""

from decimal import Decimal as D

from kiosk.measure.limits import Limits, Window


def window(limits: Limits) -> Window | None:
    """The believable window at the plant's default numbers."""
    return limits.window(tolerances=D(3), upper_times=D(4), lower_times=(D("0.5"), D(2)))


def test_the_believable_window_follows_the_kind_of_limit() -> None:
    """Hand calculation of N5 for .3120-.3125, for .005 at most and for 12 800 at least."""
    assert window(Limits(D(".3120"), D(".3125"))) == Window(D(".3105"), D(".3140"))
    assert window(Limits(None, D(".005"))) == Window(D(0), D(".020"))
    assert window(Limits(D(12800), None)) == Window(D(6400), D(25600))
    assert window(Limits(None, None)) is None


def test_the_tolerance_of_one_sided_limits() -> None:
    """Upper limit only: the limit itself; lower limit only: none."""
    assert Limits(D(".3120"), D(".3125")).tolerance == D(".0005")
    assert Limits(None, D(".005")).tolerance == D(".005")
    assert Limits(D(12800), None).tolerance is None


def test_limits_are_absolute_as_if_followed_by_endless_zeros() -> None:
    """ASTM E29's absolute method, by hand: .31250000001 is beyond .3125 and .3125 is not."""
    limits = Limits(D(".3120"), D(".3125"))

    assert limits.has(D(".3125")) and limits.has(D(".3120"))
    assert not limits.has(D(".31250000001")) and not limits.has(D(".31199999999"))


def test_the_ends_of_the_window_are_believable() -> None:
    """Ends belong to the window."""
    inside = Window(D(".3105"), D(".3140"))

    assert inside.has(D(".3105")) and inside.has(D(".3140"))
    assert not inside.has(D(".31049")) and not inside.has(D(".31401"))
