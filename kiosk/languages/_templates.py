"""Every sentence and word that stands in the program, collected from its source.

A template counts where it is said, as a plain literal; a word of a fixed list counts where the list is.
"""

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

from kiosk.languages._language import has_words

KIOSK: Final = Path(__file__).resolve().parents[1]
WORD_LISTS: Final = {
    "pages/words.py": ("Verdict",),
    "lists/words.py": ("GaugeKind", "MasterKind"),
}
"""Fixed lists whose words an operator reads."""


class NotLiteral(ValueError):
    """A sentence is said from a template that is not written where it is said."""


class Template(NamedTuple):
    """One entry of the catalogues; `one` is its form for a single one, where a count stands."""

    text: str
    one: str | None
    file: str


def templates() -> tuple[Template, ...]:
    """Return every entry, each once, in the order of files and lines.

    Raises:
        NotLiteral: a template is not a plain literal.
    """
    found: dict[tuple[str, str | None], Template] = {}
    for path in sorted(KIOSK.rglob("*.py")):
        file = path.relative_to(KIOSK).as_posix()
        tree = ast.parse(path.read_text(encoding="utf-8"))
        for template in (*_said_in(tree, file), *_words_in(tree, file)):
            if has_words(template.text):
                found.setdefault((template.text, template.one), template)
    return tuple(found.values())


def _said_in(tree: ast.Module, file: str) -> Iterator[Template]:
    if file == "said.py":
        return
    calls = (node for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name))
    for call in sorted(calls, key=lambda node: (node.lineno, node.col_offset)):
        name = call.func.id if isinstance(call.func, ast.Name) else ""
        if name == "say":
            yield Template(_literal(call, 0, file), None, file)
        elif name == "say_count":
            yield Template(_literal(call, 1, file), _literal(call, 0, file), file)


def _literal(call: ast.Call, place: int, file: str) -> str:
    given = call.args[place] if len(call.args) > place else None
    if not isinstance(given, ast.Constant) or not isinstance(given.value, str):
        raise NotLiteral(f"{file}:{call.lineno}: the template is not a plain literal")
    return given.value


def _words_in(tree: ast.Module, file: str) -> Iterator[Template]:
    names = WORD_LISTS.get(file, ())
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and node.name in names:
            for line in node.body:
                is_word = isinstance(line, ast.Assign) and isinstance(line.value, ast.Constant)
                if is_word and isinstance(line, ast.Assign) and isinstance(line.value, ast.Constant):
                    yield Template(str(line.value.value), None, file)
