"""Tells a program's commands as a document, from the commands' own help.

Owns how a command stands in the reference. Knows no command itself.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import typer

FOLDER: Final = Path(__file__).resolve().parents[1] / "docs" / "reference"

_HEAD: Final = """# Commands of the {what}

Made by `python -m {maker}` from the commands' own help; do not edit by hand.

Each command is also `python -m {name} …`.
Where a command has `--json`, it prints JSON for machines.
Exit codes: 0 done, 1 refused, 2 misuse, 3 damage found.
"""


def document_of(name: str, app: typer.Typer, *, what: str, maker: str) -> str:
    """Return the reference of every command of `app`, whose program is called `name`."""
    head = _HEAD.format(what=what, maker=maker, name=name)
    return "\n".join([head, *(_section(path, command) for path, command in commands_of(name, app))])


def commands_of(name: str, app: typer.Typer) -> Iterator[tuple[str, Any]]:
    """Give every command with its whole name, e.g. `consolidator lists check`."""
    yield from _walk(name, typer.main.get_command(app))


def example_of(command: Any) -> str:
    """Return the example that a command's help ends with; '' when it has none."""
    _, found, example = (command.help or "").partition("Example:")
    return example.strip() if found else ""


def _walk(name: str, command: Any) -> Iterator[tuple[str, Any]]:
    inner = getattr(command, "commands", None)
    if inner is None:
        yield name, command
        return
    for key, each in inner.items():
        yield from _walk(f"{name} {key}", each)


def _section(name: str, command: Any) -> str:
    words = (command.help or "").partition("Example:")[0].strip()
    lines = [f"## {name}", "", *(" ".join(line.split()) for line in words.split("\n") if line.strip()), ""]
    lines += ["```", example_of(command), "```", "", "| argument or option | what it is |", "|---|---|"]
    lines += [_row(parameter) for parameter in command.params if parameter.name != "help"]
    return "\n".join(lines) + "\n"


def _row(parameter: Any) -> str:
    named = ", ".join(f"`{text}`" for text in (*parameter.opts, *parameter.secondary_opts))
    if parameter.param_type_name == "argument":
        named = f"`{parameter.metavar or (parameter.name or '').upper()}`"
    words = getattr(parameter, "help", None) or "–"
    needed = " Needed." if parameter.required else ""
    return f"| {named} | {words}{needed} |"
