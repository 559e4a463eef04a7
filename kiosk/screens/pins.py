"""The PINs a kiosk knows, so that a second person can sign at the station with the network away.

Owns `KIOSK/pins.json`: a copy of the plant's hashes, with the wrong keyings in a row that were counted here.
A PIN as keyed is never kept, printed or put in a message. Must not know who may sign what.
"""

import json
import os
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from pydantic import Field, ValidationError

from kiosk.carry.enrolment import PINS_FILE
from kiosk.errors import SignatureRefused
from kiosk.lists import Person
from kiosk.pages import Act, Frozen, Signature
from kiosk.pages._base import Count, Name
from kiosk.pages.signing import fingerprint_to_sign
from kiosk.pages.words import Meaning
from kiosk.ports import Disk
from kiosk.station import Said, say
from kiosk.times import LocalTime, write_time

TRIES: Final = 3
"""Wrong keyings in a row that lock a PIN here, as they do at the desk."""


class KnownPin(Frozen):
    """One person's PIN: its argon2id hash in the PHC text form, and wrong keyings in a row."""

    hash: str
    set_at: LocalTime | None = None
    wrong: Count = 0


class PinsFile(Frozen):
    """The whole file, by number of the person."""

    format: int = 1
    pins: dict[Name, KnownPin] = Field(default_factory=dict)


class KioskSigner:
    """Checks PINs of one kiosk and signs for who keyed his own. `head` is the fingerprint of the book's last page."""

    def __init__(self, folder: Path, disk: Disk, *, head: Callable[[], str], now: Callable[[], datetime]) -> None:
        self._path, self._disk, self._head, self._now = folder / PINS_FILE, disk, head, now
        self._hasher = PasswordHasher()

    def check(self, person: str, pin: str) -> None:
        """Return when the PIN is the person's.

        A keying counts as wrong on the disk before it is looked at, so that no power cut gives another try.

        Raises:
            SignatureRefused: it is wrong or locked, or the person has none here.
        """
        known = self._read().pins.get(person)
        if known is None:
            raise _refused(
                person, say("This kiosk knows none of them."),
                say("Let the quality manager set one and bring it to this kiosk."),
            )  # fmt: skip
        if known.wrong >= TRIES:
            raise _refused(
                person, say("It was keyed wrong {n} times in a row and is locked here.", n=TRIES),
                say("Ask the quality manager to bring the PINs to this kiosk anew."),
            )  # fmt: skip
        self._write(person, known.model_copy(update={"wrong": known.wrong + 1}))
        if not self._fits(known, pin):
            raise _refused(
                person, say("It was keyed wrong {n} times of {limit} that lock it.", n=known.wrong + 1, limit=TRIES),
                say("Key it again with care."),
            )  # fmt: skip
        self._write(person, known.model_copy(update={"wrong": 0}))

    def sign(self, act: Act, person: Person, sentence: str, role: str) -> Signature:
        """Return the signature of a person whose PIN was checked just now, under an act that is kept next."""
        return Signature(
            person=person.number, name=person.name, role=role, at=write_time(self._now()),
            meaning=Meaning.APPROVED, sentence=sentence, of=fingerprint_to_sign(act, self._head()),
        )  # fmt: skip

    def _fits(self, known: KnownPin, pin: str) -> bool:
        try:
            return self._hasher.verify(known.hash, pin)
        except (InvalidHashError, VerificationError):
            return False

    def _read(self) -> PinsFile:
        try:
            return PinsFile.model_validate_json(self._path.read_bytes())
        except FileNotFoundError:
            return PinsFile()
        except (OSError, ValidationError) as error:
            raise SignatureRefused(
                say("Not signed: the PINs of this kiosk cannot be read."),
                why=say("{file} in its folder is damaged or away.", file=PINS_FILE),
                next_step=say("Copy the file from the plant's keys again. Readings go on meanwhile."),
            ) from error

    def _write(self, person: str, pin: KnownPin) -> None:
        file = self._read()
        content = file.model_copy(update={"pins": {**file.pins, person: pin}}).model_dump(mode="json")
        beside = self._path.with_name(self._path.name + ".new")
        # Made here first, so that at no moment anybody else may read it.
        os.close(os.open(beside, os.O_WRONLY | os.O_CREAT, 0o600))
        beside.chmod(0o600)
        self._disk.replace_synced(self._path, json.dumps(content, indent=1).encode() + b"\n")


def _refused(person: str, why: Said, next_step: Said) -> SignatureRefused:
    return SignatureRefused(
        say("Not signed: the PIN of {person} was not taken.", person=person), why=why, next_step=next_step
    )
