"""Serves a kiosk whose program fails at one key: run in the place of `kiosk run` by a test."""

import sys
from pathlib import Path

from kiosk.acts import Steps
from kiosk.screens import serve

FAILS_AT = "7"
_press = Steps.press


def press(steps: Steps, key: str) -> None:
    """Fail at one key as a fault of the program would."""
    if key == FAILS_AT:
        raise RuntimeError("a fault put in by a test")
    _press(steps, key)


if __name__ == "__main__":
    setattr(Steps, "press", press)  # noqa: B010 - this program is the fault
    serve(Path(sys.argv[2]), port=int(sys.argv[4]), is_opened=False, started=print)
