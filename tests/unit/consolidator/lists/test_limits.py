"""Limits of characteristics: one slip here judges thousands of readings."""

import pytest

from tests.unit.consolidator.lists.folders import ListsFolder, places

BC1, BC5, BC6, BC9, NC1 = 2, 5, 6, 8, 10
"""Rows of the deck: two-sided, accept/reject, turns, lower limit only, upper limit only."""


def _told(deck: ListsFolder, row: int, **cells: str) -> list[tuple[str, int | None, str | None]]:
    for column, text in cells.items():
        deck.set_cell("characteristics", row, column.replace("_", " "), text)
    return places(deck.faults())


@pytest.mark.parametrize(("lower", "upper"), [(".3125", ".3120"), (".3125", ".3125"), ("3.120", ".3125")])
def test_limits_the_wrong_way_round_are_told(deck: ListsFolder, lower: str, upper: str) -> None:
    """Maximum and minimum swapped, or a decimal slip in one of them."""
    assert _told(deck, BC1, lower=lower, upper=upper) == [("characteristics.csv", BC1, "lower")]


def test_wrong_limits_are_told_in_one_sentence_with_both_figures(deck: ListsFolder) -> None:
    """The clerk sees both and looks at the drawing."""
    _told(deck, BC1, lower=".3125", upper=".3120")

    assert deck.fault().sentence == (
        "characteristics.csv, row 2, column 'lower': lower and upper are the wrong way round or equal,"
        " because lower is 0.3125 and upper is 0.3120; look at the drawing or certificate and mend both."
    )


@pytest.mark.parametrize(
    ("row", "column"),
    [(BC1, "lower"), (BC1, "upper"), (BC9, "lower"), (NC1, "upper"), (BC6, "turns allowed")],
)
def test_a_limit_that_its_kind_needs_is_told_when_missing(deck: ListsFolder, row: int, column: str) -> None:
    """Two-sided without both limits would pass everything on one side."""
    assert _told(deck, row, **{column: ""}) == [("characteristics.csv", row, column)]


@pytest.mark.parametrize(
    ("row", "column", "text"),
    [
        (NC1, "lower", "0"),
        (BC9, "upper", "20000"),
        (BC5, "upper", "1"),
        (BC1, "shop limit", ".3124"),
        (BC1, "turns allowed", "3"),
    ],
)
def test_a_limit_that_its_kind_does_not_have_is_told(deck: ListsFolder, row: int, column: str, text: str) -> None:
    """Runout with a lower limit, or a bilateral tolerance typed as one-sided: kind and limits disagree."""
    assert _told(deck, row, **{column: text}) == [("characteristics.csv", row, column)]


@pytest.mark.parametrize(("row", "shop"), [(NC1, ".0051"), (BC9, "12799")])
def test_a_shop_limit_outside_the_limit_is_told(deck: ListsFolder, row: int, shop: str) -> None:
    """The shop's own limit is the tighter one."""
    assert _told(deck, row, shop_limit=shop) == [("characteristics.csv", row, "shop limit")]


@pytest.mark.parametrize(("row", "shop"), [(NC1, ".0050"), (BC9, "12800"), (BC9, "13000")])
def test_a_shop_limit_on_the_good_side_is_taken(deck: ListsFolder, row: int, shop: str) -> None:
    """Equal to the limit is no looser than the limit."""
    assert _told(deck, row, shop_limit=shop) == []


@pytest.mark.parametrize(
    ("row", "band", "is_good"),
    [
        (BC1, ".00024", True),
        (BC1, ".00025", False),
        (BC1, ".001", False),
        (BC1, "0", False),
        (BC1, "-.0001", False),
        (NC1, ".0049", True),
        (NC1, ".005", False),
    ],
)
def test_a_guard_band_that_leaves_no_tolerance_is_told(
    deck: ListsFolder, row: int, band: str, *, is_good: bool
) -> None:
    """BC1 has .0005 of tolerance (.3120 to .3125): twice .00025 leaves nothing (hand calculation)."""
    assert _told(deck, row, guard_band=band) == ([] if is_good else [("characteristics.csv", row, "guard band")])


@pytest.mark.parametrize(("row", "column"), [(NC1, "upper"), (BC9, "lower")])
@pytest.mark.parametrize("text", ["0", "-1"])
def test_a_single_limit_must_be_larger_than_nothing(deck: ListsFolder, row: int, column: str, text: str) -> None:
    """The believable window of a single limit is a multiple of it (N5)."""
    assert ("characteristics.csv", row, column) in _told(deck, row, **{column: text})


def test_a_figure_s_kind_with_the_unit_of_an_attribute_is_told(deck: ListsFolder) -> None:
    """A diameter in accept/reject cannot be."""
    assert _told(deck, BC1, unit="accept/reject") == [("characteristics.csv", BC1, "unit")]


@pytest.mark.parametrize(("tpi", "pitch"), [("", ""), ("24", "1.0")])
def test_over_wires_needs_one_pitch_and_one_only(deck: ListsFolder, tpi: str, pitch: str) -> None:
    """The pitch diameter is computed with it."""
    told = _told(deck, 4, threads_per_inch=tpi, pitch_mm=pitch)

    assert told == [("characteristics.csv", 4, "threads per inch")]


@pytest.mark.parametrize(("column", "text"), [("interval min", "0"), ("stopped at", "0"), ("least each", "-1")])
def test_an_interval_or_test_figure_of_nothing_is_told(deck: ListsFolder, column: str, text: str) -> None:
    """A sample every 0 minutes cannot be taken."""
    assert _told(deck, BC1, **{column: text}) == [("characteristics.csv", BC1, column)]


def test_a_comma_in_a_limit_is_told_at_its_cell_and_nothing_is_guessed(deck: ListsFolder) -> None:
    """The most dangerous cell of all, in the words of the message."""
    _told(deck, BC1, lower="0,3120")

    assert deck.fault().sentence == (
        "characteristics.csv, row 2, column 'lower': '0,3120' is written with a comma, because a comma can stand for"
        " a point or for thousands; write a point where the decimals begin and no mark for thousands."
    )
