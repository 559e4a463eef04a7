"""Sticks at the consolidator: issued with a number, loaded, and sent back with receipts and fresh lists.

Owns the consolidator's side of a stick's folders. What lies on a stick is sealed either way.
"""

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from consolidator.errors import UnknownKiosk
from consolidator.intake import enrolment
from consolidator.intake.carry_log import By
from consolidator.intake.receiving import Intake, newest_lists_version
from consolidator.lists import lists_bytes
from kiosk.carry.fresh_lists import wrap_lists
from kiosk.carry.keys import seal
from kiosk.carry.statements import write_statement
from kiosk.carry.sticks import (
    BACK_PURPOSE,
    PACKET_PURPOSE,
    STICK_FILE,
    StickLabel,
    back_folder,
    read_label,
    run_of,
    stick_away,
)
from kiosk.errors import NewerFormat, PacketRefused, StatementRefused
from kiosk.ports import SyncedDisk
from kiosk.times import write_time


@dataclass(frozen=True)
class Loaded:
    """What one stick brought; `refusals` are the words of files that were not taken."""

    stick: str
    held: int
    new: int
    series: tuple[str, ...]
    refusals: tuple[str, ...]

    @property
    def words(self) -> str:
        """One sentence for the carry log and the person with the stick."""
        told = f"Stick {self.stick}: {self.held} already held, {self.new} new"
        return told + (f", {len(self.refusals)} files refused." if self.refusals else ".")


def issue_stick(intake: Intake, stick: Path, number: str, now: datetime) -> StickLabel:
    """Make an empty stick one of the plant's, with the number painted on it."""
    label = StickLabel(
        plant=intake.plant.number, number=number, issued_at=write_time(now.astimezone(intake.plant.zone))
    )
    stick.mkdir(parents=True, exist_ok=True)
    SyncedDisk().replace_synced(stick / STICK_FILE, write_statement(label, intake.keys.signing))
    return label


def load_stick(intake: Intake, stick: Path, now: datetime) -> Loaded:
    """Take in every packet on a stick, then put a receipt and the newest lists on it for each kiosk that came.

    Loading it again, or after its pages came by network, changes nothing.

    Raises:
        ForeignStick: the plant did not issue it; nothing on it was read or written.
        StickAway: it was pulled out or cannot be read.
    """
    label = read_label(stick, plant=intake.plant.number, consolidator_signs=intake.keys.signing_hex)
    held = new = 0
    refusals: list[str] = []
    came: list[str] = []
    try:
        for folder in sorted((stick / "out").glob("*/")):
            came.append(folder.name)
            for path in _packets_in(intake, folder):
                try:
                    taken = intake.take_in(_opened(intake, path), By("stick", label.number))
                except (PacketRefused, NewerFormat, UnknownKiosk, StatementRefused) as refusal:
                    refusals.append(str(refusal))
                    continue
                held, new = held + taken.held, new + taken.new
        loaded = Loaded(label.number, held, new, tuple(came), tuple(refusals))
        intake.note({"what": "stick", "stick": label.number, "words": loaded.words, "new": new, "held": held})
        for series in came:
            _put_back(intake, stick, series, now)
    except OSError as error:
        raise stick_away(stick, error) from error
    return loaded


def _packets_in(intake: Intake, folder: Path) -> list[Path]:
    named = sorted(path for path in folder.iterdir() if run_of(path.name) is not None)
    return named[: intake.limits.stick_files_limit]


def _opened(intake: Intake, path: Path) -> bytes:
    limit_bytes = intake.limits.carry_packet_bytes_limit * 2
    with path.open("rb") as kept:
        return intake.keys.open_sealed(kept.read(limit_bytes), purpose=PACKET_PURPOSE)


def _put_back(intake: Intake, stick: Path, series: str, now: datetime) -> None:
    enrolled = enrolment.find(intake.plant, series)
    if enrolled is None:
        return
    folder = back_folder(stick, series)
    folder.mkdir(parents=True, exist_ok=True)
    disk = SyncedDisk()
    with intake.writing():
        receipt = intake.receipt(series, now, enrolled)
    disk.replace_synced(folder / "receipt", seal(receipt, enrolled.opens, purpose=BACK_PURPOSE))
    version = newest_lists_version(intake.plant)
    if version:
        content = lists_bytes(intake.plant, version)
        wrapped = wrap_lists(content, plant=intake.plant.number, version=version, key=intake.keys.signing)
        disk.replace_synced(folder / "lists", seal(wrapped, enrolled.opens, purpose=BACK_PURPOSE))
