"""Fresh lists on their way to a kiosk: under the consolidator's signature, the same by network and by stick.

Owns taking them over in a kiosk's folder; must not know what they are for.
"""

import hashlib
import os
import re
from pathlib import Path
from typing import Literal

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from pydantic import ValidationError

from kiosk.carry.enrolment import Enrolment
from kiosk.carry.keys import signing_key
from kiosk.carry.packets import HEADER_BYTES_LIMIT
from kiosk.carry.statements import Statement, is_signed, refused, split_statement, understand, write_statement
from kiosk.lists import Lists
from kiosk.pages._base import Count, Fingerprint, Name
from kiosk.ports import Disk
from kiosk.settings import Settings

LISTS_FILE = "lists.json"
_TAIL_BYTES = 400
_VERSION = re.compile(rb',"version":(\d{1,12}),"zone":"[^"]*"}$')


class ListsSlip(Statement):
    """What travels before the lists themselves; signed by the consolidator."""

    what: Literal["lists"] = "lists"
    plant: Name
    version: Count
    fingerprint: Fingerprint


def wrap_lists(lists_bytes: bytes, *, plant: str, version: int, key: Ed25519PrivateKey) -> bytes:
    """Return the canonical bytes of the lists under their signed slip."""
    slip = ListsSlip(plant=plant, version=version, fingerprint=hashlib.sha256(lists_bytes).hexdigest())
    return write_statement(slip, key) + lists_bytes


def read_lists(raw: bytes, enrolment: Enrolment, *, settings: Settings | None = None) -> tuple[Lists, bytes]:
    """Return the lists and their canonical bytes, signed by this kiosk's consolidator.

    Raises:
        StatementRefused: they are not, or were changed on the way.
        NewerFormat: a newer version of the program wrote them.
    """
    limit_bytes = (settings or Settings()).carry_lists_bytes_limit
    if len(raw) > limit_bytes:
        raise refused("lists", f"they are larger than {limit_bytes} bytes")
    line, signature, lists_bytes = split_statement(raw, "lists", HEADER_BYTES_LIMIT)
    if not is_signed(line, signature, signing_key(enrolment.consolidator_signs)):
        raise refused("lists", "their signature does not fit")
    slip = understand(line, ListsSlip, "lists")
    if slip.plant != enrolment.plant:
        raise refused("lists", f"they are of plant {slip.plant}")
    if hashlib.sha256(lists_bytes).hexdigest() != slip.fingerprint:
        raise refused("lists", "they were changed on the way")
    try:
        return Lists.model_validate_json(lists_bytes), lists_bytes
    except ValidationError as error:
        raise refused("lists", f"they cannot be read ({error.error_count()} faults)") from error


def lists_version(folder: Path) -> int:
    """Return the version of the lists in use in a kiosk's folder; 0 when there are none that can be read."""
    try:
        with (folder / LISTS_FILE).open("rb") as kept:
            # Keys stand in order (RFC 8785), so the version is next to last; the rest may be megabytes.
            kept.seek(max(0, kept.seek(0, os.SEEK_END) - _TAIL_BYTES))
            found = _VERSION.search(kept.read())
    except OSError:
        return 0
    return int(found.group(1)) if found else 0


def take_lists(raw: bytes, folder: Path, enrolment: Enrolment, disk: Disk) -> Lists | None:
    """Check fresh lists and put them in the kiosk's folder; none when those in use are as new.

    After a power cut the kiosk has either the old lists or the new ones, whole.

    Raises:
        StatementRefused: they are not signed by this kiosk's consolidator.
    """
    lists, lists_bytes = read_lists(raw, enrolment)
    if lists.version <= lists_version(folder):
        return None
    disk.replace_synced(folder / LISTS_FILE, lists_bytes)
    return lists
