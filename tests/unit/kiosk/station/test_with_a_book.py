"""A station over the real book on disk: what was kept is there after the power comes back, and nothing is doubled."""

from pathlib import Path

from kiosk.book import Book
from kiosk.pages.readings import AskedAgain, Reading
from kiosk.station import KeptReading, LookAgain, Station
from tests.unit.kiosk import plant
from tests.unit.kiosk.book.small_books import CountedChance


def station_over(book: Book, clock: plant.HandClock) -> Station:
    """A station that goes on where its book stands."""
    return Station(
        book, plant.LISTS, number="S12", clock=clock, zone=plant.ZONE, pages=(page for page, _ in book.pages())
    )


def test_a_sample_goes_on_after_a_power_cut_with_its_question_and_its_gauge(tmp_path: Path) -> None:
    """Two pieces kept, a question asked, power off and on: piece 3 is next and its question is not asked again."""
    stores = (tmp_path / "a", tmp_path / "b")
    clock = plant.HandClock("2026-03-09 09:00:00")
    book = Book.create(stores, plant="PL-1", series="S12-a", station="S12", clock=clock, chance=CountedChance())
    work = station_over(book, clock)
    work.badge_in("P-101")
    work.open_job("L-411", "60")
    work.take_gauge("BC1", "G-108")
    work.begin_sample("BC1")
    for keyed in (".3121", ".3122"):
        assert isinstance(work.key("BC1", keyed), KeptReading)
    assert isinstance(work.key("BC1", "3.123"), LookAgain)
    book.close()

    clock.elapsed_ms = 0
    book = Book.open(stores, clock=clock, chance=CountedChance())
    answer = station_over(book, clock).key("BC1", ".3123")
    acts = [page.act for page, _ in book.pages()]
    book.close()

    assert isinstance(answer, KeptReading)
    readings = [act for act in acts if isinstance(act, Reading)]
    assert [(reading.piece, reading.value) for reading in readings] == [(1, "0.3121"), (2, "0.3122"), (3, "0.3123")]
    assert [keying.text for keying in readings[-1].earlier] == ["3.123"]
    assert sum(isinstance(act, AskedAgain) for act in acts) == 1
