"""Signed statements: one line of canonical JSON, one line with its signature.

A packet's header, a contact, a receipt, fresh lists and a stick's own file all have this form.
`what` stands inside the signed line, so that one kind can never pass for another.
Owns the form only; must not know whose key is whose.
"""

import json
from typing import Literal, TypeVar

import rfc8785
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from pydantic import ValidationError

from kiosk.errors import NewerFormat, StatementRefused
from kiosk.pages import Frozen
from kiosk.said import say

FORMAT = 1
SIGNATURE_DIGITS = 128
"""An Ed25519 signature (RFC 8032) is 64 bytes, written as hexadecimal digits."""


class Statement(Frozen):
    """Something told under a signature; each kind fixes its own `what`."""

    what: str
    format: Literal[1] = 1


Told = TypeVar("Told", bound=Statement)


def write_statement(told: Statement, key: Ed25519PrivateKey) -> bytes:
    """Return the two lines of `told`: canonical JSON (RFC 8785), then its Ed25519 signature (RFC 8032)."""
    line = rfc8785.dumps(told.model_dump(mode="json", exclude_none=True))
    return line + b"\n" + key.sign(line).hex().encode() + b"\n"


def split_statement(raw: bytes, name: str, limit_bytes: int) -> tuple[bytes, bytes, bytes]:
    """Return statement line, signature (64 bytes) and everything after the two lines.

    Raises:
        StatementRefused: there are no two such lines within `limit_bytes`.
    """
    end = raw.find(b"\n", 0, limit_bytes + 1)
    if end < 0:
        raise refused(name, f"its first line does not end within {limit_bytes} bytes")
    after = end + 1 + SIGNATURE_DIGITS
    try:
        signature = bytes.fromhex(raw[end + 1 : after].decode("ascii"))
    except ValueError as error:
        raise refused(name, "its second line is no signature") from error
    if signature.hex().encode() != raw[end + 1 : after] or len(signature) * 2 != SIGNATURE_DIGITS:
        raise refused(name, "its second line is no signature")
    if raw[after : after + 1] != b"\n":
        raise refused(name, "its second line is no signature")
    return raw[:end], signature, raw[after + 1 :]


def understand(line: bytes, kind: type[Told], name: str) -> Told:
    """Return what a statement's line tells, its signature not yet checked.

    Raises:
        NewerFormat: a newer version of the program wrote it.
        StatementRefused: it is no such statement.
    """
    try:
        raw = json.loads(line)
    except (ValueError, RecursionError) as error:
        raise refused(name, "its first line is not JSON") from error
    version = raw.get("format") if isinstance(raw, dict) else None
    if isinstance(version, int) and version > FORMAT:
        raise NewerFormat(
            say("The {name} was not read: it has format {version}.", name=name, version=version),
            why=say("This program knows formats up to {version}.", version=FORMAT),
            next_step=say("Update this program, then carry again. Nothing kept is lost."),
        )
    try:
        return kind.model_validate(raw)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(step) for step in first["loc"])
        raise refused(name, f"field {where}: {first['msg']}") from error


def is_signed(line: bytes, signature: bytes, key: Ed25519PublicKey) -> bool:
    """True when `signature` over `line` was made with the private half of `key`."""
    try:
        key.verify(signature, line)
    except InvalidSignature:
        return False
    return True


def read_statement(raw: bytes, kind: type[Told], key: Ed25519PublicKey, *, name: str, limit_bytes: int) -> Told:
    """Return the statement at the start of `raw`, with its signature checked first.

    Raises:
        StatementRefused: it is none, or not signed with `key`.
        NewerFormat: a newer version of the program wrote it.
    """
    line, signature, _ = split_statement(raw, name, limit_bytes)
    if not is_signed(line, signature, key):
        raise refused(name, "its signature does not fit")
    return understand(line, kind, name)


def refused(name: str, reason: str) -> StatementRefused:
    """Return the refusal of the statement called `name`."""
    return StatementRefused(
        say("The {name} was not taken: {reason}.", name=name, reason=reason),
        why=say("It is not as the plant writes it, or was changed on the way."),
        next_step=say("Carry again. If it comes back the same, tell the quality manager."),
    )
