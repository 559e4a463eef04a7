"""A gauge study is collected at a kiosk as a job: blind, in mixed order, and nobody's earlier figure is shown."""

import pytest

from kiosk.errors import NotANumber, StepMissing, StudyRefused
from kiosk.pages.station import Refusal
from kiosk.pages.studies import GaugeStudyEnd, GaugeStudyOrder, GaugeStudyReading
from kiosk.station import Station
from kiosk.studies import collection_order
from tests.unit.kiosk.plant import LISTS, ZONE, Post

PIECES = ("p1", "p2", "p3")
PEOPLE = ("P-101", "P-102")
ORDER = GaugeStudyOrder(
    study="GS-1", gauge="G-108", characteristic="BC1 ground shank diameter", unit="in", tolerance="0.0005",
    pieces=PIECES, appraisers=PEOPLE, trials=2,
)  # fmt: skip


def ordered(**changes: object) -> Post:
    """A post at which P-104 has ordered a study; its book's filler is all zeros."""
    post = Post()
    post.work.badge_in("P-104")
    post.work.order_study(ORDER.model_copy(update=changes))
    return post


def measure(post: Post, person: str, count: int) -> list[str]:
    """Let a person measure some pieces; return what was said."""
    post.work.badge_in(person)
    said: list[str] = []
    for _ in range(count):
        turn = post.work.study_turn("GS-1")
        assert turn is not None
        said.extend(str(each) for each in post.work.key_study("GS-1", f".312{turn.place}", gauge="G-108").say)
    return said


def test_the_order_comes_from_the_order_s_own_page_and_is_blind() -> None:
    """By the rule of the order from the page's filler: each page holds place and turn, and no piece at all."""
    post = ordered()
    turns = collection_order(PIECES, PEOPLE, 2, "0" * 32)

    first = turns[0].appraiser
    measure(post, first, 3)

    pages = post.pages(GaugeStudyReading)
    assert [(page.turn, page.place) for page in pages] == [(turn.number, turn.place) for turn in turns[:3]]
    assert [page.value for page in pages] == [f"0.312{turn.place}" for turn in turns[:3]]
    assert not {name for page in pages for name in PIECES if name in page.model_dump_json()}


def test_an_appraiser_is_told_place_and_progress_and_nothing_else() -> None:
    """No figure is said again, not even his own."""
    post = ordered()

    said = measure(post, "P-101", 3)

    assert said == [f"Kept: {got} of 3 in this round." for got in (1, 2, 3)]
    with pytest.raises(StudyRefused, match="leader"):
        post.work.study_tray("GS-1", 1)


def test_the_leader_sees_how_to_lay_the_tray_of_each_round() -> None:
    """Places 1 to 3, each piece once; the next round lies otherwise or not, by the rule of the order."""
    post = ordered()
    turns = collection_order(PIECES, PEOPLE, 2, "0" * 32)

    for trial in (1, 2):
        assert dict(post.work.study_tray("GS-1", trial)) == {t.place: t.part for t in turns if t.trial == trial}


def test_a_round_begins_when_everybody_finished_the_one_before() -> None:
    """The pieces change places in between."""
    post = ordered()
    measure(post, "P-101", 3)

    with pytest.raises(StudyRefused, match="round 2 has not begun"):
        post.work.study_turn("GS-1")

    measure(post, "P-102", 3)
    assert measure(post, "P-101", 3)[-1] == "Kept: 3 of 3 in this round."
    assert post.work.study_turn("GS-1") is None


def test_a_slip_is_keyed_anew_and_both_keyings_stay() -> None:
    """The later page names the earlier one; the turn after it is the next one, not the same again."""
    post = ordered()
    measure(post, "P-101", 2)

    post.work.key_study("GS-1", ".3129", gauge="G-108", anew=True)

    one, two, anew = post.pages(GaugeStudyReading)
    page_of_two = next(page.number for page in post.book.pages if page.act is two)
    assert (anew.turn, anew.place, anew.replaces) == (two.turn, two.place, page_of_two)
    assert one.turn != two.turn
    assert sum(len(each.taken) for each in post.work.state.studies) == 2


def test_a_power_cut_loses_nothing_of_a_study() -> None:
    """The state is made from the pages again."""
    post = ordered()
    measure(post, "P-101", 2)

    again = Station(post.book, LISTS, number="S12", clock=post.clock, zone=ZONE, pages=post.book.pages)

    assert again.study_turn("GS-1") == post.work.study_turn("GS-1")
    assert again.state.studies == post.work.state.studies


def test_a_short_study_is_ended_by_its_leader_with_a_reason() -> None:
    """Two of twelve measured."""
    post = ordered()
    measure(post, "P-101", 2)
    with pytest.raises(StudyRefused):
        post.work.end_study("GS-1", why_short="weekend")
    post.work.badge_in("P-104")
    with pytest.raises(StudyRefused, match="2 of 12"):
        post.work.end_study("GS-1")

    post.work.end_study("GS-1", why_short="the gauge was knocked")

    (end,) = post.pages(GaugeStudyEnd)
    assert (end.planned, end.got, end.why_short) == (12, 2, "the gauge was knocked")
    with pytest.raises(StudyRefused, match="is open here"):
        post.work.study_turn("GS-1")


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"appraisers": ("P-101", "P-104")}, "he does not measure"),
        ({"gauge": "G-999"}, "not on this kiosk's lists"),
        ({"unit": "mm"}, "does not read in mm"),
        ({"pieces": ("p1", "p1")}, "named twice"),
        ({"appraisers": ("P-101", "P-101")}, "named twice"),
    ],
)
def test_a_study_that_cannot_be_is_refused_with_a_page(changes: dict[str, object], why: str) -> None:
    """Before the first piece is laid out."""
    post = Post()
    post.work.badge_in("P-104")

    with pytest.raises(StudyRefused, match=why):
        post.work.order_study(ORDER.model_copy(update=changes))

    assert len(post.pages(Refusal)) == 1
    assert post.work.state.studies == ()


def test_one_number_is_one_open_study() -> None:
    """Ordered twice, it is refused."""
    post = ordered()

    with pytest.raises(StudyRefused, match="of this number is open"):
        post.work.order_study(ORDER)


def test_nobody_orders_without_a_badge() -> None:
    """A study has a leader."""
    with pytest.raises(StepMissing):
        Post().work.order_study(ORDER)


def test_who_is_no_appraiser_or_has_another_gauge_or_no_figure_is_refused() -> None:
    """Nothing of it is kept as a study reading."""
    post = ordered()
    with pytest.raises(StudyRefused, match="no appraiser"):
        post.work.key_study("GS-1", ".3122", gauge="G-108")
    post.work.badge_in("P-101")

    with pytest.raises(StudyRefused, match="not the gauge of this study"):
        post.work.key_study("GS-1", ".3122", gauge="G-107")
    with pytest.raises(NotANumber):
        post.work.key_study("GS-1", "3..1", gauge="G-108")
    with pytest.raises(StudyRefused, match="nothing is left"):
        post.work.key_study("GS-1", ".3122", gauge="G-108", anew=True)

    assert post.pages(GaugeStudyReading) == []
