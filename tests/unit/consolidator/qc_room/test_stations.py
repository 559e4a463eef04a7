"""What the QC room tells a station and asks of it goes out with the receipts of that station's kiosks."""

from datetime import timedelta
from pathlib import Path

import pytest

from consolidator.errors import DeskRefused
from consolidator.for_stations import for_station, note_for_stations
from consolidator.plant import Plant
from consolidator.qc_room.stations import tell_station
from kiosk.pages.desk import StationMessage
from kiosk.pages.readings import ReMeasureOrder
from kiosk.pages.station import Remark
from kiosk.ports import SyncedDisk
from kiosk.times import read_time
from tests.unit.carried import MemoryBook
from tests.unit.consolidator.desk.small_desk import SmallDesk


def test_a_message_names_a_station_and_is_short(small: SmallDesk) -> None:
    """An unknown station, no words and a long letter are refused; a sentence is kept as a page about the station."""
    for station, words in (("S99", "L-1 is on hold"), ("S13", "  "), ("S13", "x" * 121)):
        with pytest.raises(DeskRefused):
            tell_station(small.desk, "P-104", station, words)

    done = tell_station(small.desk, "P-104", "S13", "L-1 is on hold. Do not move it.")

    assert isinstance(done.page.act, StationMessage)
    assert (done.page.act.to_station, done.page.act.words) == ("S13", "L-1 is on hold. Do not move it.")


def test_what_is_for_a_station_goes_to_it_alone_and_not_for_ever(tmp_path: Path) -> None:
    """An order goes out for thirty days, a message for three; a remark is no message."""
    plant = Plant.create(tmp_path / "plant", number="PL-1", name="invented", zone="America/New_York")
    book = MemoryBook(series="desk-a", station="desk")
    order = ReMeasureOrder(of="S12-a/7", at_station="S13", lot="L-1", characteristic="BC1", piece=3, words="blue tag")
    for act in (order, StationMessage(words="Look at L-1.", to_station="S13"), Remark(words="no message")):
        book.keep(act)
    pages = [page for page, _ in book.pages(1, 3)]
    now = read_time(pages[-1].kiosk_time)

    note_for_stations(plant, pages, SyncedDisk())

    orders, messages = for_station(plant, "S13", now)
    assert [(one.page, one.of, one.piece, one.words) for one in orders] == [("desk-a/1", "S12-a/7", 3, "blue tag")]
    assert [one.words for one in messages] == ["Look at L-1."]
    assert for_station(plant, "S12", now) == ((), ())
    later_orders, later_messages = for_station(plant, "S13", now + timedelta(days=4))
    assert (len(later_orders), len(later_messages)) == (1, 0)
    assert for_station(plant, "S13", now + timedelta(days=31)) == ((), ())
