"""What a gauge must be within to be called good: calibration points, permissible errors, tolerances, wear limits.

Owns the starting tables for the calibration room, each with its source and whether it was read or only recalled.
A plant edits a `Scheme` (it is plain rows) and approves it; nothing here is in force by itself.
Lengths are decimals in the unit that each name ends in.
"""

from collections.abc import Mapping
from decimal import ROUND_FLOOR, Decimal
from enum import StrEnum

from pydantic import BaseModel

from consolidator.errors import NotComputed
from kiosk.lists.words import GaugeKind, Member

_MICRON = Decimal("0.001")
_MICROINCH = Decimal("0.000001")
_INCH_MM = Decimal("25.4")

FROM_MEMORY = "from memory: compare with the plant's own copy before use"


class Point(BaseModel, frozen=True):
    """One calibration point and the greatest error allowed there, either way."""

    at: Decimal
    permissible_error: Decimal


class Scheme(BaseModel, frozen=True):
    """The calibration table of one kind and range of gauge: an editable proposal with its source."""

    kind: GaugeKind
    unit: str
    points: tuple[Point, ...]
    source: str
    remark: str = ""

    def judge(self, errors: Mapping[Decimal, Decimal]) -> dict[Decimal, bool]:
        """Whether each point's error is within its permissible error (on it counts as within).

        Raises: NotComputed when a point of the table was not measured.
        """
        missing = [str(point.at) for point in self.points if point.at not in errors]
        if missing:
            raise _refused(
                f"No error was given at {', '.join(missing)} {self.unit}.", "Measure every point of the table."
            )
        return {point.at: abs(errors[point.at]) <= point.permissible_error for point in self.points}


class Size(BaseModel, frozen=True):
    """The sizes a new gauge member may have, and the size at which wear ends its life (None: no wear limit)."""

    low: Decimal
    high: Decimal
    worn: Decimal | None = None
    source: str = ""


class GagemakerClass(StrEnum):
    """Classes of plain plug, ring and setting gauges (ASME B89.1.5), from the finest to the coarsest."""

    XXX = "XXX"
    XX = "XX"
    X = "X"
    Y = "Y"
    Z = "Z"
    ZZ = "ZZ"


class BlockGrade(StrEnum):
    """Gauge block grades: K, 0, 1, 2 of ISO 3650 and 00 of DIN 861; K and 00 are not the same."""

    K = "K"
    DIN_00 = "00"
    G0 = "0"
    G1 = "1"
    G2 = "2"


class XTolerance(BaseModel, frozen=True):
    """ASME B1.2 X tolerances of a thread gauge, inch and minutes of arc; pitch diameter up to 1 1/2 in."""

    lead_in: Decimal
    half_angle_arcmin: int
    diameters_in: Decimal
    pitch_diameter_in: Decimal


_GAGEMAKER_UIN = (
    ("0.825", (10, 20, 40, 70, 100, 200)),
    ("1.510", (15, 30, 60, 90, 120, 240)),
    ("2.510", (20, 40, 80, 120, 160, 320)),
    ("4.510", (25, 50, 100, 150, 200, 400)),
    ("6.510", (33, 65, 130, 190, 250, 500)),
    ("9.010", (40, 80, 160, 240, 320, 640)),
    ("12.010", (50, 100, 200, 300, 400, 800)),
)
_BLOCK_ENDS_MM = (10, 25, 50, 75, 100, 150, 200, 250, 300, 400, 500, 600, 700, 800, 900, 1000)
_BLOCK_TE_UM = {
    BlockGrade.K: ".20 .30 .40 .50 .60 .80 1.00 1.20 1.40 1.80 2.20 2.60 3.00 3.40 3.80 4.20",
    BlockGrade.DIN_00: ".06 .07 .10 .12 .15 .20 .25 .30 .35 .45 .50 .60 .70 .80 .90 1.00",
    BlockGrade.G0: ".12 .14 .20 .25 .30 .40 .50 .60 .70 .90 1.10 1.30 1.50 1.70 1.90 2.00",
    BlockGrade.G1: ".20 .30 .40 .50 .60 .80 1.00 1.20 1.40 1.80 2.20 2.60 3.00 3.40 3.80 4.20",
    BlockGrade.G2: ".45 .60 .80 1.00 1.20 1.60 2.00 2.40 2.80 3.60 4.40 5.00 6.00 6.50 7.50 8.00",
}
_BLOCK_TV_UM = {
    BlockGrade.K: ".05 .05 .06 .06 .07 .08 .09 .10 .10 .12 .14 .16 .18 .20 .20 .25",
    BlockGrade.DIN_00: ".05 .05 .06 .06 .07 .08 .09 .10 .10 .12 .14 .16 .18 .20 .20 .25",
    BlockGrade.G0: ".10 .10 .10 .12 .12 .14 .16 .16 .18 .20 .25 .25 .30 .30 .35 .40",
    BlockGrade.G1: ".16 .16 .18 .18 .20 .20 .25 .25 .25 .30 .35 .40 .45 .50 .50 .60",
    BlockGrade.G2: ".30 .30 .30 .35 .35 .40 .40 .45 .50 .50 .60 .70 .70 .80 .90 1.00",
}
INSIDE_MICROMETERS_MM: Mapping[str, Mapping[str, Decimal]] = {
    "rod and sleeve": {
        "25-50": Decimal("0.0075"),
        "50-200": Decimal("0.010"),
        "50-300": Decimal("0.0125"),
        "200-800/900": Decimal("0.025"),
    },
    "tubular, interchangeable head": {
        "40-200": Decimal("0.012"),
        "40-300": Decimal("0.012"),
        "100-600": Decimal("0.018"),
        "100-800": Decimal("0.022"),
        "100-1000": Decimal("0.022"),
        "40-800 two heads": Decimal("0.035"),
    },
    "tubular, fixed head": {
        "50-63": Decimal("0.007"),
        "63-75": Decimal("0.007"),
        "75-88": Decimal("0.007"),
        "88-100": Decimal("0.007"),
        "100-113": Decimal("0.007"),
        "113-125": Decimal("0.007"),
        "125-300": Decimal("0.010"),
    },
}
"""Permissible length errors of inside micrometers, mm (US Army TB 9-5210-207-24, 2009, Tables 6, 8 and 10; read)."""

_MICROMETER_POINTS_MM = "2.5 5.1 7.7 10.3 12.9 15.0 17.6 20.2 22.8 25.0"
_MICROMETER_POINTS_IN = ".105 .210 .315 .420 .500 .605 .710 .815 .920 1.000"

_X_ROWS = (
    (72, ".0002 30 .0003 .0002"),
    (45, ".0002 30 .0004 .0002"),
    (33, ".0002 20 .0004 .0002"),
    (19, ".0003 15 .0005 .0003"),
    (17, ".0003 10 .0005 .0003"),
    (10, ".0003 10 .0006 .0003"),
    (9, ".0003 10 .0007 .0003"),
    (7, ".0004 5 .0007 .0004"),
    (4, ".0004 5 .0008 .0004"),
)
"""From the threads per inch named upward (to the row above): lead, half angle, major or minor, pitch diameter."""


def micrometer_limit_um(range_from_mm: Decimal) -> int:
    """Greatest error of a micrometer whose range begins there, in micrometres: 4 + A / 50, cut to whole ones.

    ISO 3611:1978, from memory; ISO 3611:2010 sets no figure and leaves it to the user.
    """
    return int((4 + range_from_mm / 50).to_integral_value(ROUND_FLOOR))


def micrometer_scheme(range_from: Decimal, unit: str = "in") -> Scheme:
    """Ten points over 25 mm (or 1 in) that catch thread and drum errors, with the limit of ISO 3611:1978.

    The points fall at ten different places of the drum. In inch the limit is cut to .00001 in.
    Raises: NotComputed for a unit other than mm and in.
    """
    if unit == "mm":
        points, limit = _MICROMETER_POINTS_MM, micrometer_limit_um(range_from) * _MICRON
    elif unit == "in":
        microns = micrometer_limit_um(range_from * _INCH_MM)
        limit = (microns * _MICRON / _INCH_MM).quantize(Decimal("0.00001"), ROUND_FLOOR)
        points = _MICROMETER_POINTS_IN
    else:
        raise _refused(f"A micrometer in {unit} was asked for.", "Give mm or in.")
    places = (range_from, *(range_from + Decimal(text) for text in points.split()))
    return Scheme(
        kind=GaugeKind.MICROMETER,
        unit=unit,
        points=tuple(Point(at=at, permissible_error=limit) for at in places),
        source=f"limit 4 + A/50 um of ISO 3611:1978, usual block series; {FROM_MEMORY}",
        remark="ISO 3611:2010 sets no limits: state the plant's own. Check flatness and parallelism of the anvils too.",
    )


def indicator_scheme(travel: Decimal, least_count: Decimal, unit: str = "in") -> Scheme:
    """Eleven even points over the travel of an indicator, one division allowed (ASME B89.1.10M, from memory).

    The figure holds for the first 2 1/2 turns of a dial; repeatability is a fifth and hysteresis a third of a division.
    """
    if travel <= 0 or least_count <= 0:
        raise _refused(
            f"A travel of {travel} and a division of {least_count} were given.", "Give both as figures above zero."
        )
    return Scheme(
        kind=GaugeKind.INDICATOR,
        unit=unit,
        points=tuple(Point(at=travel * step / 10, permissible_error=least_count) for step in range(11)),
        source=f"one division, ASME B89.1.10M; {FROM_MEMORY}",
        remark=f"repeatability within {least_count / 5}, hysteresis within {least_count / 3:.6f}, inward and outward",
    )


def block_limits_um(length_mm: Decimal, grade: BlockGrade) -> tuple[Decimal, Decimal]:
    """Limit deviation from nominal (te, either way) and variation in length (tv) of a gauge block, micrometres.

    ISO 3650:1998 and DIN 861 for grade 00.
    Raises: NotComputed outside 0.5 to 1000 mm.
    """
    if not Decimal("0.5") <= length_mm <= _BLOCK_ENDS_MM[-1]:
        raise _refused(f"A gauge block of {length_mm} mm was given.", "Give a length from 0.5 to 1000 mm.")
    row = sum(length_mm > end for end in _BLOCK_ENDS_MM)
    return Decimal(_BLOCK_TE_UM[grade].split()[row]), Decimal(_BLOCK_TV_UM[grade].split()[row])


def gagemaker_tolerance_in(size_in: Decimal, gage_class: GagemakerClass) -> Decimal:
    """Tolerance of a plain gauge of a class, inch (ASME B89.1.5).

    Raises: NotComputed outside over .010 to 12.010 in.
    """
    if not Decimal("0.010") < size_in <= Decimal(_GAGEMAKER_UIN[-1][0]):
        raise _refused(f"A plain gauge of {size_in} in was given.", "Give a size over .010 up to 12.010 in.")
    row = sum(size_in > Decimal(end) for end, _ in _GAGEMAKER_UIN)
    return _GAGEMAKER_UIN[row][1][list(GagemakerClass).index(gage_class)] * _MICROINCH


def member_tolerance(product_tolerance: Decimal, share_percent: Decimal = Decimal(10)) -> Decimal:
    """What each of the two members may take of the product's tolerance: half of a tenth, the usual rule of ten."""
    return product_tolerance * share_percent / 100 / 2


def class_for(size_in: Decimal, product_tolerance_in: Decimal) -> GagemakerClass:
    """The coarsest class whose tolerance does not exceed half of a tenth of the product's.

    Raises: NotComputed when even class XXX takes more.
    """
    allowed = member_tolerance(product_tolerance_in)
    fitting = [each for each in GagemakerClass if gagemaker_tolerance_in(size_in, each) <= allowed]
    if not fitting:
        raise _refused(
            f"A tolerance of {product_tolerance_in} in is too narrow for limit gauges by the rule of ten.",
            "Measure the feature instead of gauging it.",
        )
    return fitting[-1]


def plain_member(
    kind: GaugeKind, member: Member, limits_in: tuple[Decimal, Decimal], gage_class: GagemakerClass
) -> Size:
    """Sizes of a new plain GO or NOT GO member, its tolerance laid into the product's, and the GO's wear limit, inch.

    limits_in are the product's smallest and largest size. GO plug plus, NOT GO plug minus; rings the other way.
    A GO member is worn out at the product limit it guards, so its own tolerance is all it has to wear away.
    Raises: NotComputed for a kind that is no plain plug, ring or fixed snap.
    """
    small, large = limits_in
    if kind is GaugeKind.PLAIN_PLUG:
        basic, grows = (small, True) if member is Member.GO else (large, False)
    elif kind in (GaugeKind.PLAIN_RING, GaugeKind.FIXED_SNAP):
        basic, grows = (large, False) if member is Member.GO else (small, True)
    else:
        raise _refused(f"A {kind} was given.", "Give a plain plug, plain ring or fixed snap.")
    tolerance = gagemaker_tolerance_in(basic, gage_class)
    low, high = (basic, basic + tolerance) if grows else (basic - tolerance, basic)
    return Size(low=low, high=high, worn=basic if member is Member.GO else None, source="ASME B89.1.5, unilateral")


def setting_master(basic_in: Decimal, gage_class: GagemakerClass) -> Size:
    """Sizes of a setting disc or ring: the tolerance of its class split evenly about the basic size, inch."""
    half = gagemaker_tolerance_in(basic_in, gage_class) / 2
    return Size(low=basic_in - half, high=basic_in + half, source="ASME B89.1.5, split")


def x_tolerance(threads_per_inch: Decimal) -> XTolerance:
    """Tolerances of an X thread gauge by pitch (ASME B1.2, from memory; pitch diameter .0003 in read for 11, 18, 24).

    Raises: NotComputed outside 4 to 80 threads an inch.
    """
    if not 4 <= threads_per_inch <= 80:
        raise _refused(f"{threads_per_inch} threads an inch were given.", "Give 4 to 80 threads an inch.")
    lead, angle, diameters, pitch_diameter = next(t for least, t in _X_ROWS if threads_per_inch >= least).split()
    return XTolerance(
        lead_in=Decimal(lead),
        half_angle_arcmin=int(angle),
        diameters_in=Decimal(diameters),
        pitch_diameter_in=Decimal(pitch_diameter),
    )


def unified_member(
    kind: GaugeKind, member: Member, pitch_diameters_in: tuple[Decimal, Decimal], threads_per_inch: Decimal
) -> Size:
    """Pitch diameter of a new X thread gauge member, inch (ASME B1.2): the gauge's tolerance lies inside the product's.

    pitch_diameters_in are the product's smallest and largest. A GO member is worn out at the product limit.
    Raises: NotComputed for a kind that is no thread ring or plug.
    """
    small, large = pitch_diameters_in
    tolerance = x_tolerance(threads_per_inch).pitch_diameter_in
    if kind is GaugeKind.THREAD_PLUG:
        basic, grows = (small, True) if member is Member.GO else (large, False)
    elif kind is GaugeKind.THREAD_RING:
        basic, grows = (large, False) if member is Member.GO else (small, True)
    else:
        raise _refused(f"A {kind} was given.", "Give a thread ring or a thread plug.")
    low, high = (basic, basic + tolerance) if grows else (basic - tolerance, basic)
    source = f"ASME B1.2 X; {FROM_MEMORY}"
    return Size(low=low, high=high, worn=basic if member is Member.GO else None, source=source)


class MetricRow(BaseModel, frozen=True):
    """ISO 1502 figures for one band of product pitch diameter tolerance, micrometres."""

    tr: Decimal
    """Tolerance of a ring's pitch diameter."""
    tpl: Decimal
    """Tolerance of a plug's pitch diameter."""
    tcp: Decimal
    """Tolerance of a check or setting plug's pitch diameter."""
    m: Decimal
    """Between the middles of a new ring's and its check plug's tolerance."""
    zr: Decimal
    """From the product's upper limit to the middle of a new GO ring."""
    zpl: Decimal
    """From the product's lower limit to the middle of a new GO plug."""
    wear_go_ring: Decimal
    wear_not_go_ring: Decimal
    wear_go_plug: Decimal
    wear_not_go_plug: Decimal


_METRIC_ENDS_UM = (50, 80, 125, 200, 315, 500, 670)
_METRIC_ROWS = (
    "8 6 6 10 -4 0 10 7 8 6",
    "10 7 7 12 -2 2 12 9 9.5 7.5",
    "14 9 8 15 2 6 16 12 12.5 9.5",
    "18 11 9 18 8 12 21 15 17.5 11.5",
    "23 14 12 22 12 16 25.5 19 21 15",
    "30 18 15 27 20 24 33 25 27 19",
    "38 22 18 33 28 32 41 31 33 23",
)


def metric_row(product_tolerance_um: Decimal) -> MetricRow:
    """ISO 1502:1996 thread gauge figures for a product pitch diameter tolerance (from memory).

    Raises: NotComputed outside 24 to 670 um.
    """
    if not 24 <= product_tolerance_um <= _METRIC_ENDS_UM[-1]:
        raise _refused(f"A tolerance of {product_tolerance_um} um was given.", "Give a tolerance from 24 to 670 um.")
    text = _METRIC_ROWS[sum(product_tolerance_um > end for end in _METRIC_ENDS_UM)]
    figures = zip(MetricRow.model_fields, text.split(), strict=True)
    return MetricRow(**{name: Decimal(figure) for name, figure in figures})


def metric_member(kind: GaugeKind, member: Member, pitch_diameters_mm: tuple[Decimal, Decimal]) -> Size:
    """Pitch diameter of a new metric thread gauge member and its wear limit, mm (ISO 1502:1996, from memory).

    pitch_diameters_mm are the product's smallest and largest, to the micrometre.
    Raises: NotComputed for a kind that is no thread ring or plug.
    """
    small, large = pitch_diameters_mm
    row = metric_row((large - small) / _MICRON)
    if kind is GaugeKind.THREAD_PLUG:
        width, is_go = row.tpl, member is Member.GO
        middle = small + row.zpl * _MICRON if is_go else large + width * _MICRON / 2
        worn = middle - (row.wear_go_plug if is_go else row.wear_not_go_plug) * _MICRON
    elif kind is GaugeKind.THREAD_RING:
        width, is_go = row.tr, member is Member.GO
        middle = large - row.zr * _MICRON if is_go else small - width * _MICRON / 2
        worn = middle + (row.wear_go_ring if is_go else row.wear_not_go_ring) * _MICRON
    else:
        raise _refused(f"A {kind} was given.", "Give a thread ring or a thread plug.")
    half = width * _MICRON / 2
    return Size(low=middle - half, high=middle + half, worn=worn, source=f"ISO 1502:1996; {FROM_MEMORY}")


def _refused(why: str, next_step: str) -> NotComputed:
    return NotComputed("No gauge limits were computed.", why=why, next_step=next_step)
