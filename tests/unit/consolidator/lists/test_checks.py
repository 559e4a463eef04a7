"""Lists held against each other: nothing twice, nothing pointing at nothing."""

import pytest

from tests.unit.consolidator.lists.folders import ListsFolder, places


def test_a_gauge_that_stands_twice_is_told_with_both_rows(deck: ListsFolder) -> None:
    """Two rows with one number and one time of force contradict each other."""
    row = deck.add_row("gauges", like=3)

    fault = deck.fault()
    assert places([fault]) == [("gauges.csv", row, "number")]
    assert fault.what == "G-108 stands twice with the same time of force in the list"
    assert fault.why == "it is in row 3 already"


def test_a_gauge_with_two_times_of_force_is_its_history(deck: ListsFolder) -> None:
    """The later row is in force from its time."""
    deck.add_row("gauges", like=3, state="Stopped", in_force_from="2026-03-10 09:00")

    assert deck.faults() == ()


def test_one_moment_written_in_two_ways_is_still_twice(deck: ListsFolder) -> None:
    """Times are compared as moments, not as text."""
    deck.add_row("gauges", like=3, in_force_from="2026-03-10 09:00")
    deck.add_row("gauges", like=3, in_force_from="2026-03-10T09:00:00.000-04:00")

    assert "stands twice" in deck.fault().what


@pytest.mark.parametrize(
    "name",
    ["calibrations", "masters", "people", "qualifications", "parts", "characteristics", "plans", "lots", "stations"],
)
def test_a_row_that_stands_twice_is_told_in_every_list(deck: ListsFolder, name: str) -> None:
    """No list may say one thing in two places."""
    row = deck.add_row(name, like=2)

    assert (f"{name}.csv", row) in [(fault.file, fault.row) for fault in deck.faults() if "twice" in fault.what]


@pytest.mark.parametrize(
    ("name", "column", "said"),
    [
        ("gauges", "home station", "the list of stations has no X-9"),
        ("gauges", "swap partner", "the list of gauges has no X-9"),
        ("gauges", "master", "the list of masters has no X-9"),
        ("gauges", "wires", "the list of masters has no X-9"),
        ("calibrations", "gauge", "the list of gauges has no X-9"),
        ("calibrations", "technician", "the list of people has no X-9"),
        ("calibrations", "masters", "the list of masters has no X-9"),
        ("qualifications", "person", "the list of people has no X-9"),
        ("qualifications", "granted by", "the list of people has no X-9"),
        ("characteristics", "part", "the list of parts has no X-9"),
        ("characteristics", "revision", "the list of parts has no row for it"),
        ("plans", "part", "the list of parts has no X-9"),
        ("plans", "revision", "the list of parts has no row for it"),
        ("plans", "approved by", "the list of people has no X-9"),
        ("lots", "part", "the list of parts has no X-9"),
        ("lots", "revision", "the list of parts has no row for it"),
        ("lots", "split from", "the list of lots has no X-9"),
    ],
)
def test_a_row_that_points_at_nothing_is_told(deck: ListsFolder, name: str, column: str, said: str) -> None:
    """Unknown gauge, person, station, master, part, revision or lot: each named at its own cell."""
    deck.set_cell(name, 4, column, "X-9")

    fault = deck.fault()
    assert places([fault]) == [(f"{name}.csv", 4, column)]
    assert fault.why == said


@pytest.mark.parametrize(
    ("name", "column", "text", "allowed"),
    [
        ("gauges", "kind", "mike", "micrometer"),
        ("gauges", "unit", "inch", "mm"),
        ("gauges", "state", "broken", "Stopped"),
        ("gauges", "member", "NO GO", "NOT GO"),
        ("characteristics", "unit", "inches", "mm"),
        ("characteristics", "kind", "both sides", "two-sided"),
        ("characteristics", "feature", "thread", "external rolled thread"),
        ("characteristics", "gauge kinds", "snap gauge;mike", "micrometer"),
        ("qualifications", "level", "boss", "quality manager"),
        ("qualifications", "gauge kind", "mike", "micrometer"),
        ("masters", "kind", "plug", "setting plug"),
        ("calibrations", "as found", "ok", "Not taken"),
    ],
)
def test_an_unknown_word_or_unit_is_told_with_the_allowed_ones(
    deck: ListsFolder, name: str, column: str, text: str, allowed: str
) -> None:
    """The words of the reference page, and no others."""
    deck.set_cell(name, 2, column, text)

    fault = next(fault for fault in deck.faults() if fault.column == column)
    assert places([fault]) == [(f"{name}.csv", 2, column)]
    assert allowed in fault.next_step


def test_a_calibration_of_a_gauge_that_is_not_in_the_register_is_told(deck: ListsFolder) -> None:
    """A gauge nobody knows cannot have been calibrated."""
    deck.drop_row("gauges", 5)

    assert {(fault.file, fault.column, fault.what) for fault in deck.faults()} == {
        ("calibrations.csv", "gauge", "the gauge G-109 is not known")
    }


def test_a_calibration_before_its_gauge_existed_is_told(deck: ListsFolder) -> None:
    """G-118 was calibrated on 29 August 2025; a register that has it from 1 September says otherwise."""
    deck.set_cell("gauges", 4, "in force from", "2025-09-01 06:00")

    fault = deck.fault()
    assert places([fault]) == [("calibrations.csv", 5, "done at")]
    assert fault.why == "the list of gauges has it from 2025-09-01 06:00"


def test_a_calibration_on_the_minute_its_gauge_came_into_force_is_taken(deck: ListsFolder) -> None:
    """The first moment belongs to the gauge."""
    deck.set_cell("gauges", 4, "in force from", "2025-08-29 09:00")

    assert deck.faults() == ()


def test_a_calibration_due_before_it_was_done_is_told(deck: ListsFolder) -> None:
    """A slip in the year shows here."""
    deck.set_cell("calibrations", 2, "due", "2025-03-10")

    assert places([deck.fault()]) == [("calibrations.csv", 2, "due")]


@pytest.mark.parametrize("column", ["least count", "unit"])
def test_a_gauge_that_gives_a_figure_needs_least_count_and_unit(deck: ListsFolder, column: str) -> None:
    """Without a least count nobody can tell whether the gauge is too coarse."""
    deck.set_cell("gauges", 2, column, "")

    assert places([deck.fault()]) == [("gauges.csv", 2, column)]


@pytest.mark.parametrize("column", ["thread", "member"])
def test_a_thread_gauge_needs_its_thread_and_member(deck: ListsFolder, column: str) -> None:
    """Without them nobody can tell a wrong thread gauge."""
    deck.set_cell("gauges", 12, column, "")

    assert places([deck.fault()]) == [("gauges.csv", 12, column)]


@pytest.mark.parametrize(
    ("column", "text"),
    [("least count", "0"), ("least count", "-.0001"), ("permissible error", "-.0001"), ("range low", "1")],
)
def test_sizes_and_ranges_of_a_gauge_that_cannot_be_are_told(deck: ListsFolder, column: str, text: str) -> None:
    """A least count of 0, an error with a sign, a range without room."""
    deck.set_cell("gauges", 2, column, text)

    assert places([deck.fault()]) == [("gauges.csv", 2, column)]


@pytest.mark.parametrize(
    ("name", "column", "text"),
    [
        ("gauges", "permissible error", "0"),
        ("calibrations", "due", "2025-09-10"),
        ("qualifications", "valid until", "2024-01-08"),
    ],
)
def test_what_lies_just_on_the_edge_is_taken(deck: ListsFolder, name: str, column: str, text: str) -> None:
    """No error allowed, due on the day it was done, qualified for one day: all of them can be."""
    deck.set_cell(name, 2, column, text)

    assert deck.faults() == ()


def test_a_gauge_that_is_its_own_swap_partner_is_told(deck: ListsFolder) -> None:
    """It would be offered in its own place at midnight."""
    deck.set_cell("gauges", 2, "swap partner", "G-107")

    assert places([deck.fault()]) == [("gauges.csv", 2, "swap partner")]


def test_wires_that_are_no_wire_set_are_told(deck: ListsFolder) -> None:
    """M-14 is a setting plug; a pitch diameter computed with it would be nonsense."""
    deck.set_cell("gauges", 10, "wires", "M-14")

    assert deck.fault().why == "the list of masters says it is a setting plug"


def test_a_master_with_a_size_needs_its_unit(deck: ListsFolder) -> None:
    """.31225 of what?"""
    deck.set_cell("masters", 4, "unit", "")

    assert places([deck.fault()]) == [("masters.csv", 4, "unit")]


def test_one_badge_for_two_people_is_told(deck: ListsFolder) -> None:
    """A badge that stands for two people proves nothing about either."""
    deck.set_cell("people", 3, "badges", "B-101")

    assert places([deck.fault()]) == [("people.csv", 3, "badges")]
    assert "P-101 has it already" in deck.fault().why


def test_a_qualification_that_ends_before_it_begins_is_told(deck: ListsFolder) -> None:
    """The dates are the wrong way round."""
    deck.set_cell("qualifications", 2, "valid until", "2023-12-31")

    assert places([deck.fault()]) == [("qualifications.csv", 2, "valid until")]


def test_a_plan_approved_twice_by_one_person_is_told(deck: ListsFolder) -> None:
    """A second person is another person."""
    deck.set_cell("plans", 2, "second", "P-106")

    assert places([deck.fault()]) == [("plans.csv", 2, "second")]


@pytest.mark.parametrize(
    ("name", "column", "text"), [("plans", "after operation", "40"), ("lots", "split from", "L-380")]
)
def test_a_row_that_waits_for_or_comes_from_itself_is_told(
    deck: ListsFolder, name: str, column: str, text: str
) -> None:
    """Nothing comes before itself."""
    deck.set_cell(name, 2, column, text)

    assert places([deck.fault()]) == [(f"{name}.csv", 2, column)]


@pytest.mark.parametrize(
    ("number", "value", "is_good"),
    [
        ("N2", "90", True),
        ("N2", "-1", False),
        ("N2", "two minutes", False),
        ("N4b", "12.5", True),
        ("N4b", "120", False),
        ("N4b", "12,5", False),
        ("N6a", "1.5", False),
        ("N12", "1", False),
        ("N16b", "06:05", True),
        ("N16b", "27:00", False),
    ],
)
def test_a_plant_number_out_of_its_range_is_told(deck: ListsFolder, number: str, value: str, *, is_good: bool) -> None:
    """A negative time, a share over one, an hour 27: none of them can be meant."""
    deck.write("plant-numbers", [["number", "value"], [number, value]])

    assert places(deck.faults()) == ([] if is_good else [("plant-numbers.csv", 2, "value")])


def test_a_plant_number_that_does_not_exist_is_told(deck: ListsFolder) -> None:
    """There is no N20."""
    deck.write("plant-numbers", [["number", "value"], ["N20", "1"]])

    assert places([deck.fault()]) == [("plant-numbers.csv", 2, "number")]
