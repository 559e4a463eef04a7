"""Thread gauges past their wear check, and gauges calibrated in a room or after a soak their procedure does not allow.

Owns how uses are counted: one for each reading that stands, since the last calibration that was left good.
"""

from collections.abc import Callable, Mapping
from decimal import Decimal

import numpy as np

from consolidator.frame import Day
from consolidator.frame.asof import Steps
from consolidator.frame.coded import Ints
from consolidator.frame.words import local_days, say_time
from consolidator.frame.world import ActAt, text_ms
from consolidator.upkeep.checks import Matched
from kiosk.pages.desk import Calibration

Uses = Callable[[Mapping[str, int], int], Mapping[str, int]]
"""Counts the readings of earlier days: for each gauge since a moment (UTC ms), before another, by the kiosk's clock."""
_NEVER = -(2**61)


def worn(day: Day, uses_before: Uses | None = None, *, from_ms: int = _NEVER) -> Matched:
    """Thread gauges used longer, or more often, than N14 since they were last calibrated and left good.

    The night's own readings are counted; `uses_before` adds those of earlier days, made before `from_ms`.
    """
    is_thread = np.array([*(gauge.kind.is_thread_gauge for gauge in day.gauges.rows), False], bool)[day.gauge_row]
    numbers = {gauge.number for gauge in day.gauges.rows if gauge.kind.is_thread_gauge}
    # A use before the gauge was enrolled wore it as well.
    is_use = np.array([*(label in numbers for label in day.pages.gauge.labels), False], bool)[day.pages.gauge.codes]
    rows = np.flatnonzero(is_use & (day.replaced_by < 0))
    steps, done = _left_good(day)
    place = steps.at(day.pages.gauge.codes[rows], day.ms[rows])
    since = np.array([*done, _NEVER], np.int64)[place]
    uses = _counted(day, rows, since)
    if uses_before is not None and len(rows):
        uses = uses + _earlier(day, rows, since, uses_before, from_ms)
    days = np.where(place >= 0, _days(day, day.ms[rows]) - _days(day, np.where(place >= 0, since, day.ms[rows])), 0)
    most_uses, most_days = (day.world.numbers.per_row(name, day.ms[rows]) for name in ("wear_uses", "wear_days"))
    mask, count, age, begun = (np.zeros(len(day.pages), np.int64) for _ in range(4))
    mask[rows] = (uses > most_uses) | (days > most_days)
    count[rows], age[rows], begun[rows] = uses, days, since

    def tell(row: int) -> str:
        limit = day.world.numbers.at(int(day.ms[row]))
        checked = "never" if begun[row] == _NEVER else say_time(int(begun[row]), day.world.zone, with_year=True)
        return (
            f"{day.pages.gauge.at(row)}, wear-checked {checked}, was used for {int(count[row])} readings in "
            f"{int(age[row])} days (N14: {limit.wear_uses} uses or {limit.wear_days} days)."
        )

    return Matched(mask.astype(bool) & is_thread, tell)


def off_temperature(day: Day) -> Matched:
    """Readings with a gauge whose last calibration was made in a room, or after a soak, outside its procedure."""
    told = [(act, done) for act, done in day.world.acts.of(Calibration) if done.stage != "as-found"]
    told.sort(key=lambda each: (text_ms(each[1].done_at), each[0].sort_key))
    codes = [day.pages.gauge.code_of(done.gauge) for _, done in told]
    steps = Steps.of(codes, [text_ms(done.done_at) for _, done in told])
    place = steps.at(day.pages.gauge.codes, day.ms)
    why = [why_off_temperature(done) for _, done in told]
    mask = np.array([*(bool(each) for each in why), False], bool)[place]

    def tell(row: int) -> str:
        at = int(place[row])
        return say_off_temperature(day, *told[at])

    return Matched(mask, tell)


def say_off_temperature(day: Day, act: ActAt, done: Calibration) -> str:
    """Say of a calibration in which way it was off its procedure."""
    at = say_time(text_ms(done.done_at), day.world.zone, with_year=True)
    return f"{done.gauge} was calibrated {at} by {done.procedure}: {why_off_temperature(done)} ({act.ref})."


def why_off_temperature(done: Calibration) -> str:
    """Say how room or soak was outside the procedure, as the page of the calibration holds both; empty when not."""
    why = []
    if done.room_temperature is not None:
        room = Decimal(done.room_temperature)
        is_cold = done.room_low is not None and room < Decimal(done.room_low)
        is_warm = done.room_high is not None and room > Decimal(done.room_high)
        if is_cold or is_warm:
            allowed = f"{done.room_low or '…'} to {done.room_high or '…'} {done.temperature_unit}"
            why.append(f"the room was at {done.room_temperature}, {allowed} is allowed")
    if done.soak_min is not None and done.soak_least_min is not None and done.soak_min < done.soak_least_min:
        why.append(f"it soaked {done.soak_min} min of {done.soak_least_min} min")
    return "; ".join(why)


def _left_good(day: Day) -> tuple[Steps, list[int]]:
    """Return when each gauge was calibrated and left good, known from its page on."""
    told = [
        (row.gauge, text_ms(row.done_at), text_ms(row.done_at))
        for row in day.world.lists.calibrations
        if row.as_left == "Good"
    ]
    for act, done in day.world.acts.of(Calibration):
        if done.stage != "as-found" and done.as_left == "Good":
            told.append((done.gauge, text_ms(done.done_at), max(act.at_ms, text_ms(done.done_at))))
    told.sort(key=lambda each: each[1:])
    codes = [day.pages.gauge.code_of(gauge) for gauge, _, _ in told]
    return Steps.of(codes, [from_ms for _, _, from_ms in told]), [done_ms for _, done_ms, _ in told]


def _counted(day: Day, rows: Ints, since_ms: Ints) -> Ints:
    """Return for each reading how many of the night were made with its gauge since a moment, itself included."""
    codes, ms = day.pages.gauge.codes[rows], day.ms[rows]
    pages = day.pages
    order = np.lexsort((pages.series.codes[rows], pages.number[rows], ms, codes))
    counted = np.zeros(len(rows), np.int64)
    changes = np.flatnonzero(codes[order][1:] != codes[order][:-1]) + 1
    for mine in np.split(order, changes):
        before = np.searchsorted(ms[mine], since_ms[mine], side="right")
        # Two pages with one number count for each other.
        ends = np.ones(len(mine), bool)
        same = [column[mine] for column in (ms, pages.number[rows], pages.series.codes[rows])]
        ends[:-1] = np.logical_or.reduce([column[1:] != column[:-1] for column in same])
        last = np.minimum.accumulate(np.where(ends, np.arange(len(mine)), len(mine))[::-1])[::-1]
        counted[mine] = last + 1 - before
    return counted


def _earlier(day: Day, rows: Ints, since_ms: Ints, uses_before: Uses, from_ms: int) -> Ints:
    """Return for each reading the uses of its gauge on earlier days since its calibration."""
    gauge = day.pages.gauge
    is_before = np.flatnonzero(since_ms < from_ms)
    codes, first = np.unique(gauge.codes[rows[is_before]], return_index=True)
    wanted = {gauge.at_code(int(code)): int(since_ms[is_before[at]]) for code, at in zip(codes, first, strict=True)}
    found = uses_before(wanted, from_ms) if wanted else {}
    counts = np.array([*(found.get(label, 0) for label in gauge.labels), 0], np.int64)
    return np.asarray(np.where(since_ms < from_ms, counts[gauge.codes[rows]], 0))


def _days(day: Day, ms: Ints) -> Ints:
    return local_days(ms, day.world.zone)
