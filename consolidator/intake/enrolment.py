"""Whom to believe: the consolidator's own keys and certificate, and the series that may bring pages.

Owns `keys/` and `intake/kiosks/`. A series is enrolled once; a replacement kiosk gets a new one.
"""

import json
import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Literal

import orjson
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID
from pydantic import TypeAdapter, ValidationError

from consolidator.errors import EnrolmentRefused, IntakeDamaged, SeriesTaken, UnknownKiosk
from consolidator.lists import current, lists_bytes
from consolidator.plant import Plant
from kiosk.carry import Enrolment, Keys
from kiosk.carry.enrolling import (
    ANSWER_PURPOSE,
    NUMBER_DIGITS,
    STATEMENT_BYTES_LIMIT,
    Answer,
    Request,
    answer_path,
    read_request,
    request_path,
)
from kiosk.carry.enrolment import CERTIFICATE_FILE, KEY_FILE, PINS_FILE
from kiosk.carry.fresh_lists import wrap_lists
from kiosk.carry.keys import seal
from kiosk.carry.statements import refused, write_statement
from kiosk.carry.sticks import BACK_PURPOSE, back_folder, read_label, stick_away
from kiosk.pages import Frozen
from kiosk.pages._base import Fingerprint, Name, Series
from kiosk.ports import SyncedDisk
from kiosk.times import LocalTime, read_time, write_time

OWN_KEY_FILE = "consolidator.key"
PUBLIC_FILE = "consolidator.public.json"
TLS_KEY_FILE = "tls.key"
OWN_CERTIFICATE_FILE = "tls.pem"

_FIRST_DAY = datetime(1970, 1, 1, tzinfo=UTC)
_LAST_DAY = datetime(9999, 12, 31, tzinfo=UTC) - timedelta(seconds=1)
"""The certificate is pinned, and a kiosk's clock may be off by years: its dates must never stop the carry."""
_SERIES = TypeAdapter(Series)


class Enrolled(Frozen):
    """One series as the consolidator knows it; public keys are 64 hexadecimal digits, times are UTC."""

    format: Literal[1] = 1
    series: Series
    station: Name
    signs: Fingerprint
    opens: Fingerprint
    enrolled_at: LocalTime
    withdrawn_at: LocalTime | None = None

    def is_withdrawn(self, moment: datetime) -> bool:
        """True when the series takes no more pages at `moment`."""
        return self.withdrawn_at is not None and read_time(self.withdrawn_at) <= moment


def enrol(
    plant: Plant,
    *,
    series: str,
    station: str,
    now: datetime,
    kiosk_folder: Path,
    address: str | None = None,
) -> Enrolment:
    """Enrol a new series at `station` and write what its kiosk needs into `kiosk_folder`.

    `address` is where the kiosk reaches the consolidator; none for a kiosk that carries by stick only.

    Raises:
        SeriesTaken: the series was enrolled before, or `series` can be no series.
    """
    keys = Keys.make()
    enrolment = _enrolment(plant, Place(series, station, address))
    kiosk_folder.mkdir(parents=True, exist_ok=True)
    keys.write(kiosk_folder / KEY_FILE)
    enrolment.write(kiosk_folder)
    (kiosk_folder / CERTIFICATE_FILE).write_bytes(certificate(plant).read_bytes())
    _bring_pins(plant, kiosk_folder)
    _note(plant, enrolment, keys.signing_hex, keys.sealing_hex, now)
    return enrolment


@dataclass(frozen=True)
class Place:
    """Where a new kiosk goes; `address` is where it reaches the consolidator, none for one that carries by stick."""

    series: str
    station: str
    address: str | None = None


def enrol_from_stick(plant: Plant, stick: Path, place: Place, *, number: str, now: datetime) -> Answer:
    """Enrol the new kiosk whose request lies on `stick`, and put the answer and the newest lists beside it.

    `number` is the one that the kiosk shows, as the two persons brought it; spaces and dashes in it do not matter.
    Done again for the same kiosk, series and station it only puts the answer on the stick once more.

    Raises:
        SeriesTaken: the series was enrolled before, or `series` can be no series.
        EnrolmentRefused: no request with that number is on the stick, its kiosk has a series already, or the plant's
            lists name no such station.
        StatementRefused: the request is none, or was changed on the way.
        ForeignStick: the plant did not issue the stick.
        StickAway: it cannot be read or written.
    """
    consolidator = keys_of(plant)
    read_label(stick, plant=plant.number, consolidator_signs=consolidator.signing_hex)
    request = _request_on(stick, number)
    _see_new(plant, request, place.series)
    known = find(plant, place.series)
    as_known = known and (known.signs, known.station, known.withdrawn_at)
    is_again = as_known == (request.signs, place.station, None)
    enrolment = _enrolment(plant, place, is_known=is_again)
    lists = current(plant)
    if place.station not in {station.number for station in lists.stations}:
        raise EnrolmentRefused(
            f"Series {place.series} was not enrolled.",
            why=f"The plant's lists name no station {place.station}."
            if lists.version
            else "The plant has no lists yet.",
            next_step="Look at the station's number, or take lists over first: consolidator lists take-over.",
        )
    pins = plant.keys / PINS_FILE
    answer = Answer(
        kiosk=request.signs,
        enrolment=enrolment,
        certificate=certificate(plant).read_text(encoding="ascii"),
        pins=pins.read_text(encoding="utf-8") if pins.exists() else None,
    )
    content = lists_bytes(plant, lists.version)
    wrapped = wrap_lists(content, plant=plant.number, version=lists.version, key=consolidator.signing)
    told = write_statement(answer, consolidator.signing)
    # Sealed before anything is written: a key that nothing can be sealed for must burn no series.
    sealed_lists, sealed_answer = _sealed(wrapped, request, BACK_PURPOSE), _sealed(told, request, ANSWER_PURPOSE)
    back, disk = back_folder(stick, place.series), SyncedDisk()
    # Known here before the stick has it: no kiosk may keep pages of a series that the plant does not know.
    if not is_again:
        _note(plant, enrolment, request.signs, request.opens, now)
    try:
        back.mkdir(parents=True, exist_ok=True)
        disk.replace_synced(back / "lists", sealed_lists)
        disk.replace_synced(answer_path(stick, request.number), sealed_answer)
    except OSError as error:
        raise stick_away(stick, error) from error
    return answer


def _see_new(plant: Plant, request: Request, series: str) -> None:
    """Return when no other series has the keys of this request: one kiosk keeps one series, whoever asks again."""
    for each in all_enrolled(plant):
        if each.signs == request.signs and each.series != series:
            raise EnrolmentRefused(
                f"Series {series[:40]} was not enrolled.",
                why=f"That kiosk has series {each.series} at station {each.station}: its request is an old one.",
                next_step=f"Give series {each.series} to have its answer again, or take a kiosk with an empty folder.",
            )


def _sealed(content: bytes, request: Request, purpose: str) -> bytes:
    try:
        return seal(content, request.opens, purpose=purpose)
    except ValueError as error:
        raise refused("enrolment request", "nothing can be sealed for its key") from error


def _request_on(stick: Path, number: str) -> Request:
    digits = "".join(each for each in number if each not in " -")
    is_number = digits.isdecimal() and len(digits) == NUMBER_DIGITS
    path = request_path(stick, digits)
    try:
        found = read_request(path.read_bytes()[:STATEMENT_BYTES_LIMIT]) if is_number else None
    except FileNotFoundError:
        found = None
    except OSError as error:
        raise stick_away(stick, error) from error
    if found is None or found.number.replace(" ", "") != digits:
        raise EnrolmentRefused(
            f"No kiosk with number {number[:40]} was enrolled.",
            why="No request with that number is on the stick: it was misread, or the kiosk did not put it there.",
            next_step="Look at the kiosk's screen again and give all its digits; nothing was changed.",
        )
    return found


def _enrolment(plant: Plant, place: Place, *, is_known: bool = False) -> Enrolment:
    """Return what a kiosk is told of its place.

    Raises:
        SeriesTaken: the series was enrolled before, or `series` can be no series.
    """
    path = _path(plant, place.series)
    if path is None or (path.exists() and not is_known):
        why = "It was enrolled before." if path else "A series has letters, digits, points and dashes, at most 31."
        raise SeriesTaken(f"Series {place.series[:40]} was not enrolled.", why=why, next_step="Choose a new series.")
    consolidator = keys_of(plant)
    return Enrolment(
        plant=plant.number,
        zone=plant.zone.key,
        station=place.station,
        series=place.series,
        address=place.address,
        consolidator_signs=consolidator.signing_hex,
        consolidator_opens=consolidator.sealing_hex,
    )


def _note(plant: Plant, enrolment: Enrolment, signs: str, opens: str, now: datetime) -> None:
    told = Enrolled(
        series=enrolment.series,
        station=enrolment.station,
        signs=signs,
        opens=opens,
        enrolled_at=write_time(now.astimezone(UTC)),
    )
    _write(plant.intake / "kiosks" / f"{enrolment.series}.json", told)


def _bring_pins(plant: Plant, kiosk_folder: Path) -> None:
    """Copy the hashes of the plant's PINs, so that a second person can sign at the kiosk with the network away."""
    known = plant.keys / PINS_FILE
    if not known.exists():
        return
    beside = kiosk_folder / PINS_FILE
    os.close(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600))
    beside.write_bytes(known.read_bytes())


def withdraw(plant: Plant, series: str, now: datetime) -> Enrolled:
    """Withdraw a series from `now`: pages that come later are held, and blocked as of an unknown kiosk (X77).

    Raises:
        UnknownKiosk: the series was never enrolled.
    """
    enrolled = find(plant, series)
    if enrolled is None:
        raise UnknownKiosk(
            f"Series {series[:40]} was not withdrawn.",
            why="It was never enrolled.",
            next_step="Look up the series on the front sheet.",
        )
    if enrolled.withdrawn_at is not None:
        return enrolled
    withdrawn = enrolled.model_copy(update={"withdrawn_at": write_time(now.astimezone(UTC))})
    _write(plant.intake / "kiosks" / f"{series}.json", withdrawn)
    return withdrawn


def find(plant: Plant, series: str) -> Enrolled | None:
    """Return one series; none when it was never enrolled."""
    path = _path(plant, series)
    return _read(path) if path is not None and path.exists() else None


def all_enrolled(plant: Plant) -> tuple[Enrolled, ...]:
    """Return every series ever enrolled, in order of name."""
    return tuple(_read(path) for path in sorted((plant.intake / "kiosks").glob("*.json")))


def _path(plant: Plant, series: str) -> Path | None:
    try:
        _SERIES.validate_python(series)
    except ValidationError:
        return None
    return plant.intake / "kiosks" / f"{series}.json"


def _read(path: Path) -> Enrolled:
    try:
        return Enrolled.model_validate_json(path.read_bytes())
    except ValidationError as error:
        raise IntakeDamaged(
            f"Enrolment {path.name} could not be read.",
            why=f"It is damaged, or a newer version wrote it ({error.error_count()} faults).",
            next_step="Bring the file back from the last copy of the plant's folder.",
        ) from error


def _write(path: Path, enrolled: Enrolled) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    content = orjson.dumps(enrolled.model_dump(exclude_none=True), option=orjson.OPT_INDENT_2)
    SyncedDisk().replace_synced(path, content + b"\n")


def make_keys(plant: Plant) -> Keys:
    """Make the consolidator's keys and certificate; called once, when the plant is made.

    Raises:
        SeriesTaken: there are keys already; receipts and sticks given out rest on them.
    """
    plant.keys.mkdir(parents=True, exist_ok=True, mode=0o700)
    keys = Keys.make()
    try:
        keys.write(plant.keys / OWN_KEY_FILE)
    except FileExistsError as error:
        raise SeriesTaken(
            f"No new keys were made for plant {plant.number}.",
            why="It has keys, and receipts and sticks given out rest on them.",
            next_step="Go on with the keys there are.",
        ) from error
    public = {"format": 1, "plant": plant.number, "signs": keys.signing_hex, "opens": keys.sealing_hex}
    (plant.keys / PUBLIC_FILE).write_text(json.dumps(public, indent=1) + "\n", encoding="utf-8")
    _make_certificate(plant)
    return keys


def read_keys(plant: Plant) -> Keys:
    """Return the consolidator's keys.

    Raises:
        NotEnrolled: they are away; they are never made anew unasked.
    """
    return Keys.read(plant.keys / OWN_KEY_FILE)


def keys_of(plant: Plant) -> Keys:
    """Return the consolidator's keys, made now if this plant never had any."""
    if (plant.keys / OWN_KEY_FILE).exists() or (plant.keys / PUBLIC_FILE).exists():
        return read_keys(plant)
    return make_keys(plant)


def certificate(plant: Plant) -> Path:
    """Return where the consolidator's certificate lies (public)."""
    return plant.keys / OWN_CERTIFICATE_FILE


def tls_key(plant: Plant) -> Path:
    """Return where the private key of the certificate lies (mode 600)."""
    return plant.keys / TLS_KEY_FILE


def _make_certificate(plant: Plant) -> None:
    key = Ed25519PrivateKey.generate()
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"consolidator of plant {plant.number}"[:64])])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(_FIRST_DAY)
        .not_valid_after(_LAST_DAY)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, None)
    )
    descriptor = os.open(plant.keys / TLS_KEY_FILE, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as out:
        out.write(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    certificate(plant).write_bytes(made.public_bytes(Encoding.PEM))
