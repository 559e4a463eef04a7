"""The PINs of the plant's people: argon2id hashes in a file only its owner may read, and the lock after wrong ones.

Owns `PLANT/keys/pins.json`. A PIN as keyed is never kept, printed or put in a message.
Must not know who may sign what.
"""

import fcntl
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import Final, Literal

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from argon2.low_level import Type
from pydantic import Field, ValidationError

from consolidator.errors import PinRefused, PinsDamaged
from consolidator.settings import Settings
from kiosk.pages import Frozen
from kiosk.pages._base import Count, Name
from kiosk.ports import Disk, SyncedDisk
from kiosk.times import LocalTime

FORMAT: Final = 1


class Pin(Frozen):
    """One person's PIN: its argon2id hash in the PHC text form, when it was set, and wrong keyings in a row."""

    hash: str
    set_at: LocalTime
    wrong: Count = 0


class PinFile(Frozen):
    """The whole file, by number of the person."""

    format: Literal[1] = 1
    pins: dict[Name, Pin] = Field(default_factory=dict)


class PinStore:
    """PINs of one plant. Each change is whole on the disk, or not there, whatever happens in between."""

    def __init__(self, path: Path, *, disk: Disk | None = None, settings: Settings | None = None) -> None:
        self._path = path
        self._disk = disk or SyncedDisk()
        self._settings = settings or Settings()
        self._hasher = PasswordHasher(
            time_cost=self._settings.pin_passes,
            memory_cost=self._settings.pin_memory_kib,
            parallelism=self._settings.pin_lanes,
            type=Type.ID,
        )

    @property
    def is_empty(self) -> bool:
        """True when nobody has a PIN yet."""
        return not self._read().pins

    def has(self, person: str) -> bool:
        """True when the person has a PIN."""
        return person in self._read().pins

    def is_locked(self, person: str) -> bool:
        """True when the person's PIN is locked after too many wrong ones."""
        pin = self._read().pins.get(person)
        return pin is not None and pin.wrong >= self._settings.pin_tries

    def hashes(self) -> dict[str, str]:
        """Return the hash of every PIN that is not locked, as a kiosk needs them to check a signature by itself."""
        return {person: pin.hash for person, pin in self._read().pins.items() if pin.wrong < self._settings.pin_tries}

    def set(self, person: str, pin: str, at: str) -> None:
        """Set a person's PIN; the one before is gone, and so are wrong keyings.

        Raises:
            PinRefused: it is not 6 to 12 digits, or too easy to guess.
        """
        why = self._why_too_weak(pin)
        if why:
            raise PinRefused(f"PIN of {person} not set.", why=why, next_step="Choose another PIN and key it twice.")
        with self._writing() as file:
            self._write(file, person, Pin(hash=self._hasher.hash(pin), set_at=at))

    def check(self, person: str, pin: str) -> None:
        """Return when the PIN is the person's.

        A keying counts as wrong on the disk before it is looked at, so that no power cut gives another try.

        Raises:
            PinRefused: it is wrong or locked, or the person has none.
        """
        with self._writing() as file:
            known = file.pins.get(person)
            if known is None:
                raise PinRefused(
                    f"Not signed: {person} has no PIN.",
                    why="A signature takes a badge and a PIN.",
                    next_step="Let the quality manager set one.",
                )
            if known.wrong >= self._settings.pin_tries:
                raise _locked(person, self._settings.pin_tries)
            tried = known.model_copy(update={"wrong": known.wrong + 1})
            self._write(file, person, tried)
            if self._fits(known, pin):
                self._write(file, person, known.model_copy(update={"wrong": 0}))
                return
        if tried.wrong >= self._settings.pin_tries:
            raise _locked(person, self._settings.pin_tries)
        raise PinRefused(
            f"Not signed: the PIN is not that of {person}.",
            why=f"It was keyed wrong {tried.wrong} times of {self._settings.pin_tries} that lock it.",
            next_step="Key it again with care.",
        )

    def unlock(self, person: str) -> None:
        """Let the person key his PIN again.

        Raises:
            PinRefused: the person has none.
        """
        with self._writing() as file:
            known = file.pins.get(person)
            if known is None:
                raise PinRefused(
                    f"PIN of {person} not unlocked.", why="There is none.", next_step="Let the quality manager set one."
                )
            self._write(file, person, known.model_copy(update={"wrong": 0}))

    def _fits(self, known: Pin, pin: str) -> bool:
        try:
            return self._hasher.verify(known.hash, pin)
        except InvalidHashError as error:
            raise self._damaged(f"A hash in it is none: {error}.") from error
        except VerificationError:
            return False

    def _why_too_weak(self, pin: str) -> str:
        least, most = self._settings.pin_least_digits, self._settings.pin_most_digits
        if not (pin.isascii() and pin.isdigit() and least <= len(pin) <= most):
            return f"A PIN has {least} to {most} digits."
        steps = {int(after) - int(before) for before, after in pairwise(pin)}
        if len(steps) == 1 and steps <= {-1, 0, 1}:
            return "All its digits are alike, or follow each other."
        return ""

    @contextmanager
    def _writing(self) -> Iterator[PinFile]:
        """Hold the file against other programs, so that two wrong keyings at once count as two."""
        self._path.parent.mkdir(parents=True, exist_ok=True)
        with self._path.with_name("pins.lock").open("ab") as lock:
            fcntl.flock(lock.fileno(), fcntl.LOCK_EX)
            yield self._read()

    def _read(self) -> PinFile:
        try:
            raw = self._path.read_bytes()
        except FileNotFoundError:
            return PinFile()
        try:
            return PinFile.model_validate_json(raw)
        except ValidationError as error:
            raise self._damaged(f"{error.error_count()} of its values are not as they should be.") from error

    def _write(self, file: PinFile, person: str, pin: Pin) -> None:
        content = PinFile(pins=dict(sorted((file.pins | {person: pin}).items()))).model_dump(mode="json")
        beside = self._path.with_name(self._path.name + ".new")
        # Made here first, so that at no moment anybody else may read it.
        os.close(os.open(beside, os.O_WRONLY | os.O_CREAT, 0o600))
        beside.chmod(0o600)
        self._disk.replace_synced(self._path, json.dumps(content, indent=1).encode() + b"\n")

    def _damaged(self, why: str) -> PinsDamaged:
        return PinsDamaged(
            f"{self._path.name} cannot be read; nobody can sign.",
            why=why,
            next_step="Bring the file back from the last copy of the plant's folder, or set it aside and set all anew.",
        )


def _locked(person: str, tries: int) -> PinRefused:
    return PinRefused(
        f"Not signed: the PIN of {person} is locked.",
        why=f"It was keyed wrong {tries} times in a row.",
        next_step="Ask the shift lead or the quality manager to unlock it.",
    )
