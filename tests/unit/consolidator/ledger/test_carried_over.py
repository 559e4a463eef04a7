"""What a close takes over from the ledgers of earlier days."""

from datetime import timedelta
from pathlib import Path

from consolidator.close import ClosedDay
from consolidator.ledger.closing import carried_into
from consolidator.ledger.day_books import supplement_book
from consolidator.ledger.folder import open_book, write_book
from consolidator.plant import Plant
from tests.unit.consolidator.ledger.plants import write_sealed
from tests.unit.consolidator.ledger.small_days import DAY, closed_day, lists_used, reading

LATE_REJECT = {"key": "X23:L-430:2026-03-16", "number": "X23", "lots": "L-430", "state": "open", "urgency": "B"}


def _plain(days_on: int) -> ClosedDay:
    rows = [reading("S12-a", 10 * days_on + 1, "L-411")]
    return closed_day(rows, day=DAY + timedelta(days=days_on))


def _write_late_reject(ledger: Path, closed_days_on: int) -> None:
    """Write supplement 1 of the first day, made when the day that far on was closed."""
    late = closed_day(
        [reading("S12-a", 1, "L-411"), reading("S13-a", 1, "L-430")],
        exceptions=[LATE_REJECT],
        touched=[{"key": LATE_REJECT["key"], "page": "S13-a/1", "is_leading": "yes"}],
    )
    moved = ClosedDay(**(vars(late) | {"at_utc": late.at_utc + timedelta(days=closed_days_on)}))
    first = open_book(ledger, DAY)
    tables = {name: first.table(name) for name in ("readings", "acts", "exceptions", "holds")}
    book = supplement_book(moved, lists_used(), b"{}", sealed=[tables], number=1)
    assert book is not None
    write_book(ledger, book)


def test_a_reject_that_came_late_for_an_old_day_reaches_the_next_close(tmp_path: Path) -> None:
    """Three sealed days; on the fourth a page of the first comes and is out: the fourth day carries it, once."""
    plant = Plant.create(tmp_path, number="P1", name="small", zone="America/New_York")
    write_sealed(plant.ledger, _plain(0), _plain(1), _plain(2))
    _write_late_reject(plant.ledger, closed_days_on=3)

    fourth = carried_into(plant, DAY + timedelta(days=3))

    assert fourth is not None
    assert fourth.exceptions["key"].to_pylist() == [LATE_REJECT["key"]]


def test_what_a_later_book_has_taken_over_is_not_taken_from_the_old_supplement_again(tmp_path: Path) -> None:
    """The fourth day was closed with that supplement and closed the exception; the fifth must not open it again."""
    plant = Plant.create(tmp_path, number="P1", name="small", zone="America/New_York")
    write_sealed(plant.ledger, _plain(0), _plain(1), _plain(2))
    _write_late_reject(plant.ledger, closed_days_on=3)
    write_sealed(plant.ledger, _plain(3))

    fifth = carried_into(plant, DAY + timedelta(days=4))

    assert fifth is not None
    assert fifth.exceptions.num_rows == 0
