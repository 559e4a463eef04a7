"""Limits of metric threads: ISO 965-1 and ASME B1.13M (M), ISO 5855 and ASME B1.21M (MJ).

Owns the tables of ISO 965-1. The tables are the standard: the formulas they were once made from differ from them
by a step in one value of six, so nothing here is computed that a table gives.
The tables were set down from memory of the standard and compared value by value with a public copy;
rows that also stand in tests/published agree.
"""

from decimal import Decimal, localcontext

from kiosk.errors import OutsideTheTable
from kiosk.measure.rounding import EXACT, round_half_up
from kiosk.threads.forms import (
    J_INTERNAL_MINOR_FACTOR,
    J_RADIUS_FACTORS,
    MINOR_DIAMETER_FACTOR,
    NO_LIMITS,
    PITCH_DIAMETER_FACTOR,
    Form,
    Limits,
    Thread,
    ThreadLimits,
    j_root,
    root_lines,
)

_MICROMETRE = Decimal("0.001")
_D3_UPPER = Decimal("1.22686925")
"""Major less rounded-root minor diameter over the pitch, ISO 724 (17/12 of the sharp height)."""
_D3_LOWER = Decimal("0.61602540")
"""Pitch diameter less d3 for the least root radius of P/8, over the pitch (ASME B1.13M)."""
_BY_PITCH = """
0.2  17 -   -   36  56  -    38  -   -    -    -
0.25 18 -   -   42  67  -    45  56  -    -    -
0.3  18 -   -   48  75  -    53  67  85   -    -
0.35 19 34  -   53  85  -    63  80  100  -    -
0.4  19 34  -   60  95  -    71  90  112  -    -
0.45 20 35  -   63  100 -    80  100 125  -    -
0.5  20 36  50  67  106 -    90  112 140  180  -
0.6  21 36  53  80  125 -    100 125 160  200  -
0.7  22 38  56  90  140 -    112 140 180  224  -
0.75 22 38  56  90  140 -    118 150 190  236  -
0.8  24 38  60  95  150 236  125 160 200  250  315
1    26 40  60  112 180 280  150 190 236  300  375
1.25 28 42  63  132 212 335  170 212 265  335  425
1.5  32 45  67  150 236 375  190 236 300  375  475
1.75 34 48  71  170 265 425  212 265 335  425  530
2    38 52  71  180 280 450  236 300 375  475  600
2.5  42 58  80  212 335 530  280 355 450  560  710
3    48 63  85  236 375 600  315 400 500  630  800
3.5  53 70  90  265 425 670  355 450 560  710  900
4    60 75  95  300 475 750  375 475 600  750  950
4.5  63 80  100 315 500 800  425 530 670  850  1060
5    71 85  106 335 530 850  450 560 710  900  1120
5.5  75 90  112 355 560 900  475 600 750  950  1180
6    80 95  118 375 600 950  500 630 800  1000 1250
8    100 118 140 450 710 1180 630 800 1000 1250 1600
"""
"""ISO 965-1 tables 1, 3 and 4, micrometres by pitch in mm: g (and G), f, e; Td 4 6 8; TD1 4 5 6 7 8."""

_BY_SIZE = """
0.99 1.4 0.2    24 30 38 48 - - -            40 - - - -            0.5 1.4
0.99 1.4 0.25   26 34 42 53 - - -            45 56 - - -           0.6 1.7
0.99 1.4 0.3    28 36 45 56 - - -            48 60 75 - -          0.7 2
1.4 2.8 0.2     25 32 40 50 - - -            42 - - - -            0.5 1.5
1.4 2.8 0.25    28 36 45 56 - - -            48 60 - - -           0.6 1.9
1.4 2.8 0.35    32 40 50 63 80 - -           53 67 85 - -          0.8 2.6
1.4 2.8 0.4     34 42 53 67 85 - -           56 71 90 - -          1 3
1.4 2.8 0.45    36 45 56 71 90 - -           60 75 95 - -          1.3 3.8
2.8 5.6 0.35    34 42 53 67 85 - -           56 71 90 - -          1 3
2.8 5.6 0.5     38 48 60 75 95 - -           63 80 100 125 -       1.5 4.5
2.8 5.6 0.6     42 53 67 85 106 - -          71 90 112 140 -       1.7 5
2.8 5.6 0.7     45 56 71 90 112 - -          75 95 118 150 -       2 6
2.8 5.6 0.75    45 56 71 90 112 - -          75 95 118 150 -       2.2 6.7
2.8 5.6 0.8     48 60 75 95 118 150 190      80 100 125 160 200    2.5 7.5
5.6 11.2 0.75   50 63 80 100 125 - -         85 106 132 170 -      2.4 7.1
5.6 11.2 1      56 71 90 112 140 180 224     95 118 150 190 236    3 9
5.6 11.2 1.25   60 75 95 118 150 190 236     100 125 160 200 250   4 12
5.6 11.2 1.5    67 85 106 132 170 212 265    112 140 180 224 280   5 15
11.2 22.4 1     60 75 95 118 150 190 236     100 125 160 200 250   3.8 11
11.2 22.4 1.25  67 85 106 132 170 212 265    112 140 180 224 280   4.5 13
11.2 22.4 1.5   71 90 112 140 180 224 280    118 150 190 236 300   5.6 16
11.2 22.4 1.75  75 95 118 150 190 236 300    125 160 200 250 315   6 18
11.2 22.4 2     80 100 125 160 200 250 315   132 170 212 265 335   8 24
11.2 22.4 2.5   85 106 132 170 212 265 335   140 180 224 280 355   10 30
22.4 45 1       63 80 100 125 160 200 250    106 132 170 212 -     4 12
22.4 45 1.5     75 95 118 150 190 236 300    125 160 200 250 315   6.3 19
22.4 45 2       85 106 132 170 212 265 335   140 180 224 280 355   8.5 25
22.4 45 3       100 125 160 200 250 315 400  170 212 265 335 425   12 36
22.4 45 3.5     106 132 170 212 265 335 425  180 224 280 355 450   15 45
22.4 45 4       112 140 180 224 280 355 450  190 236 300 375 475   18 53
22.4 45 4.5     118 150 190 236 300 375 475  200 250 315 400 500   21 63
45 90 1.5       80 100 125 160 200 250 315   132 170 212 265 335   7.5 22
45 90 2         90 112 140 180 224 280 355   150 190 236 300 375   9.5 28
45 90 3         106 132 170 212 265 335 425  180 224 280 355 450   15 45
45 90 4         118 150 190 236 300 375 475  200 250 315 400 500   19 56
45 90 5         125 160 200 250 315 400 500  212 265 335 425 530   24 71
45 90 5.5       132 170 212 265 335 425 530  224 280 355 450 560   28 85
45 90 6         140 180 224 280 355 450 560  236 300 375 475 600   32 95
90 180 2        95 118 150 190 236 300 375   160 200 250 315 400   12 36
90 180 3        112 140 180 224 280 355 450  190 236 300 375 475   18 53
90 180 4        125 160 200 250 315 400 500  212 265 335 425 530   24 71
90 180 6        150 190 236 300 375 475 600  250 315 400 500 630   36 106
90 180 8        170 212 265 335 425 530 670  280 355 450 560 710   45 132
180 355 3       125 160 200 250 315 400 500  212 265 335 425 530   20 60
180 355 4       140 180 224 280 355 450 560  236 300 375 475 600   26 80
180 355 6       160 200 250 315 400 500 630  265 335 425 530 670   40 118
180 355 8       180 224 280 355 450 560 710  300 375 475 600 750   50 150
"""
"""ISO 965-1 tables 2, 5 and 6: diameter over and up to, pitch, mm; Td2 3 to 9, TD2 4 to 8, micrometres;
length of engagement normal over and up to, mm."""


def _read(table: str, keys: int) -> dict[tuple[Decimal, ...], tuple[Decimal | None, ...]]:
    rows = (line.split() for line in table.strip().splitlines())
    return {
        tuple(Decimal(figure) for figure in row[:keys]): tuple(
            None if figure == "-" else Decimal(figure) for figure in row[keys:]
        )
        for row in rows
    }


_PITCH_TABLE = _read(_BY_PITCH, 1)
_SIZE_TABLE = _read(_BY_SIZE, 3)


def fundamental_deviation_um(pitch_mm: Decimal, position: str) -> Decimal:
    """Give the distance of the tolerance zone from the basic profile, micrometres (ISO 965-1 table 1).

    Below the profile for a bolt (e, f, g, h), above it for a nut (G, H).
    """
    if position in ("h", "H"):
        return Decimal(0)
    return _cell(_pitch_row(pitch_mm), {"g": 0, "G": 0, "f": 1, "e": 2}[position], f"position {position}", pitch_mm)


def major_tolerance_um(pitch_mm: Decimal, grade: int) -> Decimal:
    """Give Td, the major-diameter tolerance of a bolt, micrometres (ISO 965-1): grades 4, 6, 8."""
    column = {4: 3, 6: 4, 8: 5}.get(grade)
    return _cell(_pitch_row(pitch_mm), column, f"major-diameter grade {grade} (4, 6 and 8 are)", pitch_mm)


def minor_tolerance_um(pitch_mm: Decimal, grade: int) -> Decimal:
    """Give TD1, the minor-diameter tolerance of a nut, micrometres (ISO 965-1): grades 4 to 8."""
    column = grade + 2 if 4 <= grade <= 8 else None
    return _cell(_pitch_row(pitch_mm), column, f"minor-diameter grade {grade}", pitch_mm)


def pitch_tolerance_um(diameter_mm: Decimal, pitch_mm: Decimal, grade: int, *, is_internal: bool) -> Decimal:
    """Give Td2 (bolt, grades 3 to 9) or TD2 (nut, grades 4 to 8), micrometres (ISO 965-1)."""
    row = _size_row(diameter_mm, pitch_mm)
    first, last, first_column = (4, 8, 7) if is_internal else (3, 9, 0)
    column = first_column + grade - first if first <= grade <= last else None
    return _cell(row, column, f"pitch-diameter grade {grade}", pitch_mm)


def engagement_group(diameter_mm: Decimal, pitch_mm: Decimal, length_mm: Decimal) -> str:
    """Give the ISO 965-1 group of a length of engagement: S short, N normal, L long."""
    row = _size_row(diameter_mm, pitch_mm)
    over, up_to = row[12] or Decimal(0), row[13] or Decimal(0)
    if length_mm <= over:
        return "S"
    return "N" if length_mm <= up_to else "L"


def metric_limits(thread: Thread) -> ThreadLimits:
    """Give the limits of a metric thread in millimetres, to the micrometre.

    Raises:
        OutsideTheTable: ISO 965-1 has no tolerance for this diameter, pitch or grade.

    Check: M10x1.5-6g pitch diameter 8.862 to 8.994.
    """
    with localcontext(EXACT):
        deviation = fundamental_deviation_um(thread.pitch, thread.pitch_class[1]) * _MICROMETRE
        return _internal(thread, deviation) if thread.is_internal else _external(thread, deviation)


def _external(thread: Thread, deviation: Decimal) -> ThreadLimits:
    p, crest = thread.pitch, int(thread.crest_class[0])
    crest_deviation = fundamental_deviation_um(p, thread.crest_class[1]) * _MICROMETRE
    basic = _millimetres(thread.diameter - PITCH_DIAMETER_FACTOR * p)
    tolerance = _pitch_tolerance(thread)
    pitch = Limits(basic - deviation - tolerance, basic - deviation)
    major_upper = _millimetres(thread.diameter) - crest_deviation
    major = Limits(major_upper - major_tolerance_um(p, crest) * _MICROMETRE, major_upper)
    flat = Limits(None, _millimetres(thread.diameter - MINOR_DIAMETER_FACTOR * p) - deviation)
    if thread.form is Form.MJ:
        rounded = j_root(thread.diameter - deviation - PITCH_DIAMETER_FACTOR * p, p, tolerance, "0.001")
        radius = Limits(*(round_half_up(factor * p, "0.0001") for factor in J_RADIUS_FACTORS))
    else:
        upper = _millimetres(thread.diameter - _D3_UPPER * p - deviation)
        rounded = Limits(_millimetres(basic - deviation - tolerance - _D3_LOWER * p), upper)
        radius = Limits(round_half_up(p / 8, "0.0001"), None)
    return ThreadLimits(
        thread=thread,
        standard=_standard(thread),
        basic_pitch_diameter=basic,
        basic_minor_diameter=_millimetres(thread.diameter - MINOR_DIAMETER_FACTOR * p),
        allowance=deviation,
        major=major,
        pitch=pitch,
        minor=rounded if thread.form is Form.MJ else flat,
        minor_rounded=rounded,
        root_radius=radius,
        engagement=thread.engagement,
        derivation=(
            *_derive(thread, basic, deviation, tolerance),
            f"pitch diameter {pitch.lower} to {pitch.upper}",
            f"major diameter {major.lower} to {major.upper} (table 4, grade {crest})",
            *root_lines(radius, rounded),
        ),
    )


def _internal(thread: Thread, deviation: Decimal) -> ThreadLimits:
    p, crest = thread.pitch, int(thread.crest_class[0])
    basic = _millimetres(thread.diameter - PITCH_DIAMETER_FACTOR * p)
    tolerance = _pitch_tolerance(thread)
    factor = J_INTERNAL_MINOR_FACTOR if thread.form is Form.MJ else MINOR_DIAMETER_FACTOR
    minor_lower = _millimetres(thread.diameter - factor * p) + deviation
    minor = Limits(minor_lower, minor_lower + minor_tolerance_um(p, crest) * _MICROMETRE)
    pitch = Limits(basic + deviation, basic + deviation + tolerance)
    return ThreadLimits(
        thread=thread,
        standard=_standard(thread),
        basic_pitch_diameter=basic,
        basic_minor_diameter=_millimetres(thread.diameter - MINOR_DIAMETER_FACTOR * p),
        allowance=deviation,
        major=Limits(_millimetres(thread.diameter) + deviation, None),
        pitch=pitch,
        minor=minor,
        minor_rounded=NO_LIMITS,
        root_radius=NO_LIMITS,
        engagement=thread.engagement,
        derivation=(
            *_derive(thread, basic, deviation, tolerance),
            f"pitch diameter {pitch.lower} to {pitch.upper}",
            f"minor diameter {minor.lower} to {minor.upper} (table 3, grade {crest})",
        ),
    )


def _pitch_tolerance(thread: Thread) -> Decimal:
    grade = int(thread.pitch_class[0])
    um = pitch_tolerance_um(thread.diameter, thread.pitch, grade, is_internal=thread.is_internal)
    return um * _MICROMETRE


def _derive(thread: Thread, basic: Decimal, deviation: Decimal, tolerance: Decimal) -> tuple[str, ...]:
    side = "above" if thread.is_internal else "below"
    return (
        f"{_standard(thread)}, {thread.text}: d {thread.diameter} mm, pitch {thread.pitch} mm",
        f"basic pitch diameter d - 0.64951905 P = {basic}",
        f"position {thread.pitch_class[1]}: {deviation} {side} it (table 1)",
        f"pitch-diameter tolerance, grade {thread.pitch_class[0]}: {tolerance} (tables 5 and 6)",
    )


def _standard(thread: Thread) -> str:
    return "ISO 5855" if thread.form is Form.MJ else "ISO 965-1"


def _millimetres(value: Decimal) -> Decimal:
    return round_half_up(value, "0.001")


def _pitch_row(pitch_mm: Decimal) -> tuple[Decimal | None, ...]:
    row = _PITCH_TABLE.get((pitch_mm,))
    if row is None:
        pitches = ", ".join(str(key[0]) for key in _PITCH_TABLE)
        raise OutsideTheTable(
            f"No tolerance for a pitch of {pitch_mm} mm.",
            why=f"ISO 965-1 has the pitches {pitches}.",
            next_step="Look at the drawing again and write the pitch it gives, for example M10x1.5-6g.",
        )
    return row


def _size_row(diameter_mm: Decimal, pitch_mm: Decimal) -> tuple[Decimal | None, ...]:
    for (over, up_to, pitch), row in _SIZE_TABLE.items():
        if over < diameter_mm <= up_to and pitch == pitch_mm:
            return row
    near = sorted(key[2] for key in _SIZE_TABLE if key[0] < diameter_mm <= key[1])
    raise OutsideTheTable(
        f"No pitch-diameter tolerance for {diameter_mm} mm with a pitch of {pitch_mm} mm.",
        why=f"ISO 965-1 has {', '.join(map(str, near)) or 'nothing'} for this diameter (1 to 355 mm).",
        next_step="Look at the drawing again and write the size it gives, for example M10x1.5-6g.",
    )


def _cell(row: tuple[Decimal | None, ...], column: int | None, name: str, pitch_mm: Decimal) -> Decimal:
    value = row[column] if column is not None else None
    if value is None:
        raise OutsideTheTable(
            f"ISO 965-1 has no {name} at a pitch of {pitch_mm} mm.",
            why="The cell of its table is empty.",
            next_step="Look at the tolerance class on the drawing again, for example M10x1.5-6g or M10-6H.",
        )
    return value
