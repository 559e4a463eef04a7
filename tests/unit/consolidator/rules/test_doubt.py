"""X06: how far back a drop or a failed check reaches, what it holds, and how it ends. By hand."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from tests.unit.consolidator.held_builder import HeldBuilder, deck, exception_of, held_lots, marks_of, row_of
from tests.unit.consolidator.rules.test_checks import at, snap

CALIBRATION: dict[str, Any] = {
    "kind": "calibration", "gauge": "G-220", "done_at": at("13:00"), "masters": ["M-02"], "procedure": "C-2",
    "unit": "in", "points": [], "as_found": "Good", "as_left": "Good",
}  # fmt: skip
DROP = {"kind": "gauge incident", "gauge": "G-220", "what": "dropped"}


def dropped() -> tuple[HeldBuilder, list[str]]:
    """Return G-220 checked good 08:05, read 08:00, 08:10 and 10:10, dropped 10:12, read 10:40."""
    builder = HeldBuilder()
    builder.check(at("06:00"))
    builder.check(at("08:05"))
    pages = [snap(builder, at(clock), piece=piece) for piece, clock in enumerate(("08:00", "08:10", "10:10"), 1)]
    builder.act(at("10:12"), DROP, series="S12-a")
    pages.append(snap(builder, at("10:40"), piece=4))
    return builder, pages


def close_it(builder: HeldBuilder, evidence: list[str], when: str, person: str = "P-105", day: int = 9) -> None:
    """Add a signed closing of the doubt about G-220."""
    told = {"kind": "exception close", "exception": "X06:G-220:2026-03-09", "reason": "as-found good"}
    builder.act(at(when, day), told | {"evidence": evidence}, person=person)


def test_a_drop_puts_in_doubt_what_was_read_since_the_last_good_check_and_no_more() -> None:
    """X06: 08:00 lies before the check of 08:05; 08:10 and 10:10 are in doubt; 10:40 is X05, blocked."""
    builder, pages = dropped()

    closed = builder.close()

    assert ["X06" in marks_of(closed, page) for page in pages] == [False, True, True, False]
    assert [row_of(closed, page)["standing"] for page in pages][1:3] == ["Counts – flagged"] * 2
    assert "X05" in marks_of(closed, pages[3])
    sentence = exception_of(closed, "X06")["sentence"]
    assert "was reported dropped 9 Mar 10:12 −04:00, last shown good 9 Mar 08:05 −04:00 (zero check)" in sentence
    assert exception_of(closed, "X06")["readings"] == "2"


def test_the_last_good_check_may_have_been_made_anywhere_by_anybody() -> None:
    """X06 asks when the gauge was last shown good: 09:00 at S13 by P-104, so 08:10 is free of doubt."""
    builder, pages = dropped()
    builder.check(at("09:00"), station="S13", person="P-104")

    closed = builder.close()

    assert ["X06" in marks_of(closed, page) for page in pages] == [False, False, True, False]


def test_a_gauge_without_checks_is_in_doubt_back_to_its_calibration() -> None:
    """X06: micrometer G-108 calibrated 9 March 08:30, dropped 10:12: 08:00 is free, 09:00 is in doubt."""
    record = {"gauge": "G-108", "done_at": at("08:30"), "technician": "P-105", "as_found": "Good", "as_left": "Good"}
    builder = HeldBuilder(deck(calibrations=[record]))
    early, late = (builder.reading(at(clock), ".3122", piece=n) for n, clock in enumerate(("08:00", "09:00"), 1))
    builder.act(at("10:12"), DROP | {"gauge": "G-108"})

    closed = builder.close()

    assert marks_of(closed, early) == set()
    assert marks_of(closed, late) == {"X06"}
    assert "(calibration)" in exception_of(closed, "X06")["sentence"]


def test_a_failed_zero_check_says_how_many_readings_its_error_would_put_out() -> None:
    """X06: off by +.0001; limits .3120 to .3125. .31225 and .31210 less .0001 are in, .31205 less .0001 is out."""
    builder = HeldBuilder()
    builder.check(at("08:00"))
    pages = [
        builder.reading(at(f"08:1{n}"), keyed, gauge="G-220", keyed_as="deviation", piece=n)
        for n, keyed in enumerate(("0", "-.00015", "-.00020"))
    ]
    builder.check(at("09:00"), error="0.0001")

    closed = builder.close()

    assert [marks_of(closed, page) for page in pages] == [{"X06"}] * 3
    assert "1 of 3 would be out of tolerance with all of the error taken off" in exception_of(closed, "X06")["sentence"]


@pytest.mark.parametrize(("shipped", "held"), [(None, True), (1999, True), (2000, False)])
def test_lots_of_which_pieces_are_still_here_are_held(shipped: int | None, held: bool) -> None:
    """X06 holds lots not yet shipped: of 2000 pieces 1999 left is not all of them."""
    builder, _ = dropped()
    if shipped is not None:
        ship = {"kind": "lot ship", "lot": "L-411", "quantity": shipped, "customer": "CU-1", "order": "O-1"}
        builder.act(at("11:00"), ship)

    closed = builder.close()

    assert ("X06" in held_lots(closed).get("L-411", set())) is held


def test_one_signature_closes_all_of_a_doubt_where_the_gauge_was_found_good_since() -> None:
    """X06: found good 13:00, signed 13:05 by the calibration technician; the hold ends with it."""
    builder, pages = dropped()
    check = builder.act(at("13:00"), CALIBRATION, person="P-105")
    close_it(builder, [check], "13:05")

    closed = builder.close()

    assert (exception_of(closed, "X06")["state"], exception_of(closed, "X06")["closed_why"]) == (
        "closed",
        "as-found good",
    )
    assert "X06" in marks_of(closed, pages[1])
    assert "X06" not in held_lots(closed).get("L-411", set())


def test_a_reading_that_came_in_after_the_signature_is_covered_too() -> None:
    """X06: the page of 10:10 arrived at 14:00; what settles the doubt lies in the gauge, not in the pages."""
    builder, _ = dropped()
    builder.rows[2]["received_at_ms"] = builder.rows[3]["received_at_ms"] + 4 * 3_600_000
    check = builder.act(at("13:00"), CALIBRATION, person="P-105")
    close_it(builder, [check], "13:05")

    assert exception_of(builder.close(), "X06")["state"] == "closed"


@pytest.mark.parametrize(
    ("case", "evidence"),
    [
        ("no evidence", None),
        ("found good before the drop", CALIBRATION | {"done_at": at("09:00")}),
        ("another gauge found good", CALIBRATION | {"gauge": "G-108"}),
    ],
)
def test_a_signature_without_the_gauge_shown_good_since_leaves_the_doubt_open(
    case: str, evidence: dict[str, Any] | None
) -> None:
    """X06: a statement alone closes nothing."""
    builder, _ = dropped()
    cited = [] if evidence is None else [builder.act(at("13:00"), evidence, person="P-105")]
    close_it(builder, cited, "13:05")

    closed = builder.close()

    assert exception_of(closed, "X06")["state"] == "open", case
    assert "X06" in held_lots(closed)["L-411"]


def test_a_signature_before_the_drop_covers_nothing() -> None:
    """X06: the closing of 09:50 is older than the trouble of 10:12."""
    builder, _ = dropped()
    check = builder.check(at("13:00"))
    close_it(builder, [check], "09:50")

    assert exception_of(builder.close(), "X06")["state"] == "open"


def test_somebody_without_the_authority_closes_nothing() -> None:
    """X06: P-101 is an operator."""
    builder, _ = dropped()
    check = builder.act(at("13:00"), CALIBRATION, person="P-105")
    close_it(builder, [check], "13:05", person="P-101")

    assert exception_of(builder.close(), "X06")["state"] == "open"


def test_a_good_zero_check_after_the_failed_one_may_be_cited() -> None:
    """X12, X06: failed 09:00, zeroed anew and good 09:10, signed 09:20 citing that check."""
    builder = HeldBuilder()
    builder.check(at("08:00"))
    snap(builder, at("08:10"))
    builder.check(at("09:00"), error="0.0001")
    close_it(builder, [builder.check(at("09:10"))], "09:20")

    assert exception_of(builder.close(), "X06")["state"] == "closed"


@pytest.mark.parametrize(("is_settled", "state"), [(True, "closed"), (False, "open")])
def test_a_failed_check_is_closed_only_with_what_it_put_in_doubt(is_settled: bool, state: str) -> None:
    """X12 closes on re-zero and re-check, X06 findings settled: signed 09:20, closed when X06 is signed as well."""
    builder = HeldBuilder()
    builder.check(at("08:00"))
    snap(builder, at("08:10"))
    builder.check(at("09:00"), error="0.0001")
    snap(builder, at("09:05"), piece=2)
    good = builder.check(at("09:10"))
    signed = {"kind": "exception close", "exception": "X12:G-220:2026-03-09", "reason": "zeroed", "evidence": [good]}
    builder.act(at("09:20"), signed, person="P-104")
    if is_settled:
        close_it(builder, [good], "09:21")

    assert exception_of(builder.close(), "X12")["state"] == state


def test_found_bad_the_doubt_becomes_x07_and_holds_nothing_itself() -> None:
    """X06: as-found out at 13:00: closed as having become X07; the readings keep their mark."""
    builder, pages = dropped()
    page = builder.act(at("13:00"), CALIBRATION | {"as_found": "Out"}, person="P-105")

    closed = builder.close()

    assert exception_of(closed, "X06")["state"] == "closed"
    assert exception_of(closed, "X06")["closed_why"] == f"became X07: as-found not good, {page}"
    assert "X06" in marks_of(closed, pages[1])
    assert "X06" not in held_lots(closed).get("L-411", set())


def test_a_doubt_carried_over_is_closed_the_next_day_with_its_holds() -> None:
    """X06 of 9 March: found good and signed on 10 March; nothing of it is read on 10 March."""
    builder, _ = dropped()
    before = builder.close()
    check = builder.act(at("08:00", 10), CALIBRATION | {"done_at": at("08:00", 10)}, person="P-105")
    close_it(builder, [check], "08:05", day=10)

    closed = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC), before=before)

    assert exception_of(closed, "X06")["state"] == "closed"
    assert "X06" not in held_lots(closed).get("L-411", set())
