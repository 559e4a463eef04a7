"""Carry by stick, both ways: sealed packets out, receipt and lists back, and sticks that are not the plant's."""

import errno
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from consolidator.intake import Archive, Intake, Loaded, issue_stick, load_stick
from consolidator.plant import Plant
from kiosk.carry import lists_version
from kiosk.carry.sticks import StickCarry
from kiosk.errors import ForeignStick, StickAway
from kiosk.pages import fingerprint
from kiosk.ports import SyncedDisk
from kiosk.settings import Settings
from tests.unit.carried import MORNING, book_of, enrolled, make_plant, open_intake, packets_of, take_over_lists
from tests.unit.kiosk.book.small_books import WatchedDisk

DISK = SyncedDisk()
TEN = Settings(carry_packet_pages=10)


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    """An invented plant with one enrolled kiosk in tmp_path/kiosk."""
    plant = make_plant(tmp_path / "plant")
    enrolled(plant, tmp_path / "kiosk")
    return plant


@pytest.fixture
def intake(plant: Plant) -> Iterator[Intake]:
    """The plant's intake."""
    with open_intake(plant) as opened:
        yield opened


@pytest.fixture
def stick(intake: Intake, tmp_path: Path) -> Path:
    """A stick of the plant, number K-7."""
    issue_stick(intake, tmp_path / "stick", "K-7", MORNING)
    return tmp_path / "stick"


def _load(intake: Intake, stick: Path, minutes: int = 0) -> Loaded:
    return load_stick(intake, stick, MORNING + timedelta(minutes=minutes))


def _altered(sealed: bytes) -> bytes:
    """One bit is another; a fixed last byte would now and then be the one that is there already."""
    return sealed[:-1] + bytes([sealed[-1] ^ 1])


def _numbers(intake: Intake) -> list[int]:
    held = Archive(intake.plant, intake).held(date(2026, 3, 10), by_utc=datetime(2027, 1, 1, tzinfo=UTC))
    return sorted([*held.readings["number"].to_pylist(), *(each.page.number for each in held.acts)])


def test_a_stick_goes_out_with_pages_and_comes_back_with_receipt_and_lists(
    intake: Intake, stick: Path, tmp_path: Path
) -> None:
    """One way and back: everything held, the book told, fresh lists in use, nothing left on the way out."""
    book = book_of(25)
    lists = take_over_lists(intake.plant)

    out = StickCarry(tmp_path / "kiosk", stick, DISK, settings=TEN).carry(book)
    loaded = _load(intake, stick)
    back = StickCarry(tmp_path / "kiosk", stick, DISK, settings=TEN).carry(book)

    assert (out.packets, out.pages, loaded.new, loaded.held) == (3, 25, 25, 0)
    assert _numbers(intake) == list(range(1, 26))
    assert book.receipts[-1][:2] == (25, fingerprint(book.kept[-1][1]))
    assert (back.pages, back.lists, lists_version(tmp_path / "kiosk")) == (0, lists, 1)
    assert list((stick / "out" / "S12-a").iterdir()) == []


def test_pages_that_came_by_network_before_are_told_as_held(intake: Intake, stick: Path, tmp_path: Path) -> None:
    """O13: the carry log says "312 already held, 0 new", and a receipt goes back all the same."""
    book = book_of(312)
    StickCarry(tmp_path / "kiosk", stick, DISK).carry(book)
    _load(intake, stick)

    again = _load(intake, stick, 60)

    log = (intake.plant.intake / "carry-log.jsonl").read_text(encoding="utf-8").splitlines()
    assert (again.held, again.new) == (312, 0)
    assert "312 already held, 0 new" in log[-1]
    assert (stick / "back" / "S12-a" / "receipt").exists()


def test_a_finder_reads_neither_pages_nor_lists_on_a_stick(intake: Intake, stick: Path, tmp_path: Path) -> None:
    """Drawing limits and people's names stay in the plant."""
    take_over_lists(intake.plant)
    StickCarry(tmp_path / "kiosk", stick, DISK).carry(book_of(10))
    _load(intake, stick)

    found = b"".join(path.read_bytes() for path in stick.rglob("*") if path.is_file())

    for secret in (b"L-411", b"0.31225", b"P-101", b"Ana", b"0.3125", b"page 1"):
        assert secret not in found


def test_one_stick_serves_several_kiosks_and_each_sees_only_its_own(
    intake: Intake, stick: Path, tmp_path: Path
) -> None:
    """The lead walks the line with one stick."""
    enrolled(intake.plant, tmp_path / "other", "S13-a")
    one, two = book_of(5), book_of(7, "S13-a")
    StickCarry(tmp_path / "kiosk", stick, DISK).carry(one)
    StickCarry(tmp_path / "other", stick, DISK).carry(two)

    loaded = _load(intake, stick)
    StickCarry(tmp_path / "other", stick, DISK).carry(two)

    assert (loaded.new, loaded.series) == (12, ("S12-a", "S13-a"))
    assert [through for through, _, _ in two.receipts] == [7]
    assert (one.receipts, len(list((stick / "out" / "S12-a").iterdir()))) == ([], 1)


def test_a_stick_of_nobody_or_of_another_plant_is_left_alone(intake: Intake, stick: Path, tmp_path: Path) -> None:
    """Only numbered sticks of the plant: with a clear word, and not one byte written."""
    empty, foreign, forged = tmp_path / "empty", tmp_path / "foreign", tmp_path / "forged"
    empty.mkdir()
    with open_intake(make_plant(tmp_path / "other", "PL-2")) as other:
        issue_stick(other, foreign, "K-7", MORNING)
    forged.mkdir()
    (forged / "stick.json").write_bytes((stick / "stick.json").read_bytes().replace(b"K-7", b"K-8"))
    for each in (empty, foreign, forged):
        before = sorted(each.rglob("*"))

        with pytest.raises(ForeignStick, match="it is not one of this plant's"):
            StickCarry(tmp_path / "kiosk", each, DISK).carry(book_of(3))
        with pytest.raises(ForeignStick, match="it is not one of this plant's"):
            _load(intake, each)

        assert sorted(each.rglob("*")) == before


def test_a_stick_pulled_out_or_full_holds_whole_packets_only(intake: Intake, stick: Path, tmp_path: Path) -> None:
    """The next visit goes on; nothing is lost from the book."""
    book, disk = book_of(25), WatchedDisk()
    disk.break_folder(stick, errno.ENOSPC, after_bytes=500)
    with pytest.raises(StickAway, match="No space left"):
        StickCarry(tmp_path / "kiosk", stick, disk, settings=TEN).carry(book)
    assert _load(intake, stick).new == 0

    StickCarry(tmp_path / "kiosk", stick, DISK, settings=TEN).carry(book)

    assert _load(intake, stick).new == 25


def test_a_changed_or_foreign_file_on_a_stick_is_named_and_the_others_are_taken(
    intake: Intake, stick: Path, tmp_path: Path
) -> None:
    """One bad file costs no other page."""
    book = book_of(30)
    StickCarry(tmp_path / "kiosk", stick, DISK, settings=TEN).carry(book)
    folder = stick / "out" / "S12-a"
    first, second, _ = sorted(folder.iterdir())
    first.write_bytes(_altered(first.read_bytes()))
    (folder / "0000000031-0000000040.packet").write_bytes(b"\0" * 3_000_000)
    (folder / "holiday.jpg").write_bytes(b"picture")
    second.rename(folder / "0000000099-0000000100.packet")

    loaded = _load(intake, stick)

    assert (loaded.new, len(loaded.refusals)) == (20, 2)
    assert _numbers(intake) == list(range(11, 31))
    assert "2 files refused" in loaded.words


def test_a_receipt_changed_on_the_stick_is_told_and_pages_go_out_all_the_same(
    intake: Intake, stick: Path, tmp_path: Path
) -> None:
    """Without a receipt the kiosk only carries more than it needs to."""
    book = book_of(5)
    StickCarry(tmp_path / "kiosk", stick, DISK).carry(book)
    _load(intake, stick)
    receipt = stick / "back" / "S12-a" / "receipt"
    receipt.write_bytes(_altered(receipt.read_bytes()))

    done = StickCarry(tmp_path / "kiosk", stick, DISK).carry(book)

    assert (done.pages, book.receipts) == (5, [])
    assert "could not be opened" in done.refusals[0]


def test_a_stick_notes_no_contact(intake: Intake, stick: Path, tmp_path: Path) -> None:
    """It proves only that the pages were made before it was loaded, not what time it was at the kiosk."""
    StickCarry(tmp_path / "kiosk", stick, DISK).carry(book_of(5))
    _load(intake, stick)

    held = Archive(intake.plant, intake).held(date(2026, 3, 10), by_utc=datetime(2027, 1, 1, tzinfo=UTC))

    assert held.contacts.num_rows == 0
    assert held.kiosks[0].last_contact_at is None
    assert held.kiosks[0].last_arrival_at is not None


def test_a_packet_for_the_network_is_no_packet_for_a_stick(intake: Intake, stick: Path, tmp_path: Path) -> None:
    """On a stick only what is sealed is taken, so that nobody gets used to unsealed ones."""
    keys = enrolled(intake.plant, tmp_path / "other", "S13-a")
    folder = stick / "out" / "S13-a"
    folder.mkdir(parents=True)
    (folder / "0000000001-0000000005.packet").write_bytes(packets_of(book_of(5, "S13-a"), keys)[0])

    assert _load(intake, stick).new == 0
