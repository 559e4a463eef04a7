"""Enrolling a new kiosk by stick: its keys are made in it and never leave it; the plant answers what it asks.

Two persons compare two short numbers: the kiosk's at the consolidator, the consolidator's at the kiosk.
Owns the request, the answer and those numbers. Must not know how they are shown.
"""

import hashlib
import os
from datetime import datetime
from pathlib import Path
from typing import Literal

from kiosk.carry.enrolment import CERTIFICATE_FILE, KEY_FILE, KIOSK_FILE, PINS_FILE, Enrolment
from kiosk.carry.fresh_lists import LISTS_FILE, read_lists
from kiosk.carry.keys import Keys, signing_key
from kiosk.carry.statements import (
    Statement,
    is_signed,
    refused,
    split_statement,
    understand,
    write_statement,
)
from kiosk.carry.sticks import BACK_PURPOSE, STICK_FILE, back_folder, read_label, stick_away
from kiosk.errors import ForeignStick, NotEnrolled, NotKept
from kiosk.pages._base import Fingerprint
from kiosk.ports import Disk, sync_folder
from kiosk.said import say
from kiosk.settings import Settings
from kiosk.times import LocalTime, write_time

ENROL_FOLDER = "enrol"
ANSWER_PURPOSE = "enrolment for the kiosk"
STATEMENT_BYTES_LIMIT = 1_000_000
NUMBER_DIGITS = 16
"""So many digits that nobody finds another key with the same number: 10 to the 16 are 53 bits."""


class Request(Statement):
    """A new kiosk asks to be enrolled; signed with its own new key, which is public here."""

    what: Literal["enrolment request"] = "enrolment request"
    signs: Fingerprint
    opens: Fingerprint
    made_at: LocalTime

    @property
    def number(self) -> str:
        """The number that two persons compare."""
        return key_number(self.signs, self.opens)


class Answer(Statement):
    """The plant's answer, sealed for the one kiosk that asked and signed by the consolidator."""

    what: Literal["enrolment"] = "enrolment"
    kiosk: Fingerprint
    enrolment: Enrolment
    certificate: str
    pins: str | None = None

    @property
    def number(self) -> str:
        """The number of the consolidator, which two persons compare before its word is taken."""
        return key_number(self.enrolment.consolidator_signs, self.enrolment.consolidator_opens)


def key_number(signs: str, opens: str) -> str:
    """Return the short number of two public keys, in groups of four digits."""
    made = hashlib.sha256(f"keys {signs} {opens}".encode()).digest()
    digits = f"{int.from_bytes(made[:16]) % 10**NUMBER_DIGITS:0{NUMBER_DIGITS}d}"
    return " ".join(digits[at : at + 4] for at in range(0, NUMBER_DIGITS, 4))


def request_path(stick: Path, number: str) -> Path:
    """Return where the request of the kiosk with this number lies on a stick."""
    return stick / ENROL_FOLDER / f"request-{number.replace(' ', '')}"


def answer_path(stick: Path, number: str) -> Path:
    """Return where the answer to it lies."""
    return stick / ENROL_FOLDER / f"answer-{number.replace(' ', '')}"


def read_request(raw: bytes) -> Request:
    """Return a request whose signature fits the key that it brings.

    Raises:
        StatementRefused: it is none, or was changed on the way.
        NewerFormat: a newer version of the program wrote it.
    """
    line, signature, _ = split_statement(raw, "enrolment request", STATEMENT_BYTES_LIMIT)
    request = understand(line, Request, "enrolment request")
    if not is_signed(line, signature, signing_key(request.signs)):
        raise refused("enrolment request", "its signature does not fit")
    return request


def is_enrolled(folder: Path) -> bool:
    """True when the kiosk whose folder this is was enrolled; a folder that is not there yet is a new kiosk's.

    A book tells it too: where only `kiosk.toml` was lost, nobody may make a new kiosk over pages not yet carried.
    """
    return (folder / KIOSK_FILE).exists() or any(folder.glob("store-*/book.json"))


class NewKiosk:
    """A kiosk that nobody enrolled yet, and its way to become one of the plant's."""

    def __init__(self, folder: Path, stick: Path | None, disk: Disk, *, settings: Settings | None = None) -> None:
        self._folder, self._stick, self._disk = folder, stick, disk
        self._settings = settings or Settings()
        folder.mkdir(parents=True, exist_ok=True)
        self._keys = _own_keys(folder / KEY_FILE)

    @property
    def number(self) -> str:
        """The number of this kiosk, in groups of four digits."""
        return key_number(self._keys.signing_hex, self._keys.sealing_hex)

    def ask(self, now: datetime) -> None:
        """Put the request on the stick; asked again it is the same request.

        Raises:
            ForeignStick: no numbered stick of a plant is there.
            StickAway: it cannot be written.
        """
        stick = self._numbered_stick()
        request = Request(signs=self._keys.signing_hex, opens=self._keys.sealing_hex, made_at=write_time(now))
        path = request_path(stick, self.number)
        try:
            path.parent.mkdir(exist_ok=True)
            self._disk.replace_synced(path, write_statement(request, self._keys.signing))
        except OSError as error:
            raise stick_away(stick, error) from error

    def answer(self) -> Answer:
        """Read the answer for this kiosk; nothing is taken over yet.

        Raises:
            NotEnrolled: there is none on the stick.
            ForeignStick: the stick is not of the plant that answered.
            StatementRefused: it is for another kiosk, or was changed on the way.
            NewerFormat: a newer version of the program wrote it.
            StickAway: it cannot be read.
        """
        stick = self._numbered_stick()
        raw = self._read(answer_path(stick, self.number))
        plain = self._keys.open_sealed(raw, purpose=ANSWER_PURPOSE)
        line, signature, _ = split_statement(plain, "enrolment", STATEMENT_BYTES_LIMIT)
        answer = understand(line, Answer, "enrolment")
        enrolment = answer.enrolment
        if not is_signed(line, signature, signing_key(enrolment.consolidator_signs)):
            raise refused("enrolment", "its signature does not fit")
        if answer.kiosk != self._keys.signing_hex:
            raise refused("enrolment", "it is for another kiosk")
        read_label(stick, plant=enrolment.plant, consolidator_signs=enrolment.consolidator_signs)
        return answer

    def take(self, answer: Answer) -> None:
        """Become the kiosk of the answer, once two persons have compared its number.

        A power cut leaves it new, with the same keys, or enrolled: `kiosk.toml` comes last and whole.

        Raises:
            NotEnrolled: no lists for this kiosk are on the stick.
            StatementRefused: the lists are not the consolidator's.
            StickAway: the stick cannot be read.
            NotKept: the kiosk's own disk did not take it; it is still new.
        """
        enrolment = answer.enrolment
        raw = self._read(back_folder(self._numbered_stick(), enrolment.series) / "lists")
        _, lists = read_lists(self._keys.open_sealed(raw, purpose=BACK_PURPOSE), enrolment, settings=self._settings)
        try:
            if answer.pins is not None:
                _write_for_owner_only(self._folder / PINS_FILE, answer.pins)
            self._disk.replace_synced(self._folder / CERTIFICATE_FILE, answer.certificate.encode())
            self._disk.replace_synced(self._folder / LISTS_FILE, lists)
            self._disk.replace_synced(self._folder / KIOSK_FILE, enrolment.as_file())
        except OSError as error:
            raise NotKept(
                say("Not enrolled: the kiosk's own disk did not take it."),
                why=say("{words}.", words=error.strerror or error),
                next_step=say("Call IT. Then take the answer from the stick again."),
            ) from error

    def _numbered_stick(self) -> Path:
        if self._stick is None:
            raise ForeignStick(
                say("No stick can be read here."),
                why=say("No socket for sticks is set on this kiosk."),
                next_step=say("Call IT: the setting is KIOSK_STICK_FOLDER."),
            )
        if not (self._stick / STICK_FILE).is_file():
            raise ForeignStick(
                say("No stick of the plant is in the socket."),
                why=say("There is no {file} on it.", file=STICK_FILE),
                next_step=say("Use a numbered stick issued by the consolidator."),
            )
        return self._stick

    def _read(self, path: Path) -> bytes:
        limit_bytes = self._settings.carry_lists_bytes_limit
        try:
            with path.open("rb") as kept:
                return kept.read(limit_bytes)
        except FileNotFoundError as error:
            raise NotEnrolled(
                say("No answer for this kiosk is on the stick."),
                why=say("The consolidator has not enrolled it yet, or this is another stick."),
                next_step=say("Enrol it at the consolidator with number {number}, then come back.", number=self.number),
            ) from error
        except OSError as error:
            raise stick_away(path.parent, error) from error


def _own_keys(path: Path) -> Keys:
    """Return the keys of a new kiosk, made once; half-written ones of a power cut are made anew."""
    if path.exists():
        try:
            return Keys.read(path)
        except NotEnrolled:
            path.unlink()
    keys = Keys.make()
    keys.write(path)
    sync_folder(path.parent)
    return keys


def _write_for_owner_only(path: Path, content: str) -> None:
    """Put `content` at `path` whole or not at all; the name is synced with that of the file written next."""
    beside = path.with_name(path.name + ".new")
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as out:
        out.write(content.encode())
        out.flush()
        os.fsync(out.fileno())
    beside.replace(path)
