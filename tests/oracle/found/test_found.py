"""Nights on which close of day and the oracle once differed; who was right is settled by the rules and decisions."""

from typing import Any

from tests.unit.consolidator.held_builder import HeldBuilder, deck, exception_of, marks_of, numbers_of, row_of

_START = {"kind": "set-up start", "lot": "L-411", "part": "B-3124", "revision": "C", "operation": "80",
          "set_by": "P-107"}  # fmt: skip
_AT = "2026-03-09T09:{}.000-04:00"


def test_a_reading_that_names_no_set_up_is_hot_when_the_last_begun_at_its_station_is() -> None:
    """0038, X59: begun hot 09:00 at S24, read 09:10 without naming it and without a word on heat: flagged."""
    builder = HeldBuilder()
    builder.act(_AT.format("00:00"), _START | {"set_up": "SU-1", "is_hot": True}, series="S24-a", person="P-107")
    page = builder.reading(
        _AT.format("10:00"), "Accept", station="S24", characteristic="BC5", gauge="G-502", person="P-102",
        keyed_as="accept/reject",
    )  # fmt: skip

    assert marks_of(builder.close(), page) == {"X59"}


def test_whoever_ran_a_set_up_cannot_approve_it_even_where_the_readings_do_not_name_it() -> None:
    """0038, X53, X54: SU-1 at S24 approved by P-104, who took a run reading there that names no set-up: void."""
    plans = [p.model_dump(mode="json") | {"needs_first_piece": p.operation == "80"} for p in deck().plans]
    builder = HeldBuilder(deck(plans=plans))
    builder.act(_AT.format("00:00"), _START | {"set_up": "SU-1"}, series="S24-a", person="P-107")
    approval = {"kind": "first-piece approval", "set_up": "SU-1", "part": "B-3124", "revision": "C", "operation": "80",
                "result": "Approved"}  # fmt: skip
    builder.act(_AT.format("05:00"), approval, series="S24-a", person="P-104")
    page = builder.reading(
        _AT.format("10:00"), "Accept", station="S24", characteristic="BC5", gauge="G-502", person="P-104",
        keyed_as="accept/reject",
    )  # fmt: skip
    closed = builder.close()

    assert "X53" in marks_of(closed, page)
    assert exception_of(closed, "X54")["cause"] == "SU-1"


def test_a_hold_lifted_without_authority_still_stands_for_who_works_on() -> None:
    """0034, X51: held 08:00, an operator lifts it 08:30, worked 09:00: on hold still; lifted by the QM it is not."""
    marks = []
    for signer in ("P-101", "P-106"):
        builder = HeldBuilder()
        builder.act("2026-03-09T08:00:00.000-04:00", {"kind": "hold", "lot": "L-411", "reason": "r"})
        lift = {"kind": "hold lift", "lot": "L-411", "reason": "r"}
        builder.act("2026-03-09T08:30:00.000-04:00", lift, person=signer)
        page = builder.reading(_AT.format("00:00"), ".3122")
        marks.append(marks_of(builder.close(), page))

    assert marks == [{"X51"}, set()]


def test_a_fail_wiped_before_a_second_keying_is_still_behind_the_third() -> None:
    """X31, 0033: .3126 out wiped unasked, .3123 kept, keyed anew .3122: out and then in, on the page that stands."""
    builder = HeldBuilder()
    same = {"piece": 3, "sample": 1}
    first = builder.reading(_AT.format("00:00"), ".3123", earlier='[{"text":".3126","asked":[]}]', **same)
    last = builder.reading(_AT.format("00:20"), ".3122", replaces=int(first.rpartition("/")[2]), **same)

    assert marks_of(builder.close(), last) == {"X31"}


def test_a_fail_that_was_asked_about_and_believed_is_a_fail_when_it_is_keyed_anew() -> None:
    """X31, 0015: .3142 asked and keyed again is out; .3124 keyed in its place unasked: a kept one that was out."""
    builder = HeldBuilder()
    same = {"piece": 3, "sample": 1}
    first = builder.reading(_AT.format("00:00"), ".3142", earlier='[{"text":".3142","asked":["X28"]}]', **same)
    last = builder.reading(_AT.format("00:20"), ".3124", replaces=int(first.rpartition("/")[2]), **same)

    assert marks_of(builder.close(), last) == {"X31"}


def test_a_correction_for_the_worse_of_a_replaced_page_makes_no_fail_keyed_to_pass() -> None:
    """X31: .3123 was in when .3122 took its place; that it is corrected to .3126 afterwards changes no keying."""
    builder = HeldBuilder()
    same = {"piece": 3, "sample": 1}
    first = builder.reading(_AT.format("00:00"), ".3123", **same)
    last = builder.reading(_AT.format("00:20"), ".3122", replaces=int(first.rpartition("/")[2]), **same)
    correction = {"kind": "correction", "of": first, "field": "value", "old": ".3123", "new": ".3126",
                  "reason": "keyed wrong", "words": "w"}  # fmt: skip
    builder.act("2026-03-09T11:00:00.000-04:00", correction)

    assert marks_of(builder.close(), last) == set()


def test_a_calibration_done_before_a_drop_and_entered_after_it_settles_nothing() -> None:
    """X05, 0019: calibrated 08:00, dropped 09:00, the calibration entered 09:30, read 10:00: still dropped."""
    builder = HeldBuilder()
    incident = {"kind": "gauge incident", "gauge": "G-108", "what": "dropped"}
    builder.act(_AT.format("00:00"), incident, series="S12-a", person="P-101")
    done: dict[str, Any] = {
        "kind": "calibration", "gauge": "G-108", "done_at": "2026-03-09T08:00:00.000-04:00", "masters": (),
        "procedure": "C-1", "unit": "in", "points": (), "as_found": "Good", "as_left": "Good",
    }  # fmt: skip
    builder.act(_AT.format("30:00"), done, person="P-105")
    page = builder.reading("2026-03-09T10:00:00.000-04:00", ".3122")

    assert marks_of(builder.close(), page) == {"X05"}


def test_a_lot_opened_again_is_open_from_that_very_moment() -> None:
    """X46: closed 09:00, opened again 09:30:00.000; a reading of that millisecond counts, the one before does not."""
    builder = HeldBuilder()
    builder.act(_AT.format("00:00"), {"kind": "lot close", "lot": "L-411", "quantity": 2000})
    builder.act(_AT.format("30:00"), {"kind": "lot re-open", "lot": "L-411", "reason": "r"})
    before = builder.reading("2026-03-09T09:29:59.999-04:00", ".3122")
    same = builder.reading(_AT.format("30:00"), ".3123")
    closed = builder.close()

    assert ("X46" in marks_of(closed, before), row_of(closed, same)["standing"]) == (True, "Counts")


def test_a_sample_that_reaches_into_the_day_is_compared_with_all_that_was_measured_of_it() -> None:
    """X41: BC1 measured 05:00, BC2 05:50, settled 06:20 in this day: both are there; without BC1 one is skipped."""
    both = [c for c in deck().characteristics if c.operation in ("60", "65")]
    rows = [c.model_dump(mode="json") | {"operation": "60"} for c in both]
    numbers = []
    for has_first in (True, False):
        builder = HeldBuilder(deck(characteristics=rows))
        if has_first:
            builder.reading("2026-03-09T05:00:00.000-04:00", ".3122")
        builder.reading("2026-03-09T05:50:00.000-04:00", ".2840", characteristic="BC2")
        numbers.append("X41" in numbers_of(builder.close()))

    assert numbers == [False, True]
    assert exception_of(builder.close(), "X41")["lots"] == "L-411"


def test_a_good_check_of_a_gauge_that_nothing_befell_decides_nothing() -> None:
    """3.3.9, X74: in doubt by 47 min with a good check in the span and no incident before: flagged, not blocked."""
    standings = []
    for befell in (False, True):
        builder = HeldBuilder()
        if befell:
            incident = {"kind": "gauge incident", "gauge": "G-108", "what": "dropped"}
            builder.act(_AT.format("00:00"), incident, series="S13-a", person="P-101")
        check = {"kind": "check", "check_kind": "zero check", "gauge": "G-108", "keyed": "0", "unit": "in",
                 "error": "0", "limit": "0.00005", "verdict": "Good"}  # fmt: skip
        builder.act("2026-03-09T10:00:00.000-04:00", check, series="S13-a", person="P-101")
        page = builder.reading("2026-03-09T11:00:00.000-04:00", ".3122")
        builder.contact("S12-a", "2026-03-09T12:00:00.000-04:00", kiosk="2026-03-09T12:47:00.000-04:00", session=2)
        closed = builder.close()
        assert "X74" in marks_of(closed, page)
        standings.append(row_of(closed, page)["standing"])

    assert standings == ["Counts – flagged", "Blocked"]


def test_a_gauge_found_good_was_good_before_whatever_was_done_to_it_then() -> None:
    """X06, 0121: read 09:00, found good and left out 10:00, dropped 11:00: the doubt does not reach behind 10:00."""
    marks = []
    for found in ("Good", "Out"):
        builder = HeldBuilder()
        page = builder.reading(_AT.format("00:00"), ".3122")
        done: dict[str, Any] = {
            "kind": "calibration", "gauge": "G-108", "done_at": "2026-03-09T10:00:00.000-04:00", "masters": (),
            "procedure": "C-1", "unit": "in", "points": (), "as_found": found, "as_left": "Out",
        }  # fmt: skip
        builder.act("2026-03-09T10:00:00.000-04:00", done, person="P-105")
        incident = {"kind": "gauge incident", "gauge": "G-108", "what": "dropped"}
        builder.act("2026-03-09T11:00:00.000-04:00", incident, series="S12-a", person="P-101")
        marks.append(marks_of(builder.close(), page))

    assert marks == [set(), {"X06"}]


_NIGHT = "2026-03-09T{}.000-04:00"


def _in_doubt(builder: HeldBuilder) -> str:
    """Read at 23:50 by a clock 47 min fast that was seen only in a later session: made between 23:03 and 23:50."""
    page = builder.reading(_NIGHT.format("23:50:00"), ".3122")
    builder.contact("S12-a", "2026-03-10T01:00:00.000-04:00", kiosk="2026-03-10T01:47:00.000-04:00", session=2)
    return page


def test_what_was_put_right_in_the_same_moment_decides_nothing() -> None:
    """X74, 3.3.9: stopped and in use again in one millisecond of the span: the gauge was in use all along."""
    standings = []
    for states in (["Stopped", "In use"], ["Stopped"]):
        builder = HeldBuilder()
        for state in states:
            builder.act(_NIGHT.format("23:20:00"), {"kind": "gauge state", "gauge": "G-108", "state": state})
        page = _in_doubt(builder)
        standings.append(row_of(builder.close(), page)["standing"])

    assert standings == ["Counts – flagged", "Blocked"]


def test_a_number_of_days_that_is_not_in_force_decides_nothing() -> None:
    """X74, N11: 10 days are tolerated since January; that 14 would end at midnight, inside the span, is no border."""
    until = [{"person": "P-101", "operation": "60", "level": "operator", "valid_from": "2024-01-01", "valid_until": day}
             for day in ("2026-02-23", None)]  # fmt: skip
    tolerated = {"number": "N11", "value": "10", "in_force_from": "2026-01-01T00:00:00.000-05:00"}
    marks = []
    for numbers in ([tolerated], []):
        rows = [q.model_dump(mode="json") for q in deck().qualifications] + until
        builder = HeldBuilder(deck(qualifications=rows, plant_numbers=numbers))
        page = builder.reading("2026-03-10T00:20:00.000-04:00", ".3122")
        builder.contact("S12-a", "2026-03-10T02:00:00.000-04:00", kiosk="2026-03-10T02:47:00.000-04:00", session=2)
        marks.append(row_of(builder.close(), page)["standing"])

    assert marks == ["Counts – flagged", "Blocked"]


def test_a_record_that_is_no_proof_and_no_failure_leaves_a_proven_set_up_proven() -> None:
    """X55, 0135: three good pieces prove SU-1 at 09:05; two more at 09:06 prove nothing and take nothing away."""
    plans = [p.model_dump(mode="json") | {"needs_fatigue_proof": p.operation == "80"} for p in deck().plans]
    marks = []
    for cycles in (["70000", "70000"], ["70000", "44999"]):
        builder = HeldBuilder(deck(plans=plans))
        builder.act(_AT.format("00:00"), _START | {"set_up": "SU-1"}, series="S24-a", person="P-107")
        for minute, results in (("05:00", ["70000"] * 3), ("06:00", cycles)):
            pieces = [{"piece": f"T-{n}", "lot": "L-411", "set_up": "SU-1", "result": each, "verdict": "In tolerance"}
                      for n, each in enumerate(results)]  # fmt: skip
            record = {"kind": "test record", "number": f"T-{minute[:2]}", "what": "fatigue", "lot": "L-411",
                      "part": "B-3124", "characteristic": "BC10", "set_up": "SU-1", "method": "m", "frame": "F-1",
                      "unit": "cycles", "pieces": pieces, "verdict": "In tolerance"}  # fmt: skip
            builder.act(_AT.format(minute), record)
        page = builder.reading(
            _AT.format("10:00"), "Accept", station="S24", characteristic="BC5", gauge="G-502", person="P-102",
            keyed_as="accept/reject", set_up="SU-1",
        )  # fmt: skip
        marks.append(marks_of(builder.close(), page))

    assert marks == [set(), {"X55", "X56"}]


def test_dies_changed_after_their_set_up_had_ended_are_new_all_the_same() -> None:
    """X64, 0132: 101 of 100 pieces at 09:00, ended 09:05, dies changed 09:06 (or not), read 09:10 under its name."""
    plans = [p.model_dump(mode="json") | {"die_life": 100 if p.operation == "80" else None} for p in deck().plans]
    marks = []
    for what in ("die change", "re-set"):
        builder = HeldBuilder(deck(plans=plans))
        begun = _START | {"set_up": "SU-1", "die_set": "D-1", "die_pieces_before": 101}
        builder.act(_AT.format("00:00"), begun, series="S24-a", person="P-107")
        builder.act(_AT.format("05:00"), {"kind": "set-up end", "set_up": "SU-1"}, series="S24-a", person="P-107")
        change = {"kind": "set-up change", "set_up": "SU-1", "what": what}
        builder.act(_AT.format("06:00"), change, series="S24-a", person="P-107")
        page = builder.reading(
            _AT.format("10:00"), "Accept", station="S24", characteristic="BC5", gauge="G-502", person="P-102",
            keyed_as="accept/reject", set_up="SU-1",
        )  # fmt: skip
        marks.append(marks_of(builder.close(), page))

    assert marks == [set(), {"X64"}]


def test_what_a_die_set_has_made_is_never_unmade() -> None:
    """X64, 0132: D-1 known with 200 pieces at S25, counted with 50 at S24, begun again there with 60: 200 stand."""
    plans = [p.model_dump(mode="json") | {"die_life": 100 if p.operation == "80" else None} for p in deck().plans]
    builder = HeldBuilder(deck(plans=plans))
    dies = _START | {"die_set": "D-1"}
    builder.act(_AT.format("00:00"), dies | {"set_up": "SU-1", "die_pieces_before": 50}, series="S24-a", person="P-107")
    builder.act(
        _AT.format("01:00"), dies | {"set_up": "SU-2", "die_pieces_before": 200}, series="S25-a", person="P-107"
    )
    counter = {"kind": "machine counter", "machine": "M-24", "at": "end", "pieces": 50}
    builder.act(_AT.format("02:00"), counter, series="S24-a", person="P-107")
    builder.act(_AT.format("03:00"), dies | {"set_up": "SU-3", "die_pieces_before": 60}, series="S24-a", person="P-107")
    page = builder.reading(
        _AT.format("10:00"), "Accept", station="S24", characteristic="BC5", gauge="G-502", person="P-102",
        keyed_as="accept/reject", set_up="SU-3",
    )  # fmt: skip

    assert marks_of(builder.close(), page) == {"X64"}


def test_a_due_date_that_was_given_and_renewed_inside_one_day_has_ended_in_it() -> None:
    """X82, 0123: by a row of 10:00 due that day; not brought in by midnight, calibrated 05:00: late all the same."""
    numbers = []
    for due in ("2026-03-09", "2026-03-10"):
        rows = [g.model_dump(mode="json") for g in deck().gauges]
        given = {"due": due, "in_force_from": "2026-03-09T10:00:00.000-04:00"}
        rows += [row | given for row in rows if row["number"] == "G-108"]
        builder = HeldBuilder(deck(gauges=rows))
        done = {"kind": "calibration", "gauge": "G-108", "done_at": "2026-03-10T05:00:00.000-04:00", "masters": (),
                "procedure": "C-1", "unit": "in", "points": (), "as_found": "Good", "as_left": "Good",
                "due": "2026-06-01"}  # fmt: skip
        builder.act("2026-03-10T05:00:00.000-04:00", done, person="P-105")
        numbers.append("X82" in numbers_of(builder.close()))

    assert numbers == [True, False]


def _zero(error: str, **told: str) -> dict[str, Any]:
    return {"kind": "check", "check_kind": "zero check", "gauge": "G-220", "keyed": "0", "unit": "in", "error": error,
            "limit": "0.00005", "verdict": "Good"} | told  # fmt: skip


def test_the_last_good_check_is_the_last_by_effective_time_not_by_its_latest() -> None:
    """X11, 0120: 05:00 in doubt up to 09:30, and 09:00 for sure; read 10:00 an hour after 09:00: in time."""
    builder = HeldBuilder()
    builder.act("2026-03-09T09:30:00.000-04:00", _zero("0"), series="S13-a", person="P-101")
    builder.contact("S13-a", "2026-03-09T12:00:00.000-04:00", kiosk="2026-03-09T16:30:00.000-04:00", session=2)
    builder.act("2026-03-09T09:00:00.000-04:00", _zero("0"), series="S12-a", person="P-101")
    page = builder.reading("2026-03-09T10:00:00.000-04:00", "0", gauge="G-220", keyed_as="deviation")

    assert "X11" not in marks_of(builder.close(), page)


def test_an_acceptance_reading_of_the_day_before_counts_beside_run_pieces_of_a_final_operation() -> None:
    """X43, 0130: two pieces are planned; one lot acceptance on 8 March, one run piece at the final operation on 9."""
    plans = [p.model_dump(mode="json") | {"is_final": p.operation == "60"} for p in deck().plans]
    rows = [c.model_dump(mode="json") | ({"acceptance_n": 2} if c.number == "BC1" else {})
            for c in deck().characteristics]  # fmt: skip
    numbers = []
    for has_first in (True, False):
        builder = HeldBuilder(deck(plans=plans, characteristics=rows))
        if has_first:
            builder.reading("2026-03-08T09:00:00.000-04:00", ".3122", sample_kind="lot acceptance", sample=1)
        builder.reading("2026-03-09T09:00:00.000-04:00", ".3123", sample=2)
        numbers.append("X43" in numbers_of(builder.close()))

    assert numbers == [False, True]
