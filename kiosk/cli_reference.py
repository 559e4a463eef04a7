"""Makes docs/reference/kiosk-commands.md: `python -m kiosk.cli_reference`."""

from typing import Final

from kiosk.cli import app
from kiosk.commands import FOLDER, document_of

DOCUMENT: Final = FOLDER / "kiosk-commands.md"


def document() -> str:
    """Return the whole document."""
    return document_of("kiosk", app, what="kiosk", maker="kiosk.cli_reference")


def main() -> None:
    """Write the document."""
    DOCUMENT.write_text(document(), encoding="utf-8")


if __name__ == "__main__":
    main()
