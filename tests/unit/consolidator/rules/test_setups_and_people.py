"""X53 to X59, X65 to X67: set-ups, heat and people. Situations and expectations by hand."""

from datetime import UTC, date, datetime

import pytest

from consolidator.close import ClosedDay
from tests.unit.consolidator.held_builder import (
    HeldBuilder,
    deck,
    exception_of,
    held_lots,
    marks_of,
    numbers_of,
    row_of,
)

DAY = date(2026, 3, 13)
AT = datetime(2026, 3, 14, 10, 5, tzinfo=UTC)
ROLLING = {"station": "S24", "characteristic": "BC4", "gauge": "G-301", "keyed_as": "over wires", "master": "W-24",
           "person": "P-102", "set_up": "SU-31"}  # fmt: skip
START = {"kind": "set-up start", "set_up": "SU-31", "lot": "L-411", "part": "B-3124", "revision": "C",
         "operation": "80", "set_by": "P-107"}  # fmt: skip
APPROVAL = {"kind": "first-piece approval", "set_up": "SU-31", "part": "B-3124", "revision": "C", "operation": "80",
            "result": "Approved"}  # fmt: skip


def _at(clock: str) -> str:
    return f"2026-03-13T{clock}:00.000-04:00"


def _rolling(**plan: bool) -> HeldBuilder:
    lists = deck()
    told = {"needs_first_piece": True, "needs_fatigue_proof": True} | plan
    plans = tuple(p.model_copy(update=told) if p.operation == "80" else p for p in lists.plans)
    builder = HeldBuilder(lists.model_copy(update={"plans": plans}))
    builder.act(_at("06:20"), START, series="S24-a", person="P-107")
    return builder


def _sample(builder: HeldBuilder, hour: int, minute: int, sample: int) -> list[str]:
    keyed = (".3198", ".3197", ".3199", ".3198", ".3200")
    return [
        builder.reading(f"2026-03-13T{hour:02d}:{minute + at // 3:02d}:{20 * (at % 3):02d}.000-04:00", text,
                        sample=sample, piece=at + 1, **ROLLING)
        for at, text in enumerate(keyed)
    ]  # fmt: skip


def _standings(closed: ClosedDay, pages: list[str]) -> set[str]:
    return {row_of(closed, page)["standing"] for page in pages}


def test_run_readings_before_the_first_piece_approval_stay_blocked() -> None:
    """O8: begun 06:20, read 06:50, approved 07:10, read 07:15: the first five blocked, the next flagged unproven."""
    builder = _rolling()
    early = _sample(builder, 6, 50, 1)
    builder.act(_at("07:10"), APPROVAL, series="S24-a", person="P-104")
    late = _sample(builder, 7, 15, 2)

    closed = builder.close(DAY, AT)

    assert _standings(closed, early) == {"Blocked"}
    assert _standings(closed, late) == {"Counts – flagged"}
    assert all("X53" in marks_of(closed, page) for page in early)
    assert all(marks_of(closed, page) == {"X55"} for page in late)
    sentence = exception_of(closed, "X53")["sentence"]
    assert "06:20" in sentence and "07:10" in sentence
    assert held_lots(closed) == {"L-411": {"X53"}}


@pytest.mark.parametrize("approver", ["P-107", "P-102", "P-103"], ids=["setter", "operator of the run", "no approver"])
def test_an_approval_by_the_wrong_person_is_void(approver: str) -> None:
    """O8b, X54: setter, operator of the run or somebody not qualified: all ten blocked."""
    builder = _rolling()
    pages = _sample(builder, 6, 50, 1)
    builder.act(_at("07:10"), APPROVAL, series="S24-a", person=approver)
    pages += _sample(builder, 7, 15, 2)

    closed = builder.close(DAY, AT)

    assert _standings(closed, pages) == {"Blocked"}
    assert exception_of(closed, "X54")["urgency"] == "B"
    assert exception_of(closed, "X53")["readings"] == "10"


def test_a_set_up_change_ends_the_approval() -> None:
    """X53: approved 07:10, touched 08:00: 07:15 is approved, 08:30 is not."""
    builder = _rolling(needs_fatigue_proof=False)
    builder.act(_at("07:10"), APPROVAL, series="S24-a", person="P-104")
    approved = _sample(builder, 7, 15, 1)
    builder.act(_at("08:00"), {"kind": "set-up change", "set_up": "SU-31", "what": "re-set"}, series="S24-a")
    after = _sample(builder, 8, 30, 2)

    closed = builder.close(DAY, AT)

    assert (_standings(closed, approved), _standings(closed, after)) == ({"Counts"}, {"Blocked"})


@pytest.mark.parametrize(
    ("results", "passes"),
    [
        (("130000", "72400", "58900"), True),
        (("130000", "72400", "44999"), False),
        (("65000", "65000", "64999"), False),
        (("65000", "65000", "65000"), True),
        (("130000", "72400"), False),
    ],
    ids=["average 87 100", "one under 45 000", "average under 65 000", "average exactly 65 000", "two of three"],
)
def test_a_passed_fatigue_proof_closes_what_was_unproven(results: tuple[str, ...], passes: bool) -> None:
    """O9: each at least 45 000, average at least 65 000, three pieces; the record's own word is not enough."""
    builder = _rolling()
    builder.act(_at("07:10"), APPROVAL, series="S24-a", person="P-104")
    pages = _sample(builder, 7, 15, 1)
    pieces = [
        {"piece": str(at), "lot": "L-411", "set_up": "SU-31", "result": result, "is_stopped": result == "130000",
         "verdict": "In tolerance"}
        for at, result in enumerate(results, start=1)
    ]  # fmt: skip
    record = {"kind": "test record", "number": "TR-77", "what": "fatigue", "lot": "L-411", "part": "B-3124",
              "characteristic": "BC10", "set_up": "SU-31", "method": "plan", "frame": "F-36", "unit": "cycles",
              "pieces": pieces, "verdict": "In tolerance"}  # fmt: skip
    builder.act(_at("16:40"), record)

    closed = builder.close(DAY, AT)

    row = exception_of(closed, "X55")
    assert row["state"] == ("closed" if passes else "open")
    assert ("TR-77" in row["closed_why"]) is passes
    assert _standings(closed, pages) == {"Counts – flagged"}


@pytest.mark.parametrize(
    ("clock", "part", "gauge", "lot", "expected"),
    [
        ("10:20", None, None, "L-420", "X58"),
        ("10:36", None, None, "L-420", None),
        ("10:20", "76", "72", "L-420", None),
        ("10:50", "95", None, "L-420", "X58"),
        ("10:50", "80", "69.9", "L-420", "X58"),
        ("10:52", None, None, "L-411", "X59"),
    ],
    ids=["15 min", "31 min", "76 degF and 72 degF", "95 degF after 45 min", "10.1 degF apart", "nothing shown"],
)
def test_the_thermometer_outranks_the_clock_both_ways(
    clock: str, part: str | None, gauge: str | None, lot: str, expected: str | None
) -> None:
    """O22, N10: 30 min by the clock, or at most 80 degF and within 10 degF of the gauge; out of heat 10:05."""
    lists = deck()
    heated = tuple(c.model_copy(update={"is_heated": c.number == "BC4"}) for c in lists.characteristics)
    builder = HeldBuilder(lists.model_copy(update={"characteristics": heated}))
    out = {"kind": "out of heat", "lot": "L-420", "out_at": _at("10:05")}
    builder.act(_at("10:06"), out, series="S24-a")
    temperatures = {"part_temperature": part, "gauge_temperature": gauge, "temperature_unit": "degF" if part else None}
    page = builder.reading(_at(clock), ".3198", **(ROLLING | {"set_up": None, "lot": lot} | temperatures))

    closed = builder.close(DAY, AT)

    assert marks_of(closed, page) == ({expected} if expected else set())
    word = {"X58": "Blocked", "X59": "Counts – flagged", None: "Counts"}[expected]
    assert row_of(closed, page)["standing"] == word


def test_a_reading_by_somebody_not_qualified_is_blocked_unless_a_trainer_signs_inside_the_sample() -> None:
    """O21: P-103 alone blocked; under P-102 counts with both names; signed an hour later has no effect."""
    builder = HeldBuilder()
    trainee = ROLLING | {"person": "P-103", "set_up": None}
    alone = builder.reading(_at("09:00"), ".3198", sample=1, piece=1, **trainee)
    together = builder.reading(_at("09:30"), ".3198", sample=2, piece=1, **trainee)
    sign = {"kind": "countersign", "trainee": "P-103", "lot": "L-411", "operation": "80", "characteristic": "BC4"}
    builder.act(_at("09:31"), sign | {"sample": 2}, series="S24-a", person="P-102")
    builder.act(_at("10:00"), sign | {"sample": 1}, series="S24-a", person="P-102")

    closed = builder.close(DAY, AT)

    assert (row_of(closed, alone)["standing"], marks_of(closed, alone)) == ("Blocked", {"X65"})
    row = row_of(closed, together)
    assert (row["standing"], row["person"], row["countersign"]) == ("Counts", "P-103", "P-102")
    assert "P-103" not in "".join(row["sentence"] + row["cause"] for row in closed.lines.to_pylist())


@pytest.mark.parametrize(
    ("until", "kind", "standing"),
    [
        ("2026-03-13", "run", "Counts"),
        ("2026-02-27", "run", "Counts – flagged"),
        ("2026-02-26", "run", "Blocked"),
        ("2026-03-12", "first piece", "Blocked"),
    ],
    ids=["last day", "14 days ago", "15 days ago", "never for a first piece"],
)
def test_a_lapsed_qualification_is_tolerated_for_fourteen_days_in_process(until: str, kind: str, standing: str) -> None:
    """X66: N11 is 14 days, in process only."""
    row = {"person": "P-102", "operation": "80", "level": "operator", "valid_from": "2024-01-01", "valid_until": until}
    builder = HeldBuilder(deck(qualifications=[row]))
    page = builder.reading(_at("09:00"), ".3198", sample_kind=kind, **(ROLLING | {"set_up": None}))

    assert row_of(builder.close(DAY, AT), page)["standing"] == standing


@pytest.mark.parametrize(("second", "flagged"), [("09:01", True), ("09:02", False)])
def test_one_badge_at_two_stations_within_a_minute_is_flagged_without_a_name(second: str, flagged: bool) -> None:
    """X67: N9 is 60 s; both readings are flagged and the line names stations only."""
    builder = HeldBuilder()
    builder.reading(_at("09:00"), ".3122", person="P-101", gauge="G-108")
    builder.reading(_at(second), ".3122", person="P-101", station="S13", gauge="G-118")

    closed = builder.close(DAY, AT)

    assert ("X67" in numbers_of(closed)) is flagged
    if flagged:
        assert exception_of(closed, "X67")["cause"] == "S12 and S13"


def test_whoever_touched_a_set_up_cannot_approve_it() -> None:
    """X54: P-104 re-set it at 06:30 and approves at 07:10: the setter's approval is void."""
    builder = _rolling()
    touched = {"kind": "set-up change", "set_up": "SU-31", "what": "re-set"}
    builder.act(_at("06:30"), touched, series="S24-a", person="P-104")
    builder.act(_at("07:10"), APPROVAL, series="S24-a", person="P-104")
    pages = _sample(builder, 7, 15, 1)

    closed = builder.close(DAY, AT)

    assert _standings(closed, pages) == {"Blocked"}
    assert "the setter" in exception_of(closed, "X54")["sentence"]


@pytest.mark.parametrize(("approved", "standing"), [("06:40", "Counts – flagged"), ("07:10", "Blocked")])
def test_an_approval_inside_the_span_of_a_time_in_doubt_blocks(approved: str, standing: str) -> None:
    """X74: read 08:40 by a clock 60 min fast a session before, so 07:40 ± 60 min; approved 07:10 hangs on it."""
    builder = _rolling(needs_fatigue_proof=False)
    builder.act(_at(approved), APPROVAL, person="P-104")
    page = builder.reading(_at("08:40"), ".3198", **(ROLLING | {"series": "S24-b", "session": 1}))
    builder.contact("S24-b", _at("09:30"), kiosk=_at("10:30"), session=2, running_ms=600_000)

    closed = builder.close(DAY, AT)

    assert row_of(closed, page)["effective_time"] == _at("07:40")
    assert marks_of(closed, page) == {"X73", "X74"}
    assert row_of(closed, page)["standing"] == standing


@pytest.mark.parametrize(
    ("from_day", "standing"), [("2026-03-12", "Counts – flagged"), ("2026-03-13", "Blocked")], ids=["before", "inside"]
)
def test_a_qualification_that_begins_inside_the_span_of_a_time_in_doubt_blocks(from_day: str, standing: str) -> None:
    """X74: read 01:20 by a clock 60 min fast a session before, so 00:20 ± 60 min; valid from the 13th, 00:00."""
    lists = deck()
    rows = tuple(q for q in lists.qualifications if q.person != "P-102")
    own = lists.qualifications[2].model_copy(
        update={"person": "P-102", "operation": "80", "valid_from": date.fromisoformat(from_day)}
    )
    builder = HeldBuilder(lists.model_copy(update={"qualifications": (*rows, own)}))
    page = builder.reading(_at("01:20"), ".3198", **(ROLLING | {"set_up": None}))
    builder.contact("S24-a", _at("02:30"), kiosk=_at("03:30"), session=2, running_ms=600_000)

    closed = builder.close(date(2026, 3, 12), datetime(2026, 3, 13, 10, 5, tzinfo=UTC))

    assert row_of(closed, page)["effective_time"] == _at("00:20")
    assert row_of(closed, page)["standing"] == standing


def test_the_badge_of_whoever_keys_a_paper_form_was_not_used_at_the_hour_written_on_it() -> None:
    """X67: P-104 keys at 11:00 what was written at 09:00; at 09:00 his badge was used at S24 alone."""
    builder = HeldBuilder()
    paper = {"source": "from paper", "paper_taken_at_ms": int(datetime(2026, 3, 13, 13, tzinfo=UTC).timestamp() * 1000),
             "taken_by": "P-101", "read_back_by": "P-108"}  # fmt: skip
    builder.reading(_at("11:00"), ".3122", person="P-104", **paper)
    page = builder.reading(_at("09:00"), ".3198", **(ROLLING | {"set_up": None, "person": "P-104"}))

    assert "X67" not in marks_of(builder.close(DAY, AT), page)


def test_a_slow_clock_does_not_make_cooling_longer() -> None:
    """X58: clock 47 min slow says out of heat 10:05 and read 10:20: 15 min went by, not 62."""
    lists = deck()
    heated = tuple(c.model_copy(update={"is_heated": c.number == "BC4"}) for c in lists.characteristics)
    builder = HeldBuilder(lists.model_copy(update={"characteristics": heated}))
    out_at = int(datetime(2026, 3, 13, 14, 5, tzinfo=UTC).timestamp() * 1000)
    page = builder.reading(_at("10:20"), ".3198", **(ROLLING | {"set_up": None, "out_of_heat_at_ms": out_at}))
    builder.contact("S24-a", _at("11:47"), kiosk=_at("11:00"))

    assert "X58" in marks_of(builder.close(DAY, AT), page)


def test_the_reading_whose_badge_was_the_wrong_one_is_blocked_by_the_closing_that_names_it() -> None:
    """X67: "wrong one Blocked"; the other keeps its flag."""
    builder = HeldBuilder()
    true = builder.reading(_at("09:00"), ".3122", person="P-101", gauge="G-108")
    wrong = builder.reading(_at("09:01"), ".3122", person="P-101", station="S13", gauge="G-118")
    told = {"kind": "exception close", "exception": "X67:S12 and S13:2026-03-09", "evidence": [wrong],
            "reason": "both say that P-101 was at S12"}  # fmt: skip
    builder.act(_at("12:00"), told, person="P-104")

    closed = builder.close(DAY, AT)

    assert row_of(closed, true)["standing"] != "Blocked"
    assert row_of(closed, wrong)["standing"] == "Blocked"
