"""Gauge tolerances, block grades, thread gauge sizes and calibration tables are those on record."""

from collections.abc import Callable
from decimal import Decimal

import pytest

from consolidator.errors import NotComputed
from consolidator.study import gauge_limits
from consolidator.study.gauge_limits import BlockGrade, GagemakerClass
from kiosk.lists.words import GaugeKind, Member
from kiosk.threads.designations import thread_limits
from kiosk.threads.forms import ThreadLimits
from tests.published import agrees, held, rows, same

MISC = rows("t09_gauges_misc")
GRADES = {"00 (DIN 861)": BlockGrade.DIN_00, "K": BlockGrade.K}
METRIC_COLUMNS = {
    "TR": "tr",
    "TPL": "tpl",
    "TCP": "tcp",
    "m": "m",
    "ZR": "zr",
    "ZPL": "zpl",
    "W_GO_ring": "wear_go_ring",
    "W_NG_ring": "wear_not_go_ring",
    "W_GO_plug": "wear_go_plug",
    "W_NG_plug": "wear_not_go_plug",
}
INSIDE = {"imic": "rod and sleeve", "imict": "tubular, fixed head", "imicx": "tubular, interchangeable head"}


def _pitch(limits: ThreadLimits) -> tuple[Decimal, Decimal]:
    assert limits.pitch.lower is not None and limits.pitch.upper is not None
    return limits.pitch.lower, limits.pitch.upper


def _misc(prefix: str) -> list[dict[str, str]]:
    return [row for row in MISC if row["check_id"].split("-")[0] == prefix]


@pytest.mark.parametrize("row", rows("t09_plain_gagemaker_tolerances"), ids=lambda row: row["check_id"])
def test_a_gagemaker_class_has_its_printed_tolerance(row: dict[str, str]) -> None:
    """ASME B89.1.5 classes XXX to ZZ at the end of each size band, inch and millimetre (source in the row)."""
    tolerance = gauge_limits.gagemaker_tolerance_in(Decimal(row["incl_in"]), GagemakerClass(row["gage_class"]))

    assert same(tolerance * 1_000_000, row["tol_microin"])
    assert agrees(tolerance * Decimal("25.4"), row["tol_mm"])


@pytest.mark.parametrize("row", rows("t09_gauge_block_grades"), ids=lambda row: row["check_id"])
def test_a_gauge_block_grade_has_its_printed_limits(row: dict[str, str]) -> None:
    """DIN 861 and ISO 3650 deviations and variations at the end of each band (source in the row)."""
    grade = GRADES.get(row["grade"]) or BlockGrade(row["grade"])

    deviation, variation = gauge_limits.block_limits_um(Decimal(row["incl_mm"]), grade)

    assert same(deviation, row["te_um"])
    assert same(variation, row["tv_um"])


def test_grades_k_and_00_are_not_the_same() -> None:
    """Grade K may be as long or short as grade 1 but varies as little as 00."""
    k, double, one = (
        gauge_limits.block_limits_um(Decimal(25), grade) for grade in (BlockGrade.K, BlockGrade.DIN_00, BlockGrade.G1)
    )

    assert k == (one[0], double[1]) and k[0] != double[0]


@pytest.mark.parametrize("row", rows("t09_metric_thread_gauge_pitch_diameters"), ids=lambda row: row["check_id"])
def test_a_metric_thread_gauge_guards_its_product_limit(row: dict[str, str]) -> None:
    """GO and NOT GO gauges have the product limit as basic size, in mm and as inch equivalents (source in the row)."""
    member, kind = row["gauge"].split(" (")[0].rsplit(" ", 1)
    small, large = _pitch(thread_limits(f"{row['thread']}-{'6g' if kind == 'ring' else '6H'}"))
    is_small = (kind == "plug") == (member == "GO")
    basic = small if is_small else large

    assert agrees(basic, row["pitch_dia_mm"])
    assert agrees(basic / Decimal("25.4"), row["pitch_dia_in_ref"])


@pytest.mark.parametrize("row", rows("t09_unified_ring_gauge_pd"), ids=lambda row: row["check_id"])
def test_an_inch_ring_gauge_has_its_printed_pitch_diameter_and_tolerance(row: dict[str, str]) -> None:
    """GO rings 2A and 3A sit at the product's largest pitch diameter; X tolerance .0003 (source in the row)."""
    tpi = Decimal(row["tpi"])
    if row["quantity"].startswith("X tolerance"):
        computed = gauge_limits.x_tolerance(tpi).pitch_diameter_in
    else:
        product = _pitch(thread_limits(f"{row['thread']}-{row['quantity'].split()[-1]}"))
        size = gauge_limits.unified_member(GaugeKind.THREAD_RING, Member.GO, product, tpi)
        assert size.worn == size.high and size.low == size.high - gauge_limits.x_tolerance(tpi).pitch_diameter_in
        computed = size.high

    assert agrees(computed, row["value_in"])


@pytest.mark.parametrize("row", _misc("mic"), ids=lambda row: row["check_id"])
def test_a_micrometer_s_limit_grows_with_its_range(row: dict[str, str]) -> None:
    """ISO 3611:1978, from memory: 4 + A/50 micrometres, cut to whole ones."""
    start = row["inputs"].split()[2]

    assert same(gauge_limits.micrometer_limit_um(Decimal(start)), row["value"])


@pytest.mark.parametrize("row", _misc("imic") + _misc("imict") + _misc("imicx"), ids=lambda row: row["check_id"])
def test_an_inside_micrometer_has_the_bulletin_s_limit(row: dict[str, str]) -> None:
    """TB 9-5210-207-24 Tables 6, 8 and 10, millimetres (read)."""
    table = gauge_limits.INSIDE_MICROMETERS_MM[INSIDE[row["check_id"].split("-")[0]]]

    assert same(table[row["inputs"]], row["value"])


@pytest.mark.parametrize("row", _misc("1502"), ids=lambda row: row["check_id"])
def test_a_metric_thread_gauge_figure_is_that_of_iso_1502(row: dict[str, str]) -> None:
    """ISO 1502:1996 Tables 6 and 7, from memory, at the end of each band of product tolerance."""
    band = gauge_limits.metric_row(Decimal(row["check_id"].split("-")[1]))

    assert same(getattr(band, METRIC_COLUMNS[row["quantity"]]), row["value"])


@pytest.mark.parametrize("row", _misc("plug"), ids=lambda row: row["check_id"])
def test_a_6h_thread_plug_has_its_new_and_worn_sizes(row: dict[str, str]) -> None:
    """GO and NOT GO plugs 6H, new largest / new smallest / worn out (made elsewhere from the same memory tables)."""
    member = Member.GO if row["check_id"].endswith("GO") else Member.NOT_GO
    product = _pitch(thread_limits(f"{row['inputs']}-6H"))

    size = gauge_limits.metric_member(GaugeKind.THREAD_PLUG, member, product)

    printed = row["value"].split("/")
    sizes = zip((size.high, size.low, size.worn), printed, strict=True)
    assert held(row["value"], all(agrees(each or 0, text) for each, text in sizes))


@pytest.mark.parametrize("row", _misc("B12X"), ids=lambda row: row["check_id"])
def test_an_x_gauge_has_its_tolerances_by_pitch(row: dict[str, str]) -> None:
    """ASME B1.2, from memory: lead, half angle, major or minor, pitch diameter."""
    found = gauge_limits.x_tolerance(Decimal(row["check_id"].split("-")[1]))
    lead, angle, diameters, pitch_diameter = row["value"].split("/")

    assert (found.lead_in, found.half_angle_arcmin) == (Decimal(lead), int(angle))
    sizes = (found.diameters_in, found.pitch_diameter_in)
    assert held(row["value"], sizes == (Decimal(diameters), Decimal(pitch_diameter)))


@pytest.mark.parametrize("row", [row for row in MISC if row["standard"] == "rule"], ids=lambda row: row["check_id"])
def test_the_shop_rules_of_limit_gauges_hold(row: dict[str, str]) -> None:
    """Tenth split between the members; GO plug plus, NOT GO minus; rings the other way; masters split (read)."""
    name, size, gage_class = row["check_id"], Decimal("0.5"), GagemakerClass.X
    product = (size, size + Decimal("0.002"))
    tolerance = gauge_limits.gagemaker_tolerance_in(size, gage_class)
    if name == "ten":
        assert same(gauge_limits.member_tolerance(Decimal("0.002")), row["value"])
        return
    if name == "mast":
        master = gauge_limits.setting_master(size, gage_class)
        is_split = (master.low + master.high) / 2 == size and master.high - master.low == tolerance
        assert held(row["value"], is_split)
        return
    kind = GaugeKind.PLAIN_RING if name.endswith("r") else GaugeKind.PLAIN_PLUG
    member = Member.NOT_GO if name.startswith("no") else Member.GO
    made = gauge_limits.plain_member(kind, member, product, gage_class)
    basic = product[0] if (kind is GaugeKind.PLAIN_PLUG) == (member is Member.GO) else product[1]
    expected = (basic, basic + tolerance) if row["value"] == "plus" else (basic - tolerance, basic)
    assert held(row["value"], (made.low, made.high) == expected)


def test_every_misc_row_has_a_test() -> None:
    """No row of the table of gauges is passed over."""
    known = {"mic", "imic", "imict", "imicx", "1502", "plug", "B12X"}

    assert [r["check_id"] for r in MISC if r["check_id"].split("-")[0] not in known and r["standard"] != "rule"] == []


@pytest.mark.parametrize("kind", [GaugeKind.PLAIN_PLUG, GaugeKind.PLAIN_RING, GaugeKind.FIXED_SNAP])
def test_a_go_member_wears_out_at_the_limit_it_guards(kind: GaugeKind) -> None:
    """New members lie inside the product's tolerance; the GO's worn size is the limit, the NOT GO has none."""
    product = (Decimal("0.3120"), Decimal("0.3125"))
    go = gauge_limits.plain_member(kind, Member.GO, product, GagemakerClass.XX)
    not_go = gauge_limits.plain_member(kind, Member.NOT_GO, product, GagemakerClass.XX)

    assert go.worn in product and go.worn in (go.low, go.high)
    assert not_go.worn is None
    for size in (go, not_go):
        assert product[0] <= size.low < size.high <= product[1]


@pytest.mark.parametrize("member", list(Member))
def test_thread_gauges_lie_inside_the_product_where_b1_2_says_so(member: Member) -> None:
    """Inch X gauges take their tolerance from the product's, plug and ring."""
    product = (Decimal("0.2827"), Decimal("0.2854"))
    for kind in (GaugeKind.THREAD_PLUG, GaugeKind.THREAD_RING):
        size = gauge_limits.unified_member(kind, member, product, Decimal(24))
        assert product[0] <= size.low < size.high <= product[1]
        assert (size.worn is None) == (member is Member.NOT_GO)


def test_metric_rings_follow_the_same_table() -> None:
    """M10-6g, tolerance 132 um, band 125 to 200, by hand: GO ring 8.994 - .008 +/- .009, worn at + .021."""
    size = gauge_limits.metric_member(GaugeKind.THREAD_RING, Member.GO, (Decimal("8.862"), Decimal("8.994")))
    other = gauge_limits.metric_member(GaugeKind.THREAD_RING, Member.NOT_GO, (Decimal("8.862"), Decimal("8.994")))

    assert (size.low, size.high, size.worn) == (Decimal("8.977"), Decimal("8.995"), Decimal("9.007"))
    assert (other.low, other.high, other.worn) == (Decimal("8.844"), Decimal("8.862"), Decimal("8.868"))


def test_the_coarsest_class_that_keeps_the_rule_of_ten_is_chosen() -> None:
    """Tolerance .002 at .500 in: .0001 for each member, class Z is exactly that; at 1.000 in Z has .00012, so Y."""
    assert gauge_limits.class_for(Decimal("0.500"), Decimal("0.002")) is GagemakerClass.Z
    assert gauge_limits.class_for(Decimal("1.000"), Decimal("0.002")) is GagemakerClass.Y
    with pytest.raises(NotComputed, match="too narrow"):
        gauge_limits.class_for(Decimal("0.500"), Decimal("0.0001"))


def test_a_micrometer_s_table_reaches_over_its_range_and_can_be_edited() -> None:
    """0 to 1 in: eleven points from zero to one inch; a plant's own figure replaces the proposal."""
    scheme = gauge_limits.micrometer_scheme(Decimal(0))
    metric = gauge_limits.micrometer_scheme(Decimal(25), "mm")

    assert [scheme.points[0].at, scheme.points[-1].at] == [0, 1]
    # 4 um is .000157 in, cut to .00015.
    assert {point.permissible_error for point in scheme.points} == {Decimal("0.00015")}
    assert {point.permissible_error for point in metric.points} == {Decimal("0.004")}
    assert "memory" in scheme.source and "sets no limits" in scheme.remark
    rows_out = scheme.model_dump(mode="json")
    rows_out["points"][3]["permissible_error"] = "0.0001"
    rows_out["source"] = "plant instruction, invented"
    edited = gauge_limits.Scheme.model_validate(rows_out)
    assert edited.points[3].permissible_error == Decimal("0.0001")


def test_a_calibration_is_judged_point_by_point_and_no_point_may_lack() -> None:
    """An error on the limit is within, a hair over is not, and a point not measured is named."""
    scheme = gauge_limits.indicator_scheme(Decimal("0.010"), Decimal("0.0005"))
    errors = dict.fromkeys((point.at for point in scheme.points), Decimal("-0.0005"))
    errors[Decimal("0.005")] = Decimal("0.00051")

    judged = scheme.judge(errors)

    assert [at for at, is_good in judged.items() if not is_good] == [Decimal("0.005")]
    del errors[Decimal("0.005")]
    with pytest.raises(NotComputed, match=r"at 0\.005 in"):
        scheme.judge(errors)


def test_figures_outside_the_tables_are_refused() -> None:
    """Each refusal names what was given and what is allowed."""
    kind, member = GaugeKind.MICROMETER, Member.GO
    two = (Decimal(1), Decimal("1.1"))
    refusals: list[Callable[[], object]] = [
        lambda: gauge_limits.block_limits_um(Decimal(1001), BlockGrade.K),
        lambda: gauge_limits.gagemaker_tolerance_in(Decimal("0.010"), GagemakerClass.X),
        lambda: gauge_limits.x_tolerance(Decimal(3)),
        lambda: gauge_limits.metric_row(Decimal(700)),
        lambda: gauge_limits.micrometer_scheme(Decimal(0), "ft"),
        lambda: gauge_limits.indicator_scheme(Decimal(0), Decimal(1)),
        lambda: gauge_limits.plain_member(kind, member, two, GagemakerClass.X),
        lambda: gauge_limits.unified_member(kind, member, two, Decimal(20)),
        lambda: gauge_limits.metric_member(kind, member, two),
    ]
    for refused in refusals:
        with pytest.raises(NotComputed) as told:
            refused()
        assert told.value.next_step.startswith("Give")
