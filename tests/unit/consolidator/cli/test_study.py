"""Samples and studies at the command line give the published figures, or refuse with what to do."""

from pathlib import Path

import pytest

from tests import published
from tests.unit.consolidator.command_lines import CommandLine, cell, example


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> CommandLine:
    """Give a way to run a command line in a folder with the readings of the 10 x 3 x 3 study (AIAG MSA, 4th ed.)."""
    data = published.document("t06_gauge_rr_examples")[0]["data"]
    lines = [
        f"{part},{appraiser},{value}"
        for appraiser, trials in data.items()
        for trial in trials
        for part, value in enumerate(trial, start=1)
    ]
    (tmp_path / "readings.csv").write_text("\n".join(["part,appraiser,value", *lines, ""]), encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return CommandLine(monkeypatch, capsys)


def test_the_sample_plan_example_prints_the_plan_of_the_standard(run: CommandLine) -> None:
    """2000 pieces, level II: letter K, 125 pieces, accept on 3 at AQL 1.0 (ISO 2859-1 tables 1 and 2-A)."""
    printed = run.printed(example("sample-plan"))

    assert cell(printed, "code letter") == ["K"]
    assert cell(printed, "sample") == ["125"]
    assert cell(printed, "accept at most") == ["3"]
    assert "binomial" in printed


def test_the_chances_of_a_small_lot_are_hypergeometric(run: CommandLine) -> None:
    """One bad piece of 100, 13 drawn, none allowed: 87 of 100 (by hand 1 - 13/100)."""
    told = run.told("consolidator sample-plan 100 --aql 1.0")

    assert (told["sample"], told["accept_at_most"], told["chances_by"]) == (13, 0, "hypergeometric")
    assert told["curve"][0][:2] == pytest.approx([0.01, 0.87])


def test_a_plan_that_accepts_on_zero_and_one_of_every_piece(run: CommandLine) -> None:
    """MIL-STD-1916 (from memory): level IV, 500 pieces: 80; a smaller lot is inspected whole."""
    zero, whole = run.told("consolidator sample-plan 500 --zero IV"), run.told("consolidator sample-plan 50 --zero VI")

    assert (zero["sample"], zero["accept_at_most"], zero["aql"]) == (80, 0, None)
    assert (whole["sample"], whole["is_every_piece"]) == (50, True)
    assert "limiting_quality_percent" not in whole


def test_the_gauge_study_example_prints_the_published_study(run: CommandLine) -> None:
    """EV .2019, AV .2297, GRR .3058 (26.7 %), PV 1.1046, 5 categories (AIAG MSA worked example)."""
    told = run.told(example("gauge-study"))

    deviations = told["ranges"]["deviations"]
    assert deviations["repeatability (EV)"] == pytest.approx(0.2019, abs=5e-5)
    assert deviations["gauge (GRR)"] == pytest.approx(0.3058, abs=5e-5)
    assert told["ranges"]["gauge_percent_of_total"] == pytest.approx(26.7, abs=0.05)
    assert told["ranges"]["categories"] == 5
    assert told["variance"]["is_pooled"] is True
    assert told["variance"]["interaction_f"] == pytest.approx(0.434, abs=5e-4)


def test_a_study_s_tables_say_what_they_do_not_decide(run: CommandLine) -> None:
    """The tool prepares; people sign."""
    printed = run.printed("consolidator gauge-study readings.csv")

    assert "10 parts, 3 appraisers, 3 trials" in printed
    assert "decided and signed by the people" in printed
    assert "[parts" not in printed


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("", "does not name the columns"),
        ("part,value\n1,2\n", "does not name the columns"),
        ("part,appraiser,value\n1,A,x\n", "Line 2"),
        ("part,appraiser,value\n\n1,A\n", "Line 3"),
        ("part,appraiser,value\n1,A,1\n1,A,2\n2,A,1\n", "has 1 of 2 readings"),
    ],
)
def test_readings_that_cannot_be_studied_are_told(run: CommandLine, tmp_path: Path, content: str, said: str) -> None:
    """Nothing is filled in."""
    (tmp_path / "bad.csv").write_text(content, encoding="utf-8")

    code, _, told = run("consolidator gauge-study bad.csv")

    assert (code, said in told) == (1, True)


@pytest.mark.parametrize(
    ("line", "code", "said"),
    [
        ("consolidator gauge-study away.csv", 1, "could not be read"),
        ("consolidator sample-plan 100", 2, "either --aql or --zero"),
        ("consolidator sample-plan 100 --aql 1 --zero II", 2, "either --aql or --zero"),
        ("consolidator sample-plan 100 --aql 1.1", 1, "not a preferred AQL"),
        ("consolidator sample-plan 100 --aql 1.0 --level V", 2, "is no level"),
        ("consolidator sample-plan 100 --aql 1.0 --severity stopped", 2, "is no severity"),
        ("consolidator sample-plan 1 --aql 1.0", 2, "2"),
    ],
)
def test_what_cannot_be_planned_is_refused_with_its_code(run: CommandLine, line: str, code: int, said: str) -> None:
    """1 for refused with what to do, 2 for misuse; never a stack trace."""
    ended, _, told = run(line)

    assert (ended, said in " ".join(told.replace("│", "").split())) == (code, True)
