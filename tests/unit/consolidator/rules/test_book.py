"""X70 to X79: kiosks and their books. Situations and expectations by hand."""

from datetime import UTC, date, datetime

import pytest

from consolidator.intake.held import Altered, Kiosk, Unfit, Unknown
from tests.unit.consolidator.held_builder import (
    AT,
    HeldBuilder,
    exception_of,
    held_lots,
    marks_of,
    numbers_of,
    row_of,
)

NINE = "2026-03-09T09:00:00.000-04:00"
SEAL = {"kind": "seal", "day": "2026-03-09", "word": "Complete", "ledger": "0" * 64, "before": None}
NEXT = (date(2026, 3, 9), datetime(2026, 3, 14, 10, 5, tzinfo=UTC))


@pytest.mark.parametrize(("last", "silent"), [((2026, 3, 10, 6, 5), False), ((2026, 3, 10, 6, 4), True)])
def test_a_kiosk_is_silent_when_more_than_four_hours_went_without_contact(
    last: tuple[int, int, int, int, int], silent: bool
) -> None:
    """X70: N15 is 4 h before the close at 10:05 UTC; 06:05 UTC is just inside."""
    builder = HeldBuilder()
    builder.reading(NINE, ".3122")
    builder.last_contact_utc = datetime(*last, tzinfo=UTC)

    assert ("X70" in numbers_of(builder.close())) is silent


@pytest.mark.parametrize(("arrived", "urgency"), [((2026, 3, 11), "D"), ((2026, 3, 13), "C")])
def test_pages_that_came_after_the_seal_are_late(arrived: tuple[int, int, int], urgency: str) -> None:
    """X71: sealed 10 March 10:00; the page counts and belongs to supplement 1; C when more than 72 h late."""
    builder = HeldBuilder()
    in_time = builder.reading(NINE, ".3122", piece=1)
    in_at = int(datetime(*arrived, 12, tzinfo=UTC).timestamp() * 1000)
    late = builder.reading("2026-03-09T09:01:00.000-04:00", ".3122", piece=2, received_at_ms=in_at)
    builder.act("2026-03-10T10:00:00.000-04:00", SEAL)

    closed = builder.close(*NEXT)

    assert (row_of(closed, late)["standing"], marks_of(closed, late)) == ("Counts", {"X71"})
    assert marks_of(closed, in_time) == set()
    assert exception_of(closed, "X71")["urgency"] == urgency
    assert closed.late.to_pylist() == [{"page": "S12-a/2", "supplement": "1"}]


def test_a_page_after_the_first_supplement_was_sealed_belongs_to_the_second() -> None:
    """3.8: a sealed supplement is fixed for good as well."""
    builder = HeldBuilder()
    in_at = int(datetime(2026, 3, 12, 12, tzinfo=UTC).timestamp() * 1000)
    builder.reading(NINE, ".3122", received_at_ms=in_at)
    builder.act("2026-03-10T10:00:00.000-04:00", SEAL)
    builder.act("2026-03-11T10:00:00.000-04:00", SEAL | {"supplement": 1})

    assert builder.close(*NEXT).late.to_pylist() == [{"page": "S12-a/1", "supplement": "2"}]


def test_two_gaps_are_two_exceptions_and_both_hold() -> None:
    """X72: pages 2 and 4-5 of 1, 3, 6 are missing, each with its neighbours' lots."""
    builder = HeldBuilder()
    for number, lot in ((1, "L-411"), (3, "L-411"), (6, "L-412")):
        builder.reading(f"2026-03-09T09:{number:02d}:00.000-04:00", ".3122", number=number, lot=lot, piece=number)

    closed = builder.close()

    gaps = [row for row in closed.exceptions.to_pylist() if row["number"] == "X72"]
    assert [(row["cause"], row["lots"]) for row in gaps] == [("S12-a 2", "L-411"), ("S12-a 4–5", "L-411;L-412")]
    assert set(held_lots(closed)) == {"L-411", "L-412"}
    assert closed.kiosks.to_pylist()[0]["missing"] == "2;4;5"


def test_pages_declared_lost_by_two_persons_are_no_longer_missing() -> None:
    """X79: the declaration of one person alone changes nothing."""
    builder = HeldBuilder()
    for number in (1, 3):
        builder.reading(f"2026-03-09T09:{number:02d}:00.000-04:00", ".3122", number=number, piece=number)
    lost = {"kind": "pages lost", "series": "S12-a", "first": 2, "last": 2, "reason": "kiosk burnt"}
    ref = builder.act("2026-03-09T15:00:00.000-04:00", lost)
    alone = builder.close()
    sign = {"kind": "second signature", "of": ref, "meaning": "declared"}
    builder.act("2026-03-09T15:05:00.000-04:00", sign, person="P-108")

    together = builder.close()

    assert "X72" in numbers_of(alone)
    assert {"X79"} == {n for n in numbers_of(together) if n in ("X72", "X79")}
    assert held_lots(together) == {"L-411": {"X79"}}


@pytest.mark.parametrize(("off_s", "flagged"), [(120, False), (121, True)])
def test_a_clock_off_by_more_than_two_minutes_is_put_right(off_s: int, flagged: bool) -> None:
    """X73: N2 is 120 s, the end included; beyond it the effective time is counted back from the contact."""
    builder = HeldBuilder()
    page = builder.reading(NINE, ".3122")
    minute, second = divmod(off_s, 60)
    builder.contact(
        "S12-a", "2026-03-09T10:00:00.000-04:00", kiosk=f"2026-03-09T10:{minute:02d}:{second:02d}.000-04:00"
    )

    closed = builder.close()

    assert ("X73" in marks_of(closed, page)) is flagged
    expected = "2026-03-09T08:57:59.000-04:00" if flagged else NINE
    assert row_of(closed, page)["effective_time"] == expected


def test_a_time_in_doubt_blocks_only_where_a_decision_hangs_on_it() -> None:
    """X74: made a session before the contact, 60 min off: 22:50 less 60 min is 21:50 ± 60 min; due ends 24:00."""
    builder = HeldBuilder()
    usual = {"characteristic": "BC2", "gauge": "G-107", "session": 1}
    far = builder.reading("2026-03-10T22:50:00.000-04:00", ".2841", piece=1, **usual)
    near = builder.reading("2026-03-11T00:40:00.000-04:00", ".2841", piece=2, **usual)
    at = "2026-03-11T02:00:00.000-04:00"
    builder.contact("S12-a", at, kiosk="2026-03-11T03:00:00.000-04:00", session=2, running_ms=600_000)

    closed = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))

    assert row_of(closed, far)["effective_time"] == "2026-03-10T21:50:00.000-04:00"
    assert {"X73", "X74"} <= marks_of(closed, far) & marks_of(closed, near)
    assert row_of(closed, far)["standing"] == "Counts – flagged"
    assert row_of(closed, near)["standing"] == "Blocked"


def test_lists_older_than_three_days_are_told() -> None:
    """X75: N3 flags above 72 h; flagged and for the record, the close-of-day verdict stands."""
    builder = HeldBuilder()
    taken = int(datetime(2026, 3, 6, 12, 59, tzinfo=UTC).timestamp() * 1000)
    old = builder.reading(NINE, ".3122", piece=1, lists_taken_at_ms=taken)
    fresh = builder.reading("2026-03-09T09:01:00.000-04:00", ".3122", piece=2, lists_taken_at_ms=taken + 180_000)

    closed = builder.close()

    assert [marks_of(closed, page) for page in (old, fresh)] == [{"X75"}, set()]
    assert exception_of(closed, "X75")["urgency"] == "D"


def test_another_verdict_than_the_kiosk_s_is_told() -> None:
    """3.3.8: both verdicts are kept and a difference is itself an exception."""
    builder = HeldBuilder()
    page = builder.reading(NINE, ".3126", verdict="In tolerance")

    closed = builder.close()

    assert marks_of(closed, page) == {"X23", "X75"}
    assert row_of(closed, page)["verdict_at_kiosk"] == "In tolerance"


def test_an_altered_page_is_blocked_and_one_that_cannot_be_read_is_told_all_the_same() -> None:
    """X76: urgency A, the lot held; evidence is never hidden."""
    builder = HeldBuilder()
    page = builder.reading(NINE, ".3122")
    found = datetime(2026, 3, 9, 14, tzinfo=UTC)
    builder.altered.append(Altered("S12-a", 1, f"{1:064x}", Unfit.CHAIN, "page 2 names another", found))
    builder.altered.append(Altered("S13-a", 9, "f" * 64, Unfit.CONTENT, "no page", found))

    closed = builder.close()

    assert (row_of(closed, page)["standing"], marks_of(closed, page)) == ("Blocked", {"X76"})
    causes = {row["cause"]: row["urgency"] for row in closed.exceptions.to_pylist() if row["number"] == "X76"}
    assert causes == {"S12-a": "A", "S13-a": "A"}
    assert held_lots(closed) == {"L-411": {"X76"}}


def test_pages_of_a_kiosk_withdrawn_before_they_came_are_blocked_and_foreign_packets_told() -> None:
    """X77: urgency A; nothing of a series that is not enrolled becomes a reading."""
    builder = HeldBuilder()
    page = builder.reading(NINE, ".3122")
    long_ago = datetime(2026, 1, 1, tzinfo=UTC)
    builder.kiosks["S12-a"] = Kiosk("S12-a", "S12", "00", long_ago, datetime(2026, 3, 1, tzinfo=UTC), AT, AT)
    builder.unknown.append(Unknown("S99-x", 1, 9, datetime(2026, 3, 9, 14, tzinfo=UTC), False, "refused/1"))

    closed = builder.close()

    assert (row_of(closed, page)["standing"], marks_of(closed, page)) == ("Blocked", {"X77"})
    assert {row["cause"] for row in closed.exceptions.to_pylist() if row["number"] == "X77"} == {"S12-a", "S99-x"}
