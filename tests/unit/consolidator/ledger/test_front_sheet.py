"""The front sheet says five things in their order, each a sentence with a number, and never more than it knows."""

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from consolidator.ledger.day_books import page_totals
from consolidator.ledger.front_sheet import CAUTION, make_sheet, sum_sentence
from consolidator.rules import KINDS
from kiosk.lists import Lists
from kiosk.lists.entries import Gauge, Lot
from kiosk.lists.words import GaugeKind
from tests.unit.consolidator.ledger.small_days import DAY, act, closed_day, kiosk_row, reading

AT = datetime(2026, 3, 17, 6, 5, tzinfo=ZoneInfo("America/New_York"))
READINGS = [reading("S12-a", 1, "L-411")]
SILENT = kiosk_row("S21-a", state="silent", last_contact="2026-03-16T22:14:00.000-04:00")


def _lists() -> Lists:
    due = {"G-1": date(2026, 3, 17), "G-2": date(2026, 3, 17), "G-3": date(2026, 3, 16), "G-4": date(2026, 9, 1)}
    lot = {"part": "B-3124", "revision": "C", "quantity": 100}
    return Lists(
        plant="P1",
        zone="America/New_York",
        version=1,
        gauges=tuple(Gauge(number=n, kind=GaugeKind.MICROMETER, due=d) for n, d in due.items()),
        lots=(Lot(number="L-411", ships_on=date(2026, 3, 17), **lot), Lot(number="L-412", **lot)),
    )


def _lines(judged: Any = KINDS, **tables: list[dict[str, str]]) -> list[dict[str, Any]]:
    acts = tables.pop("acts", [])
    closed = closed_day(READINGS, acts, day=DAY, **tables)
    names = ("readings", "acts", "exceptions", "touched", "holds", "kiosks", "lots", "lines")
    whole = {name: getattr(closed, name) for name in names}
    lines: list[dict[str, Any]] = make_sheet(whole, closed.totals, _lists(), AT, judged=judged)["lines"]
    return lines


def test_five_lines_stand_in_their_order() -> None:
    """What is missing comes before what is wrong."""
    assert [line["title"] for line in _lines()] == [
        "Is everything in?",
        "Stop and segregate (A)",
        "Before the lot moves (B)",
        "Gauges",
        "Set-ups waiting",
    ]


@pytest.mark.parametrize(
    ("kiosks", "is_good", "sentence"),
    [
        ([kiosk_row("S12-a")], True, "1 of 1 kiosk in. No pages missing."),
        (
            [kiosk_row("S12-a"), SILENT],
            False,
            "1 of 2 kiosks in. S21 (S21-a) silent since 22:14 −04:00. No pages missing elsewhere.",
        ),
        (
            [kiosk_row("S12-a", missing="1042")],
            False,
            "1 of 1 kiosk in. 1 page missing from S12-a: 1042.",
        ),
        ([kiosk_row("S12-a"), kiosk_row("S13-a", state="withdrawn")], True, "1 of 1 kiosk in. No pages missing."),
        (
            [kiosk_row("S12-a", state="silent", last_contact="2026-03-14T09:00:00.000-04:00")],
            False,
            "0 of 1 kiosk in. S12 (S12-a) silent since 2026-03-14 09:00 −04:00. No pages missing elsewhere.",
        ),
        (
            [kiosk_row("S12-a", state="silent", last_contact="")],
            False,
            "0 of 1 kiosk in. S12 (S12-a) silent since its enrolment. No pages missing elsewhere.",
        ),
    ],
)
def test_what_is_not_in_is_named(kiosks: list[dict[str, str]], is_good: bool, sentence: str) -> None:
    """Silent kiosks with the hour, missing pages with their numbers; no kiosk at all is not good news either."""
    first = _lines(kiosks=kiosks)[0]

    assert (first["is_good"], first["sentence"]) == (is_good, sentence)


def test_a_plant_without_a_kiosk_is_not_told_that_all_is_in() -> None:
    """No data is not good news."""
    withdrawn = [kiosk_row("S12-a", state="withdrawn")]

    assert not _lines(kiosks=withdrawn)[0]["is_good"]


def test_urgent_lines_are_counted_and_told_with_lot_place_and_shipment() -> None:
    """Line two counts what is A, and says of each where the pieces are."""
    row = {"urgency": "A", "number": "X76", "sentence": "Page altered.", "lots": "L-411", "stations": "S12"}
    other = {"urgency": "B", "number": "X23", "sentence": "Out.", "lots": "L-412"}

    line = _lines(lines=[row | {"ships": "shipped"}, row | {"ships": "today"}, other])[1]

    assert (line["is_good"], line["sentence"]) == (False, "2.")
    assert line["details"] == [
        "X76 Page altered. [L-411, at S12; shipped]",
        "X76 Page altered. [L-411, at S12; not shipped, ships today]",
    ]


def test_lots_on_hold_are_counted_once_and_those_due_to_ship_today_among_them() -> None:
    """Two exceptions on one lot hold one lot; a lifted hold holds none."""
    holds = [
        {"lot": "L-411", "key": "a"},
        {"lot": "L-411", "key": "b"},
        {"lot": "L-412", "key": "a"},
        {"lot": "L-413", "key": "c", "lifted_at": "2026-03-16T12:00:00.000-04:00"},
    ]

    line = _lines(holds=holds)[2]

    assert line["sentence"] == "2 lots on hold, of which 1 due to ship today."
    assert line["details"] == ["Due to ship today: L-411", "On hold: L-411, L-412"]


def test_gauges_due_today_past_due_and_come_due_in_a_shift_are_counted() -> None:
    """Two due on the 17th, one on the 16th, one X02, and one found out with two lots to look back on."""
    exceptions = [
        {"number": "X02", "state": "open"},
        {"number": "X07", "state": "open", "cause": "G-1, lot L-411", "lots": "L-411"},
        {"number": "X07", "state": "open", "cause": "G-1, lot L-412", "lots": "L-412"},
        {"number": "X07", "state": "closed", "lots": "L-413"},
    ]

    assert _lines(exceptions=exceptions)[3]["sentence"] == (
        "2 due today, 1 past due, 1 came due during a shift, 1 found out – look-back 2 lots."
    )


def test_set_ups_begun_and_not_approved_that_day_wait() -> None:
    """A refused approval is none."""
    acts = [
        act("S24-a", 1, "set-up start", set_up="SU-31"),
        act("S24-a", 2, "set-up start", set_up="SU-32"),
        act("S24-a", 3, "first-piece approval", set_up="SU-31", content='{"result":"Approved"}'),
        act("S24-a", 4, "first-piece approval", set_up="SU-32", content='{"result":"Refused"}'),
    ]

    line = _lines(acts=acts, exceptions=[{"number": "X55", "state": "open", "pieces": "95"}])[4]

    assert line["sentence"] == "1 first piece waiting, 1 rolling set-up not yet proven, 95 pieces rolled since."
    assert line["details"] == ["First piece not approved that day: SU-32"]


def test_what_is_not_looked_for_is_said_instead_of_nought() -> None:
    """Where close of day does not judge a kind yet, the sheet says so and is not good."""
    lines = _lines(judged=())

    assert "not judged by this version" in lines[3]["sentence"]
    assert "not judged by this version" in lines[4]["sentence"]
    assert not lines[4]["is_good"]


def test_the_sum_is_shown_and_must_come_out() -> None:
    """6 612 pages = 6 431 + 122 + 59: the example of a usual day."""
    parts = {"counting": 6431, "flagged": 122, "blocked": 59}

    assert sum_sentence({"pages": 6612, **parts}) == "6 612 pages = 6 431 counting + 122 flagged + 59 blocked"
    with pytest.raises(ValueError, match="do not add up"):
        sum_sentence({"pages": 6613, **parts})


def test_the_caution_stands_on_every_sheet() -> None:
    """No exceptions is not all good."""
    closed = closed_day(READINGS)
    names = ("readings", "acts", "exceptions", "touched", "holds", "kiosks", "lots", "lines")
    whole = {name: getattr(closed, name) for name in names}

    sheet = make_sheet(whole, page_totals(whole), _lists(), AT, judged=KINDS)

    assert sheet["caution"] == CAUTION == "No exceptions is not all good if pages are missing or a kiosk is silent."
