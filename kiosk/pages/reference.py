"""Writes docs/reference/pages.md from the page models: `python -m kiosk.pages.reference [--check]`.

Owns the form of that document only; a test fails when the file is stale.
"""

import inspect
import sys
from enum import EnumType
from pathlib import Path
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from kiosk.pages import AnyAct, Frozen, Page

DOCUMENT = Path(__file__).resolve().parents[2] / "docs" / "reference" / "pages.md"

HEAD = """# Pages

Made by `python -m kiosk.pages.reference`; do not edit by hand.

Everything anyone does is one page of a numbered book: an envelope around one act.
A page's bytes are canonical JSON (RFC 8785); its fingerprint is SHA-256 (FIPS 180-4) of exactly those bytes.
`previous` is the fingerprint of the page before, 64 zeros on page 1.
A field without a value is left out.
Times are ISO 8601 local time with milliseconds and UTC offset, figures are decimal text, never rounded.
A page with a higher `format` than the program knows is refused by name.
"""


def document() -> str:
    """Return the whole document as text."""
    acts = get_args(get_args(AnyAct)[0])
    parts = [HEAD, "\n## The envelope\n", _told(Page), _table(Page)]
    nested: dict[str, type[Frozen]] = {}
    for model in acts:
        parts += [f"\n## `{model.model_fields['kind'].default}`\n", _told(model), _table(model)]
        _collect(model, nested)
    parts.append("\n## Values inside pages\n")
    for name, model in sorted(nested.items()):
        parts += [f"\n### {name}\n", _told(model), _table(model)]
    return "\n".join(part.rstrip("\n") for part in parts) + "\n"


def main() -> int:
    """Write the document, or with `--check` only tell whether it is stale."""
    if "--check" in sys.argv[1:]:
        return 0 if DOCUMENT.read_text(encoding="utf-8") == document() else 1
    DOCUMENT.write_text(document(), encoding="utf-8")
    return 0


def _told(model: type[Frozen]) -> str:
    return "\n" + inspect.cleandoc(model.__doc__ or "") + "\n"


def _table(model: type[Frozen]) -> str:
    rows = ["\n| field | holds | needed |", "|---|---|---|"]
    for name, field in model.model_fields.items():
        if name == "kind":
            continue
        needed = "yes" if field.is_required() else "no"
        rows.append(f"| `{name}` | {_holds(field.annotation)} | {needed} |")
    return "\n".join(rows) if len(rows) > 2 else "\nNo fields of its own."


def _holds(shape: Any) -> str:
    origin, inner = get_origin(shape), get_args(shape)
    if origin is Annotated:
        return _holds(inner[0])
    if origin in (Union, UnionType):
        kinds = [part for part in inner if part is not NoneType]
        return "any act" if len(kinds) > 10 else " or ".join(_holds(part) for part in kinds)
    if origin is Literal:
        return ", ".join(f"`{word}`" for word in inner)
    if origin is tuple:
        return f"list of {_holds(inner[0])}"
    if origin is dict:
        return f"{_holds(inner[0])} by {_holds(inner[1])}"
    if isinstance(shape, EnumType):
        words: list[Any] = list(shape)
        return ", ".join(f"`{word.value}`" for word in words)
    names: dict[Any, str] = {str: "text", int: "whole number", bool: "yes or no (true, false)"}
    return names.get(shape, str(shape.__name__))


def _collect(model: type[Frozen], found: dict[str, type[Frozen]]) -> None:
    for field in model.model_fields.values():
        for part in _parts(field.annotation):
            if part.__name__ not in found:
                found[part.__name__] = part
                _collect(part, found)


def _parts(shape: Any) -> list[type[Frozen]]:
    if inspect.isclass(shape) and get_origin(shape) is None:
        return [shape] if issubclass(shape, Frozen) else []
    return [part for inner in get_args(shape) for part in _parts(inner)]


if __name__ == "__main__":
    sys.exit(main())
