"""Whom a kiosk believes: enrolment, keys, receipts, lists."""

import json
import stat
from dataclasses import dataclass
from pathlib import Path

import pytest

from kiosk.carry import Enrolment, Keys, kiosk_keys, last_receipt, lists_version, take_lists
from kiosk.carry.fresh_lists import wrap_lists
from kiosk.carry.keys import seal
from kiosk.carry.receipts import Receipt, take_receipt
from kiosk.carry.statements import write_statement
from kiosk.errors import NewerFormat, NotEnrolled, StatementRefused
from kiosk.lists import Lists
from kiosk.ports import SyncedDisk
from tests.unit.carried import MemoryBook, enrolled, make_plant

DISK = SyncedDisk()


@dataclass(frozen=True)
class Place:
    """A kiosk's folder with the keys of both sides."""

    folder: Path
    enrolment: Enrolment
    consolidator: Keys


@pytest.fixture
def place(tmp_path: Path) -> Place:
    """An enrolled kiosk."""
    plant = make_plant(tmp_path / "plant")
    enrolled(plant, tmp_path / "kiosk")
    folder = tmp_path / "kiosk"
    return Place(
        folder=folder,
        enrolment=Enrolment.open(folder),
        consolidator=Keys.read(plant.keys / "consolidator.key"),
    )


def _receipt(held: tuple[tuple[int, int], ...], at: str, **more: object) -> Receipt:
    told = {"plant": "PL-1", "series": "S12-a", "at": at, "held": held, "through": held[0][1], "fingerprint": "a" * 64}
    return Receipt.model_validate({**told, **more})


def test_an_enrolment_is_read_back_as_it_was_written_even_with_marks_in_its_names(tmp_path: Path) -> None:
    """Names may hold quotation marks and letters of any alphabet."""
    told = Enrolment(
        plant='Müller "West" \\ 2', zone="America/New_York", station="S-Ω", series="S12-a",
        address="https://192.0.2.10:8443", consolidator_signs="a" * 64, consolidator_opens="b" * 64,
    )  # fmt: skip

    told.write(tmp_path)

    assert Enrolment.open(tmp_path) == told


@pytest.mark.parametrize("text", ["", "format = 1", "plant = ", "\udcff"])
def test_a_damaged_enrolment_is_told_and_not_guessed(tmp_path: Path, text: str) -> None:
    """The floor is told to go on keeping readings."""
    (tmp_path / "kiosk.toml").write_bytes(text.encode("utf-8", "surrogateescape"))

    with pytest.raises(NotEnrolled, match="readings are kept meanwhile"):
        Enrolment.open(tmp_path)


def test_an_enrolment_of_a_newer_program_is_refused_by_its_format(tmp_path: Path) -> None:
    """A newer format is never guessed at."""
    (tmp_path / "kiosk.toml").write_text("format = 2\n", encoding="utf-8")

    with pytest.raises(NewerFormat, match="format 2"):
        Enrolment.open(tmp_path)


def test_private_keys_can_be_read_by_their_owner_only_and_are_never_written_over(place: Place) -> None:
    """Mode 600, and a second writing is refused."""
    path = place.folder / "key"

    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    with pytest.raises(FileExistsError):
        Keys.make().write(path)


def test_what_is_sealed_opens_for_its_owner_and_its_purpose_only(place: Place) -> None:
    """A finder of a stick reads nothing, and a receipt cannot pass for a packet."""
    keys = kiosk_keys(place.folder)
    sealed = seal(b"page", keys.sealing_hex, purpose="one")

    assert b"page" not in sealed
    assert keys.open_sealed(sealed, purpose="one") == b"page"
    for raw, opener, purpose in (
        (sealed, keys, "other"),
        (sealed, Keys.make(), "one"),
        (sealed[:-1] + bytes([sealed[-1] ^ 1]), keys, "one"),
        (b"", keys, "one"),
        (b"\0" * 1_000, keys, "one"),
    ):
        with pytest.raises(StatementRefused, match="could not be opened"):
            opener.open_sealed(raw, purpose=purpose)


def test_a_receipt_reaches_the_book_and_is_found_again(place: Place) -> None:
    """The book may forget pages only on the consolidator's word."""
    book = MemoryBook()
    told = _receipt(((1, 20),), "2026-03-10T10:00:00.000-04:00")

    take_receipt(write_statement(told, place.consolidator.signing), place.folder, place.enrolment, book, DISK)

    assert book.receipts == [(20, "a" * 64, "2026-03-10T10:00:00.000-04:00")]
    assert last_receipt(place.folder, place.enrolment) == told


def test_an_older_receipt_from_a_forgotten_stick_changes_nothing(place: Place) -> None:
    """What the consolidator held once it holds for ever; the newer word stands."""
    book = MemoryBook()
    newer = _receipt(((1, 20),), "2026-03-10T10:00:00.000-04:00")
    older = _receipt(((1, 5),), "2026-03-10T10:30:00.000-03:00")
    for told in (newer, older):
        take_receipt(write_statement(told, place.consolidator.signing), place.folder, place.enrolment, book, DISK)

    assert last_receipt(place.folder, place.enrolment) == newer
    assert [through for through, _, _ in book.receipts] == [20]


@pytest.mark.parametrize("more", [{"series": "S13-a"}, {"plant": "PL-2"}])
def test_a_receipt_for_another_kiosk_or_plant_is_refused(place: Place, more: dict[str, str]) -> None:
    """A good signature is not enough."""
    told = _receipt(((1, 20),), "2026-03-10T10:00:00.000-04:00", **more)

    with pytest.raises(StatementRefused, match="it is for"):
        take_receipt(
            write_statement(told, place.consolidator.signing), place.folder, place.enrolment, MemoryBook(), DISK
        )


def test_a_receipt_that_anybody_else_signed_is_refused(place: Place) -> None:
    """Otherwise pages could be forgotten that nobody holds."""
    told = _receipt(((1, 20),), "2026-03-10T10:00:00.000-04:00")
    book = MemoryBook()

    with pytest.raises(StatementRefused, match="signature"):
        take_receipt(write_statement(told, Keys.make().signing), place.folder, place.enrolment, book, DISK)

    assert book.receipts == []


def test_fresh_lists_are_taken_once_and_never_replaced_by_older_ones(place: Place) -> None:
    """Lists work forwards only."""
    for version, in_use, is_fresh in ((3, 3, True), (2, 3, False), (3, 3, False), (12, 12, True)):
        content = Lists(plant="PL-1", zone="America/New_York", version=version).model_dump_json(exclude_none=True)
        canonical = _canonical(content)
        raw = wrap_lists(canonical, plant="PL-1", version=version, key=place.consolidator.signing)

        taken = take_lists(raw, place.folder, place.enrolment, DISK)

        assert lists_version(place.folder) == in_use
        assert (taken is not None) == is_fresh
    assert (place.folder / "lists.json").read_bytes() == canonical


def test_lists_changed_on_the_way_are_refused_and_the_old_ones_stay(place: Place) -> None:
    """One changed figure in a list would judge thousands of readings."""
    content = _canonical(Lists(plant="PL-1", zone="America/New_York", version=3).model_dump_json(exclude_none=True))
    raw = wrap_lists(content, plant="PL-1", version=3, key=place.consolidator.signing)

    for altered in (raw.replace(b"New_York", b"New_Yorc"), raw[:-1], raw[:200], b"", raw + b" "):
        with pytest.raises(StatementRefused):
            take_lists(altered, place.folder, place.enrolment, DISK)

    assert lists_version(place.folder) == 0


def _canonical(text: str) -> bytes:
    return json.dumps(json.loads(text), sort_keys=True, separators=(",", ":")).encode()
