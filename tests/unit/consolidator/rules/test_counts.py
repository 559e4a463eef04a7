"""X42 and X43: pieces that do not add up, and too little to accept a lot on. Expectations by hand."""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from consolidator.close import ClosedDay
from tests.unit.consolidator.held_builder import HeldBuilder, deck, exception_of, held_lots, numbers_of

DAY = date(2026, 3, 16)
AT = datetime(2026, 3, 17, 10, 5, tzinfo=UTC)


def _count(pieces_in: int, good: int, scrap: int, test: int = 0, in_hand: int = 0) -> dict[str, Any]:
    return {"kind": "piece count", "lot": "L-411", "operation": "60", "pieces_in": pieces_in, "good": good,
            "scrap": scrap, "test": test, "in_hand": in_hand}  # fmt: skip


@pytest.mark.parametrize(
    ("count", "is_apart"),
    [
        (_count(2000, 1965, 35), False),
        (_count(2000, 1950, 35, 3, 12), False),
        (_count(2000, 1964, 35), True),
        (_count(2000, 1966, 35), True),
        (_count(0, 0, 0), False),
    ],
    ids=["1965 + 35", "1950 + 35 + 3 + 12", "one too few", "one too many", "nothing"],
)
def test_pieces_in_are_held_against_good_scrap_test_and_in_hand(count: dict[str, Any], is_apart: bool) -> None:
    """X42: in = good + scrap + test + in hand, to the piece; the lot is held."""
    builder = HeldBuilder()
    builder.act("2026-03-16T13:50:00.000-04:00", count, series="S12-a", person="P-101")

    closed = builder.close(DAY, AT)

    assert ("X42" in numbers_of(closed)) is is_apart
    assert held_lots(closed) == ({"L-411": {"X42"}} if is_apart else {})
    if is_apart:
        told = exception_of(closed, "X42")
        assert (told["cause"], told["urgency"], told["pieces"]) == ("L-411", "B", "1")
        assert "2000 in" in told["sentence"]


def test_a_recount_the_same_day_takes_the_place_of_the_count_before() -> None:
    """X42 is closed by a recount: the day's last count of an operation is told; other operations stand alone."""
    builder, other = HeldBuilder(), HeldBuilder()
    for each in (builder, other):
        each.act("2026-03-16T13:50:00.000-04:00", _count(2000, 1964, 35), series="S12-a", person="P-101")
    builder.act("2026-03-16T14:10:00.000-04:00", _count(2000, 1965, 35), series="S12-a", person="P-101")
    other.act(
        "2026-03-16T14:10:00.000-04:00", _count(1965, 1965, 0) | {"operation": "65"}, series="S12-a", person="P-101"
    )

    assert "X42" not in numbers_of(builder.close(DAY, AT))
    assert exception_of(other.close(DAY, AT), "X42")["state"] == "open"


def _accepting(planned: int = 5, allowed: int = 0, *, final: bool = False) -> HeldBuilder:
    lists = deck()
    told = {"acceptance_n": planned, "rejects_allowed": allowed}
    characteristics = tuple(c.model_copy(update=told) if c.number == "BC1" else c for c in lists.characteristics)
    plans = tuple(p.model_copy(update={"is_final": final and p.operation == "60"}) for p in lists.plans)
    return HeldBuilder(lists.model_copy(update={"characteristics": characteristics, "plans": plans}))


def _take(builder: HeldBuilder, hour: int, keyed: str, *, first: int = 1, **also: Any) -> list[str]:
    fields = {"sample_kind": "lot acceptance", "sample": 1} | also
    return [
        builder.reading(f"2026-03-16T{hour:02d}:{at:02d}:00.000-04:00", text, piece=first + at, **fields)
        for at, text in enumerate(keyed.split())
    ]


def _not_enough(closed: ClosedDay) -> list[str]:
    return [row["sentence"] for row in closed.exceptions.to_pylist() if row["number"] == "X43"]


FIVE = ".3122 .3121 .3123 .3124 .3122"
FOUR = ".3122 .3121 .3123 .3124"


@pytest.mark.parametrize(("keyed", "counts"), [(FIVE, True), (FOUR, False)], ids=["5 of 5", "4 of 5"])
def test_final_readings_are_counted_against_the_acceptance_number(keyed: str, counts: bool) -> None:
    """X43: counting final readings fewer than the plan's n; as many are enough."""
    builder = _accepting()
    _take(builder, 9, keyed)

    told = _not_enough(builder.close(DAY, AT))

    assert told == (
        [] if counts else ["L-411, BC1, lot acceptance: 4 counting pieces, 5 planned; 0 rejects, 0 allowed."]
    )


def test_a_blocked_reading_fills_no_place_of_a_lot_acceptance() -> None:
    """3.3.4: five pieces, one with a gauge past due (G-107, 10 March): four count."""
    builder = _accepting()
    _take(builder, 9, FOUR)
    _take(builder, 10, ".3122", first=5, gauge="G-107")

    assert "4 counting pieces, 5 planned" in _not_enough(builder.close(DAY, AT))[0]


def test_a_piece_measured_again_soundly_fills_its_place_once() -> None:
    """3.3.4: the blocked fifth piece is measured again with a sound gauge; a second look at piece 1 adds nothing."""
    builder = _accepting()
    first = _take(builder, 9, FOUR)
    blocked = _take(builder, 10, ".3122", first=5, gauge="G-107")
    _take(builder, 11, ".3122", first=5, sample_kind="re-measure", re_measure_of=blocked[0])
    _take(builder, 12, ".3122", first=1, sample_kind="re-measure", re_measure_of=first[0])

    assert _not_enough(builder.close(DAY, AT)) == []


@pytest.mark.parametrize(("allowed", "is_enough"), [(0, False), (1, True)], ids=["none allowed", "one allowed"])
def test_rejects_are_held_against_what_the_plan_allows(allowed: int, is_enough: bool) -> None:
    """X43: rejects more than allowed; one of five, at .3126 over .3125."""
    builder = _accepting(allowed=allowed)
    _take(builder, 9, ".3122 .3121 .3126 .3124 .3122")

    told = _not_enough(builder.close(DAY, AT))

    assert told == (
        [] if is_enough else ["L-411, BC1, lot acceptance: 5 counting pieces, 5 planned; 1 reject, 0 allowed."]
    )


def test_a_blocked_reject_still_accuses() -> None:
    """3.3.5: a bad reading with a gauge past due is a reject of the lot until its piece is measured soundly."""
    builder = _accepting()
    _take(builder, 9, FIVE)
    bad = _take(builder, 10, ".3126", first=6, gauge="G-107")
    accused = _not_enough(builder.close(DAY, AT))
    _take(builder, 11, ".3122", first=6, sample_kind="re-measure", re_measure_of=bad[0])

    assert "1 reject, 0 allowed" in accused[0]
    assert _not_enough(builder.close(DAY, AT)) == []


def test_an_acceptance_still_under_way_lacks_nothing_yet() -> None:
    """Half an hour is waited for more pieces: four of five at 09:03 lack nothing at 09:30, one at 09:40 is missing."""
    builder = _accepting()
    _take(builder, 9, FOUR)

    early = builder.close(DAY, datetime(2026, 3, 16, 13, 30, tzinfo=UTC))
    late = builder.close(DAY, datetime(2026, 3, 16, 13, 40, tzinfo=UTC))

    assert (_not_enough(early), len(_not_enough(late))) == ([], 1)


def test_an_acceptance_over_two_days_is_counted_as_one() -> None:
    """Three pieces on the 15th in the evening and two on the 16th are five of five."""
    builder = _accepting()
    for at, text in enumerate((".3122", ".3121", ".3123")):
        builder.reading(f"2026-03-15T20:{at:02d}:00.000-04:00", text, piece=at + 1, sample_kind="lot acceptance")
    _take(builder, 9, ".3124 .3122", first=4)

    assert _not_enough(builder.close(DAY, AT)) == []


def test_a_final_operation_accepts_by_its_ordinary_samples() -> None:
    """Where the plan calls the operation final, its samples are the final readings; elsewhere a run sample is none."""
    final, ordinary = _accepting(final=True), _accepting()
    for builder in (final, ordinary):
        _take(builder, 9, FOUR, sample_kind="run")

    assert len(_not_enough(final.close(DAY, AT))) == 1
    assert _not_enough(ordinary.close(DAY, AT)) == []
