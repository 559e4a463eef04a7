"""Makes everything ready on a bare machine: a virtual environment of the project's own, and what goes into it.

Standard library only, since nothing else is there yet.
Used by `python3 -m demo_site` and `python3 -m tests`.
"""

import hashlib
import os
import shutil
import subprocess
import sys
import tomllib
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LEAST_PYTHON = (3, 11)


class NotReady(Exception):
    """The machine cannot be made ready; the text says what failed, why and the next step."""


def run_ready(module: str, arguments: list[str], *, extra: str | None = None) -> int:
    """Run `python -m module arguments` in the project's own environment and return its exit code.

    `extra` names an optional group of pyproject.toml to install as well.

    Raises:
        NotReady: the environment could not be made.
    """
    python = make_ready(extra=extra)
    done = subprocess.run([str(python), "-m", module, *arguments], cwd=ROOT, env=_environment(), check=False)
    return done.returncode


def make_ready(*, extra: str | None = None) -> Path:
    """Return the Python of an environment that holds all that pyproject.toml asks for; make it where it is missing.

    Safe to run again, and after having been cut short: the mark that it is whole is written last.

    Raises:
        NotReady: Python is too old, or the environment or a package could not be had.
    """
    if sys.version_info < LEAST_PYTHON:
        raise NotReady(
            f"Not started: this is Python {sys.version_info.major}.{sys.version_info.minor}, 3.11 or newer is needed. "
            "Run the same command with a newer python3."
        )
    folder = _environment_folder()
    python = folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    needs = _needs(extra)
    mark = folder / f"ready-{extra or 'run'}"
    wanted = hashlib.sha256("\n".join([sys.version, *needs]).encode()).hexdigest()
    if mark.exists() and mark.read_text(encoding="utf-8") == wanted and python.exists():
        return python
    if not python.exists() or not _has_pip(python):
        _make_environment(folder)
    print(f"Making ready: {len(needs)} packages into {_shown(folder)} (once; a minute or two) …", flush=True)
    _install(python, needs)
    _link_project(python)
    mark.write_text(wanted, encoding="utf-8")
    return python


def _environment_folder() -> Path:
    if os.access(ROOT, os.W_OK):
        return ROOT / ".venv"
    own = hashlib.sha256(str(ROOT).encode()).hexdigest()[:12]
    return Path.home() / ".cache" / f"shop-floor-ledger-{own}"


def _needs(extra: str | None) -> list[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    needs: list[str] = list(project["dependencies"])
    if extra is not None:
        needs += project["optional-dependencies"][extra]
    return needs


def _has_pip(python: Path) -> bool:
    return subprocess.run([str(python), "-m", "pip", "--version"], capture_output=True, check=False).returncode == 0


def _make_environment(folder: Path) -> None:
    print(f"Making ready: a virtual environment in {_shown(folder)} …", flush=True)
    shutil.rmtree(folder, ignore_errors=True)
    try:
        venv.create(folder, with_pip=True, symlinks=os.name != "nt")
    except (subprocess.CalledProcessError, OSError) as error:
        raise NotReady(
            f"Not started: the virtual environment in {_shown(folder)} could not be made ({error}). "
            "On Debian or Ubuntu install the package python3-venv, then run the same command again."
        ) from error


def _install(python: Path, needs: list[str]) -> None:
    command = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", *needs]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        last = "\n".join(done.stderr.strip().splitlines()[-5:])
        raise NotReady(
            f"Not started: the packages could not be installed.\n{last}\n"
            "See that this machine reaches a Python package index, then run the same command again."
        )


def _link_project(python: Path) -> None:
    """Let the environment's Python find the project, and give it the two commands by name."""
    asked = [str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"]
    packages = Path(subprocess.run(asked, capture_output=True, text=True, check=True).stdout.strip())
    (packages / "project.pth").write_text(f"{ROOT}\n", encoding="utf-8")
    if os.name == "nt":
        return
    for name in ("kiosk", "consolidator"):
        command = python.parent / name
        command.write_text(
            f"#!{python}\nimport sys\nfrom {name}.__main__ import main\nsys.exit(main())\n", encoding="utf-8"
        )
        command.chmod(0o755)


def _environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT)}


def _shown(path: Path) -> str:
    return str(path.relative_to(ROOT)) if path.is_relative_to(ROOT) else str(path)
