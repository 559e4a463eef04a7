"""What must be true of any thread's limits, and where the tables end."""

from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.errors import OutsideTheTable
from kiosk.threads import metric, unified
from kiosk.threads.designations import UNIFIED_SERIES, thread_limits
from kiosk.threads.forms import NO_LIMITS, Limits, ThreadLimits, lead_angle_degrees
from tests.published import agrees

_SERIES = st.sampled_from(sorted((str(d), str(t), s) for s, pairs in UNIFIED_SERIES.items() for d, t in pairs))
_METRIC = st.sampled_from(sorted((key[1], key[2]) for key in metric._SIZE_TABLE))


def _tolerance(limits: Limits) -> Decimal:
    assert limits.tolerance is not None
    return limits.tolerance


def _fits(bolt: ThreadLimits, nut: ThreadLimits) -> bool:
    largest, smallest = bolt.pitch.upper, nut.pitch.lower
    crest, root = bolt.major.upper, nut.major.lower
    assert largest is not None and smallest is not None and crest is not None and root is not None
    return largest <= smallest and crest <= root


@given(_SERIES, st.sampled_from("123"))
def test_an_inch_nut_never_lies_under_its_bolt(size: tuple[str, str, str], grade: str) -> None:
    """The largest bolt goes into the smallest nut, for every standard thread and class."""
    diameter, tpi, series = size
    bolt, nut = (thread_limits(f"{diameter}-{tpi} UN{series}-{grade}{side}") for side in "AB")

    assert _fits(bolt, nut)
    assert bolt.minor.upper is not None and nut.minor.lower is not None
    # The hole is rounded to three places, so up to half a thousandth of its flat-root clearance may go.
    assert bolt.minor.upper <= nut.minor.lower + Decimal("0.0005")


@given(_METRIC, st.sampled_from("gh"), st.sampled_from("GH"))
def test_a_metric_nut_never_lies_under_its_bolt(size: tuple[Decimal, Decimal], bolt_at: str, nut_at: str) -> None:
    """The largest bolt goes into the smallest nut, for every row of the ISO 965-1 tables."""
    bolt = thread_limits(f"M{size[0]}x{size[1]}-4{bolt_at}")
    nut = thread_limits(f"M{size[0]}x{size[1]}-4{nut_at}")

    assert _fits(bolt, nut)
    assert bolt.minor.upper is not None and nut.minor.lower is not None
    assert bolt.minor.upper <= nut.minor.lower


@given(_SERIES)
def test_a_coarser_class_has_more_tolerance(size: tuple[str, str, str]) -> None:
    """Class 1 is wider than 2, and 2 wider than 3, outside and inside (ASME B1.1, 5.8)."""
    diameter, tpi, series = size
    for side in "AB":
        one, two, three = (_tolerance(thread_limits(f"{diameter}-{tpi} UN{series}-{n}{side}").pitch) for n in "123")
        assert one > two > three


@given(
    st.decimals(Decimal("0.25"), 5, places=4),
    st.decimals(Decimal("0.01"), 1, places=4),
    st.sampled_from([8, 12, 16, 20]),
)
def test_inch_tolerance_grows_with_diameter_pitch_and_length(diameter: Decimal, more: Decimal, tpi: int) -> None:
    """Each term of the class 2A formula rises (ASME B1.1, 5.8.1)."""
    pitch = Decimal(1) / tpi
    base = unified.pitch_tolerance_2a(diameter, pitch, Decimal(1))

    assert unified.pitch_tolerance_2a(diameter + more, pitch, Decimal(1)) >= base
    assert unified.pitch_tolerance_2a(diameter, pitch + more / 10, Decimal(1)) > base
    assert unified.pitch_tolerance_2a(diameter, pitch, 1 + more) > base


def test_metric_tolerance_grows_with_diameter_pitch_and_grade() -> None:
    """Along every row and every column of ISO 965-1 tables 1 and 3 to 6 no tolerance gets smaller."""
    for (over, _, pitch), row in metric._SIZE_TABLE.items():
        for first, last in ((0, 7), (7, 12)):
            grades = [cell for cell in row[first:last] if cell is not None]
            assert grades == sorted(set(grades))
        for (other_over, _, other_pitch), other in metric._SIZE_TABLE.items():
            is_larger = other_over >= over and other_pitch >= pitch
            for mine, theirs in zip(row[:12], other[:12], strict=True):
                assert not is_larger or mine is None or theirs is None or theirs >= mine
    columns = list(zip(*metric._PITCH_TABLE.values(), strict=True))
    for column in columns:
        cells = [cell for cell in column if cell is not None]
        assert cells == sorted(cells)


def test_a_unj_bolt_has_the_root_the_form_demands() -> None:
    """.3125-24 UNJF-3A: pitch diameter .2827 to .2854, root radius .15011 P to .18042 P (hand-reckoned)."""
    limits = thread_limits(".3125-24 UNJF-3A")

    assert limits.pitch == Limits(Decimal("0.2827"), Decimal("0.2854"))
    assert limits.root_radius == Limits(Decimal("0.0063"), Decimal("0.0075"))
    assert limits.minor == limits.minor_rounded
    assert "pitch diameter 0.2827 to 0.2854" in limits.derivation


def test_a_unj_nut_has_a_larger_hole_than_a_un_nut_and_no_root_limits() -> None:
    """The hole starts .10825 P higher to clear the bolt's root; its upper limit is that of UN (decision 0051)."""
    unj, un = thread_limits("3/8-24 UNJF-3B"), thread_limits("3/8-24 UNF-3B")

    assert unj.minor == Limits(Decimal("0.3344"), un.minor.upper)
    assert unj.root_radius == NO_LIMITS


def test_a_named_length_of_engagement_changes_an_inch_tolerance() -> None:
    """1-14 UNS-2A for .643 in (nine pitches) and for 1.5 in: .0053 and .0059 (formula by hand)."""
    short, long = thread_limits("1-14 UNS-2A"), thread_limits("1-14 UNS-2A (LE 1.5)")

    assert _tolerance(short.pitch) == Decimal("0.0053")
    assert _tolerance(long.pitch) == Decimal("0.0059")
    assert long.engagement == Decimal("1.5")


def test_limits_do_not_depend_on_the_callers_own_precision() -> None:
    """A caller working with few digits gets the same limits."""
    expected = thread_limits("1 3/8-6 UNC-3B"), thread_limits("MJ8x1-4h6h")

    with localcontext() as context:
        context.prec = 4
        assert (thread_limits("1 3/8-6 UNC-3B"), thread_limits("MJ8x1-4h6h")) == expected


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("M10x1.6-6g", "has the pitches"),
        ("M8x2-6g", "has 0.75, 1, 1.25, 1.5 for this diameter"),
        ("M400x4-6g", "has nothing for this diameter"),
        ("M10x1.5-9H", "cell of its table is empty"),
        ("M10x1.5-6g5g", "cell of its table is empty"),
        ("M2x0.4-6e", "cell of its table is empty"),
        ("M1x0.25-6H", "cell of its table is empty"),
    ],
)
def test_a_size_or_grade_the_table_has_not_is_refused(text: str, told: str) -> None:
    """ISO 965-1 gives no value there, and none is made up."""
    with pytest.raises(OutsideTheTable) as refusal:
        thread_limits(text)

    assert told in refusal.value.why


@pytest.mark.parametrize(("length", "group"), [("5", "S"), ("5.1", "N"), ("15", "N"), ("15.1", "L")])
def test_a_length_of_engagement_falls_into_its_group(length: str, group: str) -> None:
    """ISO 965-1 table 2: M10x1.5 is normal over 5 mm up to 15 mm (from memory)."""
    assert metric.engagement_group(Decimal(10), Decimal("1.5"), Decimal(length)) == group


@pytest.mark.parametrize(("diameter", "lead", "degrees"), [("0.2175", "0.05", "4.1851"), ("5.35", "1", "3.4049")])
def test_lead_angle_is_the_arc_tangent_of_lead_over_circumference(diameter: str, lead: str, degrees: str) -> None:
    """1/4-20 and M6x1 at the basic pitch diameter (computed elsewhere)."""
    assert agrees(lead_angle_degrees(Decimal(diameter), Decimal(lead)), degrees)


def test_a_multiple_start_thread_has_a_steep_lead_angle() -> None:
    """Lead equal to the circumference climbs at 45 degrees, exactly."""
    assert lead_angle_degrees(Decimal(1), Decimal("3.14159265358979323846")) == Decimal("45.000000")


def test_a_unr_bolt_has_a_least_root_radius_and_no_largest() -> None:
    """1/4-20 UNR: .10825 P = .0054 in at the least (ASME B1.1 3.1); one limit alone makes no tolerance."""
    limits = thread_limits("1/4-20 UNRC-2A")

    assert limits.root_radius == Limits(Decimal("0.0054"), None)
    assert limits.root_radius.tolerance is None
    assert limits.minor == limits.minor_rounded
