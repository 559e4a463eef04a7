"""The ten readings of the acceptance run: as expected when the kiosk is right, caught when it is not."""

from datetime import date

import pytest

from kiosk.acceptance import Here, Kit, Run, Task, find_kit, offer
from kiosk.acts import Mark
from kiosk.lists import Lists, Qualification
from kiosk.lists.words import Level
from kiosk.pages import Page
from kiosk.pages.station import AcceptanceBegun, AcceptanceSigned
from kiosk.pages.words import Standing, Verdict
from tests.unit.kiosk.acceptance.training import (
    all_ten,
    at_training,
    begun,
    dropped,
    first_five,
    last_four,
    power,
    training_lists,
)
from tests.unit.kiosk.acts.at_a_screen import AtAScreen


def test_all_ten_come_out_as_expected_when_they_are_done_as_the_screen_says() -> None:
    """In, out, at the limit, two slips, the plug, past due, another thread, accept, dropped."""
    person, run = all_ten()

    assert [(one.task, one.is_as_expected) for one in run.results()] == [(task, True) for task in Task]
    assert "All ten as expected. Now carry." in person.more("This kiosk", "Acceptance run").words


def test_the_figures_to_key_follow_from_the_limits_by_hand() -> None:
    """.3120 to .3125 by divisions of .00005: middle .31225 in is 7.931 mm (25.4 mm to the inch, exactly)."""
    lists = training_lists()
    lot = lists.lot("T-1")
    assert lot is not None
    person, _ = at_training(lists)

    kit = find_kit(lists, lot, Here(person.post.work.characteristics(), person.post.work.gauges_here(),
                                    person.post.clock.now().date()))  # fmt: skip

    assert isinstance(kit, Kit)
    figures = (kit.low, kit.middle, kit.at_limit, kit.outside, kit.decimal_slip, kit.unit_slip)
    assert figures == (".31205", ".31225", ".31250", ".31260", "3.1225", "7.931")
    assert (kit.gauge.number, kit.past_due.number, kit.ring.number) == ("G-108", "G-100", "G-512")


def test_what_comes_next_stands_on_the_screens_of_the_work_and_on_the_runs_own() -> None:
    """Nobody has to keep ten steps in mind."""
    person, _ = begun()

    assert "1 of 10: in tolerance" in person.words
    assert "LOOK TC1 with G-108: key .31225." in person.words
    assert "key .31225" in person.pick("Go and do it").words
    person.pick("TC1").scan("G-108").key(".31225")
    assert "2 of 10: out of tolerance" in person.more("Acceptance run").words
    assert "OK in tolerance: as expected." in person.words


def test_before_a_training_lot_is_open_the_run_asks_for_it() -> None:
    """On any other lot nothing of it may happen."""
    person, _ = at_training()
    person.scan("L-411")

    words = person.more("This kiosk", "Acceptance run").words

    assert "Open the training lot first" in words
    assert "[Begin the run]" not in words


def test_what_the_lists_lack_is_named() -> None:
    """A run with nine readings is no run."""
    lists = training_lists()
    gauges = tuple(one for one in lists.gauges if one.number not in ("G-100", "G-512"))
    person, _ = at_training(training_lists(gauges=gauges))

    words = person.more("This kiosk", "Acceptance run").words

    assert "Missing for the run: a gauge past its due date for TC1." in words
    assert "Missing for the run: its thread gauge, kept here." in words
    assert "[Begin the run]" not in words


@pytest.mark.parametrize("task", [Task.OUT, Task.DECIMAL_SLIP, Task.POWER, Task.PAST_DUE, Task.DROPPED])
def test_a_result_that_is_not_as_expected_stops_the_run(task: Task) -> None:
    """A kiosk that answers wrong says STOP, offers no signature, and can only begin again."""
    person, run = all_ten()
    pages = person.post.book.pages
    wrong: dict[Task, dict[str, object]] = {
        Task.OUT: {"verdict": Verdict.IN}, Task.DECIMAL_SLIP: {"earlier": (), "keyed": "3.1225"},
        Task.POWER: {"piece": 1}, Task.PAST_DUE: {"reasons": ("X15",)},
        Task.DROPPED: {"standing": Standing.COUNTS, "reasons": ()},
    }  # fmt: skip
    readings = [place for place, page in enumerate(pages) if page.act.kind == "reading"]
    place = readings[{Task.OUT: 1, Task.DECIMAL_SLIP: 3, Task.POWER: 6, Task.PAST_DUE: 7, Task.DROPPED: 9}[task]]
    pages[place] = pages[place].model_copy(update={"act": pages[place].act.model_copy(update=wrong[task])})

    result = next(one for one in run.results() if one.task is task)
    words = person.more("This kiosk", "Acceptance run").words

    assert not result.is_as_expected
    assert "STOP Not as expected" in words
    assert "[Sign]" not in words
    assert "[Begin the run again]" in words


def signing(lists: Lists | None = None) -> tuple[AtAScreen, Run]:
    """Return a run that only wants its signatures."""
    person, run = all_ten(lists)
    run.acknowledged("network", person.post.book.pages[-1].number)
    return person.more("This kiosk", "Acceptance run").pick("Sign"), run


def test_the_quality_manager_and_the_calibrator_sign_each_with_badge_and_pin() -> None:
    """Two pages, two names, one sentence; then the run is over and the guide is silent."""
    person, _ = signing()

    assert "The quality manager's badge" in person.words
    person.scan("B-106").press(*"274951", "keep")
    assert "The calibrator's badge" in person.words
    person.scan("B-105").press(*"274951", "keep")

    signed = [page for page in person.post.book.pages if isinstance(page.act, AcceptanceSigned)]
    begun_at = next(page for page in person.post.book.pages if isinstance(page.act, AcceptanceBegun))
    assert [page.person for page in signed] == ["P-106", "P-105"]
    for page in signed:
        act = page.act
        assert isinstance(act, AcceptanceSigned)
        assert act.signature is not None
        assert act.begun == begun_at.ref
        assert len(act.results) == len(Task)
    assert person.steps.guide() is None


@pytest.mark.parametrize("badge", ["B-101", "B-105"])
def test_nobody_but_who_the_lists_name_signs(badge: str) -> None:
    """An operator is no quality manager, and the calibrator signs as the second one."""
    person, _ = signing()

    person.scan(badge)

    assert "is not named as quality manager" in person.words
    assert Mark.LOOK in person.marks


def test_a_wrong_pin_signs_nothing() -> None:
    """The run waits for the right one."""
    person, _ = signing()

    person.scan("B-106").press(*"111111", "keep")

    assert not any(isinstance(page.act, AcceptanceSigned) for page in person.post.book.pages)


def test_it_is_carried_after_the_tenth_reading_or_not_at_all() -> None:
    """A receipt that reaches to an earlier page proves nothing of the run."""
    person, run = begun()
    first_five(person)
    run.acknowledged("network", person.post.book.pages[-1].number)
    power(person)
    last_four(person)
    dropped(person)
    last = person.post.book.pages[-1].number

    run.acknowledged("network", last - 2)
    assert run.carried == set()
    run.acknowledged("network", last)
    assert run.carried == {"network"}


def test_one_person_never_signs_twice_though_he_is_both() -> None:
    """Two roles are two persons."""
    both = Qualification(person="P-106", operation="*", level=Level.CALIBRATOR, valid_from=date(2024, 1, 8))
    person, _ = signing(training_lists(qualifications=(*training_lists().qualifications, both)))
    person.scan("B-106").press(*"274951", "keep")

    person.scan("B-106")

    assert "P-106 signed already" in person.words
    assert sum(isinstance(page.act, AcceptanceSigned) for page in person.post.book.pages) == 1


def test_what_turns_wrong_before_the_pin_is_keyed_is_not_signed() -> None:
    """The results are read again at the moment of signing."""
    person, run = signing()
    pages = person.post.book.pages
    place = next(at for at, page in enumerate(pages) if page.act.kind == "reading")
    pages[place] = pages[place].model_copy(update={"act": pages[place].act.model_copy(update={"verdict": Verdict.OUT})})

    person.scan("B-106").press(*"274951", "keep")

    assert not run.is_all_right
    assert not any(isinstance(page.act, AcceptanceSigned) for page in pages)
    assert "STOP Not as expected" in person.words


def test_a_dropped_gauge_must_be_told_as_dropped() -> None:
    """A reading flagged for another reason does not show that the drop was heeded (X05)."""
    person, run = all_ten()
    pages = person.post.book.pages
    place = max(at for at, page in enumerate(pages) if page.act.kind == "reading")
    pages[place] = pages[place].model_copy(update={"act": pages[place].act.model_copy(update={"reasons": ("X04",)})})

    assert not run.results()[-1].is_as_expected


def watched(person: AtAScreen, read: list[int]) -> Run:
    """Start the kiosk's program again; what is read of the book from then on is noted."""

    def pages_from(number: int) -> tuple[Page, ...]:
        read.append(number)
        return tuple(person.post.book.pages[number - 1 :])

    run = Run(person.steps, pages_from, person.post.book.pages)
    offer(person.steps, run)
    return run


def test_a_run_that_was_left_is_over_and_costs_no_screen_anything() -> None:
    """Nobody signs for ten readings of last month, and no screen reads months of pages."""
    person, _ = begun()
    first_five(person)
    read: list[int] = []
    run = watched(person, read)
    assert person.steps.guide() is not None

    for _ in range(251):
        person.post.work.report_incident("G-107")
    read.clear()

    assert person.steps.guide() is None
    assert run.begun is None
    assert read == []


def test_after_both_signatures_no_page_is_read_again() -> None:
    """The work of every day after it is as fast as before it."""
    person, _ = signing()
    for badge in ("B-106", "B-105"):
        person.scan(badge).press(*"274951", "keep")
    read: list[int] = []
    watched(person, read)
    assert person.steps.guide() is None
    read.clear()

    assert person.steps.guide() is None
    assert read == []
