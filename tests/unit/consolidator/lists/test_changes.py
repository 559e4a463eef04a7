"""From one version to the next: good changes forwards only, bad news backwards too, and two people for limits."""

from datetime import timedelta

import pytest

from consolidator.lists import ListsRefused, take_over
from consolidator.plant import Plant
from kiosk.lists import Lists
from tests.unit.consolidator.lists.folders import LATER, START, ListsFolder, new_plant, places

BEFORE, NOW, AFTER = "2026-03-10 09:59", "2026-03-10 10:00", "2026-03-11 12:00"
"""Plant time around the second take-over."""


@pytest.fixture
def first(deck: ListsFolder) -> Lists:
    """The deck as it was taken over first."""
    return deck.check()


def test_the_same_files_again_are_no_change_at_all(deck: ListsFolder, first: Lists) -> None:
    """Taking over twice is harmless."""
    assert deck.faults(before=first, at_utc=LATER) == ()


@pytest.mark.parametrize(
    ("name", "row", "column", "text"),
    [
        ("characteristics", 2, "lower", ".3119"),
        ("characteristics", 2, "sample n", "3"),
        ("parts", 2, "revision", "D"),
        ("plans", 5, "needs first piece", "no"),
        ("qualifications", 2, "level", "inspector"),
        ("qualifications", 2, "valid until", "2031-12-31"),
    ],
)
def test_a_row_in_force_that_was_changed_is_refused_and_a_new_row_asked_for(
    deck: ListsFolder, first: Lists, name: str, row: int, column: str, text: str
) -> None:
    """A limit changed in place would judge yesterday by today's limit."""
    deck.set_cell(name, row, column, text)

    faults = deck.faults(before=first, at_utc=LATER)

    fault = next(fault for fault in faults if fault.row == row and fault.file == f"{name}.csv")
    assert fault.why == "a good change works forwards only"
    assert fault.column == "in force from"
    assert "2026-03-10 10:00 or later" in fault.next_step


@pytest.mark.parametrize(
    ("name", "row", "changes"),
    [
        ("characteristics", 2, {"lower": ".3121"}),
        ("parts", 2, {"revision": "D"}),
        ("plans", 5, {"version": "C2"}),
        ("qualifications", 2, {"level": "trainer"}),
    ],
)
@pytest.mark.parametrize(("force", "is_good"), [(BEFORE, False), (NOW, True), (AFTER, True), ("", False)])
def test_a_new_row_works_from_the_take_over_on_and_not_before(
    deck: ListsFolder, first: Lists, name: str, row: int, changes: dict[str, str], *, force: str, is_good: bool
) -> None:
    """The minute of the take-over is the first moment allowed; a row without a time would reach back for ever."""
    deck.add_row(name, like=row, in_force_from=force, **changes)

    assert (deck.faults(before=first, at_utc=LATER) == ()) is is_good


def test_the_time_that_is_asked_for_is_one_that_would_be_taken(deck: ListsFolder, first: Lists) -> None:
    """At 10:00:30 the minute 10:00 has begun already; 10:01 is the first to write."""
    moment = LATER + timedelta(seconds=30)
    row = deck.add_row("parts", like=2, revision="D", in_force_from=NOW)

    assert "2026-03-10 10:01 or later" in deck.fault(before=first, at_utc=moment).next_step

    deck.set_cell("parts", row, "in force from", "2026-03-10 10:01")
    assert deck.faults(before=first, at_utc=moment) == ()


@pytest.mark.parametrize(("force", "is_good"), [(BEFORE, False), (NOW, True), ("", False)])
def test_a_plant_number_works_forwards_only(deck: ListsFolder, first: Lists, force: str, *, is_good: bool) -> None:
    """A wider clock agreement must not make last week's readings good."""
    deck.write("plant-numbers", [["number", "value", "in force from"], ["N2", "300", force]])

    assert (deck.faults(before=first, at_utc=LATER) == ()) is is_good


def test_a_row_whose_time_is_still_ahead_may_be_changed_or_taken_out(deck: ListsFolder, first: Lists) -> None:
    """Nothing was judged by it yet."""
    row = deck.add_row("characteristics", like=2, lower=".3121", in_force_from=AFTER)
    second = deck.check(before=first, at_utc=LATER)

    deck.set_cell("characteristics", row, "lower", ".31215")
    assert deck.faults(before=second, at_utc=LATER) == ()

    deck.drop_row("characteristics", row)
    assert deck.faults(before=second, at_utc=LATER) == ()


@pytest.mark.parametrize(
    "name",
    ["gauges", "calibrations", "masters", "people", "qualifications", "parts", "characteristics", "plans", "lots"],
)
def test_a_row_that_was_in_force_cannot_be_left_out(deck: ListsFolder, first: Lists, name: str) -> None:
    """The past is judged by it as it was."""
    deck.drop_row(name, 2)

    assert any("was left out" in fault.what for fault in deck.faults(before=first, at_utc=LATER))


@pytest.mark.parametrize("state", ["Stopped", "Awaiting calibration", "Reference only", "Lost", "Retired"])
@pytest.mark.parametrize("name", ["gauges", "masters"])
def test_bad_news_of_a_gauge_or_master_may_be_written_into_its_row(
    deck: ListsFolder, first: Lists, name: str, state: str
) -> None:
    """Only bad news works backwards."""
    deck.set_cell(name, 3, "state", state)

    assert deck.faults(before=first, at_utc=LATER) == ()


def test_bad_news_of_a_gauge_may_begin_in_the_past(deck: ListsFolder, first: Lists) -> None:
    """Stopped since yesterday, known today."""
    deck.add_row("gauges", like=3, state="Stopped", in_force_from="2026-03-09 08:00")

    assert deck.faults(before=first, at_utc=LATER) == ()


def test_a_gauge_due_sooner_is_bad_news_and_one_due_later_is_not(deck: ListsFolder, first: Lists) -> None:
    """A due date moved later by hand would be an extension without signatures."""
    deck.set_cell("gauges", 3, "due", "2026-08-30")
    assert deck.faults(before=first, at_utc=LATER) == ()

    deck.set_cell("gauges", 3, "due", "2026-09-01")

    fault = deck.fault(before=first, at_utc=LATER)
    assert places([fault]) == [("gauges.csv", 3, "due")]
    assert fault.what == "the due was 2026-08-31 before"
    assert "in force from of 2026-03-10 10:00 or later" in fault.next_step


def test_a_stopped_gauge_is_put_back_to_use_forwards_only(deck: ListsFolder, first: Lists) -> None:
    """Put back yesterday would make yesterday's blocked readings count."""
    deck.set_cell("gauges", 3, "state", "Stopped")
    second = deck.check(before=first, at_utc=LATER)
    later = LATER + timedelta(hours=2)

    row = deck.add_row("gauges", like=3, state="In use", in_force_from=AFTER)
    assert deck.faults(before=second, at_utc=later) == ()

    deck.set_cell("gauges", row, "in force from", BEFORE)
    assert places([deck.fault(before=second, at_utc=later)]) == [("gauges.csv", row, "state")]

    deck.drop_row("gauges", row)
    deck.set_cell("gauges", 3, "state", "In use")
    assert places([deck.fault(before=second, at_utc=later)]) == [("gauges.csv", 3, "state")]


@pytest.mark.parametrize(
    ("name", "column", "text"),
    [
        ("gauges", "drawer", "Z-9"),
        ("gauges", "home station", "S13"),
        ("masters", "laboratory", "Another Invented Laboratory"),
        ("calibrations", "certificate", "C-9"),
        ("people", "name", "Anna"),
        ("people", "badges", "B-901"),
        ("lots", "ships on", "2026-04-10"),
    ],
)
def test_what_no_reading_is_judged_by_may_be_mended_in_place(
    deck: ListsFolder, first: Lists, name: str, column: str, text: str
) -> None:
    """A drawer or a name spelled wrong needs no history."""
    deck.set_cell(name, 2, column, text)

    assert deck.faults(before=first, at_utc=LATER) == ()


@pytest.mark.parametrize(
    ("column", "text"), [("least count", ".001"), ("permissible error", ".0002"), ("range high", "2")]
)
def test_what_a_gauge_is_judged_by_changes_forwards_only(
    deck: ListsFolder, first: Lists, column: str, text: str
) -> None:
    """A wider range in place would take readings out of X17 after the fact."""
    deck.set_cell("gauges", 3, column, text)

    assert places([deck.fault(before=first, at_utc=LATER)]) == [("gauges.csv", 3, column)]


def test_a_new_gauge_and_its_first_calibration_may_be_entered_afterwards(deck: ListsFolder, first: Lists) -> None:
    """A new gauge is calibrated before it is used, so its first row may begin before the take-over."""
    deck.add_row("gauges", like=3, number="G-900", in_force_from="2026-03-09 06:00")
    deck.add_row("calibrations", like=4, gauge="G-900", done_at="2026-03-09 09:00")

    assert deck.faults(before=first, at_utc=LATER) == ()


def test_a_calibration_may_turn_bad_but_not_good(deck: ListsFolder, first: Lists) -> None:
    """Good turned into Out is bad news; Out turned into Good would close a look-back by keyboard."""
    deck.set_cell("calibrations", 4, "as found", "Out")
    second = deck.check(before=first, at_utc=LATER)

    deck.set_cell("calibrations", 4, "as found", "Good")

    assert places([deck.fault(before=second, at_utc=LATER)]) == [("calibrations.csv", 4, "as found")]


def test_a_person_who_left_may_be_entered_afterwards_but_not_come_back(deck: ListsFolder, first: Lists) -> None:
    """A leaver's badge must not come alive again in the past."""
    deck.set_cell("people", 2, "left at", "2026-03-01 14:00")
    second = deck.check(before=first, at_utc=LATER)

    deck.set_cell("people", 2, "left at", "")

    fault = deck.fault(before=second, at_utc=LATER)
    assert places([fault]) == [("people.csv", 2, "left at")]
    assert "new number" in fault.next_step


def test_a_leaving_still_ahead_may_be_put_off(deck: ListsFolder, first: Lists) -> None:
    """Nobody was turned away yet."""
    deck.set_cell("people", 2, "left at", AFTER)
    second = deck.check(before=first, at_utc=LATER)

    deck.set_cell("people", 2, "left at", "")

    assert deck.faults(before=second, at_utc=LATER) == ()


def test_a_leaving_of_this_very_minute_may_still_be_taken_back(deck: ListsFolder, first: Lists) -> None:
    """Nothing was done in between."""
    deck.set_cell("people", 2, "left at", NOW)
    second = deck.check(before=first, at_utc=LATER)

    deck.set_cell("people", 2, "left at", "")

    assert deck.faults(before=second, at_utc=LATER) == ()


def test_a_qualification_without_end_is_not_made_by_emptying_a_cell(deck: ListsFolder, first: Lists) -> None:
    """Longer is good news."""
    deck.set_cell("qualifications", 2, "valid until", "")

    assert places([deck.fault(before=first, at_utc=LATER)]) == [("qualifications.csv", 2, "in force from")]


def test_a_qualification_may_end_sooner(deck: ListsFolder, first: Lists) -> None:
    """Withdrawn is bad news."""
    deck.set_cell("qualifications", 2, "valid until", "2026-03-01")

    assert deck.faults(before=first, at_utc=LATER) == ()


def test_a_take_over_dated_before_the_last_one_is_refused(deck: ListsFolder, first: Lists) -> None:
    """A machine whose clock was set back must not write history."""
    fault = deck.fault(before=first, at_utc=START - timedelta(minutes=1))

    assert places([fault]) == [("take-over", None, "time")]


@pytest.fixture
def plant(deck: ListsFolder) -> Plant:
    """A plant whose first version is the deck."""
    plant = new_plant(deck.path.parent / "plant")
    take_over(plant, deck.path, by="P-106", second="P-108", reason="first lists", at_utc=START)
    return plant


def _told(plant: Plant, deck: ListsFolder, by: str, second: str | None) -> list[tuple[str, int | None, str | None]]:
    with pytest.raises(ListsRefused) as caught:
        take_over(plant, deck.path, by=by, second=second, reason="a change", at_utc=LATER)
    return places(caught.value.faults)


def _change_limits(deck: ListsFolder) -> None:
    deck.add_row("characteristics", like=2, lower=".3121", in_force_from=AFTER)


def _change_plans(deck: ListsFolder) -> None:
    deck.add_row("plans", like=5, version="C2", in_force_from=AFTER)


def _change_numbers(deck: ListsFolder) -> None:
    deck.write("plant-numbers", [["number", "value", "in force from"], ["N2", "300", AFTER]])


def _grant_authority(deck: ListsFolder) -> None:
    deck.add_row("qualifications", like=2, operation="*", level="quality manager", in_force_from=AFTER)


def _change_heat(deck: ListsFolder) -> None:
    deck.set_cell("lots", 2, "heat", "H-1")


@pytest.mark.parametrize("change", [_change_limits, _change_plans, _change_numbers, _grant_authority, _change_heat])
def test_limits_plans_numbers_authority_and_heats_need_the_quality_manager_and_a_second_person(
    plant: Plant, deck: ListsFolder, change: object
) -> None:
    """Alone, with oneself, or without the quality manager: refused; with both: taken over, whichever signs first."""
    assert callable(change)
    change(deck)

    assert _told(plant, deck, "P-106", None) == [("take-over", None, "second")]
    assert _told(plant, deck, "P-106", "P-106") == [("take-over", None, "second")]
    assert _told(plant, deck, "P-101", "P-108") == [("take-over", None, "by")]
    lists = take_over(plant, deck.path, by="P-108", second="P-106", reason="a change", at_utc=LATER)
    assert lists.version == 2


@pytest.mark.parametrize(
    ("valid_from", "valid_until", "force", "is_good"),
    [
        ("2025-06-01", "2025-06-01", "", True),
        ("2025-06-02", "", "", False),
        ("2024-01-08", "2025-05-31", "", False),
        ("2024-01-08", "", "2025-06-01 08:00", True),
        ("2024-01-08", "", "2025-06-01 08:01", False),
    ],
)
def test_the_quality_manager_must_be_one_on_the_day_and_at_the_minute(
    deck: ListsFolder, valid_from: str, valid_until: str, force: str, *, is_good: bool
) -> None:
    """The take-over is on 1 June 2025 at 08:00 in the plant; first and last day belong to the qualification."""
    row = next(n for n, cells in enumerate(deck.rows("qualifications"), 1) if "quality manager" in cells)
    for column, text in (("valid from", valid_from), ("valid until", valid_until), ("in force from", force)):
        deck.set_cell("qualifications", row, column, text)
    plant = new_plant(deck.path.parent / "plant")

    if is_good:
        assert take_over(plant, deck.path, by="P-106", second="P-108", reason="first", at_utc=START).version == 1
    else:
        with pytest.raises(ListsRefused, match="neither of the two is the quality manager"):
            take_over(plant, deck.path, by="P-106", second="P-108", reason="first", at_utc=START)


def test_a_drawer_or_a_new_lot_needs_one_person_only(plant: Plant, deck: ListsFolder) -> None:
    """Daily work is not held up."""
    deck.set_cell("gauges", 2, "drawer", "Z-9")
    deck.add_row("lots", like=2, number="L-900")

    lists = take_over(plant, deck.path, by="P-101", reason="new lot", at_utc=LATER)

    assert lists.version == 2


def test_nobody_grants_himself_authority_by_the_same_take_over(plant: Plant, deck: ListsFolder) -> None:
    """Who may sign is looked up as it stood before."""
    deck.add_row("qualifications", like=2, operation="*", level="quality manager", in_force_from=NOW)
    _change_limits(deck)

    assert _told(plant, deck, "P-101", "P-108") == [("take-over", None, "by")]


@pytest.mark.parametrize(("by", "second", "column"), [("P-999", "P-106", "by"), ("P-106", "P-999", "second")])
def test_somebody_the_plant_does_not_know_cannot_sign(
    plant: Plant, deck: ListsFolder, by: str, second: str, column: str
) -> None:
    """The signature must be somebody's."""
    assert _told(plant, deck, by, second) == [("take-over", None, column)]


def test_somebody_who_left_cannot_sign(plant: Plant, deck: ListsFolder) -> None:
    """From the minute of leaving."""
    deck.set_cell("people", 9, "left at", NOW)
    take_over(plant, deck.path, by="P-106", reason="Hana leaves", at_utc=LATER)
    _change_limits(deck)

    with pytest.raises(ListsRefused, match="P-108 cannot sign"):
        take_over(plant, deck.path, by="P-106", second="P-108", reason="a change", at_utc=LATER)


def test_faults_of_the_files_and_of_the_people_are_told_together(plant: Plant, deck: ListsFolder) -> None:
    """Nobody comes back twice."""
    _change_limits(deck)
    deck.set_cell("gauges", 2, "kind", "mike")

    assert _told(plant, deck, "P-106", None) == [("gauges.csv", 2, "kind"), ("take-over", None, "second")]
