"""Exceptions: closed with a reason and evidence by who may, released by two, declared by two; notices tell facts."""

from dataclasses import replace

import pytest

from consolidator.desk.desk import Second
from consolidator.desk.seconds import second_sign
from consolidator.desk.signatures import Seen
from consolidator.errors import DeskRefused
from consolidator.qc_room.cautions import CAUTIONS
from consolidator.qc_room.declarations import declare_lost, seal_page
from consolidator.qc_room.exceptions import (
    Closing,
    NoticeFacts,
    close_exception,
    closers_of,
    evaluate,
    prepare_notice,
    take_step,
)
from consolidator.qc_room.lots import OpenException
from consolidator.qc_room.releases import release
from consolidator.rules import KINDS
from kiosk.lists.words import Level
from kiosk.pages import Page
from kiosk.pages.desk import (
    Calibration,
    CalibrationPoint,
    CustomerNotice,
    Evaluation,
    ExceptionClose,
    ExceptionStep,
    LotShip,
    PagesLost,
    Release,
    Seal,
    SecondSignature,
)
from kiosk.pages.readings import Check
from kiosk.pages.words import CheckKind, CheckVerdict, SealWord
from tests.unit.consolidator.desk.small_desk import SmallDesk

DROPPED = OpenException("X06:G-220:2026-03-16", "X06", "B", cause="G-220")


def _found(small: SmallDesk, verdict: str = "Good", gauge: str = "G-220") -> Page:
    """Keep a calibration page as the calibration room does."""
    error = "0.00000" if verdict == "Good" else "0.00030"
    act = Calibration(
        gauge=gauge, done_at="2026-03-16T13:00:00.000-04:00", masters=("M-02",), procedure="C-2", unit="in",
        points=(CalibrationPoint(at="0.000", permissible="0.00005", as_found=error, as_left="0.00000"),),
        as_found=verdict, as_left="Good",
    )  # fmt: skip
    return small.desk.keep(act, "P-105")


def test_doubt_after_a_drop_closes_by_one_signature_of_the_calibrator_on_a_good_as_found(small: SmallDesk) -> None:
    """One signature closes all 25 readings, for they are one exception."""
    small.to("2026-03-16 13:05")
    evidence = _found(small)

    done = close_exception(small.desk, small.by("P-105"), DROPPED, Closing("as-found good", (evidence.ref,)))

    assert isinstance(done.page.act, ExceptionClose) and done.notes == ()
    with pytest.raises(DeskRefused, match="signed already"):
        close_exception(small.desk, small.by("P-104"), DROPPED, Closing("as-found good", (evidence.ref,)))


def test_doubt_is_not_closed_by_a_statement_a_bad_as_found_or_another_gauge(small: SmallDesk) -> None:
    """What closes X06 is a good as-found of that gauge."""
    small.to("2026-03-16 13:05")
    for evidence in ((), (_found(small, "Out").ref,), (_found(small, gauge="G-221").ref,)):
        with pytest.raises(DeskRefused, match="statement alone"):
            close_exception(small.desk, small.by("P-105"), DROPPED, Closing("as-found good", evidence))

    assert small.desk.acts_of(ExceptionClose) == []


@pytest.mark.parametrize("number", ["X09", "X10", "X11", "X12", "X21", "X36", "X60", "X81", "X82"])
def test_what_hangs_on_a_gauge_s_upkeep_is_not_closed_by_a_statement(small: SmallDesk, number: str) -> None:
    """Each takes the page of what closes it: a check, a calibration, a release, readings taken again."""
    which = OpenException(f"{number}:G-220:2026-03-16", number, "B", cause="G-220")

    with pytest.raises(DeskRefused, match="statement alone"):
        close_exception(small.desk, small.by("P-106"), which, Closing("looked into it on the floor", operation="60"))


@pytest.mark.parametrize(("verdict", "closes"), [("Good", True), ("Failed", False)])
def test_a_late_zero_check_is_closed_on_the_next_good_one(small: SmallDesk, verdict: str, closes: bool) -> None:
    """X11 does not close by itself: somebody signs, and names the check."""
    small.to("2026-03-16 13:05")
    check = Check(
        check_kind=CheckKind.ZERO, gauge="G-220", keyed="0", unit="in", error="0", limit="0.00005",
        verdict=CheckVerdict(verdict),
    )  # fmt: skip
    page = small.desk.keep(check, "P-101")
    which = OpenException("X11:G-220:2026-03-16", "X11", "C", cause="G-220")
    closing = Closing("zeroed and checked good", (page.ref,))

    if closes:
        assert isinstance(close_exception(small.desk, small.by("P-104"), which, closing).page.act, ExceptionClose)
    else:
        with pytest.raises(DeskRefused, match="statement alone"):
            close_exception(small.desk, small.by("P-104"), which, closing)


def test_two_places_are_closed_by_naming_the_wrong_reading(small: SmallDesk) -> None:
    """X14 and X67: a reading of that gauge, or taken at those stations; the desk says what becomes of it."""
    page, strange = small.read(".3122"), small.keep(_good_check())
    gauge = OpenException("X14:G-108:2026-03-16", "X14", "B", cause=str(page.act.gauge))  # type: ignore[union-attr]
    badge = OpenException("X67:S12 and S13:2026-03-16", "X67", "B", cause="S12 and S13")

    for evidence, says in (((), "no reading as wrong"), ((strange.ref,), "is no reading of")):
        with pytest.raises(DeskRefused, match=says):
            close_exception(small.desk, small.by("P-104"), gauge, Closing("it was at S12 all day", evidence))
    other = OpenException("X14:G-999:2026-03-16", "X14", "B", cause="G-999")
    with pytest.raises(DeskRefused, match="is no reading of G-999"):
        close_exception(small.desk, small.by("P-104"), other, Closing("it was at S12 all day", (page.ref,)))

    for which in (gauge, badge):
        done = close_exception(small.desk, small.by("P-104"), which, Closing("it was at S13 all day", (page.ref,)))
        assert "Blocked when the day is closed again" in done.notes[0]


def test_two_places_where_nothing_was_wrong_name_no_reading(small: SmallDesk) -> None:
    """Both were true: nothing is named and nothing is blocked."""
    which = OpenException("X14:G-108:2026-03-16", "X14", "B", cause="G-108")
    closing = Closing("handed over at the wall between them", was_nothing_wrong=True)

    assert close_exception(small.desk, small.by("P-104"), which, closing).notes == ()


def _good_check() -> Check:
    return Check(
        check_kind=CheckKind.ZERO, gauge="G-220", keyed="0", unit="in", error="0", limit="0.00005",
        verdict=CheckVerdict.GOOD,
    )  # fmt: skip


@pytest.mark.parametrize(
    "reason", ["ok", "OK.", "done", "", "        ", "okokokokok", "........", "12345678", "n/a n/a"]
)
def test_closing_that_says_nothing_is_refused(small: SmallDesk, reason: str) -> None:
    """`ok` alone is the commonest way to lose a record."""
    which = OpenException("X11:G-220:2026-03-16", "X11", "C")

    with pytest.raises(DeskRefused, match="says nothing"):
        close_exception(small.desk, small.by("P-104"), which, Closing(reason))


@pytest.mark.parametrize(
    ("number", "says"), [("X55", "its proof passes"), ("X72", "its pages arrive"), ("X70", "heard")]
)
def test_what_closes_by_its_course_is_not_closed_by_hand(small: SmallDesk, number: str, says: str) -> None:
    """X55 waits for its proof; X70 and X72 for the pages, or for the page that declares them lost."""
    which = OpenException(f"{number}:S12-a:2026-03-16", number, "B")
    closing = Closing("looked into it on the floor", operation="80")

    with pytest.raises(DeskRefused, match=says):
        close_exception(small.desk, small.by("P-106"), which, closing)


def test_urgency_a_stays_open_until_a_second_person_signs(small: SmallDesk) -> None:
    """An A exception takes two."""
    which = OpenException("X34:S12-a:2026-03-16", "X34", "A")
    done = close_exception(small.desk, small.by("P-106"), which, Closing("two panels bore one series; one withdrawn"))
    assert "second person" in done.notes[0]

    second = second_sign(small.desk, done.page.ref, small.second("P-108", done.page.ref))

    assert second.page.person == "P-108"


def test_who_may_close_follows_who_acts() -> None:
    """By the word of each kind; where the quality manager acts, only he closes."""
    assert closers_of(KINDS["X34"]) == (Level.QUALITY_MANAGER,)
    assert closers_of(KINDS["X56"]) == (Level.QUALITY_MANAGER,)
    assert Level.CALIBRATOR in closers_of(KINDS["X06"]) and Level.OPERATOR not in closers_of(KINDS["X06"])
    assert Level.LEAD in closers_of(KINDS["X11"]) and Level.CALIBRATOR not in closers_of(KINDS["X11"])
    assert all(closers_of(kind) for kind in KINDS.values())


def test_operator_does_not_close_what_quality_must(small: SmallDesk) -> None:
    """Authority is looked up for the kind."""
    with pytest.raises(DeskRefused, match="may not close"):
        close_exception(
            small.desk, small.by("P-102"), OpenException("X20:L-411", "X20", "C"), Closing("read between two lines")
        )


def test_steps_need_what_they_are_about(small: SmallDesk) -> None:
    """Mine needs nothing; a note needs words; handing over needs a person, asking a station, joining another line."""
    key = DROPPED.key
    assert take_step(small.desk, "P-102", ExceptionStep(exception=key, step="mine")).page.person == "P-102"
    for step in (
        ExceptionStep(exception=key, step="note"),
        ExceptionStep(exception=key, step="hand over", to="P-999"),
        ExceptionStep(exception=key, step="ask the floor", to="S99", words="which drawer?"),
        ExceptionStep(exception=key, step="join", to=key),
        ExceptionStep(exception=key, step="join"),
    ):
        with pytest.raises(DeskRefused):
            take_step(small.desk, "P-104", step)
    take_step(small.desk, "P-104", ExceptionStep(exception=key, step="hand over", to="P-105"))
    take_step(small.desk, "P-104", ExceptionStep(exception=key, step="ask the floor", to="S12", words="which drawer?"))

    assert len(small.refusals()) == 5


def test_evaluation_names_what_it_judges_and_says_something(small: SmallDesk) -> None:
    """A written judgement by who may."""
    with pytest.raises(DeskRefused, match="no known lot or no exception"):
        evaluate(small.desk, small.by("P-104"), Evaluation(lot="L-411", exceptions=(), words="the gap held 40 pieces"))
    with pytest.raises(DeskRefused, match="says nothing"):
        evaluate(small.desk, small.by("P-104"), Evaluation(lot="L-411", exceptions=("X39",), words="fine"))

    words = "40 pieces of the gap sorted, all in"
    done = evaluate(small.desk, small.by("P-104"), Evaluation(lot="L-411", exceptions=("X39",), words=words))

    assert isinstance(done.page.act, Evaluation) and done.page.act.signature is not None


def test_customer_notice_tells_facts_of_what_was_shipped_and_nothing_else(small: SmallDesk) -> None:
    """Lot, quantity, dates, characteristic, size and direction of the error; the manager decides and sends."""
    facts = NoticeFacts("L-388", 2000, "2026-02-02", "2026-01-10", "2026-01-14", "BC2", "0.0003 in", "reads high")
    with pytest.raises(DeskRefused, match="Nothing of it was shipped"):
        prepare_notice(small.desk, "P-106", facts)
    small.keep(LotShip(lot="L-388", quantity=2000, customer="CU-1", order="O-9002"))
    with pytest.raises(DeskRefused, match="Missing: error"):
        prepare_notice(small.desk, "P-106", replace(facts, error=""))
    with pytest.raises(DeskRefused, match="may not prepare"):
        prepare_notice(small.desk, "P-104", facts)

    done = prepare_notice(small.desk, "P-106", facts)

    act = done.page.act
    assert isinstance(act, CustomerNotice) and act.customer == "CU-1" and act.sent_at is None
    assert act.facts == (
        "Lot L-388, 2000 pieces shipped 2026-02-02, made 2026-01-10 to 2026-01-14. "
        "Characteristic BC2: the gauge was found in error by 0.0003 in, it reads high."
    )
    assert done.notes == (CAUTIONS[17],)


def _blocked(small: SmallDesk) -> tuple[Page, Page]:
    """Keep a reading of 10:40 and the good as-found of 13:00."""
    small.to("2026-03-16 10:40")
    page = small.read("0.31225", gauge="G-220")
    small.to("2026-03-16 13:00")
    return page, _found(small)


def _release(small: SmallDesk, person: str, readings: list[str], evidence: list[str], **more: object) -> Page:
    act = {"readings": readings, "evidence": evidence, "reason": "found good as-found"}
    return release(small.desk, small.by(person), act, **more).page  # type: ignore[arg-type]


def test_release_takes_two_persons_on_fresh_evidence(small: SmallDesk) -> None:
    """The sentence names the readings, the evidence and the reason."""
    reading, found = _blocked(small)

    page = _release(small, "P-104", [reading.ref], [found.ref], found={reading.ref: ("X05", "X13")})
    second_sign(small.desk, page.ref, small.second("P-108", page.ref))

    act = page.act
    assert isinstance(act, Release) and act.signature is not None
    assert act.signature.sentence == (
        f"I release 1 reading ({reading.ref}) on the evidence of {found.ref}, because found good as-found"
    )
    assert len(small.desk.acts_of(SecondSignature)) == 1


def test_release_by_the_taker_without_evidence_or_of_no_blocked_reading_is_refused(small: SmallDesk) -> None:
    """A release is for readings blocked for want of evidence only, and never by who took them."""
    small.to("2026-03-16 08:00")
    before = _found(small)
    small.to("2026-03-16 10:40")
    page = small.read("0.31225", "P-104", gauge="G-220")
    small.to("2026-03-16 13:00")
    found = _found(small)
    ref = page.ref

    for person, readings, evidence, blocked, says in (
        ("P-104", [ref], [found.ref], ("X05",), "X69"),
        ("P-106", [ref], [], ("X05",), "both be named"),
        ("P-106", [ref], [before.ref], ("X05",), "older than the readings"),
        ("P-106", ["S99-a/1"], [found.ref], ("X05",), "Not held here"),
        ("P-106", [found.ref], [found.ref], ("X05",), "no readings"),
        ("P-106", [ref], [_found(small, "Out").ref], ("X05",), "was found out"),
        ("P-106", [ref], [_found(small, gauge="G-221").ref], ("X05",), "another gauge"),
        ("P-106", [ref], [found.ref], (), "is not blocked"),
        ("P-106", [ref], [found.ref], ("X01", "X62"), "is blocked by X01, X62"),
    ):
        with pytest.raises(DeskRefused, match=says):
            _release(small, person, readings, evidence, found=dict.fromkeys(readings, blocked))

    assert small.desk.acts_of(Release) == []
    assert len(small.refusals()) == 9


def test_second_signature_of_a_release_by_the_taker_is_x69(small: SmallDesk) -> None:
    """Neither signature is the taker's."""
    small.to("2026-03-16 10:40")
    reading = small.read("0.31225", "P-108", gauge="G-220")
    small.to("2026-03-16 13:00")
    page = _release(small, "P-104", [reading.ref], [_found(small).ref])

    with pytest.raises(DeskRefused, match="took the reading") as refused:
        second_sign(small.desk, page.ref, small.second("P-108", page.ref))

    assert refused.value.by_rule == "X69"


def test_pages_that_are_here_are_not_declared_lost(small: SmallDesk) -> None:
    """Two persons, a range that is truly missing, a reason."""
    for _ in range(3):
        small.read("0.31225")
    reason = "the panel of S12 burnt out"
    with pytest.raises(DeskRefused, match="2–3"):
        declare_lost(small.desk, small.by("P-104"), PagesLost(series="S12-a", first=2, last=9, reason=reason))
    for first, last in ((9, 8), (4, 200_004)):
        with pytest.raises(DeskRefused, match="empty or longer"):
            declare_lost(
                small.desk, small.by("P-104"), PagesLost(series="S12-a", first=first, last=last, reason=reason)
            )

    done = declare_lost(small.desk, small.by("P-104"), PagesLost(series="S12-a", first=4, last=9, reason=reason))

    second_sign(small.desk, done.page.ref, small.second("P-106", done.page.ref))


def test_seal_is_set_only_after_both_pins_were_looked_at(small: SmallDesk) -> None:
    """A refused second person leaves the day unsealed."""
    ledger = "ab" * 32
    done_seals: list[str] = []

    def seal() -> Seal:
        done_seals.append(ledger)
        return Seal(day="2026-03-15", word=SealWord.INCOMPLETE, words="S21", ledger=ledger, before=None)

    with pytest.raises(DeskRefused):
        seal_page(small.desk, small.by("P-102"), ledger, seal)
    with pytest.raises(DeskRefused, match="X69"):
        seal_page(small.desk, small.by("P-106"), ledger, seal, Second(small.by("P-106"), Seen(ledger, True)))
    assert done_seals == []

    done = seal_page(small.desk, small.by("P-106"), ledger, seal, Second(small.by("P-108"), Seen(ledger, True)))

    assert [page.person for page in done.pages] == ["P-106", "P-108"] and done_seals == [ledger]


def test_good_zero_check_of_the_gauge_bears_a_closing_out_and_what_is_not_held_does_not(small: SmallDesk) -> None:
    """X06 closes on a good check too; a page nobody holds and a kind nobody knows close nothing."""
    check = Check(
        check_kind=CheckKind.ZERO, gauge="G-220", master="M-14", keyed="0", unit="in", error="0", limit="0.00005",
        verdict=CheckVerdict.GOOD,
    )  # fmt: skip
    page = small.keep(check, "P-105")
    for which, evidence, says in (
        (DROPPED, ("S12-a/99",), "Not held here"),
        (OpenException("X99:?", "X99", "B"), (page.ref,), "no kind X99"),
    ):
        with pytest.raises(DeskRefused, match=says):
            close_exception(small.desk, small.by("P-105"), which, Closing("checked good on M-14", evidence))

    close_exception(small.desk, small.by("P-105"), DROPPED, Closing("checked good on M-14", (page.ref,)))


def test_missing_pages_close_by_hand_only_on_pages_declared_lost(small: SmallDesk) -> None:
    """X72 ends by arrival, or by two persons' declaration."""
    lost = declare_lost(
        small.desk, small.by("P-104"), PagesLost(series="S12-a", first=4, last=9, reason="the panel burnt out")
    ).page
    which = OpenException("X72:S12-a 4–9:2026-03-16", "X72", "B")

    done = close_exception(small.desk, small.by("P-104"), which, Closing("declared lost by two", (lost.ref,)))

    assert isinstance(done.page.act, ExceptionClose) and done.page.act.evidence == (lost.ref,)
