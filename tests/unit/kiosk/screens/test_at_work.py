"""A kiosk at work: what the QC room sends with a receipt reaches its screens, and stays there over a power cut."""

from datetime import UTC, datetime
from pathlib import Path

from consolidator.intake import Intake, enrol, take_in_book
from consolidator.intake.enrolment import find
from consolidator.plant import Plant
from kiosk.carry import Enrolment, Keys
from kiosk.carry.enrolment import KEY_FILE
from kiosk.carry.network import Carried
from kiosk.carry.receipts import take_receipt
from kiosk.pages.desk import StationMessage
from kiosk.pages.readings import ReMeasureOrder
from kiosk.ports import SyncedDisk
from kiosk.screens import AtWork
from kiosk.times import read_time
from tests.browser.kiosks import make_kiosk
from tests.unit.carried import MemoryBook


def test_an_order_and_a_message_come_with_the_receipt_and_outlive_the_program(tmp_path: Path) -> None:
    """From the desk's own book through the real intake and a signed receipt to the screens of the one station."""
    folder = make_kiosk(tmp_path)
    plant = Plant.open(tmp_path / "plant")
    enrol(plant, series="desk-a", station="desk", now=datetime.now(UTC), kiosk_folder=plant.desk, address=None)
    desk = MemoryBook(series="desk-a", station="desk")
    desk.keep(ReMeasureOrder(of="S31-a/7", at_station="S12", lot="L-411", characteristic="BC1", piece=3))
    desk.keep(ReMeasureOrder(of="S31-a/8", at_station="S24", lot="L-411", characteristic="BC5", piece=1))
    desk.keep(StationMessage(to_station="S12", words="L-411 is on hold. Do not move it."))
    told_at = read_time(next(page.kiosk_time for page, _ in desk.pages(3, 3)))
    with Intake(plant, now=lambda: told_at) as intake:
        take_in_book(intake, desk, "desk-a", Keys.read(plant.desk / KEY_FILE).signing)
        enrolled = find(plant, "S12-a")
        assert enrolled is not None
        raw = intake.receipt("S12-a", told_at, enrolled)

    kiosk = AtWork(folder)
    receipt = take_receipt(raw, folder, Enrolment.open(folder), kiosk.book, SyncedDisk())
    kiosk.take(Carried(0, 0, receipt), by_network=True)
    told = (kiosk.steps.orders, kiosk.steps.messages)
    kiosk.close()
    again = AtWork(folder)
    again.close()

    assert [(one.of, one.characteristic, one.piece) for one in told[0]] == [("S31-a/7", "BC1", 3)]
    assert [one.words for one in told[1]] == ["L-411 is on hold. Do not move it."]
    assert (again.steps.orders, again.steps.messages) == told


def test_a_clock_that_is_off_is_on_the_pages_and_in_the_status_line(tmp_path: Path) -> None:
    """Nobody agreed with since switch-on; 121 s off is off, 120 s is agreed (N2, 120 s)."""
    kiosk = AtWork(make_kiosk(tmp_path))
    states = [kiosk.work.badge_in("B-101").page.clock_state]
    for difference_s in (-121.0, 120.0):
        kiosk.take(Carried(0, 0, None, difference_s), by_network=True)
        states.append(kiosk.work.badge_in("B-101").page.clock_state)
        if difference_s < 0:
            told, is_bad = kiosk.status()
    sound, _ = kiosk.status()
    kiosk.close()

    assert states == ["not yet agreed", "off", "agreed"]
    assert "Clock off by 121 s: call support" in told
    assert is_bad
    assert not [one for one in sound if one.startswith("Clock")]
