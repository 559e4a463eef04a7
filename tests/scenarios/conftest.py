"""`--scenarios DIR`: plays every scenario file of any folder."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from demo_site.play.scenario import ScenarioRefused, read_scenario

HERE = Path(__file__).parent
DECK = HERE / "deck"
ZONE = ZoneInfo("America/New_York")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the option."""
    parser.addoption("--scenarios", metavar="DIR", help="play the scenario files (*.yaml) of this folder")


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Make one test of each file; one that is expected to fail is marked so, with its reason."""
    if "scenario_file" not in metafunc.fixturenames:
        return
    told = metafunc.config.getoption("--scenarios")
    folder = Path(told) if told else HERE / "files"
    files = sorted(folder.glob("*.yaml"))
    if not files:
        raise pytest.UsageError(f"No scenario file (*.yaml) lies in {folder}.")
    metafunc.parametrize("scenario_file", [_marked(path) for path in files])


def _marked(path: Path) -> object:
    try:
        reason = read_scenario(path, ZONE).expected_to_fail
    except ScenarioRefused:
        reason = None
    marks = [] if reason is None else [pytest.mark.xfail(reason=reason, strict=True)]
    return pytest.param(path, id=path.stem, marks=marks)
