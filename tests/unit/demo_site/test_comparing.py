"""What was planted is held against what the ledgers say, and every difference shows."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import pytest

from consolidator.plant import Plant
from demo_site.comparing import compare
from demo_site.faults import Wanted
from demo_site.play.played import Played, Row, Trace

MONDAY, TUESDAY = date(2026, 3, 9), date(2026, 3, 10)


class _Told(Played):
    """A played plant whose ledgers say what a test tells them to."""

    def __init__(self, plant: Plant, rows: list[Mapping[str, str]]) -> None:
        super().__init__(plant)
        self.told = rows

    def rows(self, table: str, day: date | None = None) -> list[Row]:
        """Return the rows told."""
        return list(self.told)


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    """An empty plant."""
    return Plant.create(tmp_path / "plant", number="P-T", name="invented", zone="America/New_York")


def _row(number: str, cause: str, day: date, readings: int) -> Mapping[str, str]:
    return {"number": number, "cause": cause, "key": f"{number}:{cause}:{day}", "readings": str(readings)}


def _wanted(number: str, cause: str, readings: int, kind: str = "") -> Wanted:
    return Wanted(number, cause, MONDAY, readings, kind or number, "a story")


def test_as_much_found_as_planted_is_good(plant: Plant) -> None:
    """The same kind, cause, day and number of readings."""
    rows = compare([_wanted("X01", "G-1", 2)], _Told(plant, [_row("X01", "G-1", MONDAY, 2)]))

    assert [(row.planted, row.found, row.is_good) for row in rows] == [(2, 2, True)]


@pytest.mark.parametrize(
    "found",
    [
        [],
        [_row("X01", "G-1", MONDAY, 3)],
        [_row("X01", "G-2", MONDAY, 2)],
        [_row("X01", "G-1", TUESDAY, 2)],
        [_row("X04", "G-1", MONDAY, 2)],
    ],
)
def test_another_number_cause_day_or_kind_is_a_difference(plant: Plant, found: list[Mapping[str, str]]) -> None:
    """Nothing is taken for what was planted that is not it."""
    rows = compare([_wanted("X01", "G-1", 2)], _Told(plant, found))

    assert not rows[0].is_good


def test_what_was_never_planted_is_a_false_alarm(plant: Plant) -> None:
    """It stands at the end, with nothing planted."""
    rows = compare(
        [_wanted("X01", "G-1", 2)], _Told(plant, [_row("X01", "G-1", MONDAY, 2), _row("X23", "L-1", MONDAY, 1)])
    )

    assert [(row.number, row.planted, row.found, row.is_good) for row in rows] == [
        ("X01", 2, 2, True),
        ("X23", None, 1, False),
    ]


def test_an_exception_carried_from_day_to_day_is_counted_once(plant: Plant) -> None:
    """Its key stays the same, so it is one exception with the readings it had."""
    rows = compare([_wanted("X01", "G-1", 2)], _Told(plant, [_row("X01", "G-1", MONDAY, 2)] * 3))

    assert [row.is_good for row in rows] == [True]


def test_what_follows_from_a_fault_stands_behind_it(plant: Plant) -> None:
    """A reader sees the fault first, then what else it brought."""
    wanted = [_wanted("X17", "G-9", 1, kind="X27"), _wanted("X27", "L-1", 1), _wanted("X18", "G-3", 1)]

    rows = compare(wanted, _Told(plant, []))

    assert [row.number for row in rows] == ["X18", "X27", "X17"]


def test_a_page_named_by_its_event_becomes_its_number(plant: Plant) -> None:
    """A gap is named by page numbers, which nobody knows before the pages are kept."""
    played = _Told(plant, [_row("X72", "S31-a 12–13", MONDAY, 0)])
    played.traces["lost"] = Trace(pages=["S31-a/11", "S31-a/12", "S31-a/13"])

    rows = compare([_wanted("X72", "S31-a <lost#2>–<lost#3>", 0)], played)

    assert [(row.cause, row.is_good) for row in rows] == [("S31-a 12–13", True)]
