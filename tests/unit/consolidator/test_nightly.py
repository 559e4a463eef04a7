"""Both passes run when they are due, are caught up, run once, and fail without harm."""

import fcntl
import os
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from consolidator.desk import open_desk
from consolidator.errors import PassRunning
from consolidator.ledger.folder import days_in, open_book
from consolidator.nightly import RECORD, PassDone, PassKind, keep_passes, passes_due, read_record, run_due
from consolidator.settings import Settings
from kiosk.ports import SystemChance
from tests.unit.consolidator.played_plant import DAY, PlayedPlant, local, play

NEXT = DAY + timedelta(days=1)


@pytest.fixture
def played(tmp_path: Path) -> PlayedPlant:
    """A plant with four readings of one day, held."""
    plant = play(tmp_path)
    plant.measure(local(DAY, 10), 4)
    plant.carry(local(DAY, 12))
    return plant


def _run(played: PlayedPlant, at: datetime) -> list[tuple[str, str, bool]]:
    played.clock.at = at
    done = run_due(played.plant, played.clock, chance=SystemChance())
    return [(each.what.kind, each.what.day.isoformat(), each.fault is None) for each in done]


def test_at_two_the_running_day_is_closed_and_at_five_past_six_it_is_closed_for_good(played: PlayedPlant) -> None:
    """The bulk pass and the final pass close the same production day, the one that began the day before."""
    assert _run(played, local(NEXT, 1, 59)) == []
    assert _run(played, local(NEXT, 2)) == [("bulk", "2026-03-10", True)]
    assert open_book(played.plant.ledger, DAY).body["closed_at"].startswith("2026-03-11T02:00:00")
    assert _run(played, local(NEXT, 6, 4)) == []
    assert _run(played, local(NEXT, 6, 5)) == [("final", "2026-03-10", True)]
    assert open_book(played.plant.ledger, DAY).body["closed_at"].startswith("2026-03-11T06:05:00")


def test_running_twice_does_nothing_twice(played: PlayedPlant) -> None:
    """A pass that is done is not due."""
    assert _run(played, local(NEXT, 6, 5)) == [("final", "2026-03-10", True)]

    assert _run(played, local(NEXT, 6, 6)) == []
    assert _run(played, local(NEXT, 23)) == []


def test_passes_missed_while_the_machine_was_off_are_caught_up_in_order(played: PlayedPlant) -> None:
    """After three days off every day that ended is closed, oldest first, and bulk passes that are past fall away."""
    _run(played, local(NEXT, 6, 5))

    done = _run(played, local(NEXT + timedelta(days=3), 9))

    assert done == [("final", f"2026-03-{day}", True) for day in (11, 12, 13)]
    assert [day.day for day in days_in(played.plant.ledger)] == [10, 11, 12, 13]


def test_a_machine_switched_on_in_the_third_shift_does_the_bulk_pass(played: PlayedPlant) -> None:
    """At 03:30 the running day is closed although 02:00 is past."""
    assert _run(played, local(NEXT, 3, 30)) == [("bulk", "2026-03-10", True)]


def test_passes_are_due_by_plant_time_when_the_clock_changes(played: PlayedPlant) -> None:
    """In spring 02:00 does not come and the pass is due at 03:00 −04:00 (07:00 UTC); in autumn it comes at 07:00 UTC.

    Hand calculation: on 8 March 2026 clocks in New York go from 01:59:59 −05:00 to 03:00:00 −04:00;
    on 1 November 2026 02:00 −05:00, after the hour that comes twice, is 07:00 UTC.
    """
    for morning, before, due in (
        (datetime(2026, 3, 8), "2026-03-08T06:59:00+00:00", "2026-03-08T07:00:00+00:00"),  # noqa: DTZ001
        (datetime(2026, 11, 1), "2026-11-01T06:59:00+00:00", "2026-11-01T07:00:00+00:00"),  # noqa: DTZ001
    ):
        day = morning.date() - timedelta(days=1)
        assert passes_due(played.plant, datetime.fromisoformat(before)) == []
        (found,) = passes_due(played.plant, datetime.fromisoformat(due))
        assert (found.kind, found.day) == (PassKind.BULK, day)


def test_a_pass_that_fails_leaves_the_ledger_and_says_what_to_do(played: PlayedPlant) -> None:
    """A damaged day stops the pass; the day before stands, the record says why, and it is tried again later."""
    _run(played, local(NEXT, 6, 5))
    before = open_book(played.plant.ledger, DAY).seal_file
    broken = played.plant.ledger / NEXT.isoformat()
    broken.mkdir()
    (broken / "seal.json").write_bytes(b"{ half")
    after = NEXT + timedelta(days=1)

    assert _run(played, local(after, 6, 5)) == [("final", "2026-03-11", False)]

    assert open_book(played.plant.ledger, DAY).seal_file == before
    fault = read_record(played.plant)[-1]["fault"]
    assert "seal.json" in fault["what"]
    assert fault["next_step"]
    assert _run(played, local(after, 6, 10)) == []
    (broken / "seal.json").unlink()
    assert _run(played, local(after, 6, 21)) == [("final", "2026-03-11", True)]


def test_a_second_program_does_not_begin_a_pass(played: PlayedPlant) -> None:
    """While one closes, another is told to wait."""
    file = os.open(played.plant.ledger / ".pass", os.O_RDWR | os.O_CREAT)
    fcntl.flock(file, fcntl.LOCK_EX)
    try:
        with pytest.raises(PassRunning, match="Another program is closing"):
            _run(played, local(NEXT, 6, 5))
    finally:
        os.close(file)

    assert days_in(played.plant.ledger) == []


def test_a_torn_line_of_the_record_swallows_nothing(played: PlayedPlant) -> None:
    """A record cut by a power failure still tells what was done before, and takes the next line."""
    _run(played, local(NEXT, 6, 5))
    with (played.plant.ledger / RECORD).open("ab") as file:
        file.write(b'{"kind": "fin')

    assert _run(played, local(NEXT, 9)) == []
    assert _run(played, local(NEXT + timedelta(days=1), 6, 5)) == [("final", "2026-03-11", True)]
    assert [line["day"] for line in read_record(played.plant)] == ["2026-03-10", "2026-03-11"]


def test_the_desk_s_pages_are_taken_in_before_the_day_is_closed(played: PlayedPlant) -> None:
    """What the desk wrote minutes before the pass stands in the day's book."""
    _run(played, local(NEXT, 6, 5))

    after = NEXT + timedelta(days=1)
    _run(played, local(after, 6, 5))

    acts = open_book(played.plant.ledger, NEXT).table("acts").to_pylist()
    assert [(row["kiosk"], row["kind"]) for row in acts] == [("desk-a", "power on")]


class EnoughError(BaseException):
    """The test has seen enough of a program that never ends."""


def test_the_program_that_keeps_the_passes_catches_up_at_once_and_goes_on_looking(played: PlayedPlant) -> None:
    """Started at 09:00 it does the pass it missed, tells it, and then waits from look to look."""
    played.clock.at = local(NEXT, 9)
    told: list[PassDone] = []
    waits: list[float] = []

    def wait(seconds: float) -> None:
        waits.append(seconds)
        if len(waits) == 3:
            raise EnoughError

    with pytest.raises(EnoughError):
        keep_passes(played.plant, played.clock, told.append, wait=wait, settings=Settings(nightly_look_s=20))

    assert [(done.what.kind, done.what.day, done.fault) for done in told] == [(PassKind.FINAL, DAY, None)]
    assert all(0 <= seconds <= 20 for seconds in waits)


def test_looking_while_another_program_closes_waits_for_the_next_look(played: PlayedPlant) -> None:
    """The program that keeps the passes is not ended by another one at work."""
    played.clock.at = local(NEXT, 9)
    file = os.open(played.plant.ledger / ".pass", os.O_RDWR | os.O_CREAT)
    fcntl.flock(file, fcntl.LOCK_EX)
    told: list[PassDone] = []

    def wait(seconds: float) -> None:
        raise EnoughError

    try:
        with pytest.raises(EnoughError):
            keep_passes(played.plant, played.clock, told.append, wait=wait)
    finally:
        os.close(file)

    assert told == []


def test_a_pass_goes_on_when_the_desk_s_book_is_open_elsewhere(played: PlayedPlant) -> None:
    """Somebody who left the desk open does not stop the night; the note says what was not taken in."""
    played.clock.at = local(NEXT, 6, 5)
    with open_desk(played.plant, clock=played.clock, chance=SystemChance()):
        (done,) = run_due(played.plant, played.clock, chance=SystemChance())

    assert done.fault is None
    assert "The desk's book is open in another program" in done.notes[0]
