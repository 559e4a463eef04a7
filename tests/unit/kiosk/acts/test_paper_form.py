"""Figures written on paper while the kiosk was down are keyed in, as such, and read back by a second person."""

import pytest

from kiosk.acts import WAYS, Steps
from kiosk.pages.readings import Reading
from kiosk.pages.station import BadgeIn
from kiosk.pages.words import Source
from kiosk.settings import Settings
from tests.unit.kiosk.acts.at_a_screen import AtAScreen, measuring

TAKEN_AT = "2026-03-09T08:30:00.000-04:00"
"""Half past eight on the morning the stations of these tests begin; New York is at -04:00 from 8 March 2026."""


def with_form(taken: str = "0830") -> AtAScreen:
    """Begin form F-12: measured this morning by P-102, read back by P-104; its gauge is scanned."""
    at = measuring().more("Another kind of sample", "Key a paper form").pick("BC1").scan("F-12").pick("Today")
    return at.key(taken).scan("B-102", "B-104", "G-108")


def test_a_form_s_figures_are_kept_as_from_paper_with_everybody_s_part() -> None:
    """Form, time and person stand in the page; who keys it is the page's own person; nobody took over."""
    at = with_form()
    assert at.steps.shown.title.startswith("Form F-12.")

    at.key(".3122").key(".3124")

    acts = at.post.pages(Reading)
    assert [(act.source, act.paper_form, act.paper_taken_at) for act in acts] == [(Source.PAPER, "F-12", TAKEN_AT)] * 2
    assert {(act.taken_by, act.read_back_by) for act in acts} == {("P-102", "P-104")}
    assert at.steps.work.state.person == "P-101"
    assert len(at.post.pages(BadgeIn)) == 1


def test_a_form_begun_goes_on_as_a_form_after_a_power_cut() -> None:
    """Two figures before, one after: all three from paper; the pages say it, not the screen's memory."""
    at = with_form().key(".3122").key(".3124")

    at.steps = Steps(at.post.work, at.post.clock, WAYS, Settings())
    at.key(".3123")

    assert [act.paper_form for act in at.post.pages(Reading)] == ["F-12"] * 3


def test_a_sample_after_a_form_is_measured_now() -> None:
    """The form's sample is ended short; the next one of the same characteristic has no form."""
    at = with_form().key(".3122").more("This sample", "End this sample short")

    at.pick("BC1").scan("G-108").key(".3123")

    assert [act.paper_form for act in at.post.pages(Reading)] == ["F-12", None]


def test_a_form_left_before_its_first_figure_does_not_stick_to_another_kind_of_sample() -> None:
    """Back to the choice, then a referee sample: it gets the number of the sample that held nothing, not its form."""
    at = with_form()
    at.steps.press("pick back")

    at.more("Another kind of sample", "First, last, referee").pick("BC1", "Referee").key(".3123")

    assert [act.paper_form for act in at.post.pages(Reading)] == [None]


@pytest.mark.parametrize("keyed", ["93", "2575", "1030"])
def test_what_is_no_time_of_that_day_before_now_is_asked_for_again(keyed: str) -> None:
    """Two digits, no clock's time, an hour and a half ahead."""
    at = measuring().more("Another kind of sample", "Key a paper form").pick("BC1").scan("F-12").pick("Today")

    at.key(keyed)

    assert "Look again and key four digits" in at.words
    assert at.steps.shown.title.startswith("At what time?")


def test_digits_do_for_the_form_and_for_who_measured_and_nobody_need_be_there_to_read_back() -> None:
    """A number pad alone is enough; what is still wanted is said."""
    at = measuring().more("Another kind of sample", "Key a paper form").pick("BC1").key("12").pick("Yesterday")

    at.key("2315").key("102").pick("Nobody is here").scan("G-108").key(".3123")

    act = at.post.pages(Reading)[0]
    assert (act.paper_form, act.taken_by, act.read_back_by) == ("12", "P-102", None)
    assert act.paper_taken_at == "2026-03-08T23:15:00.000-04:00"
    assert "still has to read this back" in at.words


def test_who_keys_a_form_does_not_read_it_back_to_himself() -> None:
    """Two persons, two pairs of eyes: nothing is kept."""
    at = measuring().more("Another kind of sample", "Key a paper form").pick("BC1").scan("F-12").pick("Today")

    at.key("0830").scan("B-102", "B-101", "G-108").key(".3122")

    assert at.post.pages(Reading) == []
    assert "the same person keyed and read back" in at.words
