"""A designation is read as the drawing means it, or refused with the reason and a right one."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.errors import ThreadNotUnderstood
from kiosk.threads.designations import COARSE_PITCH_MM, UNIFIED_SERIES, parse_designation, thread_limits
from kiosk.threads.forms import Form


@pytest.mark.parametrize(
    ("text", "form", "diameter", "tpi", "series", "thread_class"),
    [
        (".3125-24 UNJF-3A", Form.UNJ, ".3125", "24", "F", "3A"),
        ("1/4-20 UNC-2B", Form.UN, ".25", "20", "C", "2B"),
        ("#10-32 UNF-3A", Form.UN, ".190", "32", "F", "3A"),
        ("10-32 UNF-2A", Form.UN, ".190", "32", "F", "2A"),
        ("No. 4-40 UNC-2A", Form.UN, ".112", "40", "C", "2A"),
        ("6-12 UN-2A", Form.UN, "6", "12", "", "2A"),
        ("6-32 UNC-2A", Form.UN, ".138", "32", "C", "2A"),
        ("1 1/4-7 UNRC-1A", Form.UNR, "1.25", "7", "C", "1A"),
        ("1-1/4-7 UNC-1A", Form.UN, "1.25", "7", "C", "1A"),
        ("2-4 1/2 UNC-2B", Form.UN, "2", "4.5", "C", "2B"),
        ("15/16-20 UNEF-3A", Form.UN, ".9375", "20", "EF", "3A"),
        ("0.216-36 UNS-2A", Form.UN, ".216", "36", "S", "2A"),
        ("1.0625-12 UNJ-3B", Form.UNJ, "1.0625", "12", "", "3B"),
    ],
)
def test_inch_designations_of_every_form_are_read(
    text: str, form: Form, diameter: str, tpi: str, series: str, thread_class: str
) -> None:
    """Sizes as fraction, decimal and screw number; every form, series and class (ASME B1.1 section 6, hand-read)."""
    thread = parse_designation(text)

    assert (thread.form, thread.diameter, thread.threads_per_inch) == (form, Decimal(diameter), Decimal(tpi))
    assert (thread.series, thread.pitch_class, thread.unit) == (series, thread_class, "in")
    assert thread.is_internal is thread_class.endswith("B")
    assert thread.has_controlled_root is (form is Form.UNJ)


@pytest.mark.parametrize(
    ("text", "diameter", "pitch", "pitch_class", "crest_class", "is_internal"),
    [
        ("M10x1.5-6g", "10", "1.5", "6g", "6g", False),
        ("M10-6H", "10", "1.5", "6H", "6H", True),
        ("m8 x 1 - 5g6g", "8", "1", "5g", "6g", False),
        ("M20×2-5H6H", "20", "2", "5H", "6H", True),
        ("MJ8x1-4h6h", "8", "1", "4h", "6h", False),
        ("MJ6x1-4H5H", "6", "1", "4H", "5H", True),
    ],
)
def test_metric_designations_are_read(
    text: str, diameter: str, pitch: str, pitch_class: str, crest_class: str, is_internal: bool
) -> None:
    """Coarse pitch left out, two-part classes, J form (ISO 965-1 clause 5 and ISO 5855-1, hand-read)."""
    thread = parse_designation(text)

    assert (thread.diameter, thread.pitch) == (Decimal(diameter), Decimal(pitch))
    assert (thread.pitch_class, thread.crest_class) == (pitch_class, crest_class)
    assert (thread.is_internal, thread.unit) == (is_internal, "mm")


@pytest.mark.parametrize(
    ("text", "is_left_hand", "engagement", "group"),
    [
        ("1/4-20 UNC-2A LH", True, None, "N"),
        ("1/4-20 UNC-2A-LH", True, None, "N"),
        ("1.000-14 UNS-2A (LE 1.00)", False, "1.00", "N"),
        ("7/16-28 UNEF-2A LE .75 LH", True, ".75", "N"),
        ("M20x2-7g6g-L-LH", True, None, "L"),
        ("M6.5x1-4h6h-22", False, "22", "N"),
    ],
)
def test_left_hand_and_length_of_engagement_are_read(
    text: str, is_left_hand: bool, engagement: str | None, group: str
) -> None:
    """LH, the ISO groups of length, and a length of its own may follow the class."""
    thread = parse_designation(text)

    assert thread.is_left_hand is is_left_hand
    assert thread.engagement == (None if engagement is None else Decimal(engagement))
    assert thread.engagement_group == group


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "neither an inch designation"),
        ("bolt", "neither an inch designation"),
        ("1/4-20 UNF-2A", "has 28 threads per inch, not 20"),
        ("7/32-28 UNF-2A", "does not exist"),
        ("1/4-24 UN-2A", "no constant-pitch series"),
        ("#7-32 UNC-2A", "no screw number 7"),
        ("1/0-20 UNC-2A", "fraction over nothing"),
        ("1/4-20 UNC-4A", "class reads 4A"),
        (".3125-24 UNJF", "class reads empty"),
        (".3125-24 UNJF-1A", "no class 1"),
        ("1/4-20 UNRC-2B", "external threads only"),
        ("1/4-20 UNC-2A tight", "neither LH"),
        ("1/4-20 UNC-2A-L", "is metric"),
        ("1/4-20 UNC-2A LE 0", "larger than nothing"),
        ("7-12 UN-2A", "outside the .060 to 6 in"),
        ("1/4-96 UNS-2A", "outside the 3 to 80"),
        ("#0-6 UNS-2A", "too coarse"),
        ("M10", "class is missing"),
        ("M", "not a metric designation"),
        ("M10x1.5-6g6H", "mixes"),
        ("M10x1.5-5H6G", "different positions"),
        ("M10x1.5-6a", "not kept here"),
        ("M3.3-6g", "no coarse pitch"),
        ("M10x1.5-6g" + " " * 3 + "x" * 80, "longer than a designation"),
        ("M１０x1.5-6g", "strange characters"),
    ],
)
def test_a_wrong_designation_is_refused_with_the_reason_and_a_right_one(text: str, told: str) -> None:
    """Nothing is guessed: the refusal says what was not understood and how it is written."""
    with pytest.raises(ThreadNotUnderstood) as refusal:
        parse_designation(text)

    assert told in refusal.value.why
    assert "for example" in refusal.value.next_step


@given(st.text(max_size=80))
def test_any_text_is_read_or_refused_and_never_breaks(text: str) -> None:
    """Whatever is keyed, the answer is a thread or a refusal that can be shown."""
    try:
        thread = parse_designation(text)
    except ThreadNotUnderstood as refusal:
        assert refusal.next_step
    else:
        assert thread.diameter > 0


def test_every_standard_series_thread_and_coarse_pitch_has_limits() -> None:
    """The series tables and the limits belong together: no listed thread is refused."""
    for series, pairs in UNIFIED_SERIES.items():
        for diameter, tpi in pairs:
            limits = thread_limits(f"{diameter}-{tpi} UN{series}-2A")
            assert limits.pitch.upper is not None and limits.pitch.upper < diameter
    for diameter in COARSE_PITCH_MM:
        grade = "6g" if diameter >= Decimal("1.6") else "6h"
        assert thread_limits(f"M{diameter}-{grade}").thread.diameter == diameter
