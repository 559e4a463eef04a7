"""Hardness converted between Vickers, Brinell, Rockwell C and tensile strength, inside the limits of its table.

Owns the table for unalloyed and low-alloy steel and cast steel (DIN 50150, taken over as ISO 18265 table A.1).
A converted figure never replaces a test in the scale the specification names: it sorts and warns, it does not accept.
Not for austenitic, cold-worked or surface-hardened steel, nor for any other alloy.
Up to 460 HV the rows are as read in a published copy of the table; above, from memory.
"""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from kiosk.errors import OutsideTheTable
from kiosk.measure.rounding import EXACT, round_half_up

SOURCE = "ISO 18265 table A.1 (DIN 50150), unalloyed and low-alloy steel"


class Scale(StrEnum):
    """A hardness scale of the table, or the tensile strength it is set against."""

    VICKERS = "HV"
    BRINELL = "HBW"
    ROCKWELL_C = "HRC"
    TENSILE = "MPa"


_STEP = {Scale.VICKERS: "1", Scale.BRINELL: "1", Scale.ROCKWELL_C: "0.1", Scale.TENSILE: "5"}

_COLUMNS = (Scale.VICKERS, Scale.BRINELL, Scale.ROCKWELL_C, Scale.TENSILE)

_TABLE = """
80 76 - 250,85 80.7 - 270,90 85.2 - 285,95 90.2 - 305,100 95 - 320,105 99.8 - 335,110 105 - 350,115 109 - 370
120 114 - 380,125 119 - 400,130 124 - 415,135 128 - 430,140 133 - 450,145 138 - 465,150 143 - 480,155 147 - 490
160 152 - 510,165 156 - 530,170 162 - 545,175 166 - 560,180 171 - 575,185 176 - 595,190 181 - 610,195 185 - 625
200 190 - 640,205 195 - 660,210 199 - 675,215 204 - 690,220 209 - 705,225 214 - 720,230 219 - 740,235 223 - 755
240 228 20.3 770,245 233 21.3 785,250 238 22.2 800,255 242 23.1 820,260 247 24 835,265 252 24.8 850
270 257 25.6 865,275 261 26.4 880,280 266 27.1 900,285 271 27.8 915,290 276 28.5 930,295 280 29.2 950
300 285 29.8 965,310 295 31 995,320 304 32.2 1030,330 314 33.3 1060,340 323 34.4 1095,350 333 35.5 1125
360 342 36.6 1155,370 352 37.7 1190,380 361 38.8 1220,390 371 39.8 1255,400 380 40.8 1290,410 390 41.8 1320
420 399 42.7 1350,430 409 43.6 1385,440 418 44.5 1420,450 428 45.3 1455,460 437 46.1 1485,470 447 46.9 1520
480 456 47.7 1555,490 466 48.4 1595,500 475 49.1 1630,510 485 49.8 1665,520 494 50.5 1700,530 504 51.1 1740
540 513 51.7 1775,550 523 52.3 1810,560 532 53 1845,570 542 53.6 1880,580 551 54.1 1920,590 561 54.7 1955
600 570 55.2 1995,610 580 55.7 2030,620 589 56.3 2070,630 599 56.8 2105,640 608 57.3 2145,650 618 57.8 2180
660 - 58.3 -,670 - 58.8 -,680 - 59.2 -,690 - 59.7 -,700 - 60.1 -,720 - 61 -,740 - 61.8 -,760 - 62.5 -
780 - 63.3 -,800 - 64 -,820 - 64.7 -,840 - 65.3 -,860 - 65.9 -,880 - 66.4 -,900 - 67 -,920 - 67.5 -,940 - 68 -
"""
"""HV, HBW, HRC, tensile strength in MPa; `-` where the table gives nothing."""

_ROWS: tuple[tuple[Decimal | None, ...], ...] = tuple(
    tuple(None if figure == "-" else Decimal(figure) for figure in row.split())
    for line in _TABLE.strip().splitlines()
    for row in line.split(",")
)

_BRACKETED_FROM_HBW = Decimal(450)
"""HBW; above it the table sets Brinell in brackets: outside the range the ball is made for."""


@dataclass(frozen=True)
class Conversion:
    """A converted hardness or strength, with what must stand beside it."""

    value: Decimal
    scale: Scale
    is_tabulated: bool
    """True where the table has this very row; else the value lies between two rows by straight line."""
    cautions: tuple[str, ...]
    source: str = SOURCE


def convert_hardness(value: Decimal, scale: Scale, to: Scale) -> Conversion:
    """Convert a hardness (or tensile strength, MPa) to another scale, between rows by straight line.

    Rounded as the table is printed: HV and HBW whole (as printed where a row fits), HRC to .1, MPa to 5.

    Raises:
        OutsideTheTable: the value, or its equivalent, lies outside what the table covers.

    Check: 300 HV is 285 HBW, 29.8 HRC, 965 MPa.
    """
    low, high = validity(scale, to)
    if not low <= value <= high:
        raise OutsideTheTable(
            f"{value} {scale} was not converted to {to}.",
            why=f"The table is valid from {low} to {high} {scale} for this conversion.",
            next_step="Test in the scale the specification names; nothing is guessed outside the table.",
        )
    rows = _rows_with(scale, to)
    for row_value, row_result in rows:
        if row_value == value:
            return Conversion(row_result, to, is_tabulated=True, cautions=_cautions(row_result, to))
    below = max(row for row in rows if row[0] < value)
    above = min(row for row in rows if row[0] > value)
    share = EXACT.divide(value - below[0], above[0] - below[0])
    between = EXACT.add(below[1], EXACT.multiply(share, above[1] - below[1]))
    result = _to_step(between, _STEP[to])
    return Conversion(result, to, is_tabulated=False, cautions=_cautions(result, to))


def validity(scale: Scale, to: Scale) -> tuple[Decimal, Decimal]:
    """Give the lowest and highest value of `scale` that the table converts to `to`, both included."""
    values = [row[0] for row in _rows_with(scale, to)]
    return min(values), max(values)


def _rows_with(scale: Scale, to: Scale) -> list[tuple[Decimal, Decimal]]:
    first, second = _COLUMNS.index(scale), _COLUMNS.index(to)
    return [
        (value, result) for row in _ROWS if (value := row[first]) is not None and (result := row[second]) is not None
    ]


def _cautions(result: Decimal, to: Scale) -> tuple[str, ...]:
    cautions = ["A converted value never replaces a test in the scale the specification names."]
    if to is Scale.TENSILE:
        cautions.append("Tensile strength from hardness is the least certain of all conversions.")
    if to is Scale.BRINELL and result > _BRACKETED_FROM_HBW:
        cautions.append("The table sets this Brinell value in brackets: too hard for the ball.")
    return tuple(cautions)


def _to_step(value: Decimal, step: str) -> Decimal:
    if step == "5":
        return round_half_up(EXACT.divide(value, 5), "1") * 5
    return round_half_up(value, step)
