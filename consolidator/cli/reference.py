"""Makes docs/reference/consolidator-commands.md: `python -m consolidator.cli.reference`."""

from typing import Final

from consolidator.cli import app
from kiosk.commands import FOLDER, document_of

DOCUMENT: Final = FOLDER / "consolidator-commands.md"


def document() -> str:
    """Return the whole document."""
    return document_of("consolidator", app, what="consolidator", maker="consolidator.cli.reference")


def main() -> None:
    """Write the document."""
    DOCUMENT.write_text(document(), encoding="utf-8")


if __name__ == "__main__":
    main()
