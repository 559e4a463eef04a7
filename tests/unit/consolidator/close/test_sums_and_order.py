"""Sums that add up, order that never matters, lines in their order, and what is carried from day to day."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from consolidator.close import CarriedOver, close_day
from consolidator.close.columns import READING_COLUMNS, TOTAL_PARTS
from consolidator.close.exceptions import make_key
from consolidator.frame import Day
from consolidator.rules import Found, Rule, Story
from tests.unit.consolidator.held_builder import (
    AT,
    DAY,
    HeldBuilder,
    exception_of,
    held_lots,
    marks_of,
    numbers_of,
    row_of,
)

READING = st.fixed_dictionaries(
    {
        "keyed": st.sampled_from([".3122", ".3126", "3.122", ".35", ".31225"]),
        "gauge": st.sampled_from(["G-107", "G-108", "G-120", "G-999"]),
        "lot": st.sampled_from(["L-411", "L-412", "L-999"]),
        "station": st.sampled_from(["S12", "S13"]),
        "sample_kind": st.sampled_from(["run", "set-up piece", "re-measure"]),
        "person": st.sampled_from(["P-101", "P-103"]),
        "replaces": st.sampled_from([None, 1, 2]),
        "source": st.sampled_from(["keyed", "from paper"]),
    }
)
TABLES = ("readings", "acts", "exceptions", "touched", "holds", "kiosks", "lots", "lines", "late")
TWO_DAYS_ON = datetime(2026, 3, 11, 10, 5, tzinfo=UTC)


@settings(max_examples=40, deadline=None)
@given(st.lists(READING, max_size=25), st.randoms(use_true_random=False))
def test_the_parts_add_up_and_order_of_arrival_changes_nothing(rows: list[dict[str, str]], chance: object) -> None:
    """Pages = counting + flagged + blocked + released + set-up pieces + checks + corrections + re-keyed + others."""
    builder = HeldBuilder()
    for at, row in enumerate(rows):
        fields = {name: value for name, value in row.items() if name != "keyed"}
        builder.reading(
            f"2026-03-09T09:{at:02d}:00.000-04:00", row["keyed"], piece=at % 5 + 1, sample=at // 5 + 1, **fields
        )
    builder.act("2026-03-09T12:00:00.000-04:00", {"kind": "remark", "words": "quiet morning"})
    first = builder.close()
    chance.shuffle(builder.rows)  # type: ignore[attr-defined]

    second = builder.close()

    assert first.totals["pages"] == sum(first.totals[part] for part in TOTAL_PARTS) == len(rows) + 1
    assert first.readings.num_rows == first.totals["readings"]
    assert first.readings.num_rows + first.acts.num_rows == first.totals["pages"]
    assert tuple(first.readings.column_names) == READING_COLUMNS
    for name in TABLES:
        assert getattr(first, name).to_pylist() == getattr(second, name).to_pylist(), name


def test_each_reading_has_one_leading_cause_and_the_others_stay_named() -> None:
    """4.2: kiosk before gauge before lot; the lot's line is there all the same, and nothing vanishes."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-11T09:00:00.000-04:00", ".2849", characteristic="BC2", gauge="G-107")

    closed = builder.close(date(2026, 3, 11), datetime(2026, 3, 12, 10, 5, tzinfo=UTC))

    leads = [row["key"] for row in closed.touched.to_pylist() if row["is_leading"] == "yes" and row["page"] == page]
    assert leads == ["X01:G-107:2026-03-11"]
    assert row_of(closed, page)["exceptions"] == "X01;X23"
    assert {row["cause"] for row in closed.lines.to_pylist()} >= {"G-107", "L-411"}


def test_one_gauge_on_many_readings_is_one_line_with_its_counts() -> None:
    """4.2: a past-due gauge on 6 readings, 2 lots, 2 stations is one line, not 6; nor are the samples it emptied."""
    builder = HeldBuilder()
    for at in range(6):
        builder.reading(
            f"2026-03-11T09:{at * 5:02d}:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107", piece=at + 1,
            lot=("L-411", "L-412")[at // 3], station=("S12", "S13")[at // 3],
        )  # fmt: skip

    lines = builder.close(date(2026, 3, 11), datetime(2026, 3, 12, 10, 5, tzinfo=UTC)).lines.to_pylist()

    (line,) = [line for line in lines if line["family"] != "kiosk"]  # both kiosks are silent by then
    assert (line["number"], line["cause"], line["kinds"]) == ("X01", "G-107", "X01;X40;X13")
    assert "L-411, sample 1 of BC2 at S12: 0 counting pieces" in line["sentence"]
    assert "And 1 more like it." in line["sentence"]
    assert (line["readings"], line["lots"], line["stations"]) == ("6", "L-411;L-412", "S12;S13")
    assert "Also X13" in line["sentence"]


def test_lines_stand_in_order_of_urgency_and_shipped_lots_come_first() -> None:
    """4.3: urgency, then shipped before ships later, then pieces touched."""
    builder = HeldBuilder()
    builder.reading("2026-03-09T09:00:00.000-04:00", ".3126", lot="L-411", piece=1)
    builder.reading("2026-03-09T09:10:00.000-04:00", ".3126", lot="L-412", piece=1)
    builder.reading("2026-03-09T09:20:00.000-04:00", ".3126", lot="L-412", piece=2)
    builder.reading("2026-03-09T09:30:00.000-04:00", ".3122", lot="L-420", gauge="G-118")
    builder.act("2026-03-09T15:00:00.000-04:00", {"kind": "lot ship", "lot": "L-411", "quantity": 9, "customer": "CU-1",
                                                  "order": "O-1"})  # fmt: skip

    lines = builder.close().lines.to_pylist()

    told = [(line["urgency"], line["cause"]) for line in lines if line["number"] in ("X23", "X13")]
    assert told == [("A", "L-411"), ("B", "L-412"), ("D", "G-118")]
    assert lines[0]["ships"] == "shipped"


def test_an_open_exception_keeps_its_key_and_its_age_from_day_to_day() -> None:
    """4.3: what is carried over keeps its age; raised again it is the same exception."""
    builder = HeldBuilder()
    builder.reading("2026-03-09T09:05:00.000-04:00", ".3126", piece=1)
    first = builder.close()
    builder.reading("2026-03-10T09:00:00.000-04:00", ".3127", piece=2)
    second = builder.close(date(2026, 3, 10), TWO_DAYS_ON, CarriedOver.of([first]))
    third = builder.close(date(2026, 3, 11), TWO_DAYS_ON + timedelta(days=1), CarriedOver.of([second]))

    rows = [exception_of(closed, "X23") for closed in (first, second, third)]
    assert {row["key"] for row in rows} == {"X23:L-411:2026-03-09"}
    assert {row["opened_at"] for row in rows} == {"2026-03-09T09:05:00.000-04:00"}
    assert [row["age_h"] for row in rows] == ["21", "45", "69"]
    assert [row["readings"] for row in rows] == ["1", "1", "1"]
    assert held_lots(third) == {"L-411": {"X23"}}


def test_what_is_only_for_the_record_ends_with_its_day() -> None:
    """4.5: X13 closes by its normal course, and the list says so."""
    builder = HeldBuilder()
    builder.reading("2026-03-09T09:00:00.000-04:00", ".3122", gauge="G-118")
    first = builder.close()
    second = builder.close(date(2026, 3, 10), TWO_DAYS_ON, CarriedOver.of([first]))

    row = exception_of(second, "X13")
    assert (row["state"], row["closed_why"]) == ("closed", "for the record: its day is over")


def test_a_double_tap_is_carried_until_the_lead_confirms_it() -> None:
    """4.5: nothing closes itself but the few named; D is the lowest urgency, not a way out."""
    builder = HeldBuilder()
    for second in (0, 2):
        builder.reading(f"2026-03-09T09:00:0{second}.000-04:00", ".3122", piece=1)

    first = builder.close()
    second_day = builder.close(date(2026, 3, 10), TWO_DAYS_ON, CarriedOver.of([first]))

    row = exception_of(second_day, "X33")
    assert (row["urgency"], row["state"]) == ("D", "open")
    assert [line["number"] for line in second_day.lines.to_pylist() if line["urgency"] == "D"] == ["X33"]


def test_a_short_sample_without_a_blocked_reading_is_its_own_line() -> None:
    """4.2: only what is missing because of a cause stands on that cause's line."""
    builder = HeldBuilder()
    builder.reading("2026-03-09T09:00:00.000-04:00", ".3122", piece=1)

    (line,) = builder.close().lines.to_pylist()

    assert (line["number"], line["cause"]) == ("X40", "L-411 BC1 S12-a 1")


def test_an_exception_is_closed_by_a_page_with_its_reason() -> None:
    """4.5: nothing closes itself but the few; an A needs a second person."""
    builder = HeldBuilder()
    builder.reading("2026-03-09T09:00:00.000-04:00", ".3122", lot="L-999", piece=1)
    builder.reading("2026-03-09T09:01:00.000-04:00", ".3122", number=2, piece=2)
    builder.reading("2026-03-09T09:02:00.000-04:00", ".3123", number=2, piece=3)
    for number, cause in (("X44", "L-999"), ("X34", "S12-a")):
        close = {"kind": "exception close", "exception": f"{number}:{cause}:2026-03-09", "reason": "looked into"}
        builder.act("2026-03-09T15:00:00.000-04:00", close)

    closed = builder.close()

    assert exception_of(closed, "X44")["state"] == "closed"
    assert exception_of(closed, "X44")["closed_by"] == "desk-a/1"
    assert exception_of(closed, "X34")["state"] == "open"


def test_a_lift_covers_only_what_was_known_when_it_was_signed() -> None:
    """First principle: nothing good is retroactive; a fail that came in after the lift holds the lot again."""
    builder = HeldBuilder()
    late = int(datetime(2026, 3, 9, 18, tzinfo=UTC).timestamp() * 1000)
    builder.reading("2026-03-09T09:00:00.000-04:00", ".3126", piece=1)
    lift = {"kind": "hold lift", "lot": "L-411", "reason": "sorted"}
    builder.act("2026-03-09T12:00:00.000-04:00", lift)
    lifted = builder.close()
    builder.reading(
        "2026-03-09T09:30:00.000-04:00", ".3127", piece=2, station="S13", received_at_ms=late, gauge="G-118"
    )

    again = builder.close()

    assert held_lots(lifted) == {}
    assert held_lots(again) == {"L-411": {"X23"}}


def test_an_a_hold_is_lifted_by_two_persons_only() -> None:
    """4.6: lifting an A hold needs two signatures of different persons."""
    builder = HeldBuilder()
    builder.reading("2026-03-09T09:00:00.000-04:00", ".3126")
    builder.act("2026-03-09T10:00:00.000-04:00", {"kind": "lot close", "lot": "L-411", "quantity": 1})
    ref = builder.act("2026-03-09T12:00:00.000-04:00", {"kind": "hold lift", "lot": "L-411", "reason": "sorted"})
    alone = builder.close()
    sign = {"kind": "second signature", "of": ref, "meaning": "released"}
    builder.act("2026-03-09T12:05:00.000-04:00", sign, person="P-108")

    assert held_lots(alone) == {"L-411": {"X23"}}
    assert held_lots(builder.close()) == {}


def test_blocked_readings_are_released_by_two_persons_who_did_not_take_them() -> None:
    """3.3.6: two signatures citing fresh evidence; printed Released for ever, and a release never turns a fail."""
    for second, standing in (("P-108", "Released"), ("P-106", "Blocked"), ("P-101", "Blocked")):
        builder = HeldBuilder()
        page = builder.reading("2026-03-11T09:00:00.000-04:00", ".2841", characteristic="BC2", gauge="G-107")
        found = builder.act("2026-03-11T14:00:00.000-04:00", {"kind": "remark", "words": "as-found good"})
        release = {"kind": "release", "readings": [page], "evidence": [found], "reason": "as-found good"}
        ref = builder.act("2026-03-11T15:00:00.000-04:00", release)
        sign = {"kind": "second signature", "of": ref, "meaning": "released"}
        builder.act("2026-03-11T15:05:00.000-04:00", sign, person=second)

        closed = builder.close(date(2026, 3, 11), datetime(2026, 3, 12, 10, 5, tzinfo=UTC))

        row = row_of(closed, page)
        assert row["standing"] == standing, second
        assert "X01" in marks_of(closed, page)
        assert (row["settled_by"] == "desk-a/2;desk-a/3") is (standing == "Released")


def test_a_blocked_reading_without_a_verdict_cannot_be_released() -> None:
    """3.3.7: a slip is settled by measuring again, never by signatures alone."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-09T09:00:00.000-04:00", "3.122")
    ref = builder.act(
        "2026-03-09T15:00:00.000-04:00",
        {"kind": "release", "readings": [page], "evidence": ["desk-a/9"], "reason": "looks right"},
    )
    sign = {"kind": "second signature", "of": ref, "meaning": "released"}
    builder.act("2026-03-09T15:05:00.000-04:00", sign, person="P-108")

    assert row_of(builder.close(), page)["standing"] == "Blocked"


def test_a_night_without_any_page_is_closed_all_the_same() -> None:
    """No data is not an error; it is told by the kiosks that were not heard from."""
    closed = HeldBuilder().close(DAY, AT)

    assert closed.totals["pages"] == 0
    assert "X23" not in numbers_of(closed)


def test_a_long_cause_still_gives_a_key_a_page_can_name() -> None:
    """A page names an exception in at most 40 characters."""
    assert len(make_key("X50", "L-4110000000000000000 and L-4120000000000000000", DAY)) <= 40
    assert make_key("X23", "L-411", DAY) == "X23:L-411:2026-03-09"


def test_what_a_kiosk_said_of_a_kind_close_does_not_look_for_stands() -> None:
    """X07 comes of a look-back; where none is asked for, what a page says against a reading is never dropped."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-09T09:00:00.000-04:00", ".3122", reasons="X07")

    closed = builder.close()

    assert (row_of(closed, page)["standing"], marks_of(closed, page)) == ("Counts – flagged", {"X07"})


def test_rules_that_need_more_than_the_night_run_beside_the_others() -> None:
    """A look-back's mark stands as any other, and takes the place of what the kiosk said of its kind."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-09T09:00:00.000-04:00", ".3122", reasons="X07")

    def found_out(day: Day) -> list[Found] | list[Story]:
        return [Found("X07", np.array([0]), np.array([0]), ("G-108",), lambda _row: "Found out.")]

    alone = builder.close()
    closed = close_day(builder.held(), builder.lists, day=DAY, at_utc=AT, more_rules=(Rule("X07", found_out),))

    assert "said X07" in exception_of(alone, "X07")["sentence"]
    assert exception_of(closed, "X07")["sentence"] == "Found out."
    assert (marks_of(closed, page), row_of(closed, page)["standing"]) == ({"X07"}, "Counts – flagged")
