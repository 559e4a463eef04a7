"""PINs: kept as hashes only, three wrong ones lock, a lead or the manager unlocks, and each of these is a page."""

import json
import os
import stat
from datetime import date
from pathlib import Path

import pytest

from consolidator.desk.pins import set_pin, unlock_pin
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused, PinRefused, PinsDamaged
from consolidator.pins import PinStore
from kiosk.lists import Lists, Qualification
from kiosk.lists.words import Level
from kiosk.pages.station import Remark
from tests.unit.consolidator.desk.small_desk import CHEAP, PINS, SmallDesk
from tests.unit.kiosk.book.small_books import QuickDisk, WatchedDisk

AT = "2026-03-16T09:00:00.000-04:00"


def _store(folder: Path) -> PinStore:
    return PinStore(folder / "pins.json", disk=QuickDisk(), settings=CHEAP)


def test_file_holds_argon2id_hashes_and_only_its_owner_may_read_it(small: SmallDesk) -> None:
    """No PIN stands anywhere in the plant folder, and the file has mode 600."""
    path = small.folder / "keys" / "pins.json"

    told = json.loads(path.read_text())

    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert set(told["pins"]) == set(PINS)
    # PHC string format of RFC 9106's reference implementation: the variant, then v=19 (0x13).
    assert all(pin["hash"].startswith("$argon2id$v=19$") for pin in told["pins"].values())
    assert not any(pin in path.read_text() for pin in PINS.values())


def test_mode_is_600_even_where_the_machine_gives_files_to_all(tmp_path: Path) -> None:
    """The file is never readable by others, not even for the moment in which it is written."""
    before = os.umask(0)
    try:
        _store(tmp_path).set("P-101", "481516", AT)
    finally:
        os.umask(before)

    assert stat.S_IMODE((tmp_path / "pins.json").stat().st_mode) == 0o600


def test_two_wrong_pins_and_the_right_one_begin_the_count_anew(tmp_path: Path) -> None:
    """Only wrong keyings in a row lock a PIN."""
    store = _store(tmp_path)
    store.set("P-101", "481516", AT)
    for _ in range(3):
        for wrong in ("000000", "481517"):
            with pytest.raises(PinRefused):
                store.check("P-101", wrong)
        store.check("P-101", "481516")

    assert not store.is_locked("P-101")


def test_third_wrong_pin_locks_and_the_right_one_no_longer_opens(tmp_path: Path) -> None:
    """A locked PIN stays locked over a restart, and no kiosk gets its hash."""
    store = _store(tmp_path)
    store.set("P-101", "481516", AT)
    for _ in range(3):
        with pytest.raises(PinRefused):
            store.check("P-101", "999111")

    again = _store(tmp_path)

    with pytest.raises(PinRefused, match="locked"):
        again.check("P-101", "481516")
    assert again.is_locked("P-101") and again.hashes() == {}


def test_power_cut_while_a_wrong_pin_is_looked_at_still_counts_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The try is on the disk before the PIN is compared; cutting the power gives no further try."""
    store = _store(tmp_path)
    store.set("P-101", "481516", AT)

    class PowerGoneError(BaseException):
        """The power is gone."""

    def gone(*args: object) -> bool:
        raise PowerGoneError

    monkeypatch.setattr(store, "_fits", gone)
    for _ in range(3):
        with pytest.raises(PowerGoneError):
            store.check("P-101", "000000")

    assert _store(tmp_path).is_locked("P-101")


def test_full_disk_while_a_pin_is_set_leaves_the_pins_as_they_were(tmp_path: Path) -> None:
    """A file of PINs is never half-written."""
    disk = WatchedDisk()
    store = PinStore(tmp_path / "pins.json", disk=disk, settings=CHEAP)
    store.set("P-101", "481516", AT)
    disk.break_folder(tmp_path)
    with pytest.raises(OSError):
        store.set("P-102", "271828", AT)

    _store(tmp_path).check("P-101", "481516")

    assert not _store(tmp_path).has("P-102")


@pytest.mark.parametrize("content", ["", "{", '{"format":2,"pins":{}}', '{"pins":{"P-1":{"hash":5}}}', "[]"])
def test_damaged_file_stops_signing_and_is_not_written_over(tmp_path: Path, content: str) -> None:
    """Nobody signs by a file that cannot be read, and the evidence stays."""
    path = tmp_path / "pins.json"
    path.write_text(content)

    with pytest.raises(PinsDamaged):
        _store(tmp_path).check("P-101", "481516")

    assert path.read_text() == content


@pytest.mark.parametrize("pin", ["48151", "4815162342481", "48a516", "111111", "123456", "987654", "", "４８１５１６"])
def test_pin_too_easy_or_no_pin_is_not_taken(tmp_path: Path, pin: str) -> None:
    """6 to 12 plain digits, not all alike, not a run."""
    with pytest.raises(PinRefused):
        _store(tmp_path).set("P-101", pin, AT)


def test_third_wrong_pin_at_the_desk_is_kept_as_a_page_and_the_manager_unlocks(small: SmallDesk) -> None:
    """Locking and unlocking stand in the book."""
    for _ in range(3):
        with pytest.raises(PinRefused):
            set_pin(small.desk, "P-104", "271828", small.by("P-104", "000111"))
    assert "locked" in small.refusals()[-1].what

    page = unlock_pin(small.desk, "P-104", small.by("P-106")).page

    assert page.act == Remark(words="PIN of P-104 unlocked by P-106")
    set_pin(small.desk, "P-104", "271828", small.by("P-104"))


def test_shift_lead_unlocks_and_others_and_oneself_do_not(small: SmallDesk, deck: Lists) -> None:
    """Three wrong PINs locked: the lead unlocks."""
    lead = Qualification(person="P-107", operation="*", level=Level.LEAD, valid_from=date(2024, 1, 8))
    told = {name: getattr(deck, name) for name in Lists.model_fields}
    lists = Lists.model_validate(told | {"qualifications": (*deck.qualifications, lead)})
    with pytest.raises(DeskRefused):
        unlock_pin(small.desk, "P-104", small.by("P-107"))
    object.__setattr__(small.desk, "lists", lists)

    with pytest.raises(DeskRefused, match="own"):
        unlock_pin(small.desk, "P-107", small.by("P-107"))

    assert unlock_pin(small.desk, "P-104", small.by("P-107")).page.person == "P-107"


def test_first_pin_of_a_plant_is_a_quality_manager_s_own(small: SmallDesk, tmp_path: Path) -> None:
    """Nobody gives himself a PIN before the quality manager has one."""
    object.__setattr__(small.desk, "pins", PinStore(tmp_path / "new.json", disk=QuickDisk(), settings=CHEAP))
    with pytest.raises(DeskRefused, match="first is a quality manager"):
        set_pin(small.desk, "P-104", "481516", Signer("P-104", ""))
    set_pin(small.desk, "P-106", "481516", Signer("P-106", ""))

    with pytest.raises(PinRefused):
        set_pin(small.desk, "P-104", "271828", Signer("P-104", "271828"))


def test_no_pin_stands_in_any_page_or_printed_signer(small: SmallDesk) -> None:
    """What was keyed as a PIN is in no book and no message."""
    with pytest.raises(PinRefused) as refused:
        set_pin(small.desk, "P-104", "271828", small.by("P-104", "604217"))

    everything = b"".join(content for _, content in small.book.pages()).decode()
    assert "604217" not in everything + str(refused.value) + repr(small.by("P-104", "604217"))
    assert not any(pin in everything for pin in PINS.values())
