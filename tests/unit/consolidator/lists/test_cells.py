"""Single cells: what is taken, what is refused, and what is said."""

from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from consolidator.lists.cells import CellFaulty, read_cell, read_moment
from consolidator.lists.files import Cell
from consolidator.lists.tables import Column, Form

ZONE = ZoneInfo("America/New_York")


def _column(form: Form, words: tuple[str, ...] = ()) -> Column:
    return Column("least_count", form, "a column for tests", words=words)


def _refused(cell: Cell, form: Form, words: tuple[str, ...] = ()) -> str:
    with pytest.raises(CellFaulty) as caught:
        read_cell(cell, _column(form, words), ZONE)
    return f"{caught.value.what}, because {caught.value.why}; {caught.value.next_step}"


@pytest.mark.parametrize(
    ("written", "figure"),
    [
        (".3120", "0.3120"),
        ("0.3120", "0.3120"),
        ("-.005", "-0.005"),
        ("44.0", "44.0"),
        ("12800", "12800"),
        (" .3120 ", "0.3120"),
        ("-0.000", "0.000"),
        ("999999999.999999999", "999999999.999999999"),
    ],
)
def test_a_figure_keeps_its_decimals_and_gains_a_digit_before_the_point(written: str, figure: str) -> None:
    """What stands on the drawing is what is judged by, zeros included (hand-written pairs)."""
    assert read_cell(written, _column(Form.FIGURE), ZONE) == figure


@pytest.mark.parametrize("written", ["0,3120", "12,800", "1,234.5", "1.234,5", ",312", "-0,005"])
def test_a_comma_in_a_figure_is_refused_and_no_value_is_offered(written: str) -> None:
    """A comma may be a point or thousands: nobody guesses, and nothing is suggested."""
    told = _refused(written, Form.FIGURE)

    assert "with a comma" in told
    assert "write a point" in told
    assert "0.312" not in told
    assert "12800" not in told


@pytest.mark.parametrize(
    "written",
    ["1e-3", "+.005", "1.", ".", "-", "0x1", "NaN", "1 000", "½", "٣", ".3120in", "1234567890", "--1", "1.2.3"],
)
def test_what_is_no_plain_figure_is_refused(written: str) -> None:
    """Exponents, signs, units, other scripts' digits: none of them stands on a drawing."""
    assert "is not a figure" in _refused(written, Form.FIGURE)


def test_a_number_cell_for_a_figure_is_refused_and_says_how_to_write_text() -> None:
    """0.3120 in a number cell comes out as 0.312, and nobody can tell."""
    told = _refused(0.312, Form.FIGURE)

    assert "drops the zeros" in told
    assert "format the column as Text" in told


def test_a_number_cell_for_a_name_is_refused() -> None:
    """A lot 0042 in a number cell would become 42."""
    assert "as a number, date or yes/no" in _refused(42.0, Form.TEXT)


@pytest.mark.parametrize(
    ("cell", "form", "value"),
    [
        (5.0, Form.WHOLE, 5),
        ("5", Form.WHOLE, 5),
        (True, Form.YES_NO, True),
        ("no", Form.YES_NO, False),
        (date(2026, 3, 10), Form.DATE, date(2026, 3, 10)),
        ("2026-03-10", Form.DATE, date(2026, 3, 10)),
        (datetime(2026, 3, 10, 14, 5), Form.TIME, "2026-03-10T14:05:00.000-04:00"),  # noqa: DTZ001 - as a workbook gives it
        (date(2026, 3, 10), Form.TIME, "2026-03-10T00:00:00.000-04:00"),
        ("a; b", Form.SEVERAL, ("a", "b")),
        ("", Form.SEVERAL, ()),
        ("", Form.TEXT, None),
        ("  ", Form.FIGURE, None),
    ],
)
def test_a_cell_that_has_lost_nothing_is_taken(cell: Cell, form: Form, value: object) -> None:
    """Real dates, whole numbers and yes/no of a workbook stand for one value only."""
    assert read_cell(cell, _column(form, ("yes", "no") if form is Form.YES_NO else ()), ZONE) == value


@pytest.mark.parametrize("written", ["5.0", "1,000", "-1", "five", "²", "1234567890"])
def test_what_is_no_whole_number_is_refused(written: str) -> None:
    """Pieces and minutes are counted in whole numbers."""
    assert "is not a whole number" in _refused(written, Form.WHOLE)


def test_a_workbook_s_half_piece_is_refused() -> None:
    """2.5 pieces cannot be sampled."""
    assert "not text" in _refused(2.5, Form.WHOLE)


@pytest.mark.parametrize("written", ["10/03/2026", "3-10-26", "20260310", "2026-3-10", "10 March 2026", "2026-W11-2"])
def test_a_date_that_can_be_read_in_two_ways_is_refused(written: str) -> None:
    """10/03 is October to one clerk and March to another; only ISO 8601 calendar dates are taken."""
    told = _refused(written, Form.DATE)

    assert "is not a date" in told
    assert "year-month-day" in told


def test_a_day_the_calendar_does_not_have_is_refused() -> None:
    """2026 is no leap year."""
    assert "no such day" in _refused("2026-02-29", Form.DATE)


@pytest.mark.parametrize(("written", "form"), [("0206-03-10", Form.DATE), ("2926-03-10 10:00", Form.TIME)])
def test_a_year_that_cannot_be_meant_is_refused(written: str, form: Form) -> None:
    """A slip in the year would put a gauge out of date, or in date for ever."""
    assert "too far away" in _refused(written, form)


@pytest.mark.parametrize("written", ["2026-03-10", "2026-03-10 24:00", "2026-03-10 14.05", "10:00", "2026-13-01 10:00"])
def test_what_is_no_time_is_refused(written: str) -> None:
    """A time names its day, hour and minute."""
    assert "is not a time" in _refused(written, Form.TIME)


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("2025-12-19 15:00", "2025-12-19T15:00:00.000-05:00"),
        ("2026-03-11 12:00", "2026-03-11T12:00:00.000-04:00"),
        ("2026-03-08 03:00", "2026-03-08T03:00:00.000-04:00"),
        ("2026-11-01 01:30 -04:00", "2026-11-01T01:30:00.000-04:00"),
        ("2026-11-01 01:30-05:00", "2026-11-01T01:30:00.000-05:00"),
        ("2026-11-01T01:30:15.250-05:00", "2026-11-01T01:30:15.250-05:00"),
    ],
)
def test_a_time_of_the_plant_s_clocks_gets_its_offset(written: str, kept: str) -> None:
    """US Eastern is -05:00 in winter, -04:00 in summer (IANA tz database; 2026 changes on 8 March, 1 November)."""
    assert read_moment(written, ZONE) == kept


def test_a_time_that_exists_twice_must_say_which_it_is() -> None:
    """On 1 November 2026 the hour from 01:00 happens twice."""
    told = _refused("2026-11-01 01:30", Form.TIME)

    assert "showed it twice" in told
    assert "-04:00 or -05:00" in told


@pytest.mark.parametrize("written", ["2026-03-08 02:30", "2026-03-08 02:30 -05:00", "2026-03-08 02:30 -04:00"])
def test_a_time_that_never_was_is_refused_with_or_without_offset(written: str) -> None:
    """On 8 March 2026 the clocks go from 02:00 to 03:00."""
    assert "was never shown" in _refused(written, Form.TIME)


def test_an_offset_the_plant_s_clocks_did_not_have_is_refused() -> None:
    """-05:00 in July is a slip of an hour."""
    assert "were -04:00 from UTC then" in _refused("2026-07-01 10:00 -05:00", Form.TIME)


def test_an_unknown_word_is_refused_with_the_list_of_allowed_ones() -> None:
    """The clerk sees what may be written."""
    told = _refused("micrometre", Form.WORD, ("micrometer", "snap gauge"))

    assert "write one of: micrometer, snap gauge" in told


@pytest.mark.parametrize(
    ("written", "said"), [("a;;b", "has a gap"), ("a;b;a", "one name twice"), ("a;b;", "has a gap")]
)
def test_several_names_with_a_gap_or_one_twice_are_refused(written: str, said: str) -> None:
    """A lost name is noticed."""
    assert said in _refused(written, Form.SEVERAL)


@pytest.mark.parametrize("letter", ["\x00", "\x07", "\t", "\n", "\x7f", "\x85", "\u200b", "\u202e", "\ufeff", "\u2028"])
def test_an_unseen_character_is_named_and_refused(letter: str) -> None:
    """Two numbers that look alike would be two gauges."""
    told = _refused(f"G-{letter}108", Form.TEXT)

    assert f"U+{ord(letter):04X}" in told


def test_a_special_space_is_refused() -> None:
    """A space that does not break, pasted from a document, looks like a space and is none."""
    assert "U+00A0" in _refused("G\u00a0108", Form.TEXT)


@pytest.mark.parametrize("written", ["=1+1", " =A2", "=HYPERLINK(1)"])
def test_a_formula_is_refused_wherever_it_stands(written: str) -> None:
    """A list that is opened in a spreadsheet does nothing of its own."""
    assert "holds a formula" in _refused(written, Form.TEXT)
