"""A characteristic may be given as a feature of a thread; its limits come from the standard and are shown."""

from pathlib import Path

import pytest

from consolidator.lists import current, derived_limits, take_over, taken_over
from kiosk.lists import Characteristic, Lists
from kiosk.threads import characteristics
from tests.unit.consolidator.lists.folders import LATER, START, ZONE, ListsFolder, new_plant, places

BC4 = 4
"""Row of the deck: pitch diameter over wires of .3125-24 UNJF-3A, .2827 to .2854 in."""
WORDS = "pitch diameter of .3125-24 UNJF-3A"


def _derive(deck: ListsFolder, **cells: str) -> None:
    told = {"derived from": WORDS, "lower": "", "upper": "", "threads per inch": "", **cells}
    for column, text in told.items():
        deck.set_cell("characteristics", BC4, column.replace("_", " "), text)


def _bc4(lists: Lists) -> Characteristic:
    return lists.characteristics[BC4 - 2]


def test_limits_are_computed_from_the_designation_and_kept_as_exact_text(deck: ListsFolder) -> None:
    """.3125-24 UNJF-3A, ASME B1.15: .2827 to .2854 in (by hand .75 x .003659 = .0027); the pitch is the thread's."""
    _derive(deck)

    found = _bc4(deck.check())

    assert (found.lower, found.upper, found.threads_per_inch) == ("0.2827", "0.2854", "24")
    assert found.derived_from == WORDS


def test_the_same_limits_written_beside_it_are_taken_as_written(deck: ListsFolder) -> None:
    """What the drawing prints stays, zeros included."""
    _derive(deck, lower=".28270", upper=".2854", threads_per_inch="24")

    assert (_bc4(deck.check()).lower, _bc4(deck.check()).upper) == ("0.28270", "0.2854")


def test_a_figure_that_disagrees_is_told_with_both_figures(deck: ListsFolder) -> None:
    """The clerk sees both and looks at the drawing."""
    _derive(deck, lower=".2830")

    assert deck.fault().sentence == (
        "characteristics.csv, row 4, column 'lower': the lower does not agree with what it is derived from, because"
        " 0.2830 is written and ASME B1.15 gives 0.2827; look at the drawing; mend one of the two, or empty the cell."
    )


@pytest.mark.parametrize(
    ("cells", "column"),
    [
        ({"upper": ".2855"}, "upper"),
        ({"threads per inch": "28"}, "threads per inch"),
        ({"kind": "upper limit only"}, "kind"),
        ({"unit": "mm"}, "unit"),
        ({"derived from": "major diameter of .3125-24 UNJF-3A"}, "rule"),
        ({"thread": ".3125-24 UNF-3A"}, "thread"),
        ({"thread": "five sixteenths"}, "thread"),
        ({"derived from": "pitch diameter of .3125-25 UNJF-3A"}, "derived from"),
        ({"derived from": "girth of .3125-24 UNJF-3A"}, "derived from"),
        ({"derived from": "pitch diameter of M8x2-6g"}, "derived from"),
    ],
)
def test_what_does_not_fit_the_thread_is_told_at_its_cell(
    deck: ListsFolder, cells: dict[str, str], column: str
) -> None:
    """One cause, one fault; nothing is derived where something speaks against it."""
    _derive(deck, **cells)

    assert places(deck.faults()) == [("characteristics.csv", BC4, column)]


def test_a_standard_s_single_limit_is_a_characteristic_with_one_limit(deck: ListsFolder) -> None:
    """The flat-rooted minor diameter of M10-6g has a largest size alone: 8.344 mm (ISO 965-1, by hand)."""
    cells = {"derived from": "minor diameter of M10-6g", "unit": "mm", "rule": "", "kind": "upper limit only"}
    _derive(deck, **cells)

    assert (_bc4(deck.check()).lower, _bc4(deck.check()).upper) == (None, "8.344")


def test_the_other_limit_written_by_hand_beside_a_single_one_is_told(deck: ListsFolder) -> None:
    """The standard gives none, so the cell cannot agree."""
    cells = {"derived from": "minor diameter of M10-6g", "unit": "mm", "rule": "", "kind": "upper limit only"}
    _derive(deck, **cells, lower="8.1")

    assert places(deck.faults()) == [("characteristics.csv", BC4, "lower")]


def test_the_derivation_is_shown_and_kept_for_those_who_approve(deck: ListsFolder, tmp_path: Path) -> None:
    """Every step stands in taken-over.json of the version that brought the limits, and in no later one."""
    plant = new_plant(tmp_path / "plant")
    _derive(deck)
    take_over(plant, deck.path, by="P-106", second="P-108", reason="first lists", at_utc=START)
    take_over(plant, deck.path, by="P-106", reason="nothing changed", at_utc=LATER)

    (derived,) = taken_over(plant, 1).derived

    assert derived.sentences[0] == f"B-3124 C BC4: 0.2827 to 0.2854 in, {WORDS} by ASME B1.15"
    assert "   class 3A: x 0.75 = 0.0027; allowance 0.0000" in derived.sentences
    assert taken_over(plant, 2).derived == ()
    assert derived_limits(current(plant), None) == (derived,)


def test_a_row_taken_over_keeps_the_limits_it_was_approved_with(
    deck: ListsFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A later program that computes otherwise changes no row in force, and refuses no list for it."""
    _derive(deck)
    before = deck.check()
    other = characteristics.characteristic_limits("pitch diameter of .3125-24 UNJF-2A")
    monkeypatch.setattr(characteristics, "characteristic_limits", lambda words: other)

    assert deck.check(before, LATER).characteristics == before.characteristics


def test_limits_of_a_new_row_are_derived_when_the_lists_change(deck: ListsFolder) -> None:
    """A new time of force is a new row, and is shown again."""
    _derive(deck)
    before = deck.check()
    words = "pitch diameter of .3125-24 UNJF-2A"
    deck.add_row("characteristics", like=BC4, derived_from=words, in_force_from="2026-03-11 12:00")

    after = deck.check(before, LATER)

    (new,) = derived_limits(after, before)
    assert (new.derived_from, new.in_force_from) == (words, after.characteristics[-1].in_force_from)
    assert str(ZONE) == after.zone
