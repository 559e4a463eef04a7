"""Heat makes parts long: corrections by hand-checked figures, coefficients by published ranges."""

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.errors import OutsideTheTable
from kiosk.measure import temperature
from kiosk.measure.temperature import Expansion, expansion_of
from tests.published import agrees, held, rows, same

_ROWS = rows("t08_temperature")


def _params(*starts: str) -> list[object]:
    return [
        pytest.param(row, id=f"{row['check_id']} {row['status']}")
        for row in _ROWS
        if row["check_id"].startswith(starts)
    ]


def _micrometres(row: dict[str, str], millimetres: Decimal) -> Decimal:
    return millimetres * 1000 if row["unit"] == "um" else millimetres


@pytest.mark.parametrize("row", _params("dL", "L20", "diff", "T0F"))
def test_corrections_come_out_as_reckoned_elsewhere(row: dict[str, str]) -> None:
    """L a (T - 20), L / (1 + a (T - 20)) and the difference of part and instrument (ISO 1, second reckoning)."""
    given_values = {name: Decimal(str(value)) for name, value in json.loads(row["inputs"]).items()}
    if row["check_id"] == "T0F":
        computed = temperature.to_fahrenheit(Decimal(20))
    elif row["check_id"].startswith("diff"):
        part = Expansion("part", given_values["alpha_part"], Decimal(0), "given")
        gauge = Expansion("instrument", given_values["alpha_inst"], Decimal(0), "given")
        computed = temperature.reads_large_by(
            given_values["L_mm"], part, given_values["T_part"], gauge=gauge, gauge_c=given_values["T_inst"]
        )
    else:
        reckon = temperature.expansion if row["check_id"].startswith("dL") else temperature.length_at_20
        computed = reckon(given_values["L_mm"], given_values["alpha_1e6"], given_values["T"])

    assert agrees(_micrometres(row, computed), row["value"])


KEPT = {
    "steel gauge block CTE ISO 3650": "steel gauge",
    "low alloy steel 4140/4340": "low alloy steel",
    "Alloy 718 (UNS N07718)": "nickel alloy 718",
    "Ti-6Al-4V": "titanium 6-4",
    "H-11 tool steel": "hot-work tool steel",
    "tungsten carbide gauge": "tungsten carbide",
    "ceramic ZrO2 gauge block": "zirconia",
}


@pytest.mark.parametrize("row", _params("cte-3650", "cteM"))
def test_coefficients_from_memory_are_the_ones_kept(row: dict[str, str]) -> None:
    """Typical coefficients, all from memory: a plan that needs better states its own."""
    name = json.loads(row["inputs"]).get("material", row["quantity"])

    assert same(expansion_of(KEPT[name]).per_million_k, row["value"])


IN_RANGE = {
    "Aluminum & alloys": "aluminium",
    "Austenitic stainless": "austenitic stainless",
    "Alloy steels": "low alloy steel",
    "Age hardenable stainless": "age-hardening stainless",
    "Martensitic stainless": "martensitic stainless",
    "Magnesium alloys": "magnesium",
    "Plain & leaded brass": "brass",
}


@pytest.mark.parametrize("row", _params("cteF"))
def test_handbook_ranges_convert_to_kelvin_and_lie_within_what_is_kept(row: dict[str, str]) -> None:
    """Read per degree Fahrenheit; the note gives the same per kelvin, and our half width covers it."""
    per_kelvin = temperature.per_kelvin(Decimal(row["value"]))
    name = json.loads(row["inputs"])["material"]

    assert held(row["value"], agrees(per_kelvin, row["note"].removeprefix("=").removesuffix("e-6/K")))
    if name in IN_RANGE:
        kept = expansion_of(IN_RANGE[name])
        assert abs(per_kelvin - kept.per_million_k) <= kept.half_width


@pytest.mark.parametrize("row", _params("cte-1050"))
def test_handbooks_disagree_by_more_than_any_correction_can_hide(row: dict[str, str]) -> None:
    """NIST shows 12.1 to 14.6 for one steel: every one lies within twice our half width of low alloy steel."""
    kept = expansion_of("low alloy steel")

    assert held(row["value"], abs(Decimal(row["value"]) - kept.per_million_k) <= 2 * kept.half_width)


def test_a_bolt_thirty_degrees_warm_reads_large_by_six_hundred_thousandths() -> None:
    """.3125 in of steel 30 degrees Fahrenheit warm: .3125 x 11.5e-6 x 30/1.8 = .0000599 in (by hand)."""
    warm_c = temperature.to_celsius(Decimal(98))

    computed = temperature.expansion(Decimal(".3125"), Decimal("11.5"), warm_c)

    assert agrees(computed, ".00006")


def test_the_uncertainty_of_a_correction_follows_the_guide() -> None:
    """50 mm, 11.5 +- 1.0, 30 C known to 1 K: 50 sqrt(10^2 .577^2 + 11.5^2 .577^2 + .333^2) = .4401 um (by hand)."""
    computed = temperature.correction_uncertainty(
        Decimal(50), expansion_of("steel gauge"), Decimal(30), temperature_half_width_k=Decimal(1)
    )

    assert agrees(computed * 1000, "0.4402", 3)


@given(
    st.decimals(Decimal("0.1"), 1000, places=3),
    st.decimals(-20, 200, places=1),
    st.sampled_from(sorted(temperature.MATERIALS)),
)
def test_a_hot_part_reads_large_and_a_cold_one_small(length: Decimal, warm_c: Decimal, material: str) -> None:
    """The sign of the error is that of the temperature less 20, and the correction takes it back off."""
    part, gauge = expansion_of(material), expansion_of("steel gauge")

    error = temperature.reads_large_by(length, part, warm_c, gauge=gauge, gauge_c=temperature.REFERENCE_C)
    back = temperature.length_at_20(length + error, part.per_million_k, warm_c)

    assert (error > 0) is (warm_c > 20)
    assert abs(back - length) < Decimal("1E-20")


def test_an_unknown_material_is_refused_with_those_kept() -> None:
    """No coefficient is guessed."""
    with pytest.raises(OutsideTheTable) as refusal:
        expansion_of("unobtainium")

    assert "steel gauge" in refusal.value.why
