"""PINs at a kiosk: checked against the plant's own hashes, counted before they are looked at, locked after three."""

import stat
from datetime import UTC, datetime
from pathlib import Path

import pytest

from consolidator.pins import PinStore
from consolidator.settings import Settings
from kiosk.carry.enrolment import PINS_FILE
from kiosk.errors import SignatureRefused
from kiosk.lists import Person
from kiosk.pages.signing import fingerprint_to_sign
from kiosk.pages.station import SetUpEnd
from kiosk.ports import SyncedDisk
from kiosk.screens.pins import KioskSigner

QUICK = Settings(pin_passes=1, pin_memory_kib=64, pin_lanes=1)
"""Hashes that cost nothing; how much they cost stands in the hash itself."""


@pytest.fixture
def signer(tmp_path: Path) -> KioskSigner:
    """Return the signer of a kiosk to which the plant's file was copied as it is."""
    PinStore(tmp_path / PINS_FILE, settings=QUICK).set("P-104", "274951", "2026-03-10T08:00:00.000-04:00")
    return KioskSigner(tmp_path, SyncedDisk(), head=lambda: "a" * 64, now=lambda: datetime(2026, 3, 10, tzinfo=UTC))


def test_the_right_pin_passes_and_wipes_wrong_ones_from_the_count(signer: KioskSigner) -> None:
    """Two wrong, one right, two wrong, one right: never locked."""
    for _ in range(2):
        for _ in range(2):
            with pytest.raises(SignatureRefused, match="that lock it"):
                signer.check("P-104", "111111")
        signer.check("P-104", "274951")


def test_three_wrong_in_a_row_lock_it_for_the_right_one_too(signer: KioskSigner) -> None:
    """The count stands on the disk, so that switching off gives no more tries."""
    for _ in range(3):
        with pytest.raises(SignatureRefused):
            signer.check("P-104", "111111")

    with pytest.raises(SignatureRefused) as refused:
        signer.check("P-104", "274951")

    assert "locked here" in refused.value.why


def test_without_a_pin_nobody_signs(signer: KioskSigner, tmp_path: Path) -> None:
    """Somebody unknown, no file, and a file that cannot be read."""
    with pytest.raises(SignatureRefused, match="P-105"):
        signer.check("P-105", "274951")
    (tmp_path / PINS_FILE).write_text("{")
    with pytest.raises(SignatureRefused, match="cannot be read"):
        signer.check("P-104", "274951")
    (tmp_path / PINS_FILE).unlink()
    with pytest.raises(SignatureRefused, match="P-104"):
        signer.check("P-104", "274951")


def test_the_file_stays_readable_by_its_owner_only_and_holds_no_pin(signer: KioskSigner, tmp_path: Path) -> None:
    """Writing the count makes it no wider, and the digits stand nowhere in it."""
    signer.check("P-104", "274951")

    path = tmp_path / PINS_FILE
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert b"274951" not in path.read_bytes()


def test_a_signature_is_bound_to_its_act_and_its_place(signer: KioskSigner) -> None:
    """By the same fingerprint as at the desk: the act without its signature, and the page before it."""
    act = SetUpEnd(set_up="SU-1")

    signature = signer.sign(act, Person(number="P-104", name="Dee"), "I looked at it.", "first-piece approver")

    assert signature.of == fingerprint_to_sign(act, "a" * 64)
    assert (signature.person, signature.name, signature.meaning) == ("P-104", "Dee", "approved")
