"""Collects, for each exception kind, its function, the unit tests and scenarios that name it, and its planted fault."""

import ast
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any, Final

import yaml

from consolidator import lookback
from consolidator.rules import KINDS, LAST_RULES, LATE_RULES, RULES, LastRule, LateRule, Rule
from tests.oracle.judge import JUDGED

ROOT: Final = Path(__file__).parents[2]
UNIT_TESTS: Final = ROOT / "tests" / "unit" / "consolidator"
SCENARIOS: Final = ROOT / "tests" / "scenarios" / "files"
PLANTED: Final = ROOT / "demo_site" / "planted"
NOT_BUILT: Final = Path(__file__).with_name("not-built.txt")
_NUMBER: Final = re.compile(r"\bX\d\d\b")
_RANGE: Final = re.compile(r"\bX(\d\d)(?:–| to |-)X(\d\d)\b")
_A_FEW: Final = 6


@dataclass(frozen=True)
class KindShown:
    """One kind and all that shows it; files and tests by name."""

    number: str
    name: str
    function: str
    tests: tuple[str, ...]
    scenarios: tuple[str, ...]
    planted: tuple[str, ...]
    is_in_oracle: bool

    @property
    def lacks(self) -> tuple[str, ...]:
        """What there must be and is not."""
        missing = {"function": self.function, "unit test": self.tests}
        return tuple(what for what, there in missing.items() if not there)


def kinds_shown() -> list[KindShown]:
    """Return all kinds, in order of number."""
    functions, tests = _functions(), _tests(sorted(UNIT_TESTS.rglob("test_*.py")))
    scenarios, planted = _expected(SCENARIOS), _expected(PLANTED)
    return [
        KindShown(
            number=number,
            name=kind.name,
            function=functions.get(number, ""),
            tests=tuple(tests.get(number, ())),
            scenarios=tuple(scenarios.get(number, ())),
            planted=tuple(name for name in planted.get(number, ()) if name.startswith(number)),
            is_in_oracle=number in JUDGED,
        )
        for number, kind in sorted(KINDS.items())
    ]


def not_built() -> frozenset[str]:
    """Return the kinds that are written down as not built yet."""
    lines = NOT_BUILT.read_text(encoding="utf-8").splitlines()
    return frozenset(line.split()[0] for line in lines if line and not line.startswith("#"))


def _functions() -> dict[str, str]:
    rules: list[Rule | LateRule | LastRule] = [*RULES, *LATE_RULES, *LAST_RULES, *lookback.rules(_reads_nothing)]
    found: dict[str, list[str]] = defaultdict(list)
    for rule in rules:
        found[rule.number].append(_name_of(rule.find))
    return {number: ", ".join(dict.fromkeys(names)) for number, names in found.items()}


def _reads_nothing(*_: object) -> Any:
    raise AssertionError("the table calls no rule")


def _name_of(find: Any) -> str:
    while isinstance(find, partial):
        find = find.func
    name = getattr(find, "__qualname__", type(find).__qualname__)
    return f"{find.__module__.removeprefix('consolidator.')}.{name}"


def _tests(paths: Iterable[Path]) -> dict[str, list[str]]:
    """Return the test functions that name each kind in docstring, parameters or what they compare.

    Those that promise it in their docstring come first, and of these the ones in the kind's own room.
    """
    found: dict[str, list[tuple[bool, bool, str]]] = defaultdict(list)
    for path in paths:
        text = path.read_text(encoding="utf-8")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                promised, name = set(_numbers(ast.get_docstring(node) or "")), path.relative_to(UNIT_TESTS)
                is_elsewhere = name.parts[0] not in ("rules", "lookback")
                for number in set(_numbers(_source_of(node, text))):
                    found[number].append((number not in promised, is_elsewhere, f"{name}::{node.name}"))
    return {number: [each[-1] for each in sorted(tests)] for number, tests in found.items()}


def _source_of(node: ast.FunctionDef, text: str) -> str:
    first = min([node.lineno, *(each.lineno for each in node.decorator_list)])
    return "\n".join(text.splitlines()[first - 1 : node.end_lineno])


def _numbers(text: str) -> Iterator[str]:
    """Yield the kinds a text names; from a range of more than a few no single one is promised."""
    for first, last in _RANGE.findall(text):
        numbers = range(int(first), int(last) + 1)
        yield from (f"X{number:02d}" for number in numbers if len(numbers) <= _A_FEW)
    yield from _NUMBER.findall(_RANGE.sub("", text))


def _expected(folder: Path) -> dict[str, list[str]]:
    """Return the files of a folder by the kinds that they expect to be found."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in sorted(folder.glob("*.yaml")):
        told = yaml.safe_load(path.read_text(encoding="utf-8"))
        expected = [told.get("expect", ()), *(event["expect"] for event in told["events"] if "expect" in event)]
        waits = " (not yet)" if "expected to fail" in told else ""
        for number in sorted(set(_in_words(_without_denials(expected)))):
            found[number].append(f"{path.stem}{waits}")
    return found


def _without_denials(told: Any) -> Any:
    if isinstance(told, dict):
        if told.get("lines") == 0:
            return ()
        return {name: _without_denials(value) for name, value in told.items() if name != "has not"}
    return [_without_denials(each) for each in told] if isinstance(told, list) else told


def _in_words(told: Any) -> Iterator[str]:
    if isinstance(told, dict):
        for name, value in told.items():
            yield from _in_words(name)
            yield from _in_words(value)
    elif isinstance(told, list | tuple):
        for each in told:
            yield from _in_words(each)
    else:
        yield from _NUMBER.findall(str(told))
