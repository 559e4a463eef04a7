"""Headings and rows of one list, and what is told of them."""

import pytest

from tests.unit.consolidator.lists.folders import ListsFolder, places


def test_headings_may_stand_in_any_order_with_capitals_and_underscores(deck: ListsFolder) -> None:
    """A heading is the same heading however it is typed."""
    plain = deck.check()
    turned = [list(reversed(cells)) for cells in deck.rows("gauges")]
    turned[0] = [text.upper().replace(" ", "_") for text in turned[0]]

    deck.write("gauges", turned)

    assert deck.check() == plain


def test_a_yes_no_column_may_be_headed_as_a_question_but_not_twice(deck: ListsFolder) -> None:
    """`is key` and `key` are one column."""
    rows = deck.rows("characteristics")
    key = rows[0].index("key")
    rows[0][key] = "is key"
    deck.write("characteristics", rows)
    assert [row.is_key for row in deck.check().characteristics].count(True) == 3

    deck.write("characteristics", [[*cells, "key" if number == 0 else "no"] for number, cells in enumerate(rows)])

    assert places([deck.fault()]) == [("characteristics.csv", 1, "key")]


def test_a_needed_column_that_is_missing_is_named(deck: ListsFolder) -> None:
    """One fault for the column, none for each row."""
    deck.write("people", [[cells[0], cells[2]] for cells in deck.rows("people")])

    assert places([deck.fault()]) == [("people.csv", 1, "name")]
    assert deck.fault().what == "the column is missing"


def test_a_column_that_is_not_needed_may_be_missing(deck: ListsFolder) -> None:
    """Whoever has no badges keeps no column for them."""
    deck.write("people", [cells[:2] for cells in deck.rows("people")])

    assert {person.badges for person in deck.check().people} == {()}


def test_an_unknown_column_is_named_with_the_known_ones(deck: ListsFolder) -> None:
    """A slip in a heading would leave a whole column out, unnoticed."""
    rows = deck.rows("gauges")
    rows[0][rows[0].index("due")] = "due date"
    deck.write("gauges", rows)

    fault = deck.fault()
    assert places([fault]) == [("gauges.csv", 1, "due date")]
    assert "due," in fault.next_step


def test_a_heading_with_unseen_characters_is_told_without_printing_them(deck: ListsFolder) -> None:
    """A message on a terminal shows characters and does not obey them."""
    rows = deck.rows("people")
    rows[0][2] = "bad\x1b[2Jges"
    deck.write("people", rows)

    fault = deck.fault()
    assert fault.column == "bad<U+001B>[2Jges"
    assert fault.sentence.isprintable()


def test_a_doubled_column_is_named_with_both_places(deck: ListsFolder) -> None:
    """Nobody knows which of the two is meant."""
    deck.write("people", [[*cells, cells[1]] for cells in deck.rows("people")])

    fault = deck.fault()
    assert places([fault]) == [("people.csv", 1, "name")]
    assert fault.why == "it stands in column 2 and in column 4"


def test_cells_under_no_heading_are_refused_but_blank_columns_do_no_harm(deck: ListsFolder) -> None:
    """Spreadsheets leave empty columns beside a list; a column with something in it needs a name."""
    rows = deck.rows("people")
    deck.write("people", [[*cells, "", ""] for cells in rows])
    assert deck.faults() == ()

    deck.write("people", [[*cells, "note" if number else ""] for number, cells in enumerate(rows)])

    assert places([deck.fault()]) == [("people.csv", 1, "number 4")]


def test_blank_rows_are_passed_over_and_row_numbers_stay_those_of_the_spreadsheet(deck: ListsFolder) -> None:
    """The clerk finds row 12 where the message says row 12."""
    rows = deck.rows("people")
    deck.write("people", [rows[0], ["", "", ""], *rows[1:], ["P-200", "", ""]])

    assert places([deck.fault()]) == [("people.csv", 11, "name")]


def test_an_empty_cell_that_every_row_needs_is_told(deck: ListsFolder) -> None:
    """One sentence says what, where, why and what to do."""
    deck.set_cell("people", 3, "name", "")

    assert deck.fault().sentence == (
        "people.csv, row 3, column 'name': the cell is empty, because every row needs it; write the name."
    )


@pytest.mark.parametrize(
    ("name", "column", "text", "why"),
    [
        ("people", "name", "A" * 41, "40 characters at most"),
        ("gauges", "interval days", "100001", "100000 at most"),
        ("shifts", "shift", "4", "3 at most"),
        ("shifts", "shift", "0", "1 at least"),
    ],
)
def test_a_text_too_long_or_a_number_too_large_is_told_with_its_limit(
    deck: ListsFolder, name: str, column: str, text: str, why: str
) -> None:
    """The limit stands in the message."""
    deck.write("shifts", [["day", "shift", "person"], ["2026-03-10", "1", "P-101"]])
    deck.set_cell(name, 2, column, text)

    fault = deck.fault()
    assert places([fault]) == [(f"{name}.csv", 2, column)]
    assert why in fault.why


def test_200_wrong_rows_are_all_told_at_once(deck: ListsFolder) -> None:
    """Nobody mends a list one message at a time; every row and column is named, in order."""
    head = deck.rows("gauges")[0]
    rows = [[f"G-{n}", "micrometer", "inch", "", "", "0,0001", *[""] * (len(head) - 6)] for n in range(1000, 1200)]
    deck.write("gauges", [*deck.rows("gauges"), *rows])

    faults = deck.faults()

    expected = [("gauges.csv", row, column) for row in range(18, 218) for column in ("least count", "unit")]
    assert places(faults) == expected


def test_a_faulty_row_is_not_told_again_by_every_row_that_points_at_it(deck: ListsFolder) -> None:
    """One slip in a part number's row is one fault, not one for each of its lots."""
    deck.set_cell("parts", 2, "safety critical", "perhaps")

    assert places([deck.fault()]) == [("parts.csv", 2, "safety critical")]


def test_a_file_that_could_not_be_read_is_not_told_again_by_other_lists(deck: ListsFolder) -> None:
    """One fault for the file, none for each person it would have named."""
    (deck.path / "people.csv").write_bytes(b"")

    assert places([deck.fault()]) == [("people.csv", None, None)]


def test_a_fault_in_one_revision_s_row_is_not_told_again_by_what_belongs_to_the_revision(deck: ListsFolder) -> None:
    """Revision C stands in a second row of the part, which is the faulty one."""
    deck.set_cell("parts", 2, "revision", "B")
    row = deck.add_row("parts", like=2, revision="C", in_force_from="yesterday")

    assert places([deck.fault()]) == [("parts.csv", row, "in force from")]
