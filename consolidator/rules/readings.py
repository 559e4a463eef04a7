"""Rules about the figure itself and how it was taken: X23 to X25, X33 to X38.

Knows nothing of gauges' fitness, lots' states or people.
"""

from collections.abc import Callable
from decimal import Decimal
from functools import partial
from operator import attrgetter
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Coded, Flags, Ints, first_rows, joined_key
from consolidator.frame.verdicts import IN, OUT, REJECT, bounds_of
from consolidator.frame.words import say_time
from consolidator.production.proofs import has_failed, plan_of
from consolidator.production.trends import IN_A_ROW, Heap, drifting, piled_up
from consolidator.rules.fit import is_fine
from consolidator.rules.found import Found, Rule, Story, found, found_causes, found_one_cause, rows_of, say_piece
from kiosk.lists import Characteristic
from kiosk.lists.words import SHORTEST_CREDIBLE_S, CharacteristicKind
from kiosk.pages.desk import TestRecord
from kiosk.pages.words import KeyedAs, Source

_NANO = 1_000_000_000


def out_of_tolerance(day: Day) -> list[Found]:
    """X23: the verdict is bad; A when the lot is at final, closed or shipped."""
    bad = np.isin(day.verdicts.verdict, [OUT, REJECT])

    def tell(row: int) -> str:
        characteristic = day.plans.characteristics[int(day.plans.characteristic_row[row])]
        return f"{_said(day, row)} {_past(day, row, characteristic)} ({say_piece(day, row)})."

    rows = rows_of(day, bad)
    return found("X23", rows, day.pages.lot, tell, urgency=_is_late_in_route(day, rows))


def failed_test(day: Day) -> list[Story]:
    """X23: a test record that is bad by its word or its figures; a fatigue proof is its set-up's (X56)."""
    stories = []
    for act, record in day.world.acts.of(TestRecord):
        is_here = day.world.start_ms <= act.at_ms < day.world.end_ms and record.what != "fatigue"
        if is_here and has_failed(plan_of(day.plans.characteristics, record), record):
            results = ", ".join(p.result or str(p.verdict) for p in record.pieces)
            sentence = (
                f"Test record {record.number} of {record.lot}, {record.what} {record.characteristic}: {results} "
                f"{record.unit}, not in tolerance, {say_time(act.at_ms, day.world.zone)}."
            )
            urgency = "A" if record.lot in day.lots.at_final | day.lots.closed | day.lots.shipped else None
            lot = (record.lot,)
            stories.append(
                Story(
                    "X23", record.lot, sentence, act.at_ms,
                    lots=lot, holds=lot, pages=(act.ref,), urgency=urgency, pieces=len(record.pieces),
                )
            )  # fmt: skip
    return stories


def over_shop_limit(day: Day) -> list[Found]:
    """X24: inside the drawing's limit and beyond the shop's own."""
    shop = _per_characteristic(day, lambda c: c.shop_limit)
    is_upper = np.array([*(c.kind is CharacteristicKind.UPPER for c in day.plans.characteristics), False], bool)
    is_lower = np.array([*(c.kind is CharacteristicKind.LOWER for c in day.plans.characteristics), False], bool)
    row = day.plans.characteristic_row
    above = is_upper[row] & ((day.values.nano > shop[0]) | ((day.values.nano == shop[0]) & day.values.is_cut))
    below = is_lower[row] & (day.values.nano < shop[0])
    over = (day.verdicts.verdict == IN) & shop[1] & (above | below)

    def tell(at: int) -> str:
        characteristic = day.plans.characteristics[int(row[at])]
        return f"{_said(day, at)} is beyond the shop's own limit {characteristic.shop_limit} ({say_piece(day, at)})."

    return found("X24", rows_of(day, over), day.pages.lot, tell)


def close_to_limit(day: Day) -> list[Found]:
    """X25: in tolerance and nearer to a limit than the plan's guard band."""
    band, has_band = _per_characteristic(day, lambda c: c.guard_band)
    close = np.zeros(len(day.pages), bool)
    for side in ("lower", "upper"):
        limit, has_limit = _per_characteristic(day, attrgetter(side))
        close |= has_limit & (np.abs(day.values.nano - limit) < band)
    rows = rows_of(day, close & has_band & (day.verdicts.verdict == IN))

    def tell(row: int) -> str:
        characteristic = day.plans.characteristics[int(day.plans.characteristic_row[row])]
        return f"{_said(day, row)} is nearer to a limit than the guard band {characteristic.guard_band}."

    return found("X25", rows, day.pages.lot, tell)


def double_tap(day: Day) -> list[Found]:
    """X33: the same piece, characteristic, lot and value at one kiosk within N8 of the one before."""
    pages = day.pages
    rows = np.flatnonzero((day.replaced_by < 0) & ~pages.source.is_one_of(Source.PAPER))
    columns = [
        _from_zero(c, rows) for c in (pages.series, pages.lot, pages.operation, pages.characteristic, pages.position)
    ]
    key = joined_key([*columns, pages.piece[rows], _value_key(day)[rows]])
    order = np.lexsort((pages.number[rows], day.ms[rows], key))
    now, before = order[1:], order[:-1]
    gap = day.ms[rows[now]] - day.ms[rows[before]]
    allowed = day.world.numbers.per_row("double_tap_s", day.ms[rows[now]], times=1000)
    is_twice = (key[now] == key[before]) & (gap <= allowed)
    mask, apart = np.zeros(len(pages), bool), np.zeros(len(pages), np.int64)
    mask[rows[now[is_twice]]] = True
    apart[rows[now]] = gap

    def tell(row: int) -> str:
        seconds = format(int(apart[row]) / 1000, ".1f")
        return f"{pages.keyed.at(row)} was kept twice for {say_piece(day, row)}, {seconds} s apart."

    return found("X33", rows_of(day, mask), pages.lot, tell)


def one_number_twice(day: Day) -> list[Found]:
    """X34: two different pages bear one number of one kiosk."""

    def tell(row: int) -> str:
        return f"Two different pages bear the number {day.pages.ref(row)}."

    return found("X34", rows_of(day, day.is_conflict), day.pages.series, tell)


def too_alike(day: Day) -> list[Found]:
    """X35: N12 or more identical readings in a row of one characteristic at one station."""
    fine = is_fine(day)
    key = joined_key(
        [_from_zero(c) for c in (day.pages.station, day.pages.part, day.pages.operation, day.pages.characteristic)]
    )
    rows = np.flatnonzero(day.values.is_figure & (day.replaced_by < 0) & (key >= 0))
    rows = rows[np.lexsort((day.pages.number[rows], day.ms[rows], key[rows]))]
    mask, length = np.zeros(len(day.pages), bool), np.zeros(len(day.pages), np.int64)
    if len(rows):
        starts = np.ones(len(rows), bool)
        nano = day.values.nano
        starts[1:] = (key[rows[1:]] != key[rows[:-1]]) | (nano[rows[1:]] != nano[rows[:-1]])
        run = np.cumsum(starts) - 1
        length[rows] = np.bincount(run)[run]
        mask[rows] = True
    needed = day.world.numbers.per_row("alike_in_a_row", day.ms)

    def tell(row: int) -> str:
        where = f"{day.pages.characteristic.at(row)} at {day.pages.station.at(row)}"
        return f"{int(length[row])} readings of {where} in a row are {_said(day, row)} (from {int(needed[row])} on)."

    return found("X35", rows_of(day, mask & fine & (length >= needed)), day.pages.lot, tell)


def faster_than_hands(day: Day) -> list[Found]:
    """X37: N13 pieces in a row, each sooner after the one before than hands can measure with that kind of gauge."""
    pages = day.pages
    shortest = np.array([*(SHORTEST_CREDIBLE_S.get(gauge.kind, 0) * 1000 for gauge in day.gauges.rows), 0], np.int64)[
        day.gauge_row
    ]
    rows = np.flatnonzero((shortest > 0) & (day.replaced_by < 0) & pages.source.is_one_of(Source.KEYED))
    key = joined_key([_from_zero(c, rows) for c in (pages.series, pages.lot, pages.characteristic, pages.gauge)])
    order = np.lexsort((pages.number[rows], day.ms[rows], key))
    rows, key = rows[order], key[order]
    new_piece = np.ones(len(rows), bool)
    new_piece[1:] = (key[1:] != key[:-1]) | (pages.piece[rows[1:]] != pages.piece[rows[:-1]])
    new_piece[1:] |= pages.sample[rows[1:]] != pages.sample[rows[:-1]]
    rows, key = rows[new_piece], key[new_piece]
    gap = np.zeros(len(rows), np.int64)
    gap[1:] = day.ms[rows[1:]] - day.ms[rows[:-1]]
    fast = np.zeros(len(rows), bool)
    fast[1:] = (key[1:] == key[:-1]) & (gap[1:] < shortest[rows[1:]])
    run = np.cumsum(~fast)
    counted = np.bincount(run, weights=fast).astype(np.int64)[run] if len(rows) else run
    mask, apart = np.zeros(len(pages), bool), np.zeros(len(pages), np.int64)
    needed = day.world.numbers.per_row("faster_in_a_row", day.ms[rows])
    mask[rows[fast & (counted >= needed)]] = True
    apart[rows] = gap

    def tell(row: int) -> str:
        took, least = format(int(apart[row]) / 1000, ".1f"), int(shortest[row]) // 1000
        return f"{say_piece(day, row)} came {took} s after the piece before; {least} s is the shortest credible time."

    return found("X37", rows_of(day, mask), pages.lot, tell)


def heaped_at_limit(day: Day) -> list[Found]:
    """X36: of the last 200 readings of a characteristic at a station too many lie just inside a limit, none outside."""
    findings = list[Found]()
    for heap in piled_up(day):
        mask = np.zeros(len(day.pages), bool)
        mask[heap.rows] = True
        rows = rows_of(day, mask)
        findings += found_one_cause("X36", rows, _place(day, heap.last_row), partial(_say_heap, day, heap))
    return findings


def drifts(day: Day) -> list[Found]:
    """X38: seven or more sample averages of a characteristic at a station in a row rise, or fall."""
    run = drifting(day).run

    def tell(row: int) -> str:
        way = "rising" if run[row] > 0 else "falling"
        return f"{abs(int(run[row]))} sample averages of {_place(day, row)} in a row are {way} (from {IN_A_ROW} on)."

    rows = rows_of(day, np.abs(run) >= IN_A_ROW)
    return found_causes("X38", rows.tolist(), [_place(day, row) for row in rows.tolist()], tell)


def _place(day: Day, row: int) -> str:
    return f"{day.pages.part.at(row)} {day.pages.characteristic.at(row)} at {day.pages.station.at(row)}"


def _say_heap(day: Day, heap: Heap, row: int) -> str:
    unit = day.plans.characteristics[int(day.plans.characteristic_row[heap.last_row])].unit
    return (
        f"{len(heap.rows)} of the last {heap.looked_at} readings of {_place(day, row)} lie in the cell just inside "
        f"{heap.limit} {unit}, {float(heap.next_two):g} on average in the next two, none outside."
    )


def _said(day: Day, row: int) -> str:
    text = day.values.text.at(row)
    is_gauged = day.pages.keyed_as.at(row) in (KeyedAs.ACCEPT_REJECT, KeyedAs.TURNS)
    return f"{text} {day.pages.unit.at(row)}" if text and not is_gauged else day.pages.keyed.at(row)


def _past(day: Day, row: int, characteristic: Characteristic) -> str:
    """Say which limit a bad reading is past."""
    if characteristic.kind is CharacteristicKind.TURNS and day.values.is_figure[row]:
        return f"turns entered, not more than {characteristic.turns_allowed} allowed"
    bounds = bounds_of(characteristic)
    if bounds is None or not day.values.is_figure[row]:
        return "was gauged"
    unit = characteristic.unit
    if bounds.lower is not None and int(day.values.nano[row]) < bounds.lower * _NANO:
        return f"is under the lower limit {characteristic.lower} {unit}"
    return f"is over the upper limit {characteristic.upper} {unit}"


def _is_late_in_route(day: Day, rows: Ints) -> Flags:
    """Tell which readings' lots are at final, closed or shipped."""
    final = day.lots.at_final | day.lots.closed | day.lots.shipped
    by_lot = np.array([*(lot in final for lot in day.pages.lot.labels), False], bool)[day.pages.lot.codes[rows]]
    is_final = np.array([*(plan.is_final for plan in day.plans.plans), False], bool)
    at_final = np.zeros(len(day.pages.lot.labels) + 1, bool)
    at_final[day.pages.lot.codes[is_final[day.plans.plan_row]]] = True
    at_final[-1] = False
    return np.asarray(by_lot | at_final[day.pages.lot.codes[rows]])


def _per_characteristic(day: Day, of: Callable[[Characteristic], str | None]) -> tuple[Ints, Flags]:
    """Return a figure of each reading's characteristic in billionths, and whether it has one."""
    figures, given = [], []
    for characteristic in day.plans.characteristics:
        text = of(characteristic)
        given.append(text is not None)
        figures.append(0 if text is None else int(Decimal(text).scaleb(9)))
    table, has = np.array([*figures, 0], np.int64), np.array([*given, False], bool)
    row = day.plans.characteristic_row
    return table[row], has[row]


def _from_zero(column: Coded, rows: Ints | None = None) -> Ints:
    codes = column.codes if rows is None else column.codes[rows]
    return codes.astype(np.int64) + 1


def _value_key(day: Day) -> Ints:
    """Return a key that is equal for equal values: the figure where there is one, else what was keyed."""
    combined = day.values.combined
    _, ranked = np.unique(day.values.nano[first_rows(combined)], return_inverse=True)
    return np.where(day.values.is_figure, 2 * ranked.astype(np.int64)[combined] + 1, 2 * _from_zero(day.pages.keyed))


RULES: Final = (
    Rule("X23", out_of_tolerance),
    Rule("X23", failed_test),
    Rule("X24", over_shop_limit),
    Rule("X25", close_to_limit),
    Rule("X33", double_tap),
    Rule("X34", one_number_twice),
    Rule("X35", too_alike),
    Rule("X36", heaped_at_limit),
    Rule("X37", faster_than_hands),
    Rule("X38", drifts),
)
