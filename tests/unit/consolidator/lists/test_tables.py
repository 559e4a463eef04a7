"""The tables of columns and the models of rows say the same."""

import pytest

from consolidator.lists.tables import TABLES, UNITS, Form, ListTable
from kiosk.lists import Lists
from kiosk.measure.units import are_alike


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_field_of_a_row_has_its_column_and_no_column_is_without_a_field(table: ListTable) -> None:
    """Whatever a kiosk can be told, a clerk can write."""
    fields = table.model.model_fields

    assert [column.field for column in table.columns] == list(fields)
    assert {c.field for c in table.columns if c.needed} == {name for name, f in fields.items() if f.is_required()}


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_column_tells_its_meaning_and_an_example_that_is_allowed(table: ListTable) -> None:
    """The reference page leaves nobody guessing."""
    for column in table.columns:
        assert column.meaning
        if column.form is Form.WORD:
            assert column.words
        if column.words and column.example:
            assert set(column.example.split(";")) <= set(column.words)


def test_the_lists_of_the_kiosk_are_the_lists_of_the_files() -> None:
    """No list is forgotten."""
    heads = {"format", "plant", "zone", "version", "taken_over_at"}

    assert {table.field for table in TABLES} == set(Lists.model_fields) - heads


def test_the_units_that_can_be_compared_may_be_written() -> None:
    """A unit the judge can convert is a unit a list may name."""
    assert {"in", "mm", "um", "uin", "lbf", "N", "kN"} <= set(UNITS)
    assert are_alike("in", "mm")
