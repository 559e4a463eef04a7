"""The consolidator's own keys and its certificate, made once when a plant is made.

Owns the plant's `keys/` folder. Must not know what is signed.
"""

import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID

from consolidator.errors import SeriesTaken
from consolidator.plant import Plant
from kiosk.carry import Keys

KEY_FILE = "consolidator.key"
PUBLIC_FILE = "consolidator.public.json"
TLS_KEY_FILE = "tls.key"
CERTIFICATE_FILE = "tls.pem"

_FIRST_DAY = datetime(1970, 1, 1, tzinfo=UTC)
_LAST_DAY = datetime(9999, 12, 31, tzinfo=UTC) - timedelta(seconds=1)
"""The certificate is pinned, and a kiosk's clock may be off by years: its dates must never stop the carry."""


def make_keys(plant: Plant) -> Keys:
    """Make the consolidator's keys and certificate; called once, when the plant is made.

    Raises:
        SeriesTaken: there are keys already; receipts and sticks given out rest on them.
    """
    plant.keys.mkdir(parents=True, exist_ok=True, mode=0o700)
    keys = Keys.make()
    try:
        keys.write(plant.keys / KEY_FILE)
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
    return Keys.read(plant.keys / KEY_FILE)


def keys_of(plant: Plant) -> Keys:
    """Return the consolidator's keys, made now if this plant never had any."""
    if (plant.keys / KEY_FILE).exists() or (plant.keys / PUBLIC_FILE).exists():
        return read_keys(plant)
    return make_keys(plant)


def certificate(plant: Plant) -> Path:
    """Return where the consolidator's certificate lies (public)."""
    return plant.keys / CERTIFICATE_FILE


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
