"""Dispositions: only the legal choices are offered or accepted, whatever sends them, and the count stays true."""

from dataclasses import replace

import pytest

from consolidator.desk.seconds import second_sign
from consolidator.errors import DeskRefused
from consolidator.qc_room.cautions import CAUTIONS
from consolidator.qc_room.choices import PlanAllows, Problem, choices_for
from consolidator.qc_room.dispositions import Wanted, dispose, offers, pieces_left
from kiosk.lists import Characteristic, Lists
from kiosk.lists.words import Feature
from kiosk.pages.desk import Disposition, LotShip
from kiosk.pages.words import Choice, SampleKind
from tests.unit.consolidator.desk.small_desk import SmallDesk

BOLTS = Wanted(
    Choice.SCRAP, "L-411", "dinged in the tumbler", "BC5", 35, method="sawn through the thread", witness="P-108",
    where="cage 3", tag="T-35",
)  # fmt: skip
NUTS = Wanted(Choice.RE_TAP, "L-500", "rough threads", "NC3", 12)


def _offered(small: SmallDesk, wanted: Wanted, badge: str | None = None) -> list[Choice]:
    return [offer.choice for offer in offers(small.desk, wanted, badge)]


def test_damaged_rolled_threads_are_offered_scrap_and_nothing_else(small: SmallDesk) -> None:
    """35 dinged bolts of 2 000: scrap with count, method and witness; 1 965 are left."""
    assert _offered(small, BOLTS) == [Choice.SCRAP]

    done = dispose(small.desk, small.by("P-104"), BOLTS)

    acts = [held.page.act for held in small.desk.acts()]
    assert pieces_left(2000, acts, "L-411") == 1965
    assert done.notes == (CAUTIONS[7], CAUTIONS[8])
    assert isinstance(done.page.act, Disposition) and done.page.act.part == "B-3124"


@pytest.mark.parametrize("choice", [Choice.REWORK, Choice.RE_TAP, Choice.RETURN])
def test_any_way_back_for_a_rolled_thread_is_refused_as_x62_without_naming_one(
    small: SmallDesk, choice: Choice
) -> None:
    """Whatever sends it: scrap is what is offered, and the words for a way back do not appear."""
    with pytest.raises(DeskRefused, match="Scrap") as refused:
        dispose(small.desk, small.by("P-104"), replace(BOLTS, choice=choice))

    assert refused.value.by_rule == "X62"
    assert "rework" not in str(refused.value).lower() and "repair" not in str(refused.value).lower()
    assert small.refusals()[-1].by_rule == "X62"
    assert small.desk.acts_of(Disposition) == []


def test_bad_nuts_are_scrapped_or_tapped_again_once(small: SmallDesk) -> None:
    """12 nuts: scrap or re-tap; the one that fails after it: scrap only, and a second time is X63."""
    assert _offered(small, NUTS) == [Choice.SCRAP, Choice.RE_TAP]
    done = dispose(small.desk, small.by("P-104"), NUTS)
    assert done.notes == (CAUTIONS[9],)

    again = replace(NUTS, pieces=1, reason="NOT GO entered four turns")
    assert _offered(small, again) == [Choice.SCRAP]
    with pytest.raises(DeskRefused) as refused:
        dispose(small.desk, small.by("P-104"), again)

    assert refused.value.by_rule == "X63" and "X63" in str(refused.value)


def test_other_nuts_of_the_lot_told_apart_by_tag_or_reading_may_be_tapped_again(small: SmallDesk) -> None:
    """Once per piece, not once per lot; a piece whose reading says re-tap had its once."""
    dispose(small.desk, small.by("P-104"), replace(NUTS, tag="T-1"))
    fresh = small.read("Reject", characteristic="NC3", lot="L-500", operation="30", part="N-2208", revision="A")
    tapped = small.read("Reject", characteristic="NC3", lot="L-500", sample_kind=SampleKind.RE_TAP)

    assert Choice.RE_TAP in _offered(small, replace(NUTS, tag="T-2"))
    assert Choice.RE_TAP not in _offered(small, replace(NUTS, tag="T-1"))
    assert Choice.RE_TAP in _offered(small, replace(NUTS, readings=(fresh.ref,)))
    assert Choice.RE_TAP not in _offered(small, replace(NUTS, readings=(fresh.ref, tapped.ref)))


def test_more_pieces_than_are_left_are_refused(small: SmallDesk) -> None:
    """2 000 less 35 is 1 965: 1 966 more cannot be scrapped, 1 965 can."""
    dispose(small.desk, small.by("P-104"), BOLTS)

    with pytest.raises(DeskRefused, match="1965 left"):
        dispose(small.desk, small.by("P-104"), replace(BOLTS, pieces=1966))
    dispose(small.desk, small.by("P-104"), replace(BOLTS, pieces=1965))

    assert len(small.refusals()) == 1


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"method": " "}, "method"),
        ({"witness": None}, "witness"),
        ({"witness": "P-104"}, "signs it as well"),
        ({"witness": "P-999"}, "nobody of the plant"),
        ({"pieces": 0}, "No pieces"),
        ({"reason": "ok"}, "says nothing"),
        ({"lot": "L-999"}, "register of lots"),
        ({"characteristic": "BC99"}, "none of that number"),
        ({"choice": Choice.RELEASE}, "names its evidence"),
    ],
)
def test_scrap_without_what_it_needs_is_refused_and_kept_as_a_refusal(
    small: SmallDesk, change: dict[str, object], says: str
) -> None:
    """Count, method, witness and a reason; scrap bolts have come back on the market."""
    with pytest.raises(DeskRefused, match=says):
        dispose(small.desk, small.by("P-104"), replace(BOLTS, **change))  # type: ignore[arg-type]

    assert len(small.refusals()) == 1
    assert small.desk.acts_of(Disposition) == []


def test_operator_may_not_choose_a_disposition(small: SmallDesk) -> None:
    """It takes a disposition authority or the quality manager."""
    with pytest.raises(DeskRefused, match="may not choose a disposition"):
        dispose(small.desk, small.by("P-102"), BOLTS)


def test_use_as_is_is_a_request_of_the_quality_manager_with_a_second_signature(small: SmallDesk) -> None:
    """Nobody else is offered it; it waits for a second person."""
    request = replace(BOLTS, choice=Choice.USE_AS_IS, reason="asked the design organisation by letter 17")
    assert Choice.USE_AS_IS not in _offered(small, request, "P-104")
    with pytest.raises(DeskRefused, match="may not ask the design organisation"):
        dispose(small.desk, small.by("P-104"), request)

    done = dispose(small.desk, small.by("P-106"), request)

    assert done.notes == (CAUTIONS[16], "Waits for a second signature.")
    second_sign(small.desk, done.page.ref, small.second("P-108", done.page.ref))


def _of(feature: Feature, deck: Lists) -> Characteristic:
    return deck.characteristics[0].model_copy(update={"feature": feature})


NOTHING = PlanAllows()
ALL = PlanAllows(True, True, "EI-7", "clause 4.3")
S, W, T, A, M, B = Choice.SCRAP, Choice.REWORK, Choice.RE_TAP, Choice.SORT, Choice.RE_MEASURE, Choice.RETURN
BAD = ("X23",)


@pytest.mark.parametrize(
    ("feature", "problem", "plan", "legal"),
    # The plant's table of choices, row by row (common practice, no source).
    [
        (Feature.EXTERNAL_ROLLED_THREAD, Problem(BAD), ALL, {S, A, M}),
        (Feature.EXTERNAL_ROLLED_THREAD, Problem(BAD), NOTHING, {S, A, M}),
        (Feature.FILLET, Problem(BAD), NOTHING, {S, A, M}),
        (Feature.FILLET, Problem(BAD), ALL, {S, W, A, M}),
        (Feature.GROUND_DIAMETER, Problem(BAD, is_oversize=True, is_before_rolling=True), ALL, {S, W, A, M}),
        (Feature.GROUND_DIAMETER, Problem(BAD, is_oversize=True, is_before_rolling=True), NOTHING, {S, A, M}),
        (Feature.GROUND_DIAMETER, Problem(BAD, is_oversize=True), ALL, {S, A, M}),
        (Feature.GROUND_DIAMETER, Problem(BAD, is_oversize=False, is_before_rolling=True), ALL, {S, A, M}),
        (Feature.GROUND_DIAMETER, Problem(BAD, is_before_rolling=True), ALL, {S, A, M}),
        (Feature.HARDNESS, Problem(BAD), NOTHING, {S, M}),
        (Feature.HARDNESS, Problem(BAD), ALL, {S, W, A, M}),
        (Feature.TAPPED_THREAD, Problem(BAD), ALL, {S, T, A, M}),
        (Feature.TAPPED_THREAD, Problem(BAD, re_taps_so_far=1), ALL, {S, A, M}),
        (Feature.FACE_RUNOUT, Problem(BAD), NOTHING, {S, A, M}),
        (Feature.FACE_RUNOUT, Problem(BAD), ALL, {S, W, A, M}),
        (Feature.STRENGTH, Problem(BAD), NOTHING, {S}),
        (Feature.STRENGTH, Problem(BAD), ALL, {S, M}),
        (Feature.OTHER, Problem(BAD), NOTHING, {S, A, M, B}),
    ],
)
def test_legal_choices_by_what_is_wrong(
    deck: Lists, feature: Feature, problem: Problem, plan: PlanAllows, legal: set[Choice]
) -> None:
    """No choice outside the table is ever offered; use-as-is only to the quality manager, for every feature."""
    offered = {offer.choice for offer in choices_for(_of(feature, deck), problem, plan)}
    asked = {
        offer.choice for offer in choices_for(_of(feature, deck), replace(problem, is_asked_by_manager=True), plan)
    }

    assert offered == legal
    assert asked == legal | {Choice.USE_AS_IS}


@pytest.mark.parametrize("number", [*range(1, 23), 53, 54, 58, 59, 60, 61, 65, 66, 67, 74])
def test_evidence_problem_alone_leaves_re_measure_or_release_only(deck: Lists, number: int) -> None:
    """The piece is not touched for a fault of the evidence, whatever it is of."""
    for feature in Feature:
        offered = {o.choice for o in choices_for(_of(feature, deck), Problem((f"X{number:02d}",)), ALL)}
        assert offered - {Choice.VOID_APPROVAL} == {Choice.RE_MEASURE, Choice.RELEASE}


def test_rejected_piece_measured_with_a_bad_gauge_is_disposed_as_a_reject(deck: Lists) -> None:
    """X01 beside X23: a blocked reading still accuses, so the piece may be scrapped."""
    offered = {o.choice for o in choices_for(_of(Feature.GROUND_DIAMETER, deck), Problem(("X01", "X23")))}

    assert Choice.SCRAP in offered and Choice.RELEASE not in offered


def test_cautions_stand_with_every_offer_they_belong_to(deck: Lists) -> None:
    """Rolled thread 7 and 8, scrap 8, re-tap 9, hardness 14, use-as-is 16."""

    def said(feature: Feature, choice: Choice) -> tuple[int, ...]:
        found = choices_for(_of(feature, deck), Problem(BAD, is_asked_by_manager=True), ALL)
        return next(offer.cautions for offer in found if offer.choice is choice)

    assert said(Feature.EXTERNAL_ROLLED_THREAD, Choice.SCRAP) == (7, 8)
    assert said(Feature.FACE_RUNOUT, Choice.SCRAP) == (8,)
    assert said(Feature.TAPPED_THREAD, Choice.RE_TAP) == (9,)
    assert said(Feature.HARDNESS, Choice.REWORK) == (14,)
    assert said(Feature.FILLET, Choice.USE_AS_IS) == (16,)


def test_words_offered_for_a_rolled_thread_name_no_way_back(deck: Lists) -> None:
    """Neither of the two words appears, in any choice, note or caution, not even to the quality manager."""
    found = choices_for(_of(Feature.EXTERNAL_ROLLED_THREAD, deck), Problem(BAD, is_asked_by_manager=False), ALL)
    words = " ".join(
        [*(f"{o.choice.value} {o.note}" for o in found), *(CAUTIONS[n] for o in found for n in o.cautions)]
    )

    assert "rework" not in words.lower() and "repair" not in words.lower()


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"choice": Choice.RETURN, "characteristic": "BC1"}, "none of the choices for ground diameter"),
        ({"choice": Choice.REWORK, "characteristic": "BC8"}, "none of the choices for hardness"),
        ({"exceptions": ("X01", "X13")}, "the evidence, not the piece"),
        ({"choice": Choice.ACCEPT_LATE, "characteristic": None}, "none of the choices for other"),
        ({"choice": Choice.RE_MEASURE, "exceptions": ("X01",), "where": " ", "pieces": 0}, "where the pieces are"),
    ],
)
def test_choice_that_is_not_offered_is_refused_with_what_is(
    small: SmallDesk, change: dict[str, object], says: str
) -> None:
    """The refusal names the legal choices."""
    with pytest.raises(DeskRefused, match=says) as refused:
        dispose(small.desk, small.by("P-104"), replace(BOLTS, **change))  # type: ignore[arg-type]

    assert refused.value.next_step
    assert small.desk.acts_of(Disposition) == []


def test_pages_that_came_late_may_be_accepted_late(deck: Lists) -> None:
    """X71 adds that choice to the others."""
    offered = {o.choice for o in choices_for(_of(Feature.OTHER, deck), Problem(("X71",)))}

    assert Choice.ACCEPT_LATE in offered


def test_bolts_shipped_are_no_longer_there_to_be_scrapped(small: SmallDesk) -> None:
    """2 000 less 1 990 shipped leaves 10."""
    small.keep(LotShip(lot="L-411", quantity=1990, customer="CU-1", order="O-9004"))

    with pytest.raises(DeskRefused, match="10 left"):
        dispose(small.desk, small.by("P-104"), replace(BOLTS, pieces=11))
