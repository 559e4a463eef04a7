"""A study carried from a kiosk is printed as a sheet, from the command line, and by nobody's leave approved."""

from pathlib import Path

import pytest

from consolidator.studies import collect, outcome_of, sheet_html
from tests.published import agrees
from tests.unit.consolidator.command_lines import CommandLine, cell
from tests.unit.consolidator.studies.played_study import carried


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> CommandLine:
    """Give a way to run a command line in an empty folder."""
    monkeypatch.chdir(tmp_path)
    return CommandLine(monkeypatch, capsys)


def test_a_carried_study_is_printed_with_its_readings_figures_and_a_sheet(run: CommandLine, tmp_path: Path) -> None:
    """GRR .3058 (AIAG MSA); of a tolerance of 4: 6 x .30575 / 4 = 45.9 % (by hand)."""
    carried(tmp_path)

    printed = run.printed("consolidator gauge-study plant --study GS-1 --sheet sheet.html")

    deviation, *shares = cell(printed, "gauge (GRR)")
    assert (agrees(float(deviation), "0.3058"), shares) == (True, ["26.7", "7.1", "45.9"])
    assert cell(printed, "piece 1")[:3] == ["0.29", "0.41", "0.64"]
    sheet = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    for words in ("Gauge study GS-1", "G-108", "P-104 Dee", "BC1 &lt;ground&gt;", "90 of 90", deviation, "Decided by"):
        assert words in sheet
    assert "<script" not in sheet
    assert "http" not in sheet


def test_a_carried_study_is_told_to_machines(run: CommandLine, tmp_path: Path) -> None:
    """The tolerance of the command stands before the order's."""
    carried(tmp_path)

    told = run.told("consolidator gauge-study plant --study GS-1 --tolerance 2")

    assert (told["held"], told["planned"], told["notes"]) == (90, 90, [])
    assert told["outcome"]["ranges"]["gauge_percent_of_tolerance"] == pytest.approx(91.7, abs=0.05)


def test_a_short_study_has_a_sheet_without_figures(run: CommandLine, tmp_path: Path) -> None:
    """What is missing stands on it."""
    carried(tmp_path, count=31, why_short="the gauge was knocked")

    printed = run.printed("consolidator gauge-study plant --study GS-1 --sheet sheet.html")

    sheet = (tmp_path / "sheet.html").read_text(encoding="utf-8")
    for words in ("59 of 90 readings are not held", "ended short: the gauge was knocked", "was not computed"):
        assert words in printed
        assert words in sheet
    assert "gauge (GRR)" not in sheet


def test_the_same_study_gives_the_same_sheet_to_the_byte(tmp_path: Path) -> None:
    """Printed again for an audit it is the same paper."""
    _, played = carried(tmp_path)
    found = collect(played.pages, "GS-1")
    outcome = outcome_of(found.readings)

    assert sheet_html(found, outcome, {}) == sheet_html(collect(reversed(played.pages), "GS-1"), outcome, {})


@pytest.mark.parametrize(
    ("line", "code", "said"),
    [
        ("consolidator gauge-study plant", 2, "--study"),
        ("consolidator gauge-study plant --study GS-9", 1, "No gauge study GS-9 is held"),
        ("consolidator gauge-study plant --study GS-1 --sheet plant/plant.toml", 1, "was not written"),
        ("consolidator gauge-study readings.csv --study GS-1", 2, "plant's folder"),
    ],
)
def test_what_cannot_be_printed_is_refused(run: CommandLine, tmp_path: Path, line: str, code: int, said: str) -> None:
    """Nothing is written over."""
    carried(tmp_path, count=1, why_short="tried")

    ended, _, told = run(line)

    assert (ended, said in " ".join(told.replace("│", "").split())) == (code, True)
