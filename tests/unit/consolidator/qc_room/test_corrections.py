"""Corrections: which signatures and which re-measure each needs, and from when it works."""

from datetime import UTC, datetime

import pytest

from consolidator.authority import Weight, weight_of
from consolidator.desk.seconds import second_sign
from consolidator.errors import DeskRefused
from consolidator.qc_room.corrections import Wanted, correct, order_re_measure, state_of, verdict_of
from kiosk.lists import Lists
from kiosk.pages import Page
from kiosk.pages.readings import Correction, Reading
from kiosk.pages.words import KeyedAs, SampleKind, Standing, Verdict
from tests.unit.consolidator.desk.small_desk import SmallDesk


def _sample(small: SmallDesk) -> Page:
    """Keep five shank diameters by P-101 with G-108, the third .3128 (limits .3120 to .3125), and return the third."""
    small.to("2026-03-16 09:31")
    keyed = (".31230", ".31225", ".3128", ".31235", ".31225")
    pages = [small.read(text, piece=piece, gauge="G-108") for piece, text in enumerate(keyed, 1)]
    small.to("2026-03-16 15:10")
    return pages[2]


def _again(small: SmallDesk, page: Page, keyed: str = "0", **more: object) -> Page:
    """Measure piece 3 again with snap gauge G-221 on its master M-14 (.31225)."""
    told = {
        "gauge": "G-221", "master": "M-14", "keyed_as": KeyedAs.DEVIATION, "sample_kind": SampleKind.RE_MEASURE,
        "re_measure_of": page.ref, "piece": 3, "sample": 2,
    }  # fmt: skip
    return small.read(keyed, "P-104", **{**told, **more})


def _wanted(page: Page, new: str = ".3123", **more: str) -> Wanted:
    told = {"field": "value", "reason": "keyed wrong", "words": "keyed 8 for 3", **more}
    return Wanted(page.ref, told["field"], new, told["reason"], told["words"])


def test_fail_to_pass_waits_for_second_signature_and_re_measure_in_any_order_of_the_day(small: SmallDesk) -> None:
    """Out stays out until reason, two signatures and the re-measure are in; then it works from the last of them.

    By hand: 15:10 entered by P-106, 15:25 signed by P-108, 15:40 measured by P-104 as .31225 + 0 = .31225, inside.
    """
    page = _sample(small)
    done = correct(small.desk, small.by("P-106"), _wanted(page))
    assert done.notes == ("Bad to good: waiting for second signature and re-measure.",)

    with pytest.raises(DeskRefused, match="X69"):
        second_sign(small.desk, done.page.ref, small.second("P-101", done.page.ref))
    assert small.refusals()[-1].by_rule == "X69"

    small.to("2026-03-16 15:25")
    second_sign(small.desk, done.page.ref, small.second("P-108", done.page.ref))
    state = state_of(small.desk, done.page.ref)
    assert (state.words, state.is_effective) == ("waiting for re-measure", False)

    small.to("2026-03-16 15:40")
    again = _again(small, page)
    state = state_of(small.desk, done.page.ref)

    assert state.words == "in effect"
    assert state.signed_by == ("P-106", "P-108")
    assert state.re_measured_by == (again.ref,)
    # 2026-03-16 15:40 −04:00 is 19:40 UTC; milliseconds from a calendar, by hand: 1773690000 s since 1970.
    assert state.effective_ms == 1_773_690_000_000
    act = done.page.act
    assert isinstance(act, Correction) and (act.old, act.new) == (".3128", ".3123")


def test_re_measure_that_is_bad_or_blocked_or_of_another_piece_changes_nothing(small: SmallDesk) -> None:
    """Only the same piece, good, with evidence that counts, bears a correction out."""
    page = _sample(small)
    done = correct(small.desk, small.by("P-106"), _wanted(page))
    second_sign(small.desk, done.page.ref, small.second("P-108", done.page.ref))
    _again(small, page, standing=Standing.BLOCKED)
    _again(small, page, piece=4)
    assert state_of(small.desk, done.page.ref).waits_for == ("re-measure",)

    # .31225 + .00030 = .31255 is over .3125: out, and one bad re-measure speaks against it for good.
    _again(small, page, keyed="+.00030")
    _again(small, page)

    assert state_of(small.desk, done.page.ref).waits_for == ("re-measure",)


def test_lost_piece_takes_a_fresh_sample_of_twice_the_size_all_good(small: SmallDesk) -> None:
    """Five are planned (deck, BC1), so ten fresh pieces are needed; nine are not enough."""
    page = _sample(small)
    done = correct(small.desk, small.by("P-106"), _wanted(page))
    second_sign(small.desk, done.page.ref, small.second("P-108", done.page.ref))
    for piece in range(11, 20):
        _again(small, page, piece=piece)
    assert not state_of(small.desk, done.page.ref).is_effective

    _again(small, page, piece=20)

    state = state_of(small.desk, done.page.ref)
    assert state.is_effective and len(state.re_measured_by) == 10


def test_pass_to_fail_works_at_once_with_one_signature(small: SmallDesk) -> None:
    """Bad news needs nobody else."""
    page = _sample(small)
    first = small.kiosk.kept[0][0]

    done = correct(small.desk, small.by("P-104"), _wanted(first, ".3130", words="read 3 for 0 on the thimble"))

    assert done.notes == ("Good to bad: in effect.",)
    assert state_of(small.desk, done.page.ref).weight is Weight.TO_BAD
    assert page.ref != first.ref


def test_same_verdict_takes_one_signature(small: SmallDesk) -> None:
    """.31230 to .31225: in before and after."""
    _sample(small)
    first = small.kiosk.kept[0][0]

    done = correct(small.desk, small.by("P-104"), _wanted(first, ".31225", words="mistyped the last digit"))

    assert state_of(small.desk, done.page.ref).is_effective


def test_wrong_gauge_takes_two_signatures_because_it_changes_traceability(small: SmallDesk) -> None:
    """Another gauge is another chain of calibrations."""
    _sample(small)
    first = small.kiosk.kept[0][0]
    wanted = _wanted(first, "G-118", field="gauge", reason="wrong gauge", words="scanned the neighbour's gauge")
    done = correct(small.desk, small.by("P-104"), wanted)
    assert state_of(small.desk, done.page.ref).waits_for == ("second signature",)

    second_sign(small.desk, done.page.ref, small.second("P-106", done.page.ref))

    assert state_of(small.desk, done.page.ref).is_effective


def test_whoever_took_the_reading_cannot_turn_it_good(small: SmallDesk) -> None:
    """Neither of the two signatures is the taker's."""
    small.to("2026-03-16 09:31")
    page = small.read(".3128", "P-104", gauge="G-108")

    with pytest.raises(DeskRefused, match="turns his own reading good"):
        correct(small.desk, small.by("P-104"), _wanted(page))

    assert small.desk.acts_of(Correction) == []


def test_operator_may_not_correct_after_the_sample(small: SmallDesk) -> None:
    """It takes an inspector, a disposition authority or the quality manager."""
    page = _sample(small)

    with pytest.raises(DeskRefused, match="may not correct"):
        correct(small.desk, small.by("P-101"), _wanted(page))


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({"new": "1.2.3"}, "no value"),
        ({"new": ".3128"}, "already"),
        ({"new": "L-999", "field": "lot"}, "no lot"),
        ({"new": "G-999", "field": "gauge"}, "no gauge"),
        ({"new": "0", "field": "piece"}, "no piece"),
        ({"new": "x", "field": "person"}, "not corrected"),
        ({"words": "ok"}, "says nothing"),
        ({"reason": "because"}, "reason"),
    ],
)
def test_correction_that_says_nothing_usable_is_refused_and_the_refusal_is_kept(
    small: SmallDesk, more: dict[str, str], says: str
) -> None:
    """What is no value, no lot, no gauge or no reason is not kept; that it was tried is."""
    page = _sample(small)

    with pytest.raises(DeskRefused, match=says):
        correct(small.desk, small.by("P-106"), _wanted(page, **{"new": ".3123", **more}))

    assert small.desk.acts_of(Correction) == []
    assert len(small.refusals()) == 1


@pytest.mark.parametrize(
    ("before", "after", "paper", "weight"),
    [
        (Verdict.IN, Verdict.IN, False, Weight.SAME),
        (Verdict.OUT, Verdict.OUT, False, Weight.SAME),
        (Verdict.IN, Verdict.OUT, False, Weight.TO_BAD),
        (Verdict.ACCEPT, Verdict.REJECT, False, Weight.TO_BAD),
        (Verdict.OUT, Verdict.IN, False, Weight.TO_GOOD),
        (Verdict.REJECT, Verdict.ACCEPT, True, Weight.TO_GOOD),
        (Verdict.NOT_JUDGED, Verdict.IN, False, Weight.TO_GOOD),
        (Verdict.NOT_JUDGED, Verdict.IN, True, Weight.TO_JUDGED),
        (Verdict.NOT_JUDGED, Verdict.OUT, True, Weight.TO_BAD),
        (Verdict.OUT, Verdict.NOT_JUDGED, False, Weight.TO_GOOD),
        (Verdict.IN, Verdict.NOT_JUDGED, False, Weight.TO_BAD),
    ],
)
def test_weight_of_a_correction_by_what_it_changes(
    before: Verdict, after: Verdict, paper: bool, weight: Weight
) -> None:
    """Whatever takes a reject out of sight weighs as fail to pass (3.5)."""
    assert weight_of("value", before, after, is_from_paper=paper) is weight
    assert weight_of("lot", before, after) is Weight.TRACE


@pytest.mark.parametrize(
    ("keyed", "verdict"),
    # Pitch diameter = M − 3 × .02406 + .866025/24: .3198 gives .283704, .3187 gives .282604; limits .2827 to .2854.
    [(".3198", Verdict.IN), (".3187", Verdict.OUT), ("x", Verdict.NOT_JUDGED)],
)
def test_verdict_over_wires_is_computed_from_the_certified_wires(deck: Lists, keyed: str, verdict: Verdict) -> None:
    """The desk judges a new value as close of day does."""
    told = {
        "lot": "L-411", "operation": "80", "part": "B-3124", "revision": "C", "plan_version": "C1",
        "characteristic": "BC4", "sample": 1, "piece": 1, "gauge": "G-301", "master": "W-24", "keyed": ".3198",
        "keyed_as": KeyedAs.OVER_WIRES, "unit": "in", "verdict": Verdict.IN, "standing": Standing.COUNTS,
    }  # fmt: skip
    assert verdict_of(Reading.model_validate(told), keyed, deck, datetime(2026, 3, 16, tzinfo=UTC)) is verdict


@pytest.mark.parametrize(
    ("characteristic", "keyed_as", "keyed", "verdict"),
    # NOT GO ring BC6: not more than three turns (ASME B1.2); GO ring BC5: what was found is the verdict.
    [
        ("BC6", KeyedAs.TURNS, "3", Verdict.ACCEPT),
        ("BC6", KeyedAs.TURNS, "3.25", Verdict.REJECT),
        ("BC5", KeyedAs.ACCEPT_REJECT, "Reject", Verdict.REJECT),
        ("BC99", KeyedAs.VALUE, "1", Verdict.NOT_JUDGED),
    ],
)
def test_verdict_of_gauged_characteristics(
    deck: Lists, characteristic: str, keyed_as: KeyedAs, keyed: str, verdict: Verdict
) -> None:
    """Turns are held against the plan's rule; what is in no plan is not judged."""
    told = {
        "lot": "L-411", "operation": "80", "part": "B-3124", "revision": "C", "plan_version": "C1",
        "characteristic": characteristic, "sample": 1, "piece": 1, "gauge": "G-503", "keyed": keyed,
        "keyed_as": keyed_as, "unit": "turns", "verdict": Verdict.ACCEPT, "standing": Standing.COUNTS,
    }  # fmt: skip

    assert verdict_of(Reading.model_validate(told), keyed, deck, datetime(2026, 3, 16, tzinfo=UTC)) is verdict


def test_correction_of_what_is_not_held_is_refused(small: SmallDesk) -> None:
    """A reading whose kiosk has not carried yet cannot be corrected, nor a page that is no correction looked up."""
    wanted = Wanted("S99-a/1", "value", ".3123", "keyed wrong", "keyed 8 for 3")
    with pytest.raises(DeskRefused, match="not found"):
        correct(small.desk, small.by("P-106"), wanted)

    for ref in ("S99-a/1", "desk-a/1"):
        with pytest.raises(DeskRefused, match="not found"):
            state_of(small.desk, ref)


def test_ordered_re_measure_never_tells_the_old_value(small: SmallDesk) -> None:
    """Whoever measures again must not know what was found."""
    page = _sample(small)

    with pytest.raises(DeskRefused, match="old value"):
        order_re_measure(small.desk, "P-104", page.ref, "S13", "it was .3128, look again")
    done = order_re_measure(small.desk, "P-104", page.ref, "S13", "piece 3, blue tag")

    assert b".3128" not in small.content(done.page)
