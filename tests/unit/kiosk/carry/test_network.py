"""Carry over a real line of this machine: once, again, over a bad line, and to whom one should not."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from consolidator.intake import Archive, Intake, enrol, make_server, withdraw
from consolidator.plant import Plant
from kiosk.carry import Enrolment, lists_version
from kiosk.carry.network import NetworkCarry
from kiosk.errors import CarryRefused, ConsolidatorAway, NotEnrolled, ReceiptDoesNotFit
from kiosk.pages import fingerprint
from kiosk.ports import SyncedDisk
from kiosk.settings import Settings
from tests.unit.carried import MORNING, Hand, MemoryBook, book_of, make_plant, reading, take_over_lists
from tests.unit.kiosk.plant import HandClock
from tests.unit.served import BadLine, served

DISK = SyncedDisk()
QUICK = Settings(carry_wait_s=0.001, carry_attempts=12, carry_packet_pages=20)
CLOCK = HandClock("2026-03-10 09:00")


@pytest.fixture
def plant(tmp_path: Path) -> Plant:
    """An invented plant."""
    return make_plant(tmp_path / "plant")


@pytest.fixture
def address(plant: Plant) -> Iterator[str]:
    """The plant's intake, served without TLS on this machine only."""
    with served(make_server(plant, host="127.0.0.1", port=0, is_plain=True, now=Hand())) as where:
        yield where


@pytest.fixture
def folder(plant: Plant, address: str, tmp_path: Path) -> Path:
    """An enrolled kiosk's folder."""
    enrol(plant, series="S12-a", station="S12", now=MORNING, kiosk_folder=tmp_path / "kiosk", address=address)
    return tmp_path / "kiosk"


def _prints(plant: Plant) -> list[str]:
    with Archive(plant) as archive:
        held = archive.held(date(2026, 3, 10), by_utc=datetime(2027, 1, 1, tzinfo=UTC))
    prints = dict(zip(held.readings["number"].to_pylist(), held.readings["fingerprint"].to_pylist(), strict=True))
    prints |= {each.page.number: each.fingerprint for each in held.acts}
    assert len(prints) == held.readings.num_rows + len(held.acts)
    return [prints[number] for number in sorted(prints)]


def test_a_kiosk_day_is_carried_once_and_then_nothing_is_left_to_carry(plant: Plant, folder: Path) -> None:
    """Everything arrives, the book gets its receipt, and the next round has nothing to do."""
    book = book_of(50)

    with NetworkCarry(folder, DISK, settings=QUICK) as network:
        first = network.carry(book, CLOCK, session=1)
        second = network.carry(book, CLOCK, session=1)

    assert (first.packets, first.pages, second.packets, second.pages) == (3, 50, 0, 0)
    assert book.receipts[-1][:2] == (50, fingerprint(book.kept[-1][1]))
    assert _prints(plant) == [fingerprint(raw) for _, raw in book.kept]


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_over_a_line_that_loses_and_doubles_every_page_arrives_once(plant: Plant, folder: Path, seed: int) -> None:
    """Retries, doubled requests and lost answers change nothing that is held."""
    book = book_of(90)

    for _ in range(40):
        with NetworkCarry(folder, DISK, settings=QUICK, transport=BadLine(seed)) as network:
            try:
                network.carry(book, CLOCK, session=1)
            except ConsolidatorAway:
                seed += 1_000
                continue
            break

    assert _prints(plant) == [fingerprint(raw) for _, raw in book.kept]
    assert book.receipts[-1][0] == 90


def test_the_clock_difference_is_told_to_both_sides(plant: Plant, folder: Path) -> None:
    """O15: S31's clock runs 47 minutes fast."""
    clock = HandClock("2026-03-10 09:47")

    with NetworkCarry(folder, DISK) as network:
        done = network.carry(book_of(1), clock, session=1)

    assert done.difference_s is not None and -2_820 <= done.difference_s <= -2_815
    with Archive(plant) as archive:
        (row,) = archive.held(date(2026, 3, 10), by_utc=datetime(2027, 1, 1, tzinfo=UTC)).contacts.to_pylist()
    assert 2_815_000 <= row["kiosk_ms"] - row["consolidator_ms"] <= 2_820_000


def test_fresh_lists_come_with_the_contact_and_only_once(plant: Plant, folder: Path) -> None:
    """A kiosk that knows the newest version fetches nothing."""
    lists = take_over_lists(plant)

    with NetworkCarry(folder, DISK) as network:
        first = network.carry(book_of(1), CLOCK, session=1)
        second = network.carry(book_of(1), CLOCK, session=1)

    assert (first.lists, second.lists) == (lists, None)
    assert lists_version(folder) == lists.version == 1


def test_a_consolidator_that_is_away_is_told_and_nothing_is_lost(folder: Path) -> None:
    """The floor goes on; the next round carries."""
    book = book_of(3)
    line = BadLine(1, loses=1.0)

    with NetworkCarry(folder, DISK, settings=QUICK, transport=line) as network, pytest.raises(ConsolidatorAway):
        network.carry(book, CLOCK, session=1)

    assert book.receipts == []


def test_a_kiosk_of_another_plant_is_refused_by_name(folder: Path, address: str, tmp_path: Path) -> None:
    """The wrong plant says which it is."""
    other = make_plant(tmp_path / "other", "PL-2")
    enrol(other, series="S12-a", station="S12", now=MORNING, kiosk_folder=tmp_path / "k2", address=address)

    with NetworkCarry(tmp_path / "k2", DISK) as network, pytest.raises(CarryRefused, match="this is plant PL-1"):
        network.carry(book_of(1), CLOCK, session=1)


def test_a_kiosk_never_enrolled_here_is_refused(plant: Plant, folder: Path) -> None:
    """Its pages stay in its book."""
    (plant.intake / "kiosks" / "S12-a.json").unlink()

    with NetworkCarry(folder, DISK) as network, pytest.raises(CarryRefused, match="not enrolled at plant PL-1"):
        network.carry(book_of(1), CLOCK, session=1)


def test_a_withdrawn_kiosk_is_told_so_and_its_pages_are_held(plant: Plant, folder: Path) -> None:
    """Nothing kept is thrown away: blocked until looked into (X77)."""
    withdraw(plant, "S12-a", MORNING - timedelta(days=1))

    with NetworkCarry(folder, DISK) as network:
        done = network.carry(book_of(3), CLOCK, session=1)

    assert done.receipt is not None and done.receipt.is_withdrawn
    assert len(_prints(plant)) == 3


def test_a_book_that_differs_from_what_is_held_is_carried_whole(plant: Plant, folder: Path) -> None:
    """X34: only with both sides on the table can somebody find out which is true."""
    with NetworkCarry(folder, DISK) as network:
        network.carry(book_of(6), CLOCK, session=1)
    other = _Strict(book_of(5).kept)
    other.keep(reading("0.31195"), MORNING + timedelta(minutes=6))
    other.keep(reading("0.31200"), MORNING + timedelta(minutes=7))

    with NetworkCarry(folder, DISK) as network:
        done = network.carry(other, CLOCK, session=1)

    assert any("does not fit" in words for words in done.refusals)
    with Archive(plant) as archive:
        held = archive.held(date(2026, 3, 10), by_utc=datetime(2027, 1, 1, tzinfo=UTC))
    assert [(each.number, len(each.fingerprints)) for each in held.conflicts] == [(6, 2)]
    assert held.runs["S12-a"][0].last == 7


def test_only_the_consolidator_s_own_certificate_is_believed(plant: Plant, tmp_path: Path) -> None:
    """Pinned: another certificate on the same address is no consolidator, and a good one needs no name and no date."""
    stranger = make_plant(tmp_path / "stranger")
    book = book_of(3)
    for series, at in (("S12-a", plant), ("S13-a", stranger)):
        folder = tmp_path / series
        with served(make_server(at, host="127.0.0.1", port=0, now=Hand())) as address:
            assert address.startswith("https://")
            enrol(plant, series=series, station="S12", now=MORNING, kiosk_folder=folder, address=address)
            with NetworkCarry(folder, DISK, settings=QUICK) as network:
                if at is plant:
                    assert network.carry(book, CLOCK, session=1).pages == 3
                else:
                    with pytest.raises(ConsolidatorAway, match="certificate"):
                        network.carry(book, CLOCK, session=1)


@pytest.mark.parametrize(
    ("address", "words"),
    [(None, "names no address"), ("http://192.0.2.10:8080", "read along"), ("https://192.0.2.10", "cannot be read")],
)
def test_a_way_that_is_none_is_refused_before_anything_is_sent(
    tmp_path: Path, plant: Plant, address: str | None, words: str
) -> None:
    """Plain http on this machine only, and never without the certificate to believe."""
    folder = tmp_path / "kiosk"
    enrol(plant, series="S12-a", station="S12", now=MORNING, kiosk_folder=folder, address=address)
    (folder / "consolidator.pem").write_text("no certificate")
    assert Enrolment.open(folder).address == address

    with pytest.raises(NotEnrolled, match=words):
        NetworkCarry(folder, DISK)


class _Strict(MemoryBook):
    """A book that looks at a receipt before it believes it, as the one on disk does."""

    def __init__(self, kept: list) -> None:  # type: ignore[type-arg]
        super().__init__(kept=kept)

    def receipt(self, through: int, print_: str, at: str) -> None:
        """Refuse a receipt for a page this book has otherwise."""
        if fingerprint(self.kept[through - 1][1]) != print_:
            raise ReceiptDoesNotFit(f"Receipt for page {through} does not fit.", why="-", next_step="-")


def test_the_intake_opened_beside_a_running_one_sees_the_same(plant: Plant, folder: Path) -> None:
    """Close of day is another program than the server."""
    with NetworkCarry(folder, DISK) as network:
        network.carry(book_of(5), CLOCK, session=1)

    with Intake(plant) as intake, intake.writing():
        assert [(run.first, run.last) for run in intake.catalogue.runs("S12-a")] == [(1, 5)]
