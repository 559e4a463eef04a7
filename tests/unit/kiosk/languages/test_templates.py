"""Every sentence passes through the catalogues: none is put on a screen beside them."""

import ast
from pathlib import Path

import pytest

import kiosk
from kiosk.languages import _templates
from kiosk.languages._templates import NotLiteral, templates

ROOT = Path(kiosk.__file__).parent
DRAWN = {
    "Text": (0,), "Told": (0,), "Choice": (0,), "Label": (0,), "_plain": (0,), "_text": (0,), "cover": (0,),
    "Shown": (), "Semantics": (),
}  # fmt: skip
"""Calls that put words before a person, and which of their arguments are words."""
NAMED = {"title", "words", "detail", "label", "name", "figure_words", "count_words", "tooltip", "value"}


def beside_the_catalogues(source: str) -> list[str]:
    """Return the words of a module that are put before a person without being said."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        if name not in DRAWN:
            continue
        given = [node.args[place] for place in DRAWN[name] if place < len(node.args)]
        given += [keyword.value for keyword in node.keywords if keyword.arg in NAMED]
        found += [ast.unparse(one) for one in given if is_words(one)]
    return found


def is_words(node: ast.expr) -> bool:
    """True for a text with a letter in it, plain or put together."""
    parts = node.values if isinstance(node, ast.JoinedStr) else [node]
    return any(isinstance(part, ast.Constant) and any(map(str.isalpha, str(part.value or ""))) for part in parts)


@pytest.mark.parametrize("path", sorted([*(ROOT / "acts").glob("*.py"), *(ROOT / "screens").glob("*.py")]), ids=str)
def test_no_words_are_drawn_beside_the_catalogues(path: Path) -> None:
    """Whatever a person reads was said, so that it can be said in another language."""
    assert beside_the_catalogues(path.read_text("utf-8")) == []


@pytest.mark.parametrize(
    "source",
    ['ft.Text("Keep")', 'Told("Look again")', 'Shown(title=f"Lot {lot}")', 'ft.Semantics(label="Back")',
     'Choice("Back", "back")'],
)  # fmt: skip
def test_the_search_finds_words_beside_the_catalogues(source: str) -> None:
    """The test above can fail."""
    assert len(beside_the_catalogues(source)) == 1


def test_every_refusal_an_operator_can_see_is_said() -> None:
    """What failed, why and the next step: all three are sentences of the catalogues."""
    seen = [*ROOT.glob("station/*.py"), *ROOT.glob("acts/*.py"), ROOT / "measure/decimals.py",
            ROOT / "measure/check_character.py", ROOT / "carry/sticks.py", ROOT / "carry/statements.py",
            ROOT / "screens/pins.py", ROOT / "devices/kinds.py"]  # fmt: skip
    errors = {
        node.name for node in ast.parse((ROOT / "errors.py").read_text("utf-8")).body if isinstance(node, ast.ClassDef)
    }
    raised = [
        (path, node)
        for path in seen
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in errors
    ]
    found = [
        f"{path.name}:{node.lineno}"
        for path, node in raised
        if any(isinstance(one, ast.Constant | ast.JoinedStr) for one in [*node.args, *(k.value for k in node.keywords)])
    ]

    assert len(raised) > 20

    assert found == []


def test_a_template_that_is_not_written_where_it_is_said_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sentence put together on the way could not be looked up."""
    (tmp_path / "one.py").write_text('say(f"Lot {lot}")\n')
    monkeypatch.setattr(_templates, "KIOSK", tmp_path)

    with pytest.raises(NotLiteral, match=r"one\.py:1"):
        templates()


def test_a_count_has_both_forms_and_a_word_list_its_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is said twice stands once; what has no words in it needs no other language."""
    (tmp_path / "one.py").write_text(
        'say_count("{n} page", "{n} pages", n=2)\nsay("Keep")\nsay("Keep")\nsay("{number} {kind}", number=1, kind=2)\n'
    )
    (tmp_path / "pages").mkdir()
    (tmp_path / "pages" / "words.py").write_text('class Verdict:\n    IN = "In tolerance"\nclass Other:\n    A = "a"\n')
    monkeypatch.setattr(_templates, "KIOSK", tmp_path)

    found = [(one.text, one.one) for one in templates()]

    assert found == [("{n} pages", "{n} page"), ("Keep", None), ("In tolerance", None)]
