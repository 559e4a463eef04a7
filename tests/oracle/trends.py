"""What is found of figures in a row that no single reading shows (X36, X38)."""

from collections import defaultdict
from fractions import Fraction
from itertools import pairwise

from tests.oracle.between import standing_readings
from tests.oracle.figures import alike, in_unit, limits_of
from tests.oracle.night import RUN, Night, Reading

_IN_A_ROW = 7
_LAST = 200
_LEAST_IN_CELL = 10


def _work(night: Night) -> list[list[Reading]]:
    """Return the figures of run pieces up to the end of the day, of each characteristic at each station, in order."""
    groups: dict[tuple[object, ...], list[Reading]] = defaultdict(list)
    for reading in standing_readings(night):
        if reading.value is not None and reading.row["sample_kind"] in RUN and reading.ms < night.end_ms:
            groups[tuple(reading.row[name] for name in ("station", "part", "operation", "characteristic"))].append(
                reading
            )
    return list(groups.values())


def find_drift(night: Night) -> None:
    """Mark X38: seven sample averages in a row, each above (or each below) the one before."""
    for group in _work(night):
        samples: dict[tuple[object, ...], list[Reading]] = {}
        for reading in group:
            samples.setdefault((reading.home, reading.row["lot"], reading.row["sample"]), []).append(reading)
        means = [(sum(_value(r) for r in sample) / len(sample), sample) for sample in samples.values()]
        for way in (1, -1):
            run = means[:1]
            for before, after in [*pairwise(means), (None, None)]:
                if before is not None and after is not None and (after[0] - before[0]) * way > 0:
                    run.append(after)
                    continue
                if len(run) >= _IN_A_ROW:
                    for reading in (each for _, sample in run for each in sample):
                        reading.mark("X38", "Flagged")
                run = [after] if after is not None else []


def find_pile(night: Night) -> None:
    """Mark X36 on what lies in the cell just inside a limit, where the last 200 figures are heaped up in it."""
    for group in _work(night):
        last = group[-_LAST:]
        what, gauge = last[-1].what, last[-1].gauge
        if len(last) < _LAST or what is None or gauge is None or gauge.least_count is None:
            continue
        limits, unit = limits_of(what), gauge.unit or what.unit
        if limits is None or not alike(unit, what.unit):
            continue
        cell = in_unit(Fraction(gauge.least_count), unit, what.unit)
        for limit, way in ((limits.upper, -1), (limits.lower, 1)):
            if limit is not None and cell:
                _mark_pile(last, limit, way * cell)


def _mark_pile(last: list[Reading], limit: Fraction, step: Fraction) -> None:
    """Cells are counted inwards from the limit, which belongs to the first; -1 is the first one outside."""
    cells: dict[int, list[Reading]] = defaultdict(list)
    for reading in last:
        inwards = (_value(reading) - limit) / step
        cells[inwards.numerator // inwards.denominator].append(reading)
    first, next_two = len(cells[0]), Fraction(len(cells[1]) + len(cells[2]), 2)
    if first >= _LEAST_IN_CELL and first >= 3 * next_two and not cells[-1]:
        for reading in cells[0]:
            reading.mark("X36", "Flagged")


def _value(reading: Reading) -> Fraction:
    value: Fraction = reading.value
    return value
