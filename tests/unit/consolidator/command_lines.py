"""Runs a command line of the consolidator in a test, as a person would type it."""

import json
import shlex
import sys
from typing import Any

import pytest

from consolidator import cli
from kiosk.commands import commands_of, example_of


class CommandLine:
    """Runs command lines in the test's own process and gives what was printed."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self._monkeypatch, self._capsys = monkeypatch, capsys

    def __call__(self, line: str) -> tuple[int, str, str]:
        """Return exit code, output and errors of one line."""
        self._monkeypatch.setattr(sys, "argv", shlex.split(line))
        try:
            code: Any = cli.main()
        except SystemExit as ended:
            code = ended.code or 0
        told = self._capsys.readouterr()
        return code, told.out, told.err

    def printed(self, line: str) -> str:
        """Return the output of a line that must be done."""
        code, out, err = self(line)
        assert code == 0, err
        return out

    def told(self, line: str) -> Any:
        """Return what a line tells a machine."""
        return json.loads(self.printed(f"{line} --json"))


def example(name: str) -> str:
    """Return the example that the help of a command ends with."""
    commands = dict(commands_of("consolidator", cli.app))
    return example_of(commands[f"consolidator {name}"])


def cell(printed: str, row: str) -> list[str]:
    """Return the figures behind the first row that begins with these words."""
    line = next(line for line in printed.splitlines() if line.startswith(f"{row} "))
    return line.removeprefix(row).split()
