"""What closes X42, X56, X57, X61 to X64 and X69: the page that settles it, of that lot or set-up, never a statement."""

import pytest

from consolidator.desk.seconds import second_sign
from consolidator.errors import DeskRefused
from consolidator.qc_room.exceptions import Closing, close_exception
from consolidator.qc_room.lots import OpenException
from kiosk.pages import Page
from kiosk.pages.desk import Disposition, PagesLost, TestRecord
from kiosk.pages.station import PieceCount, SetUpChange
from kiosk.pages.words import Choice, Verdict
from tests.unit.consolidator.desk.small_desk import SmallDesk


def _open(number: str, cause: str, *lots: str) -> OpenException:
    urgency = "A" if number in ("X56", "X61", "X62") else "B"
    return OpenException(f"{number}:{cause}:2026-03-16", number, urgency, cause=cause, lots=lots)


def _tested(small: SmallDesk, lot: str, set_up: str, verdict: Verdict) -> Page:
    piece = {"piece": "1", "lot": lot, "set_up": set_up, "result": "130000", "verdict": verdict}
    record = TestRecord.model_validate(
        {"number": "TR-9", "what": "fatigue", "lot": lot, "part": "B-3124", "characteristic": "BC10",
         "set_up": set_up, "method": "plan", "frame": "F-36", "unit": "cycles", "pieces": [piece], "verdict": verdict}
    )  # fmt: skip
    return small.desk.keep(record, "P-104")


def _disposed(small: SmallDesk, lot: str, choice: Choice = Choice.SCRAP) -> Page:
    return small.desk.keep(
        Disposition(choice=choice, lot=lot, part="B-3124", pieces=5, reason="looked into it"), "P-104"
    )


def _close(small: SmallDesk, which: OpenException, *pages: Page) -> None:
    closing = Closing("looked into it on the floor", tuple(page.ref for page in pages), operation="80")
    close_exception(small.desk, small.by("P-106"), which, closing)


@pytest.mark.parametrize(
    ("set_up", "verdict", "closes"),
    [("SU-31", Verdict.IN, True), ("SU-31", Verdict.OUT, False), ("SU-30", Verdict.IN, False)],
    ids=["its own, passed", "its own, failed", "another set-up"],
)
def test_a_changed_set_up_closes_on_its_own_new_proof_only(
    small: SmallDesk, set_up: str, verdict: Verdict, closes: bool
) -> None:
    """X57: new first piece and new proof; a failed record or one of another set-up settles nothing."""
    page = _tested(small, "L-411", set_up, verdict)

    if closes:
        _close(small, _open("X57", "SU-31"), page)
    else:
        with pytest.raises(DeskRefused, match="statement alone"):
            _close(small, _open("X57", "SU-31"), page)


def test_a_failed_proof_closes_on_a_disposition_of_every_lot(small: SmallDesk) -> None:
    """X56: L-411 and L-412 were rolled on the set-up; one disposition is not enough, and the refusal is kept."""
    which = _open("X56", "SU-31", "L-411", "L-412")
    first = _disposed(small, "L-411")
    with pytest.raises(DeskRefused, match="L-412") as refused:
        _close(small, which, first)
    assert small.refusals()[-1].why == refused.value.why

    _close(small, which, first, _disposed(small, "L-412"))


@pytest.mark.parametrize(("lot", "closes"), [("L-411", True), ("L-412", False)])
def test_a_foreign_test_piece_closes_on_a_new_test_of_the_lot(small: SmallDesk, lot: str, closes: bool) -> None:
    """X61: the new record is of that lot."""
    page = _tested(small, lot, "SU-31", Verdict.IN)

    if closes:
        _close(small, _open("X61", "L-411"), page)
    else:
        with pytest.raises(DeskRefused, match="statement alone"):
            _close(small, _open("X61", "L-411"), page)


@pytest.mark.parametrize("number", ["X62", "X63"])
def test_pieces_worked_on_again_end_as_scrap_and_as_nothing_else(small: SmallDesk, number: str) -> None:
    """A rolled thread worked on again, or a nut tapped too often, is destroyed; sorting it closes nothing."""
    which = _open(number, "L-411")
    for page in (_disposed(small, "L-411", Choice.SORT), _disposed(small, "L-412")):
        with pytest.raises(DeskRefused, match="statement alone"):
            _close(small, which, page)

    _close(small, which, _disposed(small, "L-411"))


@pytest.mark.parametrize(("good", "closes"), [(1990, True), (1989, False)])
def test_pieces_that_did_not_add_up_close_on_a_recount_that_does(small: SmallDesk, good: int, closes: bool) -> None:
    """X42: 2 000 in; 1 990 good, 5 scrap, 3 test and 2 in hand are 2 000; one fewer is not."""
    count = PieceCount(lot="L-411", operation="80", pieces_in=2000, good=good, scrap=5, test=3, in_hand=2)
    page = small.keep(count, "P-102")

    if closes:
        _close(small, _open("X42", "L-411"), page)
    else:
        with pytest.raises(DeskRefused, match="statement alone"):
            _close(small, _open("X42", "L-411"), page)


def test_a_signature_that_did_not_stand_closes_on_the_one_that_took_its_place(small: SmallDesk) -> None:
    """X69: a different, authorised person signs; where nobody will, the manager's written judgement says so."""
    which = _open("X69", "desk")
    with pytest.raises(DeskRefused, match="second signature or evaluation"):
        _close(small, which)
    proposal = small.desk.keep(PagesLost(series="S12-a", first=900, last=903, reason="burnt out"), "P-104")

    _close(small, which, second_sign(small.desk, proposal.ref, small.second("P-108", proposal.ref)).page)


def test_dies_past_their_life_close_on_the_change_of_dies(small: SmallDesk) -> None:
    """X64: the page of the change is named; that the lead says so is not enough."""
    which = _open("X64", "SU-31")
    with pytest.raises(DeskRefused, match="set-up change"):
        _close(small, which)

    _close(small, which, small.keep(SetUpChange(set_up="SU-31", what="die change"), "P-107"))
