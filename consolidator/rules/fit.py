"""Rules about whether a gauge fits what it measured: X15 to X20.

Owns holding least count, range, kind, thread and wires against the characteristic; each distinct pair once.
"""

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Flags, Ints, first_rows
from consolidator.frame.values import wires_misfit
from consolidator.frame.verdicts import bounds_of, distinct_pairs
from consolidator.rules.found import Found, Rule, found, rows_of
from kiosk.errors import ThreadNotUnderstood
from kiosk.lists import Characteristic, Gauge, PlantNumbers
from kiosk.lists.words import CharacteristicKind, GaugeKind
from kiosk.measure import units
from kiosk.threads.characteristics import is_same_thread


def coarse(day: Day) -> list[Found]:
    """X15: the least count is more than N4's fine share of the tolerance, up to the blocked one inclusive."""
    return _coarse(day, "X15", lambda share, n: n.coarse_percent < share <= n.too_coarse_percent)


def too_coarse(day: Day) -> list[Found]:
    """X16: the least count is more than N4's blocked share of the tolerance."""
    return _coarse(day, "X16", lambda share, n: share > n.too_coarse_percent)


def outside_range(day: Day) -> list[Found]:
    """X17: what the gauge showed lies outside its calibrated range; a comparator is held by its deviation."""
    is_out, ends = _by_indication(day, _range_words)

    def tell(row: int) -> str:
        return f"{day.pages.gauge.at(row)} showed {day.pages.keyed.at(row)} {day.pages.unit.at(row)}, {ends[row]}."

    return found("X17", rows_of(day, is_out), day.pages.gauge, tell)


def wrong_kind(day: Day) -> list[Found]:
    """X18: the gauge's kind is not among those the plan allows."""
    firsts, seconds, place = distinct_pairs(day.gauge_row, day.plans.characteristic_row)
    wrong = [
        g >= 0 and c >= 0 and _is_wrong_kind(day.gauges.rows[g], day.plans.characteristics[c])
        for g, c in zip(firsts.tolist(), seconds.tolist(), strict=True)
    ]

    def tell(row: int) -> str:
        gauge, characteristic = day.gauge_at(row), day.plans.characteristics[int(day.plans.characteristic_row[row])]
        allowed = ", ".join(characteristic.gauge_kinds)
        assert gauge is not None
        return f"{gauge.number} is a {gauge.kind}; the plan allows for {characteristic.number}: {allowed}."

    return found("X18", rows_of(day, np.array(wrong, bool)[place]), day.pages.gauge, tell)


def wrong_thread(day: Day) -> list[Found]:
    """X19: thread designation, form, class or member of the gauge, or the pitch of the wires, does not fit the part."""
    parts, characteristics = day.plans.parts, day.plans.characteristics
    size = len(characteristics) + 1
    what = (day.plans.part_row + 1) * size + day.plans.characteristic_row + 1
    firsts, seconds, place = distinct_pairs(day.gauge_row, what)
    words = []
    for g, both in zip(firsts.tolist(), seconds.tolist(), strict=True):
        part, characteristic = both // size - 1, both % size - 1
        is_known = g >= 0 and characteristic >= 0
        thread = parts[part].thread if part >= 0 else None
        words.append(_thread_words(day.gauges.rows[g], characteristics[characteristic], thread) if is_known else "")
    by_gauge = np.array([bool(word) for word in words], bool)[place]
    by_wires, wire_words = misfit_wires(day)

    def tell(row: int) -> str:
        return words[int(place[row])] if by_gauge[row] else wire_words[row]

    return found("X19", rows_of(day, by_gauge | by_wires), day.pages.gauge, tell)


def finer_than_gauge(day: Day) -> list[Found]:
    """X20: what was keyed is not a whole number of least counts; halves only where the gauge allows them."""
    is_finer, steps = _by_indication(day, _step_words)

    def tell(row: int) -> str:
        return f"{day.pages.keyed.at(row)} {day.pages.unit.at(row)} was keyed; {day.pages.gauge.at(row)} {steps[row]}."

    return found("X20", rows_of(day, is_finer), day.pages.gauge, tell)


def _coarse(day: Day, number: str, is_so: Callable[[Fraction, PlantNumbers], bool]) -> list[Found]:
    step = day.world.numbers.step(day.ms)
    size = len(day.world.numbers.numbers)
    firsts, seconds, place = distinct_pairs((day.gauge_row + 1) * size + step, day.plans.characteristic_row)
    matches, words = [], []
    for pair, c in zip(firsts.tolist(), seconds.tolist(), strict=True):
        gauge, numbers = divmod(pair, size)
        share = None if gauge < 1 or c < 0 else _share(day.gauges.rows[gauge - 1], day.plans.characteristics[c])
        matches.append(share is not None and is_so(share, day.world.numbers.numbers[numbers]))
        words.append("" if share is None else _share_words(day.gauges.rows[gauge - 1], share))

    def tell(row: int) -> str:
        return f"{words[int(place[row])]} of {day.pages.characteristic.at(row)}."

    return found(number, rows_of(day, np.array(matches, bool)[place]), day.pages.gauge, tell)


def is_fine(day: Day) -> Flags:
    """Tell which readings were taken with a least count of at most N4's fine share of the tolerance."""
    step = day.world.numbers.step(day.ms)
    size = len(day.world.numbers.numbers)
    firsts, seconds, place = distinct_pairs((day.gauge_row + 1) * size + step, day.plans.characteristic_row)
    fine = []
    for pair, c in zip(firsts.tolist(), seconds.tolist(), strict=True):
        gauge, numbers = divmod(pair, size)
        share = None if gauge < 1 or c < 0 else _share(day.gauges.rows[gauge - 1], day.plans.characteristics[c])
        fine.append(share is not None and share <= day.world.numbers.numbers[numbers].coarse_percent)
    return np.array(fine, bool)[place]


def _share(gauge: Gauge, characteristic: Characteristic) -> Fraction | None:
    """Return the least count in per cent of the tolerance; none where the rule does not apply."""
    if characteristic.kind in (CharacteristicKind.COUNT, CharacteristicKind.TURNS) or gauge.least_count is None:
        return None
    bounds = bounds_of(characteristic)
    tolerance = None if bounds is None else bounds.tolerance
    unit = gauge.unit or characteristic.unit
    if not tolerance or not units.are_alike(unit, characteristic.unit):
        return None
    least = units.ratio(Decimal(gauge.least_count), unit, to=Decimal(1), to_unit=characteristic.unit)
    return abs(100 * least / tolerance)


def _share_words(gauge: Gauge, share: Fraction) -> str:
    percent = format(float(share), ".4g")
    return f"The least count {gauge.least_count} of {gauge.number} is {percent} % of the tolerance"


def _by_indication(day: Day, words_of: Callable[[Gauge, Decimal, str], str]) -> tuple[Flags, "_Words"]:
    """Return which readings have words said about what their gauge showed, and the words; each distinct case once."""
    firsts, seconds, place = distinct_pairs(day.gauge_row, day.values.combined)
    units_of, said = _unit_of_pair(day), []
    for g, combined in zip(firsts.tolist(), seconds.tolist(), strict=True):
        shown = day.values.indicated[combined]
        said.append("" if g < 0 or shown is None else words_of(day.gauges.rows[g], shown, units_of[combined]))
    return np.array([bool(text) for text in said], bool)[place], _Words(said, place)


class _Words:
    """Words of distinct cases, looked up by row."""

    def __init__(self, said: list[str], place: Ints) -> None:
        self._said, self._place = said, place

    def __getitem__(self, row: int) -> str:
        return self._said[int(self._place[row])]


def _unit_of_pair(day: Day) -> dict[int, str]:
    """Return the unit keyed in, for each distinct pair of keyed text and way."""
    first = first_rows(day.values.combined).tolist()
    return {combined: day.pages.unit.at(row) for combined, row in enumerate(first)}


def _range_words(gauge: Gauge, shown: Decimal, unit: str) -> str:
    own = gauge.unit or unit
    if gauge.kind.is_attribute or not units.are_alike(unit, own):
        return ""
    value = units.in_one_unit(shown, unit, other=own)
    low, high = (None if end is None else Decimal(end) for end in (gauge.range_low, gauge.range_high))
    if low is not None and value < units.in_one_unit(low, own, other=unit):
        return f"its range begins at {gauge.range_low} {own}"
    if high is not None and value > units.in_one_unit(high, own, other=unit):
        return f"its range ends at {gauge.range_high} {own}"
    return ""


def _step_words(gauge: Gauge, shown: Decimal, unit: str) -> str:
    own = gauge.unit or unit
    if gauge.least_count is None or gauge.kind.is_attribute or not units.are_alike(unit, own):
        return ""
    step = Fraction(units.in_one_unit(Decimal(gauge.least_count), own, other=unit))
    step = step / 2 if gauge.half_division else step
    if not step or (Fraction(units.in_one_unit(shown, unit, other=own)) / step).denominator == 1:
        return ""
    return f"reads to {'half of ' if gauge.half_division else ''}{gauge.least_count} {own}"


def _is_wrong_kind(gauge: Gauge, characteristic: Characteristic) -> bool:
    return bool(characteristic.gauge_kinds) and gauge.kind not in characteristic.gauge_kinds


def _thread_words(gauge: Gauge, characteristic: Characteristic, part_thread: str | None) -> str:
    """Say why a thread gauge does not fit; empty when it fits or is no thread gauge."""
    if not (gauge.kind.is_thread_gauge or gauge.kind is GaugeKind.INDICATING_THREAD):
        return ""
    wanted = characteristic.thread or part_thread
    if wanted is not None and not _is_same_thread(gauge.thread, wanted):
        return f"{gauge.number} is made for {gauge.thread or 'no thread named'}; the part is {wanted}."
    if characteristic.member is not None and gauge.member not in (None, characteristic.member):
        return f"{gauge.number} is the {gauge.member} member; {characteristic.number} needs {characteristic.member}."
    return ""


def _is_same_thread(made_for: str | None, wanted: str) -> bool:
    if made_for is None:
        return False
    try:
        return is_same_thread(made_for, wanted)
    except ThreadNotUnderstood:
        return made_for.split() == wanted.split()


def misfit_wires(day: Day) -> tuple[Flags, "_Words"]:
    """Return the readings that the plan wants over wires whose wires are none, no wires, or made for another pitch."""
    by_plan = np.array([*(c.rule == "over wires" for c in day.plans.characteristics), False], bool)
    concerned = by_plan[day.plans.characteristic_row]
    firsts, seconds, place = distinct_pairs(day.values.master_row, day.plans.characteristic_row)
    said = [
        _wire_words(day, master, characteristic)
        for master, characteristic in zip(firsts.tolist(), seconds.tolist(), strict=True)
    ]
    return concerned & np.array([bool(text) for text in said], bool)[place], _Words(said, place)


def _wire_words(day: Day, master: int, characteristic: int) -> str:
    if master < 0:
        return "No wire set of the list of masters was scanned."
    if characteristic < 0:
        return ""
    return wires_misfit(day.values.masters[master], day.plans.characteristics[characteristic])


RULES: Final = (
    Rule("X15", coarse),
    Rule("X16", too_coarse),
    Rule("X17", outside_range),
    Rule("X18", wrong_kind),
    Rule("X19", wrong_thread),
    Rule("X20", finer_than_gauge),
)
