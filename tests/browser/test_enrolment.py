"""A kiosk out of its box becomes one of the plant, through its own screen and the consolidator's command."""

import re
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from consolidator import cli
from consolidator.intake import Archive, Intake, issue_stick, load_stick
from consolidator.plant import Plant
from kiosk.ports import MachineClock
from tests.browser.kiosks import Served, one_port, zone_in_mid_shift
from tests.browser.person import Person
from tests.unit.carried import take_over_lists

pytestmark = pytest.mark.browser


def test_a_new_kiosk_is_enrolled_by_stick_and_its_first_page_arrives(
    tmp_path: Path, somebody: Callable[..., Person], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Request, number, answer, comparison, door, badge: nobody types a command at the kiosk, and no key leaves it."""
    zone = zone_in_mid_shift(datetime.now(UTC))
    clock = MachineClock(ZoneInfo(zone))
    plant = Plant.create(tmp_path / "plant", number="PL-1", name="invented", zone=zone)
    take_over_lists(plant)
    stick = tmp_path / "stick"
    with Intake(plant) as intake:
        issue_stick(intake, stick, "K-7", clock.now())
    kiosk = Served(tmp_path / "new", one_port(), settings={"KIOSK_STICK_FOLDER": str(stick)})
    kiosk.start()
    try:
        person = somebody(kiosk)
        person.sees("This kiosk is new")
        person.pick("Take the answer")
        person.sees("No answer for this kiosk")
        person.pick("Put the request")
        person.sees("On the stick")
        number = re.search(r"(\d{4} ){3}\d{4}", person.words())
        assert number is not None
        line = ["consolidator", "enrol-stick", str(plant.root), str(stick), "--series", "S12-b", "--station", "S12"]
        monkeypatch.setattr("sys.argv", [*line, "--number", number[0], "--by", "P-106", "--second", "P-108"])
        with pytest.raises(SystemExit, match=r"^0$"):
            cli.main()
        told = re.search(r"Number of the consolidator: ([\d ]+)", capsys.readouterr().out)
        assert told is not None

        person.pick("Take the answer")
        person.sees("Plant PL-1, station S12, series S12-b.")
        person.sees(told[1].strip())
        person.pick("It is not the same")
        person.sees("Nothing was taken over")
        person.type_keys("2")
        person.sees("Two persons")
        person.type_keys("1")
        person.away()
        person.ready()
        person.sees("Station S12. Scan your badge.")
        person.scan("P-101")
        person.sees("Badged in")
        person.settle()
        person.touch("More")
        person.pick("This kiosk")
        person.pick("Carry by stick")
        person.sees_in_words("On the stick")
    finally:
        kiosk.stop()

    with Intake(plant) as intake:
        load_stick(intake, stick, clock.now())
    with Archive(plant) as archive:
        kinds = [each.page.act.kind for each in archive.told(("badge in",), by_utc=clock.now()).acts]
    assert kinds == ["badge in"]
