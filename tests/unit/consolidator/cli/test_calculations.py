"""The trade's arithmetic at the command line gives the published figures, or refuses with what to do."""

import pytest

from tests.unit.consolidator.command_lines import CommandLine, cell, example


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> CommandLine:
    """Give a way to run a command line."""
    return CommandLine(monkeypatch, capsys)


def test_a_thread_s_example_prints_every_limit_and_how_it_was_reached(run: CommandLine) -> None:
    """.3125-24 UNJF-3A: pitch diameter .2827 to .2854, root radius .0063 to .0075 in (.15011 P, .18042 P by hand)."""
    printed = run.printed(example("thread"))

    assert cell(printed, "pitch diameter") == ["0.2827", "0.2854", "0.0027"]
    assert cell(printed, "root radius") == ["0.0063", "0.0075", "0.0012"]
    assert cell(printed, "best wire") == ["0.02406"]
    assert "class 3A: x 0.75 = 0.0027; allowance 0.0000" in printed
    assert printed.rstrip().endswith("come first: where they differ from this, stop and ask.")


def test_a_thread_is_told_to_machines_as_exact_text(run: CommandLine) -> None:
    """1/4-20 UNC-2B: minor .196 to .207 in (ASME B1.1), no upper limit to the major diameter; no wires go inside."""
    told = run.told('consolidator thread "1/4-20 UNC-2B"')

    assert told["limits"]["minor diameter"] == {"lower": "0.196", "upper": "0.207", "tolerance": "0.011"}
    assert told["limits"]["major diameter"] == {"lower": "0.2500", "upper": None, "tolerance": None}
    assert told["beside"]["stress area, in2 (ASME B1.1)"] == "0.0318"
    assert "best wire" not in told["beside"]


def test_a_metric_bolt_has_its_rounded_root_beside_its_flat_one(run: CommandLine) -> None:
    """M10-6g: 8.994/8.862 and stress area 58.0 mm2 (ISO 965-1, ISO 898-1)."""
    printed = run.printed("consolidator thread M10-6g")

    assert cell(printed, "pitch diameter") == ["8.862", "8.994", "0.132"]
    assert cell(printed, "minor diameter at the rounded root")[-2] == "8.128"
    assert cell(printed, "stress area, mm2 (ISO 898-1)") == ["58.0"]


def test_the_wires_example_turns_a_reading_into_a_pitch_diameter(run: CommandLine) -> None:
    """M .3198 in over .02406 in wires at 24 threads: .283704375 in (M - 3W + .866025 P by hand)."""
    told = run.told(example("wires"))

    assert told["pitch_diameter"] == "0.283704375"
    assert told["is_usable"] is True
    assert told["reading_at_upper"] == "0.321496"


def test_wires_are_corrected_for_the_lead_angle_only_on_request(run: CommandLine) -> None:
    """1/2-13 UNC, best wire .044412 in: .000099 in more over the wires, as much less of pitch diameter."""
    line = 'consolidator wires "1/2-13 UNC-3A" --wire .044412 --reading .5'
    plain, corrected = run.told(line), run.told(f"{line} --lead-angle")

    assert float(plain["lead_angle_correction"]) == pytest.approx(99e-6, abs=5e-7)
    assert (plain["is_corrected"], corrected["is_corrected"]) == (False, True)
    assert float(plain["pitch_diameter"]) - float(corrected["pitch_diameter"]) == pytest.approx(99e-6, abs=5e-7)


def test_three_certified_wires_count_with_their_mean_and_a_plug_needs_no_wire_size(run: CommandLine) -> None:
    """By comparison: .2854 + .3198 - .3215 = .2837 in; the best wire stands where none is given (by hand)."""
    three = "--wire .02406 --wire .02407 --wire .02405"

    mean = run.told(f'consolidator wires ".3125-24 UNJF-3A" {three}')
    plug = run.told('consolidator wires ".3125-24 UNJF-3A" --reading .3198 --plug .2854 --plug-reading .3215')

    assert mean["wire"].rstrip("0") == "0.02406"
    assert (plug["pitch_diameter"], plug["wire"]) == ("0.2837", "0.02406")


def test_a_wire_that_does_not_touch_is_told(run: CommandLine) -> None:
    """.020 in is below .56 P at 24 threads."""
    printed = run.printed('consolidator wires ".3125-24 UNJF-3A" --wire .020')

    assert "take another" in printed


def test_the_strength_example_prints_the_loads_of_the_standard(run: CommandLine) -> None:
    """M10 10.9: proof 48 100 N, ultimate 60 300 N (ISO 898-1 tables)."""
    printed = run.printed(example("strength"))

    assert cell(printed, "proof load, N") == ["48100"]
    assert cell(printed, "ultimate load, N") == ["60300"]
    assert "Torque, preload and joint design are outside this." in printed


def test_an_inch_grade_and_a_load_give_loads_and_stress(run: CommandLine) -> None:
    """1/4-20 grade 8: 120 000 psi x .0318 in2 = 3 820 lbf (SAE J429 prints 3 800 and 4 750 from .0318); 4000 lbf."""
    told = run.told('consolidator strength "1/4-20 UNC-2A" --grade 8 --load 4000')

    assert (told["proof load, lbf"], told["ultimate load, lbf"]) == ("3820", "4770")
    assert told["stress on the first area, psi"] == "125700"


def test_the_hardness_example_prints_the_table_s_row(run: CommandLine) -> None:
    """300 HV: 285 HBW, 29.8 HRC, 965 MPa (ISO 18265 table A.1), and what a conversion is not."""
    printed = run.printed(example("hardness"))

    assert [cell(printed, scale) for scale in ("HBW", "HRC", "MPa")] == [["285"], ["29.8"], ["965"]]
    assert "never replaces a test" in printed


def test_a_hardness_that_only_some_scales_reach_says_where_the_table_ends(run: CommandLine) -> None:
    """700 HV is 60.1 HRC; Brinell and strength end at 650 HV."""
    told = run.told("consolidator hardness 700")

    assert told["converted"]["HRC"] == {"value": "60.1", "is_tabulated": True}
    assert "80 to 650 HV" in told["converted"]["HBW"]["why"]


@pytest.mark.parametrize(
    ("line", "code", "said"),
    [
        ("consolidator thread 5", 1, "neither an inch designation"),
        ("consolidator thread M8x2-6g", 1, "ISO 965-1 has"),
        ("consolidator wires M10-6H", 1, "this one is internal"),
        ("consolidator wires M10-6g --wire x", 2, "is no figure"),
        ("consolidator wires M10-6g --wire nan", 2, "is no figure"),
        ("consolidator wires M10-6g --wire .8 --wire .9", 1, "three wires"),
        ("consolidator strength M10-6g --grade 8", 1, "those are for inch threads"),
        ("consolidator strength '1/4-20 UNC-2A' --class 8.8", 1, "those are for metric threads"),
        ("consolidator hardness 5 --scale HRC", 1, "valid from"),
    ],
)
def test_what_cannot_be_reckoned_is_refused_with_its_code(run: CommandLine, line: str, code: int, said: str) -> None:
    """1 for refused with what to do, 2 for misuse; never a stack trace."""
    ended, _, told = run(line)

    assert (ended, said in " ".join(told.replace("│", "").split())) == (code, True)
