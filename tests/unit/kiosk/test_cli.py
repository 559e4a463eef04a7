"""The kiosk's commands tell the state and carry; what cannot be done is told with its next step."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from consolidator.intake import Intake, enrol, issue_stick, load_stick
from consolidator.plant import Plant
from kiosk.book import Book
from kiosk.cli import STORES, main
from kiosk.pages.station import Remark
from kiosk.ports import MachineClock, SystemChance

NOW = datetime(2026, 3, 9, 12, tzinfo=UTC)


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    """A new plant."""
    return Plant.create(tmp_path / "plant", number="P-INV", name="Invented", zone="America/New_York")


@pytest.fixture
def kiosk(plant: Plant, tmp_path: Path) -> Path:
    """An enrolled kiosk with a power-on page and three remarks."""
    folder = tmp_path / "kiosk"
    enrol(plant, series="S12-a", station="S12", now=NOW, kiosk_folder=folder)
    stores = tuple(folder / name for name in STORES)
    clock = MachineClock(ZoneInfo("America/New_York"))
    with Book.create(stores, plant="P-INV", series="S12-a", station="S12", clock=clock, chance=SystemChance()) as book:
        for number in range(3):
            book.keep(Remark(words=f"remark {number}"), person="P-101")
    return folder


def _run(monkeypatch: pytest.MonkeyPatch, *arguments: str) -> int:
    monkeypatch.setattr("sys.argv", ["kiosk", *arguments])
    try:
        return main()
    except SystemExit as end:
        return int(end.code or 0)


def _told(capsys: pytest.CaptureFixture[str]) -> dict[str, Any]:
    told: dict[str, Any] = json.loads(capsys.readouterr().out)
    return told


def test_status_tells_what_is_held_and_not_carried(
    kiosk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Four pages are kept and none carried; looking changes nothing."""
    for _ in range(2):
        assert _run(monkeypatch, "status", str(kiosk), "--json") == 0
        told = _told(capsys)

        assert (told["last_page"], told["not_carried_pages"], told["series"]) == (4, 4, "S12-a")


def test_a_stick_carries_pages_out_and_a_receipt_back(
    plant: Plant, kiosk: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """After the way there and back the kiosk knows that its pages are held; each carry is a power-on of its own."""
    stick = tmp_path / "stick"
    with Intake(plant) as intake:
        issue_stick(intake, stick, "K-7", NOW)
        assert _run(monkeypatch, "carry", str(kiosk), "--stick", str(stick), "--json") == 0
        assert _told(capsys)["pages"] == 5
        assert load_stick(intake, stick, NOW).new == 5

    assert _run(monkeypatch, "carry", str(kiosk), "--stick", str(stick)) == 0
    capsys.readouterr()
    assert _run(monkeypatch, "status", str(kiosk), "--json") == 0
    assert _told(capsys)["carried_through"] == 5


def test_a_damaged_store_is_told_with_code_3(
    kiosk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """One flipped bit in the middle of a store is seen, and the other store is said to be good."""
    path = next((kiosk / STORES[1]).glob("*/*.journal"), None) or next((kiosk / STORES[1]).glob("pages/*"))
    content = bytearray(path.read_bytes())
    content[len(content) // 3] ^= 1
    path.write_bytes(bytes(content))

    assert _run(monkeypatch, "status", str(kiosk)) == 3
    out = capsys.readouterr().out
    assert "store-b: damaged" in out and "store-a: good" in out


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("status", "nowhere"), 1, "Enrol the kiosk"),
        (("carry", "nowhere"), 1, "Enrol the kiosk"),
        (("dance",), 2, "No such command"),
    ],
)
def test_what_cannot_be_done_is_told_with_its_next_step(
    arguments: tuple[str, ...],
    code: int,
    words: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Refused is 1, misuse is 2."""
    monkeypatch.chdir(tmp_path)

    assert _run(monkeypatch, *arguments) == code
    assert words in capsys.readouterr().err


def test_a_kiosk_without_an_address_says_how_to_carry(
    kiosk: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A kiosk enrolled for sticks only is told to use one."""
    assert _run(monkeypatch, "carry", str(kiosk)) == 1
    assert "Carry by stick" in capsys.readouterr().err
