"""The real disk, clock and chance behind the ports."""

import os
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from kiosk.ports import MachineClock, SyncedDisk, SystemChance


class _Syncs:
    """Remembers what each file or folder held when it was synced."""

    def __init__(self) -> None:
        self.seen: list[tuple[str, bytes | None]] = []
        self._sync = os.fsync

    def __call__(self, descriptor: int) -> None:
        """Look, then sync."""
        path = Path(f"/proc/self/fd/{descriptor}").resolve()
        self.seen.append((path.name, None if path.is_dir() else path.read_bytes()))
        self._sync(descriptor)


@pytest.fixture
def syncs(monkeypatch: pytest.MonkeyPatch) -> _Syncs:
    """Watch every sync; the operating system's own call is the only thing between us and the disk."""
    watching = _Syncs()
    monkeypatch.setattr(os, "fsync", watching)
    return watching


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="needs /proc to name what is synced")
def test_an_appended_line_is_synced_whole_and_a_new_file_s_name_too(tmp_path: Path, syncs: _Syncs) -> None:
    """After a power cut neither the line nor the file that holds it is missing."""
    disk = SyncedDisk()

    disk.append_synced(tmp_path / "journal", b"one\n")
    disk.append_synced(tmp_path / "journal", b"two\n")

    assert syncs.seen == [("journal", b"one\n"), (tmp_path.name, None), ("journal", b"one\ntwo\n")]


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="needs /proc to name what is synced")
def test_a_replaced_file_is_synced_before_and_after_it_takes_the_name(tmp_path: Path, syncs: _Syncs) -> None:
    """At every moment the name stands for the whole old content or the whole new one."""
    path = tmp_path / "counter"
    path.write_bytes(b"old")

    SyncedDisk().replace_synced(path, b"new")

    assert syncs.seen == [("counter.new", b"new"), (tmp_path.name, None)]
    assert path.read_bytes() == b"new"
    assert [left.name for left in tmp_path.iterdir()] == ["counter"]


def test_a_folder_that_is_gone_is_not_made_again(tmp_path: Path) -> None:
    """A card pulled out is not replaced by a folder of the same name."""
    with pytest.raises(FileNotFoundError):
        SyncedDisk().append_synced(tmp_path / "gone" / "journal", b"one\n")

    assert list(tmp_path.iterdir()) == []


def test_room_left_is_the_file_system_s(tmp_path: Path) -> None:
    """The figure is what statvfs(3) of POSIX.1-2017 gives an ordinary user."""
    told = os.statvfs(tmp_path)

    assert SyncedDisk().free_bytes(tmp_path) == pytest.approx(told.f_bavail * told.f_frsize, rel=0.05)


def test_the_machine_s_clock_tells_its_offset_and_runs_forward() -> None:
    """A time without an offset cannot be kept, and running time never falls."""
    clock = MachineClock(ZoneInfo("America/New_York"))

    before, after = clock.running_ms(), clock.running_ms()

    assert clock.now().utcoffset() is not None
    assert 0 < before <= after


def test_filler_is_32_hexadecimal_digits_and_not_the_same_twice() -> None:
    """Nobody can guess a reading from its fingerprint."""
    one, other = SystemChance().filler(), SystemChance().filler()

    assert len(bytes.fromhex(one)) == 16
    assert one != other
