"""Closing a day writes its book, brings earlier days up to date, and never touches a sealed one."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from consolidator.desk.sealing import seal_day
from consolidator.errors import SealRefused
from consolidator.intake import HeldPage
from consolidator.ledger.closing import LOOKED_THROUGH, pages_lost
from consolidator.ledger.day_books import page_totals
from consolidator.ledger.folder import open_book, supplements_of
from consolidator.ledger.verify import verify
from kiosk.lists.entries import Person, Qualification
from kiosk.lists.words import Level
from kiosk.pages import Act, Page
from kiosk.pages.desk import PagesLost, SecondSignature
from kiosk.pages.words import Meaning
from kiosk.ports import SystemChance
from tests.unit.consolidator.ledger.plants import people
from tests.unit.consolidator.ledger.small_days import act, closed_day
from tests.unit.consolidator.ledger.small_days import reading as small_reading
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


def _held(number: int, person: str, act: Act) -> HeldPage:
    page = Page.model_validate(
        {
            "plant": "PL-1",
            "series": "desk-a",
            "number": number,
            "station": "desk",
            "kiosk_time": "2026-03-11T09:00:00.000-04:00",
            "running_ms": 1,
            "session": 1,
            "person": person,
            "previous": "0" * 64,
            "filler": "0" * 32,
            "act": act,
        }
    )
    return HeldPage(page, "0" * 64, local(NEXT, 9))


@pytest.mark.parametrize(
    ("first", "second", "is_lost"),
    [
        ("P-108", "P-120", True),
        ("P-108", "P-108", False),
        ("P-108", None, False),
        ("P-108", "P-101", False),
        ("P-101", "P-108", False),
    ],
)
def test_pages_are_lost_only_when_two_persons_with_authority_declared_it(
    first: str, second: str | None, is_lost: bool
) -> None:
    """One person's word, or the word of somebody without the authority, declares nothing."""
    level = {"operation": "*", "level": Level.DISPOSITION, "valid_from": date(2024, 1, 8)}
    lists = people().model_copy(
        update={
            "people": (*people().people, Person(number="P-120", name="Jo")),
            "qualifications": (*people().qualifications, Qualification.model_validate({"person": "P-120", **level})),
        }
    )
    lost = PagesLost(series="S12-a", first=5, last=6, reason="store broken")
    acts = [_held(1, first, lost)]
    if second is not None:
        acts.append(_held(2, second, SecondSignature(of="desk-a/1", meaning=Meaning.DECLARED)))

    assert pages_lost(acts, lists) == ((lost,) if is_lost else ())


def test_closing_a_sealed_day_to_which_nothing_came_changes_nothing(played: PlayedPlant) -> None:
    """Neither book nor supplement is written."""
    played.close(DAY, local(NEXT, 6, 5))
    played.clock.at = local(NEXT, 10)
    _seal(played)
    before = {path: path.read_bytes() for path in (played.plant.ledger / DAY.isoformat()).rglob("*") if path.is_file()}

    closing = played.close(DAY, local(NEXT, 11))

    assert (closing.book, closing.supplements) == (None, ())
    assert {path: path.read_bytes() for path in before} == before


def test_without_the_note_of_what_was_looked_through_everything_is_looked_through(played: PlayedPlant) -> None:
    """The note saves time only: late pages are found without it."""
    played.close(DAY, local(NEXT, 6, 5))
    played.carry(local(NEXT, 9), 5)
    (played.plant.ledger / LOOKED_THROUGH).unlink()

    closing = played.close(NEXT, local(AFTER, 6, 5))

    assert [book.day for book in closing.closed_again] == [DAY]


def test_acts_are_counted_by_what_they_are(played: PlayedPlant) -> None:
    """A check, a correction, a re-keyed reading and a remark fall into four parts."""
    acts = [
        act("S12-a", 2, "check", section="checks"),
        act("desk-a", 1, "correction", section="dispositions"),
        act("S12-a", 3, "reading", section="re-keyed"),
        act("S12-a", 4, "remark"),
    ]
    closed = closed_day([small_reading("S12-a", 1, "L-411", sample_kind="set-up piece")], acts)

    totals = page_totals({"readings": closed.readings, "acts": closed.acts})

    names = ("pages", "readings", "set_up_pieces", "checks", "corrections", "re_keyed", "other_acts")
    assert [totals[name] for name in names] == [5, 1, 1, 1, 1, 1, 1]
