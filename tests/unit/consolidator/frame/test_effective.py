"""Effective times by rule 3.3.9; the expectations are hand calculations in seconds."""

from datetime import UTC, datetime

import numpy as np
import pytest

from consolidator.frame.coded import coded_texts
from consolidator.frame.effective import ClockSets, Contacts, Effective, PageTimes, effective_times
from consolidator.frame.pages import NO_TIME
from tests.unit.consolidator.held_builder import HeldBuilder, marks_of, row_of

Row = tuple[int, int, int]
"""Session, running seconds, kiosk seconds."""
NEVER = 10**9


def _ints(values: list[int]) -> np.ndarray:
    return np.array(values, np.int64)


def _effective(
    pages: list[Row],
    contacts: list[tuple[int, int, int, int]],
    sets: list[tuple[int, int, int]] | None = None,
    received_s: int = NEVER,
) -> Effective:
    """Contacts are session, running, consolidator, kiosk; clock sets are session, running, shift; all in seconds."""
    told = PageTimes(
        coded_texts(["S12-a"] * len(pages)),
        _ints(list(range(1, len(pages) + 1))),
        _ints([session for session, _, _ in pages]),
        _ints([1000 * running for _, running, _ in pages]),
        _ints([1000 * kiosk for _, _, kiosk in pages]),
        _ints([1000 * received_s] * len(pages)),
        _ints([NO_TIME] * len(pages)),
    )
    met = Contacts(
        coded_texts(["S12-a"] * len(contacts)),
        _ints([c[0] for c in contacts]),
        *(_ints([1000 * c[at] for c in contacts]) for at in (1, 2, 3)),
    )
    moved = sets or []
    clock_sets = ClockSets(
        ("S12-a",) * len(moved), _ints([s[0] for s in moved]), _ints([1000 * s[1] for s in moved]),
        _ints([1000 * s[2] for s in moved]),
    )  # fmt: skip
    return effective_times(told, met, clock_sets, agreement_ms=_ints([120_000] * len(pages)))


def test_without_any_contact_the_kiosk_s_time_stands() -> None:
    """Nothing is known of the clock, so nothing is changed."""
    found = _effective([(1, 10, 5000)], [])

    assert (found.ms.tolist(), found.is_off.tolist()) == ([5_000_000], [False])


def test_in_the_contact_s_own_session_running_seconds_count_and_nothing_is_in_doubt() -> None:
    """Contact at 10 000 s with 500 s running; a page at 200 s running was made at 9 700 s, whatever its clock said."""
    found = _effective([(1, 200, 12_520)], [(1, 500, 10_000, 12_820)])

    assert (found.ms.tolist(), found.is_off.tolist(), found.is_in_doubt.tolist()) == ([9_700_000], [True], [False])


def test_an_earlier_session_is_moved_by_the_difference_and_in_doubt_by_it() -> None:
    """d = 10 000 - 12 820 = -2 820 s: 12 000 s becomes 9 180 s, in doubt by 2 820 s either way."""
    found = _effective([(1, 200, 12_000)], [(2, 50, 10_000, 12_820)])

    assert (found.ms.tolist(), found.is_in_doubt.tolist()) == ([9_180_000], [True])
    assert (found.low_ms.tolist(), found.high_ms.tolist()) == ([6_360_000], [12_000_000])


def test_neighbours_in_page_order_bound_a_page_in_doubt() -> None:
    """Session 1 made page 1 surely at 9 000 s, session 3 page 3 surely at 9 500 s: page 2 lies between."""
    pages = [(1, 100, 11_820), (2, 100, 12_000), (3, 50, 12_320)]
    contacts = [(1, 200, 9_100, 11_920), (3, 550, 10_000, 12_820)]

    found = _effective(pages, contacts)

    assert found.is_in_doubt.tolist() == [False, True, False]
    assert (int(found.low_ms[1]), int(found.high_ms[1])) == (9_000_000, 9_500_000)


def test_a_clock_set_right_before_the_contact_does_not_hide_that_it_was_wrong() -> None:
    """Same session: the clock was 2 820 s fast, set right at 400 s running; the contact agrees, the page did not."""
    found = _effective([(1, 200, 12_520)], [(1, 500, 10_000, 10_000)], [(1, 400, -2_820)])

    assert (found.ms.tolist(), found.is_off.tolist()) == ([9_700_000], [True])


def test_a_clock_set_between_sessions_is_reckoned_in() -> None:
    """Session 1 was 2 820 s fast; set right in session 2; the page of session 1 is moved by the sum, and in doubt."""
    found = _effective([(1, 200, 12_000)], [(2, 500, 10_000, 10_000)], [(2, 100, -2_820)])

    assert (found.ms.tolist(), found.is_in_doubt.tolist()) == ([9_180_000], [True])


def test_an_agreement_within_two_minutes_changes_nothing_in_any_session() -> None:
    """|d| = 120 s needs no action (N2)."""
    found = _effective([(1, 200, 5_000), (2, 50, 9_000)], [(2, 100, 9_170, 9_050)])

    assert found.ms.tolist() == [5_000_000, 9_000_000]
    assert not found.is_off.any()


def test_very_long_runnings_and_many_sessions_do_not_overflow() -> None:
    """Ten thousand sessions and 10 to the 12 seconds of running: the same answer as for small ones."""
    pages = [(session, 10**12, 5_000) for session in range(1, 10_001)]
    found = _effective(pages, [(10_000, 10**12 + 100, 5_100, 5_100)])

    assert found.ms.tolist() == [5_000_000] * 10_000


def test_a_page_that_arrived_before_its_own_time_has_a_clock_that_is_off() -> None:
    """By stick, without any contact: made at 5 000 s by its clock, in at 4 000 s; it is in doubt by 1 000 s."""
    found = _effective([(1, 10, 5_000)], [], received_s=4_000)

    assert (found.ms.tolist(), found.is_off.tolist(), found.is_in_doubt.tolist()) == ([4_000_000], [True], [True])
    assert (found.low_ms.tolist(), found.high_ms.tolist()) == ([3_000_000], [4_000_000])


@pytest.mark.parametrize("year", ["9998", "2400", "1970", "0001"])
@pytest.mark.parametrize("session", [1, 2], ids=["own session", "later session"])
def test_a_clock_that_is_wrong_by_ages_never_stops_the_close(year: str, session: int) -> None:
    """One kiosk with a dead battery must not keep a plant from its list; its page is put right and told as X73."""
    builder = HeldBuilder()
    in_at = int(datetime(2026, 3, 9, 15, tzinfo=UTC).timestamp() * 1000)
    page = builder.reading(
        f"{year}-03-10T09:00:00.000-04:00", ".3122", session=1, running_ms=50_000_000, received_at_ms=in_at
    )
    builder.contact(
        "S12-a", "2026-03-09T11:00:00.000-04:00", kiosk=f"{year}-03-10T10:00:00.000-04:00", session=session,
        running_ms=53_600_000,
    )  # fmt: skip

    closed = builder.close()

    assert row_of(closed, page)["effective_time"] == "2026-03-09T10:00:00.000-04:00"
    assert ("X74" in marks_of(closed, page)) is (session == 2)
    assert "X73" in marks_of(closed, page)
