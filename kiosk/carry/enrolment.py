"""What a kiosk was given when it was enrolled: its place, its series, and whom it may believe.

Owns `kiosk.toml` in a kiosk's folder. Must not know how pages are carried.
"""

import json
import tomllib
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError

from kiosk.carry.keys import Keys
from kiosk.errors import NewerFormat, NotEnrolled
from kiosk.pages import Frozen
from kiosk.pages._base import Fingerprint, Name, Series

KIOSK_FILE = "kiosk.toml"
KEY_FILE = "key"
CERTIFICATE_FILE = "consolidator.pem"
PINS_FILE = "pins.json"
"""The plant's PINs as hashes; the same name at the plant and at a kiosk."""


class Enrolment(Frozen):
    """One kiosk's enrolment; public keys are 64 hexadecimal digits.

    `address` is the consolidator's, such as `https://192.0.2.10:8443`; none for a kiosk that carries by stick only.
    """

    format: Literal[1] = 1
    plant: Name
    zone: Name
    station: Name
    series: Series
    address: Annotated[str, Field(max_length=200, pattern=r"^https?://[^\s/]+/?$")] | None = None
    consolidator_signs: Fingerprint
    consolidator_opens: Fingerprint

    @classmethod
    def open(cls, folder: Path) -> "Enrolment":
        """Read the enrolment in a kiosk's folder.

        Raises:
            NotEnrolled: there is none, or it cannot be read.
            NewerFormat: a newer version of the program wrote it.
        """
        try:
            told = tomllib.loads((folder / KIOSK_FILE).read_text(encoding="utf-8"))
        except (OSError, ValueError) as error:
            raise _not_enrolled(folder, f"{KIOSK_FILE} cannot be read ({error})") from error
        version = told.get("format")
        if isinstance(version, int) and version > 1:
            raise NewerFormat(
                f"Enrolment in {folder.name} not read: it has format {version}.",
                why="This program knows format 1.",
                next_step="Update this program.",
            )
        try:
            return cls.model_validate(told)
        except ValidationError as error:
            first = error.errors(include_url=False)[0]
            raise _not_enrolled(folder, f"{KIOSK_FILE}: {first['loc']}: {first['msg']}") from error

    def write(self, folder: Path) -> None:
        """Write the enrolment into a kiosk's folder."""
        (folder / KIOSK_FILE).write_bytes(self.as_file())

    def as_file(self) -> bytes:
        """Return the enrolment as `kiosk.toml`."""
        # A JSON string without control characters is a TOML basic string, and Name allows none.
        rows = [
            f"{field} = {json.dumps(value, ensure_ascii=False)}"
            for field, value in self.model_dump(exclude_none=True).items()
        ]
        return ("\n".join(rows) + "\n").encode()


def kiosk_keys(folder: Path) -> Keys:
    """Return the private keys of the kiosk whose folder this is.

    Raises:
        NotEnrolled: they are away.
    """
    return Keys.read(folder / KEY_FILE)


def _not_enrolled(folder: Path, reason: str) -> NotEnrolled:
    return NotEnrolled(
        f"Kiosk folder {folder.name} is not enrolled.",
        why=f"{reason}.",
        next_step="Enrol the kiosk at the consolidator; readings are kept meanwhile as long as it has its folder.",
    )
