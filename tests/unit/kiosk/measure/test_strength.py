"""Areas, loads, property classes and grades against the published tables."""

from decimal import Decimal

import pytest

from kiosk.errors import OutsideTheTable
from kiosk.measure import strength
from kiosk.measure.rounding import round_half_up
from kiosk.measure.strength import AreaFormula
from kiosk.threads.designations import COARSE_PITCH_MM
from tests.published import agrees, rows, same


def _named(name: str) -> list[object]:
    return [pytest.param(row, id=f"{row['check_id']} {row['status']}") for row in rows(name)]


BY_PITCH_DIAMETER = {"As-1-64UNC", "As-3-48UNC"}
"""ASME B1.1 prints these by its other formula, from the basic pitch diameter rounded to four places."""


@pytest.mark.parametrize("row", _named("t03_tensile_stress_area"))
def test_stress_areas_are_those_of_the_standards(row: dict[str, str]) -> None:
    """ISO 898-1 to three figures, ASME B1.1 as printed; fine metric pitches rest on memory."""
    diameter, pitch = Decimal(row["d"]), Decimal(row["P"])
    if row["unit"] == "mm2":
        assert same(strength.nominal_stress_area_mm2(diameter, pitch), row["value"])
        return
    pitch = 1 / round_half_up(1 / pitch, "0.1")
    computed = strength.stress_area(diameter, pitch, AreaFormula.UNIFIED)
    if row["check_id"] in BY_PITCH_DIAMETER:
        basic = round_half_up(diameter - Decimal("0.64951905") * pitch, "0.0001")
        computed = strength.stress_area(basic, pitch, AreaFormula.UNIFIED_PITCH)

    assert agrees(computed, row["value"])


@pytest.mark.parametrize("row", _named("t03_iso898_loads"))
def test_loads_of_property_classes_are_those_iso_898_prints(row: dict[str, str]) -> None:
    """Least ultimate and proof loads, coarse pitch, newtons, with the standard's own rounding."""
    diameter = Decimal(row["thread"].removeprefix("M"))
    load = strength.ultimate_load_n if row["check_id"].startswith("Fm") else strength.proof_load_n

    assert same(load(row["property_class"], diameter, COARSE_PITCH_MM[diameter]), row["value_N"])


AREA_OF_SOURCE = {
    "1/4-20": ".0318",
    "5/16-18": ".0524",
    "3/8-16": ".0775",
    "3/8-24": ".0878",
    "7/16-20": ".1187",
    "1/2-20": ".1600",
    "9/16-12": ".182",
    "5/8-11": ".226",
    "3/4-10": ".334",
    "3/4-16": ".3725",
    "7/8-14": ".509",
    "1-12": ".663",
    "1 1/8-7": ".763",
    "1 1/2-6": ".1405E1",
}
"""The areas the source multiplies by: three or four figures of ours, 3/4-16 its own."""


@pytest.mark.parametrize("row", _named("t03_inch_clamp_loads_grade2"))
def test_three_quarters_of_proof_load_follow_from_the_area_the_source_used(row: dict[str, str]) -> None:
    """SAE J429 grade 2: published pounds are stress x the source's rounded area, and that area is ours within .002."""
    size, pitch = Decimal(row["D_in"]), 1 / Decimal(row["tpi"])
    grade = strength.sae_grade("2", size)
    source_area = Decimal(AREA_OF_SOURCE[row["thread"]])

    load = strength.load_from_stress(grade.proof_psi, source_area) * 3 / 4

    assert same(grade.proof_psi, row["proof_stress_psi"])
    assert agrees(load, row["value_lbf"])
    assert abs(strength.stress_area(size, pitch, AreaFormula.UNIFIED) / source_area - 1) < Decimal("0.002")


def _class_cell(row: dict[str, str]) -> Decimal | None:
    name, _, span = row["property_class"].partition(" ")
    least = strength.property_class(name, Decimal(24) if ">" in span else Decimal(10))
    cells = {
        "Rm_min_MPa": least.tensile_min_mpa,
        "Rp_or_ReL_min_MPa": least.yield_min_mpa,
        "Sp_nom_MPa": least.proof_mpa,
        "A_min_pct": least.elongation_min_percent,
        "Z_min_pct": least.reduction_min_percent,
        "HV_min": least.vickers[0],
        "HV_max": least.vickers[1],
        "HRC_min": least.rockwell_c[0] if least.rockwell_c else None,
        "HRC_max": least.rockwell_c[1] if least.rockwell_c else None,
        "KV_min_J_at_-20C": least.impact_min_j,
        "surface HV0.3 max (absolute)": least.surface_vickers_max,
    }
    return cells[row["quantity"]]


_PROPERTIES = rows("t03_mechanical_properties")


@pytest.mark.parametrize(
    "row", [pytest.param(row, id=row["check_id"]) for row in _PROPERTIES if row["property_class"][0].isdigit()]
)
def test_property_classes_have_the_published_values(row: dict[str, str]) -> None:
    """ISO 898-1:2013 table 3."""
    assert same(_class_cell(row), row["value"])


_GRADE_SIZES = {"1/4": ".25", "over 3/4": ".875", "over 1": "1.25"}


@pytest.mark.parametrize(
    "row", [pytest.param(row, id=row["check_id"]) for row in _PROPERTIES if row["property_class"].startswith("SAE")]
)
def test_sae_grades_have_the_published_values(row: dict[str, str]) -> None:
    """SAE J429 summary tables."""
    words = row["property_class"].split()
    span = row["property_class"].partition("(")[2].partition("-")[0]
    grade = strength.sae_grade(words[3], Decimal(_GRADE_SIZES[span]))
    cells = {
        "proof stress psi": grade.proof_psi,
        "yield min psi": grade.yield_min_psi,
        "tensile min psi": grade.tensile_min_psi,
        "elongation min %": grade.elongation_min_percent,
        "RA min %": grade.reduction_min_percent,
        "core hardness min": grade.core_min,
        "core hardness max": grade.core_max,
    }

    assert same(cells[row["quantity"]], row["value"])


def test_a_surface_harder_than_its_core_allows_is_told() -> None:
    """ISO 898-1: at most 30 HV over the core; 10.9 at most 390 HV at the surface."""
    least = strength.property_class("10.9", Decimal(10))
    over_core = next(row["value"] for row in _PROPERTIES if row["property_class"] == "any")

    assert same(380 - 350, over_core)
    assert strength.is_surface_hardness_good(Decimal(380), Decimal(350), least)
    assert not strength.is_surface_hardness_good(Decimal(381), Decimal(350), least)
    assert not strength.is_surface_hardness_good(Decimal(391), Decimal(370), least)
    assert strength.is_surface_hardness_good(Decimal(280), Decimal(260), strength.property_class("8.8", Decimal(10)))


def test_a_load_and_its_stress_go_both_ways() -> None:
    """12 800 lbf on .058 in2 are 220 690 psi (by hand)."""
    stress = strength.stress_from_load(Decimal(12_800), Decimal(".058"))

    assert agrees(stress, "220690")
    assert strength.load_from_stress(stress, Decimal(".058")) == Decimal(12_800)


@pytest.mark.parametrize(
    ("name", "diameter"), [("11.9", "10"), ("9.8", "18"), ("8.8", "42"), ("8.8+", "20"), ("8.8", "1.4")]
)
def test_a_class_or_size_outside_iso_898_is_refused(name: str, diameter: str) -> None:
    """No value is made up beyond the standard."""
    with pytest.raises(OutsideTheTable) as refusal:
        strength.property_class(name, Decimal(diameter))

    assert "ISO 898-1 has" in refusal.value.why


@pytest.mark.parametrize(("name", "diameter"), [("3", "0.5"), ("8.2", "1.25"), ("2", "1.75"), ("5", "0.19")])
def test_a_grade_or_size_outside_sae_j429_is_refused(name: str, diameter: str) -> None:
    """No value is made up beyond the standard."""
    with pytest.raises(OutsideTheTable) as refusal:
        strength.sae_grade(name, Decimal(diameter))

    assert "SAE J429" in refusal.value.why
