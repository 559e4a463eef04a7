"""The two keys of a kiosk or of the consolidator: one to sign with, one that others seal for.

Signing is Ed25519 (RFC 8032); sealing is HPKE (RFC 9180) with X25519, HKDF-SHA256 and ChaCha20-Poly1305.
Must not know what is signed or sealed.
"""

import os
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.asymmetric.x25519 import X25519PrivateKey, X25519PublicKey
from cryptography.hazmat.primitives.hpke import AEAD, KDF, KEM, Suite
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)

from kiosk.errors import NotEnrolled, StatementRefused
from kiosk.said import say

_SUITE = Suite(KEM.X25519, KDF.HKDF_SHA256, AEAD.CHACHA20_POLY1305)
_MARK = b"sealed 1\n"
_END_OF_PEM = b"-----END PRIVATE KEY-----\n"


@dataclass(frozen=True)
class Keys:
    """A private key to sign with and a private key to open what was sealed."""

    signing: Ed25519PrivateKey
    opening: X25519PrivateKey

    @classmethod
    def make(cls) -> "Keys":
        """Return new keys from the operating system's random source."""
        return cls(Ed25519PrivateKey.generate(), X25519PrivateKey.generate())

    @classmethod
    def read(cls, path: Path) -> "Keys":
        """Read the two keys from `path`.

        Raises:
            NotEnrolled: the file is away or holds no such keys.
        """
        try:
            first, second = path.read_bytes().split(_END_OF_PEM)[:2]
            signing = load_pem_private_key(first + _END_OF_PEM, None)
            opening = load_pem_private_key(second + _END_OF_PEM, None)
        except (OSError, ValueError) as error:
            raise _no_keys(path) from error
        if not isinstance(signing, Ed25519PrivateKey) or not isinstance(opening, X25519PrivateKey):
            raise _no_keys(path)
        return cls(signing, opening)

    def write(self, path: Path) -> None:
        """Write the keys to a new file that only its owner may read (mode 600).

        Raises:
            FileExistsError: there are keys already; they are never written over.
        """
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "wb") as out:
            for key in (self.signing, self.opening):
                out.write(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
            out.flush()
            os.fsync(out.fileno())

    @property
    def signing_hex(self) -> str:
        """The public half of the signing key as 64 hexadecimal digits."""
        return self.signing.public_key().public_bytes_raw().hex()

    @property
    def sealing_hex(self) -> str:
        """The public half of the opening key, which others seal for, as 64 hexadecimal digits."""
        return self.opening.public_key().public_bytes_raw().hex()

    def open_sealed(self, raw: bytes, *, purpose: str) -> bytes:
        """Return what was sealed for these keys and for `purpose`.

        Raises:
            StatementRefused: it was sealed for somebody else, or was changed on the way.
        """
        try:
            if not raw.startswith(_MARK):
                raise InvalidTag
            return _SUITE.decrypt(raw[len(_MARK) :], self.opening, purpose.encode())
        except InvalidTag as error:
            raise StatementRefused(
                say("What lay on the stick could not be opened."),
                why=say("It was sealed for somebody else, or was changed on the way."),
                next_step=say("Carry it again from where it came. The original is still there."),
            ) from error


def seal(plain: bytes, for_hex: str, *, purpose: str) -> bytes:
    """Return `plain` sealed so that only the owner of public key `for_hex` can open it, and only for `purpose`."""
    return _MARK + _SUITE.encrypt(plain, X25519PublicKey.from_public_bytes(bytes.fromhex(for_hex)), purpose.encode())


def signing_key(public_hex: str) -> Ed25519PublicKey:
    """Return the public signing key that 64 hexadecimal digits stand for."""
    return Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_hex))


def _no_keys(path: Path) -> NotEnrolled:
    return NotEnrolled(
        f"The keys in {path.name} were not read.",
        why="The file is away or is not one of ours.",
        next_step="Put it back from where it was kept safe, or enrol the kiosk again under a new series.",
    )
