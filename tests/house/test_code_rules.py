"""Types, style and import directions hold over the whole tree."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
CODE = ["kiosk", "consolidator", "demo_site", "tests"]


def _run(*command: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False, timeout=600
    )
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_types_are_strict_everywhere() -> None:
    """mypy in strict mode finds nothing."""
    _run("mypy", *CODE)


def test_style_and_docstrings_hold_everywhere() -> None:
    """ruff finds nothing, and every public name says what it is for."""
    _run("ruff", "check", *CODE)


def test_layout_is_the_formatter_s() -> None:
    """No file is laid out by hand."""
    _run("ruff", "format", "--check", *CODE)


def test_imports_go_one_way() -> None:
    """A kiosk never needs the consolidator, and lower rooms know nothing of higher ones."""
    command = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([str(command)], cwd=ROOT, capture_output=True, text=True, check=False, timeout=300)
    assert done.returncode == 0, done.stdout[-6000:] + done.stderr[-2000:]


def test_the_top_level_holds_only_what_was_agreed() -> None:
    """Whoever opens the project finds eight names and hidden files."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    tops = {name.split("/")[0] for name in listed.splitlines()}

    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "kiosk", "consolidator", "tests", "demo_site", "docs"}

    assert {name for name in tops if not name.startswith(".")} <= agreed


def test_modules_and_functions_stay_small() -> None:
    """No module is over 400 lines and no function over 60."""
    long: list[str] = []
    for folder in ("kiosk", "consolidator", "demo_site"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            text = path.read_text(encoding="utf-8")
            if text.count("\n") > 400:
                long.append(f"{path.relative_to(ROOT)}: {text.count(chr(10))} lines")
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                    lines = (node.end_lineno or node.lineno) - node.lineno + 1
                    if lines > 60:
                        long.append(f"{path.relative_to(ROOT)}:{node.name}: {lines} lines")

    assert long == []


def test_packages_stay_small() -> None:
    """At most twelve modules in a package of the product: when a thirteenth comes, a word is missing."""
    packages = [path.parent for folder in ("kiosk", "consolidator") for path in (ROOT / folder).rglob("__init__.py")]
    counts = {
        str(package.relative_to(ROOT)): sum(1 for path in package.glob("*.py") if path.name != "__init__.py")
        for package in packages
    }

    assert {package: count for package, count in counts.items() if count > 12} == {}
