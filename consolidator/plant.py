"""The plant folder: where everything of one plant lies, and what plant.toml says of it."""

import tomllib
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from kiosk.errors import PersonCanMend


class NotAPlant(PersonCanMend):
    """The folder named is not a plant folder."""


@dataclass(frozen=True)
class Plant:
    """One plant and its folder."""

    root: Path
    number: str
    name: str
    zone: ZoneInfo

    @classmethod
    def create(cls, root: Path, *, number: str, name: str, zone: str) -> "Plant":
        """Make the folder of a new plant.

        Raises:
            NotAPlant: the folder is a plant already, or `zone` is no IANA time zone.
        """
        if (root / "plant.toml").exists():
            raise _refused(root, "It holds a plant already.", "Name an empty folder for a new plant.")
        plant = cls(root, number, name, _zone(root, zone))
        for folder in (plant.lists, plant.intake, plant.desk, plant.ledger, plant.keys):
            folder.mkdir(parents=True, exist_ok=True)
        text = f'format = 1\nnumber = "{number}"\nname = "{name}"\nzone = "{zone}"\n'
        (root / "plant.toml").write_text(text, encoding="utf-8")
        return plant

    @classmethod
    def open(cls, root: Path) -> "Plant":
        """Open an existing plant folder.

        Raises:
            NotAPlant: there is no readable plant.toml in it.
        """
        try:
            told = tomllib.loads((root / "plant.toml").read_text(encoding="utf-8"))
        except FileNotFoundError as error:
            raise _refused(root, "There is no plant.toml in it.", "Name the plant's folder.") from error
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise _refused(root, f"Its plant.toml cannot be read ({error}).", "Mend that file.") from error
        missing = [key for key in ("number", "name", "zone") if not isinstance(told.get(key), str)]
        if missing:
            raise _refused(root, f"Its plant.toml lacks {', '.join(missing)}.", "Mend that file.")
        if told.get("format", 1) != 1:
            raise _refused(root, "It was made by a newer version.", "Update this program.")
        return cls(root, told["number"], told["name"], _zone(root, told["zone"]))

    @property
    def lists(self) -> Path:
        """Versions of the lists, one folder each."""
        return self.root / "lists"

    @property
    def intake(self) -> Path:
        """Packets, contacts, carry log, screened readings."""
        return self.root / "intake"

    @property
    def desk(self) -> Path:
        """The desk's own book."""
        return self.root / "desk"

    @property
    def ledger(self) -> Path:
        """One folder for each production day."""
        return self.root / "ledger"

    @property
    def keys(self) -> Path:
        """The consolidator's own keys."""
        return self.root / "keys"


def _zone(root: Path, name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError) as error:
        raise _refused(root, f"'{name}' is no time zone.", "Give an IANA name such as America/New_York.") from error


def _refused(root: Path, why: str, next_step: str) -> NotAPlant:
    return NotAPlant(f"Plant folder {root.name} not used.", why=why, next_step=next_step)
