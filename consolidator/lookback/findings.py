"""A finding for every reading in a window, judged again with what is known of the gauge's error.

Owns which readings a window touches and what is said of each. Pure: a frame and windows in, columns out.
Each distinct figure is judged again once, exactly.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Flags, Ints, first_rows, joined_key
from consolidator.frame.day import rows_of_page
from consolidator.frame.values import Way
from consolidator.frame.verdicts import NOT_JUDGED, OUT, REJECT, bounds_of, verdict_of_text
from consolidator.lookback.again import FINDINGS, Told, cannot_tell, in_unit, judge_again, neighbours
from consolidator.lookback.visits import Point
from consolidator.lookback.windows import Why, Window
from kiosk.lists import Characteristic
from kiosk.lists.words import CharacteristicKind
from kiosk.pages.readings import Correction
from kiosk.pages.words import KeyedAs

_NO_FIGURE: Final = (CharacteristicKind.ACCEPT_REJECT, CharacteristicKind.TURNS, CharacteristicKind.VISUAL)
_WIRES_TIMES: Final = -3
"""Pitch diameter is M less three wires: one certified too large by e makes it come out too small by 3 e."""


@dataclass(frozen=True)
class Findings:
    """The readings in question, in page order: one row for each, with the window that makes the worst of it."""

    day: Day
    windows: tuple[Window, ...]
    rows: Ints
    """Rows of the frame."""
    window: Ints
    """Place in `windows`."""
    told: tuple[Told, ...]
    told_place: Ints
    """Place in `told`."""
    rank: Ints
    """Place of the finding in `FINDINGS`, worst first."""

    def __len__(self) -> int:
        return len(self.rows)

    def told_of(self, place: int) -> Told:
        """Return what is found of the reading at a place of `rows`."""
        return self.told[int(self.told_place[place])]

    def window_of(self, place: int) -> Window:
        """Return the window that makes the worst of the reading at a place of `rows`."""
        return self.windows[int(self.window[place])]


def findings(day: Day, windows: Sequence[Window]) -> Findings:
    """Return the finding of every reading that lies in any of the windows, borrowed stations and referees included.

    A window of a master also takes the readings whose value was made from the master's size.
    A reading in several windows has the worst of its findings, and so has one with a corrected value of both values.
    A reading that a correction gives to another gauge is in question with either gauge.
    """
    count = len(day.pages)
    corrected = _corrected_gauges(day)
    best = np.full(count, len(FINDINGS), np.int64)
    window, told_place = np.zeros(count, np.int64), np.zeros(count, np.int64)
    told: list[Told] = []
    for place, one in enumerate(windows):
        for rows, judge in _taken(day, one, corrected.get(one.number, [])):
            found, key = _judged(day, rows, judge)
            rank = np.array([FINDINGS.index(each.finding) for each in found], np.int64)[key]
            worse = rank < best[rows]
            at = rows[worse]
            best[at], window[at], told_place[at] = rank[worse], place, key[worse] + len(told)
            told += found
    for row, judged in _corrected_values(day, best < len(FINDINGS), lambda row: windows[int(window[row])], corrected):
        rank_of = FINDINGS.index(judged.finding)
        if rank_of < best[row]:
            best[row], told_place[row] = rank_of, len(told)
            told.append(judged)
    rows = np.flatnonzero(best < len(FINDINGS))
    return Findings(day, tuple(windows), rows, window[rows], tuple(told), told_place[rows], best[rows])


_Judge = Callable[[int], Told]
_ErrorsOf = Callable[[int, Way], list[Fraction] | str]
"""Of a row of the frame and the way it was keyed: the errors that may be in it, or why none is known."""


def _corrected_gauges(day: Day) -> dict[str, list[int]]:
    """Return the rows that a correction says were taken with another gauge, by that gauge; in effect or not."""
    rows: dict[str, list[int]] = {}
    for _, told in day.world.acts.of(Correction):
        if told.field == "gauge":
            rows.setdefault(told.new, []).extend(rows_of_page(day.pages, told.of))
    return rows


def _corrected_values(
    day: Day, is_found: Flags, windows: Callable[[int], Window], corrected: dict[str, list[int]]
) -> Iterator[tuple[int, Told]]:
    """Give what is found of readings in question whose value a correction changes: as first keyed, and as corrected.

    Whether a correction works is the close's to say; in question is in question with either value.
    """
    for _, told in day.world.acts.of(Correction):
        for row in rows_of_page(day.pages, told.of) if told.field == "value" else ():
            if not is_found[row]:
                continue
            window = windows(row)
            after = verdict_of_text(day.pages, day.plans, day.values, row, told.new)
            before = int(day.verdicts.keyed_verdict[row])
            for text, verdict in ((told.new, after), (day.pages.keyed.at(row), before)):
                values, verdicts = day.values.with_text(row, text), day.verdicts.with_verdict(row, verdict)
                other = replace(day, values=values, verdicts=verdicts)
                for rows, judge in _taken(other, window, corrected.get(window.number, [])):
                    if row in rows:
                        yield row, judge(row)


def _taken(day: Day, window: Window, corrected: Sequence[int]) -> list[tuple[Ints, _Judge]]:
    """Return the readings a window touches, by the way it touches them, with what judges one of them."""
    inside = (day.times.high_ms >= window.start.ms) & (day.times.low_ms < window.end.ms) & (day.replaced_by < 0)
    named = day.pages.gauge.codes == day.pages.gauge.code_of(window.number)
    named[corrected] = True
    # What a gauge set on a master makes from that master's size is wrong by the master's error, until it is set again.
    by_setting = inside & named & (_made_from(day, window.via) if window.why is Why.SET else np.False_)
    by_gauge = inside & named & ~by_setting
    made = inside & _made_from(day, window.number) & ~named
    set_with = inside & (day.pages.master.codes == day.pages.master.code_of(window.number)) & ~made & ~named
    why = f"set with {window.number}; check the gauge against a sound master"
    by_error = _judge(day, window, partial(_gauge_errors, day, window), is_known=window.why is Why.OUT)
    by_size = _judge(
        day, window, partial(_master_errors, window), is_known=window.why is Why.OUT or bool(window.points)
    )
    taken: list[tuple[Flags, _Judge]] = [
        (by_gauge, by_error), (by_setting | made, by_size), (set_with, lambda _row: cannot_tell(why)),
    ]  # fmt: skip
    return [(np.flatnonzero(mask), judge) for mask, judge in taken if mask.any()]


def _judge(day: Day, window: Window, errors_of: _ErrorsOf, *, is_known: bool) -> _Judge:
    """Return what judges a reading in a window: with the errors found, or that nothing can be said."""
    if is_known:
        return lambda row: _again(day, row, window.unit, partial(errors_of, row))
    why = f"{window.number}: {window.why}"
    if window.via:
        why = f"{window.number} was {window.start.words}; check it against a sound master"
    return lambda _row: cannot_tell(why)


def _made_from(day: Day, master: str) -> Flags:
    """Tell which readings' values were made from a master's size, or from its wires."""
    made = [way.master is not None and way.master.number == master for way in day.values.ways]
    return np.array([*made, False], bool)[day.values.way] if made else np.zeros(len(day.pages), bool)


def _judged(day: Day, rows: Ints, judge: _Judge) -> tuple[list[Told], Ints]:
    """Return what is found of each distinct figure, and which of them each row has."""
    columns = (
        day.values.combined[rows],
        day.values.text.codes[rows].astype(np.int64) + 1,
        day.plans.characteristic_row[rows] + 1,
        day.gauge_row[rows] + 1,
        day.verdicts.verdict[rows],
    )
    key = joined_key(columns)
    return [judge(int(rows[at])) for at in first_rows(key).tolist()], key


def _again(day: Day, row: int, unit: str, errors_of: Callable[[Way], list[Fraction] | str]) -> Told:
    """Return the finding of one reading, its error being in `unit`."""
    characteristic = _characteristic(day, row)
    gauge = day.gauge_at(row)
    if characteristic is None:
        return cannot_tell("no limits are known of it")
    if characteristic.kind in _NO_FIGURE or (gauge is not None and gauge.kind.is_attribute):
        return cannot_tell("accepted or rejected, without a figure")
    way, bounds = day.values.ways[int(day.values.way[row])], bounds_of(characteristic)
    if bounds is None or not day.values.is_figure[row] or day.verdicts.verdict[row] == NOT_JUDGED:
        return cannot_tell("it was not judged")
    value = _value(day, row)
    errors = errors_of(way)
    if isinstance(errors, str):
        return cannot_tell(errors)
    converted = [in_unit(error, unit, characteristic.unit) for error in errors]
    if None in converted:
        return cannot_tell(f"errors in {unit} cannot be taken from a figure in {characteristic.unit}")
    compared = way.comparable(value)
    if compared is None:
        return cannot_tell(f"a figure in {way.unit} cannot be compared with limits in {characteristic.unit}")
    was_bad = day.verdicts.verdict[row] in (OUT, REJECT)
    return judge_again(compared, bounds, [error for error in converted if error is not None], was_bad=bool(was_bad))


def _gauge_errors(day: Day, window: Window, row: int, way: Way) -> list[Fraction] | str:
    """Return the errors at the calibrated points beside what the gauge showed, or why none is known."""
    if not window.points:
        return f"the errors of {window.number} are not on record point by point"
    keyed = way.figures(day.pages.keyed.at(row))
    if keyed.indicated is None or keyed.value is None:
        return "what the gauge showed is not on record"
    # A corrected value stands for what the gauge showed just as far from its size as the one first keyed did.
    indicated = in_unit(Fraction(_value(day, row) + keyed.indicated - keyed.value), way.unit, window.unit)
    if indicated is None:
        return f"a figure in {way.unit} cannot be compared with points in {window.unit}"
    return _known(neighbours(window.points, indicated), window.number)


def _known(points: tuple[Point, ...], number: str) -> list[Fraction] | str:
    errors = [point.error for point in points if point.error is not None]
    if not points or len(errors) < len(points):
        return f"{number} was not calibrated on both sides of it"
    return errors


def _master_errors(window: Window, _row: int, way: Way) -> list[Fraction] | str:
    """Return what a master's errors do to a value made from its size; a master of one size is its own neighbour."""
    errors = [point.error for point in window.points if point.error is not None]
    if not errors:
        return f"the errors of {window.via or window.number} are not on record"
    return [error * (_WIRES_TIMES if way.keyed_as == KeyedAs.OVER_WIRES else 1) for error in errors]


def _value(day: Day, row: int) -> Decimal:
    return Decimal(day.values.text.at(row))


def _characteristic(day: Day, row: int) -> Characteristic | None:
    place = int(day.plans.characteristic_row[row])
    return day.plans.characteristics[place] if place >= 0 else None
