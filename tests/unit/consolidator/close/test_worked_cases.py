"""Worked cases of the plant's rules, each with the figures of a hand calculation."""

from datetime import UTC, date, datetime

import pytest

from consolidator.close import CarriedOver
from tests.unit.consolidator.held_builder import (
    AT,
    DAY,
    HeldBuilder,
    deck,
    exception_of,
    held_lots,
    marks_of,
    numbers_of,
    row_of,
)

MARCH_11 = datetime(2026, 3, 11, 10, 5, tzinfo=UTC)


def test_a_value_equal_to_a_limit_is_in_and_the_two_past_it_make_one_line() -> None:
    """O1: .31225 plus each deviation, by hand; limits .3120 to .3125 belong to the good side."""
    builder = HeldBuilder()
    builder.check("2026-03-09T08:00:00.000-04:00")
    keyed = ["+.00025", "+.00030", "-.00025", "-.00030", "+.00005"]
    pages = [
        builder.reading(
            f"2026-03-09T09:00:{10 * at:02d}.000-04:00", text, gauge="G-220", keyed_as="deviation", piece=at + 1
        )
        for at, text in enumerate(keyed)
    ]

    closed = builder.close()

    rows = [row_of(closed, page) for page in pages]
    assert [row["value"] for row in rows] == ["0.31250", "0.31255", "0.31200", "0.31195", "0.31230"]
    assert [row["verdict"].split()[0] for row in rows] == ["In", "Out", "In", "Out", "In"]
    assert {row["standing"] for row in rows} == {"Counts"}
    assert [line["readings"] for line in closed.lines.to_pylist()] == ["2"]
    assert exception_of(closed, "X23")["urgency"] == "B"
    assert held_lots(closed) == {"L-411": {"X23"}}


def test_a_gauge_is_past_due_from_midnight_on_inside_a_night_shift() -> None:
    """O2: due 10 March is good to 24:00 plant time (N1); both readings belong to production day 10 March."""
    builder = HeldBuilder()
    bc2 = {"characteristic": "BC2", "gauge": "G-107"}
    before = builder.reading("2026-03-10T23:58:30.000-04:00", ".2841", piece=1, **bc2)
    after = builder.reading("2026-03-11T00:02:10.000-04:00", ".2840", piece=2, **bc2)

    closed = builder.close(date(2026, 3, 10), MARCH_11)

    assert row_of(closed, before)["standing"] == "Counts"
    assert marks_of(closed, before) == {"X02"}
    assert (row_of(closed, after)["verdict"], row_of(closed, after)["standing"]) == ("In tolerance", "Blocked")
    assert marks_of(closed, after) == {"X01"}
    assert "due 10 Mar 24:00, read 11 Mar 00:02 −04:00" in exception_of(closed, "X01")["sentence"]
    assert row_of(closed, after)["production_day"] == "2026-03-10"


@pytest.mark.parametrize(
    ("clock", "standing"), [("23:59:59.999", "Counts"), ("00:00:00.000", "Blocked")], ids=["last moment", "midnight"]
)
def test_the_due_date_ends_exactly_at_midnight(clock: str, standing: str) -> None:
    """N1: valid until 24:00 of the due date, so the first moment of the next date is past it."""
    builder = HeldBuilder()
    day = "2026-03-10" if clock.startswith("23") else "2026-03-11"
    page = builder.reading(f"{day}T{clock}-04:00", ".2841", characteristic="BC2", gauge="G-107")

    closed = builder.close(date(2026, 3, 10), MARCH_11)

    assert row_of(closed, page)["standing"] == standing


def test_a_blocked_reading_that_is_out_still_holds_the_lot_until_a_disposition() -> None:
    """O3: .2849 over .2845 with a gauge past due is out and blocked; the re-measure .28430 counts, the hold stays."""
    builder = HeldBuilder()
    bad = builder.reading("2026-03-12T09:15:00.000-04:00", ".2849", characteristic="BC2", gauge="G-107", piece=1)
    again = {"person": "P-104", "sample_kind": "re-measure", "re_measure_of": bad}
    good = builder.reading(
        "2026-03-12T09:40:00.000-04:00", ".28430", characteristic="BC2", gauge="G-108", piece=1, **again
    )

    closed = builder.close(date(2026, 3, 12), datetime(2026, 3, 13, 10, 5, tzinfo=UTC))

    assert (row_of(closed, bad)["verdict"], row_of(closed, bad)["standing"]) == ("Out of tolerance", "Blocked")
    assert {"X01", "X23"} <= marks_of(closed, bad)
    assert (row_of(closed, good)["verdict"], row_of(closed, good)["standing"]) == ("In tolerance", "Counts")
    assert "X23" in held_lots(closed)["L-411"]


def test_a_signed_disposition_of_the_next_day_lifts_what_it_names() -> None:
    """O3: the hold stays until a disposition says so, and is carried from day to day until then."""
    builder = HeldBuilder()
    bad = builder.reading("2026-03-12T09:15:00.000-04:00", ".2849", characteristic="BC2", gauge="G-107")
    first = builder.close(date(2026, 3, 12), datetime(2026, 3, 13, 10, 5, tzinfo=UTC))
    builder.act(
        "2026-03-13T08:00:00.000-04:00",
        {"kind": "disposition", "choice": "Scrap", "lot": "L-411", "part": "B-3124", "readings": [bad],
         "exceptions": ["X01", "X23"], "pieces": 1, "reason": "one blank out, sorted", "ends_hold": True},
        person="P-104",
    )  # fmt: skip

    second = builder.close(date(2026, 3, 13), datetime(2026, 3, 14, 10, 5, tzinfo=UTC), CarriedOver.of([first]))

    assert "L-411" in held_lots(first)
    assert held_lots(second) == {}
    assert {row["lifted_by"] for row in second.holds.to_pylist()} == {"desk-a/1"}


def test_a_decimal_slip_asked_about_is_one_reading_with_a_tag() -> None:
    """O4: 3.122 is outside .3105 to .3140 (three tolerances each side); .3122 keyed when asked counts."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-09T09:00:00.000-04:00", ".3122", earlier='[{"asked":["X26"],"text":"3.122"}]')

    closed = builder.close()

    row = row_of(closed, page)
    assert (row["verdict"], row["standing"], row["exceptions"]) == ("In tolerance", "Counts", "X26 tag")
    assert row["keyed"] == "3.122 → .3122"
    assert exception_of(closed, "X26")["urgency"] == "D"
    assert held_lots(closed) == {}


def test_millimetres_on_paper_are_not_judged_and_never_converted() -> None:
    """O5: 7.93 / 25.4 = .312205 lies inside the believable window, so it is asked as another unit, never applied."""
    builder = HeldBuilder()
    paper = {
        "source": "from paper",
        "person": "P-104",
        "taken_by": "P-101",
        "read_back_by": "P-108",
        "paper_form": "F-12",
    }
    texts = [
        ".31210 .31235 .31230 .31240 .31215",
        ".31215 .31235 7.93 .31240 .31230",
        ".31240 .31210 .31235 .31230 .31215",
    ]
    pages = []
    for sample, line in enumerate(texts, start=1):
        taken = int(datetime(2026, 3, 9, 12 + sample, 30, tzinfo=UTC).timestamp() * 1000)
        for piece, text in enumerate(line.split(), start=1):
            at = f"2026-03-09T14:{sample:02d}:{5 * piece:02d}.000-04:00"
            pages.append(builder.reading(at, text, sample=sample, piece=piece, paper_taken_at_ms=taken, **paper))

    closed = builder.close()

    assert all("X78" in marks_of(closed, page) for page in pages)
    slip = row_of(closed, pages[7])
    assert (slip["verdict"], slip["standing"]) == ("Not judged", "Blocked")
    assert marks_of(closed, pages[7]) == {"X17", "X27", "X78"}  # 7.93 is beyond the micrometer's 1 in as well
    assert "X23" not in numbers_of(closed)
    assert "4 counting pieces, 5 planned" in exception_of(closed, "X40")["sentence"]
    assert not any(".3122" in cell for row in closed.readings.to_pylist() for cell in row.values())


def test_swapped_digits_keyed_again_are_believed() -> None:
    """O6: .3142 asked about and keyed again is out; swapping its last two neighbours gives a value in tolerance."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-09T09:00:00.000-04:00", ".3142", earlier='[{"asked":["X28"],"text":".3142"}]')

    closed = builder.close()

    assert (row_of(closed, page)["verdict"], row_of(closed, page)["standing"]) == ("Out of tolerance", "Counts")
    assert marks_of(closed, page) == {"X23", "X28 tag"}
    assert held_lots(closed) == {"L-411": {"X23"}}
    assert not any(".3124" in cell for row in closed.exceptions.to_pylist() for cell in row.values())


def test_a_reading_over_wires_becomes_a_pitch_diameter_with_the_certified_wires() -> None:
    """O7: M - 3 x .02406 + .866025 / 24 by hand: .283704375, .282604375, .282754375 against .2827 to .2854."""
    builder = HeldBuilder()
    usual = {"station": "S24", "characteristic": "BC4", "gauge": "G-301", "keyed_as": "over wires", "person": "P-102"}
    pages = [
        builder.reading(f"2026-03-09T09:0{at}:00.000-04:00", text, master="W-24", piece=at + 1, **usual)
        for at, text in enumerate([".3198", ".3187", ".31885"])
    ]
    wrong = builder.reading("2026-03-09T09:10:00.000-04:00", ".3198", master="W-28", piece=4, **usual)

    closed = builder.close()

    assert [row_of(closed, page)["value"] for page in pages] == ["0.283704375", "0.282604375", "0.282754375"]
    assert [row_of(closed, page)["verdict"].split()[0] for page in pages] == ["In", "Out", "In"]
    assert exception_of(closed, "X23")["readings"] == "1"
    assert row_of(closed, wrong)["standing"] == "Blocked"
    assert "X19" in marks_of(closed, wrong)


def test_over_the_shop_s_own_limit_is_told_only_inside_the_drawing_s() -> None:
    """O11: limit .005, shop's limit .003: .0028 in, .0031 and .0050 in and over the shop's, .0051 out."""
    builder = HeldBuilder()
    usual = {"station": "S31", "characteristic": "NC1", "gauge": "G-415", "lot": "L-500", "person": "P-103"}
    pages = [
        builder.reading(f"2026-03-09T09:0{at}:00.000-04:00", text, piece=at + 1, **usual)
        for at, text in enumerate([".0028", ".0031", ".0050", ".0051"])
    ]

    closed = builder.close()

    assert [row_of(closed, page)["verdict"].split()[0] for page in pages] == ["In", "In", "In", "Out"]
    assert [marks_of(closed, page) for page in pages] == [set(), {"X24"}, {"X24"}, {"X23"}]
    assert [row_of(closed, page)["standing"] for page in pages] == [
        "Counts",
        "Counts – flagged",
        "Counts – flagged",
        "Counts",
    ]


def test_a_revision_in_force_since_noon_judges_the_next_morning_again() -> None:
    """O12: lower limit .3120 under C, .3121 under D from 11 March 12:00; .31200 is in before and out after."""
    lists = deck()
    new = [
        c.model_copy(update={"revision": "D", "lower": "0.3121"}) for c in lists.characteristics if c.number == "BC1"
    ]
    part = next(p for p in lists.parts if p.number == "B-3124")
    noon = {"revision": "D", "in_force_from": "2026-03-11T12:00:00.000-04:00"}
    lists = lists.model_copy(
        update={
            "characteristics": (*lists.characteristics, *new),
            "parts": (*lists.parts, part.model_copy(update=noon)),
            "plans": (*lists.plans, lists.plans[0].model_copy(update=noon | {"version": "D1"})),
        }
    )
    builder = HeldBuilder(lists)
    told = {"station": "S13", "gauge": "G-118", "lot": "L-412", "verdict": "In tolerance"}
    told |= {"part": "B-3124", "revision": "C", "plan_version": "C1"}
    before = builder.reading("2026-03-11T11:59:00.000-04:00", ".31200", piece=1, **told)
    after = builder.reading("2026-03-12T08:00:00.000-04:00", ".31200", piece=2, **told)

    first = builder.close(date(2026, 3, 11), datetime(2026, 3, 13, 10, 5, tzinfo=UTC))
    second = builder.close(date(2026, 3, 12), datetime(2026, 3, 13, 10, 5, tzinfo=UTC))

    assert row_of(first, before)["verdict"] == "In tolerance"
    assert marks_of(first, before).isdisjoint({"X49", "X23"})
    row = row_of(second, after)
    assert (row["verdict_at_kiosk"], row["verdict"], row["revision"]) == ("In tolerance", "Out of tolerance", "D")
    assert marks_of(second, after) == {"X15", "X49", "X23"}  # .00005 is 12.5 % of the new tolerance .0004


def test_a_kiosk_is_silent_after_four_hours_without_contact() -> None:
    """O12: last contact 10 March 06:00; silent at 06:05 of the 11th, heard again 03:30 of the 13th (N15: 4 h)."""
    builder = HeldBuilder()
    builder.reading("2026-03-10T05:00:00.000-04:00", ".31230")
    builder.last_contact_utc = datetime(2026, 3, 10, 10, 0, tzinfo=UTC)
    silent = builder.close(date(2026, 3, 10), MARCH_11)
    builder.last_contact_utc = datetime(2026, 3, 13, 7, 30, tzinfo=UTC)

    at = datetime(2026, 3, 13, 10, 5, tzinfo=UTC)
    heard = builder.close(date(2026, 3, 12), at, CarriedOver.of([silent]))

    assert exception_of(silent, "X70")["state"] == "open"
    assert silent.kiosks.to_pylist()[0]["state"] == "silent"
    assert exception_of(heard, "X70")["state"] == "closed"
    assert heard.kiosks.to_pylist()[0]["state"] == "in"


def test_a_missing_page_is_named_with_its_times_and_lot_and_closes_when_it_comes() -> None:
    """O14: pages 1038 to 1041 and 1043 to 1045 are in; 1042 is missing between 08:15 and 08:25."""
    builder = HeldBuilder()
    numbers = (1038, 1039, 1040, 1041, 1043, 1044, 1045)
    for number in numbers:
        builder.reading(f"2026-03-09T08:{5 * (number - 1038):02d}:00.000-04:00", ".31230", number=number, piece=number)
    for number in range(1, 1038):
        builder.rows.append(builder.rows[0] | {"number": number, "fingerprint": f"{10_000 + number:064x}",
            "kiosk_time_ms": builder.rows[0]["kiosk_time_ms"] - 10**8})  # fmt: skip

    closed = builder.close()
    builder.reading("2026-03-09T08:20:00.000-04:00", ".31230", number=1042, piece=1042)
    later = builder.close(date(2026, 3, 10), MARCH_11, CarriedOver.of([closed]))

    gap = exception_of(closed, "X72")
    assert "page 1042 missing, between page 1041 9 Mar 08:15 −04:00 and page 1043 9 Mar 08:25 −04:00" in gap["sentence"]
    assert (gap["lots"], gap["stations"], gap["state"]) == ("L-411", "S12", "open")
    assert "X72" in held_lots(closed)["L-411"]
    assert closed.kiosks.to_pylist()[0]["missing"] == "1042"
    assert exception_of(later, "X72")["state"] == "closed"


def test_a_clock_47_minutes_fast_does_not_make_a_gauge_past_due() -> None:
    """O15: kiosk time 21 March 00:20 less 47 min is 20 March 23:33, before the due date ends."""
    builder = HeldBuilder()
    usual = {"station": "S31", "characteristic": "NC1", "gauge": "G-415", "lot": "L-500", "person": "P-103"}
    page = builder.reading("2026-03-21T00:20:00.000-04:00", ".0020", **usual)
    builder.contact("S31-a", "2026-03-21T01:00:00.000-04:00", kiosk="2026-03-21T01:47:00.000-04:00")

    closed = builder.close(date(2026, 3, 20), datetime(2026, 3, 21, 10, 5, tzinfo=UTC))

    row = row_of(closed, page)
    assert row["effective_time"] == "2026-03-20T23:33:00.000-04:00"
    assert row["kiosk_time"] == "2026-03-21T00:20:00.000-04:00"
    assert marks_of(closed, page) == {"X73", "X02"}
    assert row["verdict"] == "In tolerance"


def test_the_hour_that_comes_twice_keeps_its_order_and_the_day_has_25_hours() -> None:
    """O16: 01:40 −04:00 is 05:40 UTC and 01:20 −05:00 is 06:20 UTC, by hand; US clock change of 1 November 2026."""
    builder = HeldBuilder()
    usual = {"station": "S24", "characteristic": "BC4", "gauge": "G-301", "keyed_as": "over wires", "person": "P-102"}
    builder.reading("2026-11-01T01:20:00.000-05:00", ".3198", master="W-24", piece=2, **usual)
    builder.reading("2026-11-01T01:40:00.000-04:00", ".3198", master="W-24", piece=1, **usual)

    closed = builder.close(date(2026, 10, 31), datetime(2026, 11, 1, 11, 5, tzinfo=UTC))

    times = closed.readings["effective_time"].to_pylist()
    assert times == ["2026-11-01T01:40:00.000-04:00", "2026-11-01T01:20:00.000-05:00"]
    assert closed.hours == 25


def test_too_coarse_and_out_of_range_gauges_are_told_apart() -> None:
    """O23: tolerance .0005: least count .0001 is 20 % (flagged), .0005 is 100 % (blocked); 1-2 in cannot read .3122."""
    lists = deck()
    any_kind = tuple(c.model_copy(update={"gauge_kinds": ()}) for c in lists.characteristics)
    builder = HeldBuilder(lists.model_copy(update={"characteristics": any_kind}))
    keyed = {"G-107": ".3123", "G-120": ".3125", "G-109": ".3122"}
    pages = {
        gauge: builder.reading(f"2026-03-09T09:0{at}:00.000-04:00", text, gauge=gauge, piece=1, sample=at + 1)
        for at, (gauge, text) in enumerate(keyed.items())
    }

    closed = builder.close()

    marks = {gauge: marks_of(closed, page) for gauge, page in pages.items()}
    assert marks == {"G-107": {"X15"}, "G-120": {"X16"}, "G-109": {"X15", "X17"}}
    standing = {gauge: row_of(closed, page)["standing"] for gauge, page in pages.items()}
    assert standing == {"G-107": "Counts – flagged", "G-120": "Blocked", "G-109": "Blocked"}
    percents = {row["sentence"] for row in closed.exceptions.to_pylist() if row["number"] in ("X15", "X16")}
    assert any("is 20 % of the tolerance" in sentence for sentence in percents)
    assert any("is 100 % of the tolerance" in sentence for sentence in percents)


def test_the_same_pages_in_another_order_give_the_same_tables() -> None:
    """O13: order of arrival never matters."""
    builder = HeldBuilder()
    for at in range(20):
        gauge = ("G-107", "G-108", "G-120")[at % 3]
        builder.reading(
            f"2026-03-09T09:{at:02d}:00.000-04:00", f".312{at % 7}", gauge=gauge, piece=at % 5 + 1, sample=at // 5 + 1
        )
    first = builder.close(DAY, AT)
    builder.rows.reverse()
    builder.acts.reverse()

    second = builder.close(DAY, AT)

    for name in ("readings", "acts", "exceptions", "touched", "holds", "kiosks", "lots", "lines"):
        assert getattr(first, name).to_pylist() == getattr(second, name).to_pylist(), name
