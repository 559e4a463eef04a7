"""Test records at the desk: verdicts computed, pieces only of the record's own lot and set-up. Figures by hand."""

from typing import Any

import pytest

from consolidator.errors import DeskRefused, PinRefused
from consolidator.qc_room.proofs import record_test
from kiosk.pages.desk import TestRecord
from kiosk.pages.station import JobOpen, SetUpStart
from kiosk.pages.words import Verdict
from tests.unit.consolidator.desk.small_desk import SmallDesk

GOOD = ("130000", "72400", "58900")


def _begin(small: SmallDesk, set_up: str = "SU-31", lot: str = "L-411") -> None:
    act = SetUpStart(set_up=set_up, lot=lot, part="B-3124", revision="C", operation="80", set_by="P-107")
    small.keep(act, "P-107")


def _told(*results: str, **also: Any) -> dict[str, Any]:
    lot, set_up = also.get("lot", "L-411"), also.get("set_up", "SU-31")
    pieces = [{"piece": str(n), "lot": lot, "set_up": set_up, "result": r} for n, r in enumerate(results, start=1)]
    record = {"number": "TR-1", "what": "fatigue", "lot": "L-411", "part": "B-3124", "characteristic": "BC10",
              "set_up": "SU-31", "method": "plan", "frame": "F-36", "unit": "cycles", "pieces": pieces}  # fmt: skip
    return record | also


@pytest.mark.parametrize(
    ("results", "verdict", "says"),
    [
        (GOOD, Verdict.IN, "is proven from now on"),
        (("130000", "72400", "44999"), Verdict.OUT, "X56"),
        (("65000", "65000", "65000"), Verdict.IN, "is proven from now on"),
        (("65000", "65000", "64999"), Verdict.OUT, "X56"),
        (("130000", "72400"), Verdict.IN, "2 of 3 pieces"),
    ],
    ids=["87 100 on average", "one under 45 000", "exactly 65 000", "64 999.67 on average", "two of three"],
)
def test_verdicts_of_a_record_are_computed_never_typed(
    small: SmallDesk, results: tuple[str, ...], verdict: Verdict, says: str
) -> None:
    """Each at least 45 000 and 65 000 on average; what was told of the verdict is not looked at."""
    _begin(small)

    done = record_test(small.desk, small.by("P-104"), _told(*results, verdict="In tolerance"))

    act = done.page.act
    assert isinstance(act, TestRecord) and act.verdict is verdict
    assert says in done.notes[0]
    assert [p.verdict is Verdict.OUT for p in act.pieces] == [int(each) < 45000 for each in results]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"set_up": "SU-30"}, "never begun|ever begun"),
        ({"set_up": None}, "proof of a set-up"),
        ({"lot": "L-412"}, "never made L-412"),
        ({"lot": "L-999"}, "no lot of B-3124"),
        ({"characteristic": "BC99"}, "no characteristic BC99"),
        ({"pieces": []}, "names no piece"),
    ],
    ids=["a set-up nobody began", "no set-up", "a lot it never made", "an unknown lot", "an unknown characteristic",
         "no pieces"],
)  # fmt: skip
def test_a_proof_of_another_origin_is_refused_and_the_refusal_kept(
    small: SmallDesk, change: dict[str, Any], says: str
) -> None:
    """Each is refused with why and the next step, and nothing of it is kept."""
    _begin(small)

    with pytest.raises(DeskRefused, match=says) as refused:
        record_test(small.desk, small.by("P-104"), _told(*GOOD, **change))

    kept = small.refusals()[-1]
    assert (kept.what, kept.why, kept.next_step) == (refused.value.what, refused.value.why, refused.value.next_step)
    assert small.desk.acts_of(TestRecord) == []


def test_a_piece_from_another_set_up_is_refused_as_x61(small: SmallDesk) -> None:
    """The second piece was rolled on SU-30; the record is for SU-31."""
    _begin(small, "SU-30")
    _begin(small)
    told = _told(*GOOD)
    told["pieces"][1]["set_up"] = "SU-30"

    with pytest.raises(DeskRefused, match="piece 2 of L-411, SU-30") as refused:
        record_test(small.desk, small.by("P-104"), told)

    assert refused.value.by_rule == "X61"
    assert small.refusals()[-1].by_rule == "X61"


def test_a_lot_opened_on_the_set_up_is_its_own(small: SmallDesk) -> None:
    """SU-31 was begun for L-411 and ran L-412 too; a record of L-412 is a proof of it."""
    _begin(small)
    small.keep(
        JobOpen(lot="L-412", operation="80", part="B-3124", revision="C", plan_version="C1", set_up="SU-31"), "P-102"
    )

    done = record_test(small.desk, small.by("P-104"), _told(*GOOD, lot="L-412"))

    assert "proven" in done.notes[0]


def test_a_tensile_test_is_of_a_lot_and_needs_no_set_up(small: SmallDesk) -> None:
    """12 800 lbf is the least: equal is good, 12 799 is not."""
    told = _told(what="tensile", characteristic="BC9", set_up=None, unit="lbf")
    told["pieces"] = [{"piece": str(n), "lot": "L-411", "result": each} for n, each in enumerate(("12800", "12799"))]

    done = record_test(small.desk, small.by("P-104"), told)

    act = done.page.act
    assert isinstance(act, TestRecord)
    assert [piece.verdict for piece in act.pieces] == [Verdict.IN, Verdict.OUT]
    assert act.verdict is Verdict.OUT and "hold L-411" in done.notes[0]


def test_badge_alone_and_somebody_not_qualified_keep_no_record(small: SmallDesk) -> None:
    """A record that may prove a set-up takes the PIN of somebody qualified for the operation."""
    _begin(small)
    with pytest.raises(PinRefused):
        record_test(small.desk, small.by("P-104", "000111"), _told(*GOOD))
    with pytest.raises(DeskRefused, match="may not keep a test record"):
        record_test(small.desk, small.by("P-103"), _told(*GOOD))

    assert small.desk.acts_of(TestRecord) == []
