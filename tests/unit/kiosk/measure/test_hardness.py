"""Hardness is converted inside its table and refused outside."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.errors import OutsideTheTable
from kiosk.measure.hardness import Scale, convert_hardness, validity
from tests.published import rows, same

_COLUMNS = {"HB": Scale.BRINELL, "HRC": Scale.ROCKWELL_C, "Rm_MPa": Scale.TENSILE}


@pytest.mark.parametrize(
    "row", [pytest.param(row, id=f"{row['check_id']} {row['status']}") for row in rows("t03_hardness_conversion")]
)
def test_conversions_from_vickers_are_those_of_the_published_table(row: dict[str, str]) -> None:
    """DIN 50150 / ISO 18265 table A.1; HV 360 is 1155 MPa from memory, where the source misprints 1115."""
    for column, scale in _COLUMNS.items():
        if row[column] != "-":
            converted = convert_hardness(Decimal(row["HV"]), Scale.VICKERS, scale)
            assert same(converted.value, row[column])
            assert converted.is_tabulated


@given(st.sampled_from(list(Scale)), st.sampled_from(list(Scale)), st.data())
def test_a_harder_piece_never_converts_to_a_softer_one(scale: Scale, to: Scale, data: st.DataObject) -> None:
    """Between any two scales the conversion rises over its whole range, rows and straight lines alike."""
    low, high = validity(scale, to)
    values = st.decimals(low, high, places=1)
    softer, harder = sorted((data.draw(values), data.draw(values)))

    # A value between rows is rounded and a row is not, so half a step of the target may go the other way.
    half_step = Decimal("2.5") if to is Scale.TENSILE else Decimal("0.5")
    assert convert_hardness(softer, scale, to).value <= convert_hardness(harder, scale, to).value + half_step


def test_a_value_between_two_rows_lies_on_the_straight_line() -> None:
    """45.0 HRC between 44.5 (440 HV) and 45.3 (450 HV): 440 + 10 x .5/.8 = 446 HV (by hand)."""
    converted = convert_hardness(Decimal("45.0"), Scale.ROCKWELL_C, Scale.VICKERS)

    assert converted.value == Decimal(446)
    assert not converted.is_tabulated
    assert "never replaces a test" in converted.cautions[0]


def test_tensile_strength_comes_in_steps_of_five_with_its_caution() -> None:
    """295 HV to 300 HV: 297 HV is 955 MPa (950 + 15 x 2/5 = 956)."""
    converted = convert_hardness(Decimal(297), Scale.VICKERS, Scale.TENSILE)

    assert converted.value == Decimal(955)
    assert any("least certain" in caution for caution in converted.cautions)


def test_a_brinell_value_too_hard_for_the_ball_is_cautioned() -> None:
    """The table sets Brinell above 450 HBW in brackets."""
    assert any(
        "brackets" in caution for caution in convert_hardness(Decimal(500), Scale.VICKERS, Scale.BRINELL).cautions
    )
    assert len(convert_hardness(Decimal(300), Scale.VICKERS, Scale.BRINELL).cautions) == 1


@pytest.mark.parametrize(
    ("value", "scale", "to", "told"),
    [
        ("20.2", Scale.ROCKWELL_C, Scale.VICKERS, "20.3 to 68"),
        ("239", Scale.VICKERS, Scale.ROCKWELL_C, "240 to 940"),
        ("660", Scale.VICKERS, Scale.TENSILE, "80 to 650"),
        ("240", Scale.TENSILE, Scale.BRINELL, "250 to 2180"),
    ],
)
def test_a_value_outside_the_table_is_refused(value: str, scale: Scale, to: Scale, told: str) -> None:
    """Nothing is guessed beyond the last row, and the refusal says how far the table goes."""
    with pytest.raises(OutsideTheTable) as refusal:
        convert_hardness(Decimal(value), scale, to)

    assert told in refusal.value.why
