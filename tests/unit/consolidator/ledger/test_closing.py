"""Closing a day writes its book, brings earlier days up to date, and never touches a sealed one."""

from datetime import timedelta
from pathlib import Path

import pytest

from consolidator.desk.sealing import seal_day
from consolidator.errors import SealRefused
from consolidator.ledger.day_books import page_totals
from consolidator.ledger.folder import open_book, supplements_of
from consolidator.ledger.verify import verify
from kiosk.ports import SystemChance
from tests.unit.consolidator.played_plant import DAY, PlayedPlant, local, play

NEXT = DAY + timedelta(days=1)
AFTER = DAY + timedelta(days=2)


@pytest.fixture
def played(tmp_path: Path) -> PlayedPlant:
    """A plant where six readings were made on one day; four of them came in before its end."""
    plant = play(tmp_path)
    plant.measure(local(DAY, 10), 4)
    plant.carry(local(NEXT, 5))
    plant.measure(local(DAY, 21), 2)
    return plant


def _seal(played: PlayedPlant, *, supplement: int = 0) -> None:
    seal_day(played.plant, (DAY, supplement), ("P-106", "P-108"), clock=played.clock, chance=SystemChance())


def test_a_day_is_closed_with_what_is_held(played: PlayedPlant) -> None:
    """Four readings stand in the book, the sum is theirs, and the check is good."""
    closing = played.close(DAY, local(NEXT, 6, 5))

    assert closing.book is not None
    assert closing.book.body["totals"]["counting"] + closing.book.body["totals"]["flagged"] == 4
    assert closing.book.body["closed_at"] == "2026-03-11T06:05:00.000-04:00"
    assert closing.book.front_sheet["sum"].startswith("4 pages = ")
    assert verify(played.plant.ledger).faults == ()


def test_closing_again_at_the_same_moment_gives_the_same_fingerprint(played: PlayedPlant) -> None:
    """A day can be built again from its pages."""
    first = played.close(DAY, local(NEXT, 6, 5))
    second = played.close(DAY, local(NEXT, 6, 5))

    assert first.book is not None and second.book is not None
    assert first.book.seal_file["ledger"] == second.book.seal_file["ledger"]


def test_the_totals_of_close_and_those_of_the_tables_agree(played: PlayedPlant) -> None:
    """What close of day counts while judging is what stands in the tables."""
    closing = played.close(DAY, local(NEXT, 6, 5))

    assert closing.book is not None
    tables = {name: closing.book.table(name) for name in closing.book.body["tables"]}
    assert page_totals(tables) == closing.book.body["totals"]


def test_late_pages_of_a_day_not_sealed_go_into_its_own_book(played: PlayedPlant) -> None:
    """Closing the next day closes the day before again when its pages came meanwhile."""
    played.close(DAY, local(NEXT, 6, 5))
    played.carry(local(NEXT, 9), 5)

    closing = played.close(NEXT, local(AFTER, 6, 5))

    assert [book.day for book in closing.closed_again] == [DAY]
    assert open_book(played.plant.ledger, DAY).table("readings").num_rows == 6


def test_late_pages_of_a_sealed_day_go_into_supplements_with_their_own_seals(played: PlayedPlant) -> None:
    """The sealed day stays byte for byte; what came late stands in supplement 1, and later pages in supplement 2."""
    played.close(DAY, local(NEXT, 6, 5))
    played.clock.at = local(NEXT, 10)
    _seal(played)
    folder = played.plant.ledger / DAY.isoformat()
    before = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}

    played.carry(local(NEXT, 11), 5, 5)
    first = played.close(NEXT, local(AFTER, 6, 5))
    played.clock.at = local(AFTER, 10)
    _seal(played, supplement=1)
    played.carry(local(AFTER, 11), 6)
    second = played.close(AFTER, local(AFTER + timedelta(days=1), 6, 5))

    assert [(book.day, book.supplement) for book in first.supplements] == [(DAY, 1)]
    assert [(book.day, book.supplement) for book in second.supplements] == [(DAY, 2)]
    supplements = supplements_of(played.plant.ledger, DAY)
    assert [book.table("readings")["page"].to_pylist() for book in supplements] == [["5"], ["6"]]
    assert [book.is_sealed for book in supplements] == [True, False]
    assert {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()} == before
    assert supplements[0].front_sheet["lines"][0]["sentence"] == (
        "1 page arrived after the day was sealed, from S12-a."
    )
    assert verify(played.plant.ledger).faults == ()


def test_a_day_is_not_sealed_while_pages_of_it_wait_outside(played: PlayedPlant) -> None:
    """A page that came between closing and sealing would be in no book, so the day is closed again first."""
    played.close(DAY, local(NEXT, 6, 5))
    played.carry(local(NEXT, 9), 5)
    played.clock.at = local(NEXT, 10)

    with pytest.raises(SealRefused, match="2 pages of it came in since it was closed"):
        _seal(played)
    played.close(DAY, local(NEXT, 10))
    played.clock.at = local(NEXT, 10, 5)
    _seal(played)

    assert open_book(played.plant.ledger, DAY).is_sealed


def test_a_book_that_was_tampered_with_is_not_sealed(played: PlayedPlant) -> None:
    """Nobody seals what does not fit its own fingerprints."""
    closing = played.close(DAY, local(NEXT, 6, 5))
    assert closing.book is not None
    path = closing.book.path / "front-sheet.json"
    path.write_text(path.read_text(encoding="utf-8").replace("kiosk", "kiosks"), encoding="utf-8")
    played.clock.at = local(NEXT, 10)

    with pytest.raises(SealRefused, match="front sheet was altered"):
        _seal(played)
