"""Rules about a gauge's own state, checks, wear, place and due date: X01-X06, X09-X14, X21, X22, X60, X81-X83.

Whatever is missing behind a number at its effective time makes it no evidence; the number may still accuse.
"""

from datetime import date
from functools import partial
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.coded import Ints
from consolidator.frame.words import say_date, say_elapsed, say_time
from consolidator.frame.world import moment_of, ms_of, text_ms
from consolidator.rules.found import Found, Rule, Story, found, named_wrong, nearest_elsewhere, rows_of
from consolidator.rules.kinds import Effect
from consolidator.upkeep.checks import (
    Matched,
    day_check_missing,
    zero_check_failed,
    zero_check_late,
    zero_check_missing,
)
from consolidator.upkeep.doubt import Doubts, Trouble, found_out_after
from consolidator.upkeep.due_list import late_extensions, not_brought_in
from consolidator.upkeep.masters import set_on_unsound
from consolidator.upkeep.wear import Uses, off_temperature, say_off_temperature, why_off_temperature, worn
from kiosk.lists import Gauge
from kiosk.lists.words import CharacteristicKind, GaugeState
from kiosk.pages.desk import Calibration
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident, GaugeMovement, GaugeScan
from kiosk.pages.words import KeyedAs
from kiosk.times import shift_bounds_utc, shift_of

_MEASURED: Final = (
    CharacteristicKind.TWO_SIDED,
    CharacteristicKind.UPPER,
    CharacteristicKind.LOWER,
    CharacteristicKind.TURNS,
)
_UNSEEN_MS: Final = 14 * 24 * 3_600_000
"""X22: a gauge nobody scanned or roll-called for 14 days."""


def past_due(day: Day) -> list[Found]:
    """X01: the effective time is at or past the end of the due date in force then."""
    place, ends, dates = _due(day)

    def tell(row: int) -> str:
        due = dates[int(place[row])]
        assert due is not None
        read = say_time(int(day.ms[row]), day.world.zone)
        return f"{day.pages.gauge.at(row)} was due {say_date(due)} {_due_clock(day, row)}, read {read}."

    return found("X01", rows_of(day, (place >= 0) & (day.ms >= ends)), day.pages.gauge, tell)


def due_this_shift(day: Day) -> list[Found]:
    """X02: the due date ends inside the shift in which the reading was taken."""
    place, ends, dates = _due(day)
    is_near = (place >= 0) & (day.ms < ends) & (ends - day.ms <= 12 * 3_600_000)
    rows = rows_of(day, is_near)
    within = np.array([ends[row] <= _shift_end(day, int(day.ms[row])) for row in rows.tolist()], bool)

    def tell(row: int) -> str:
        due = dates[int(place[row])]
        assert due is not None
        read = say_time(int(day.ms[row]), day.world.zone)
        return f"{day.pages.gauge.at(row)} is due {say_date(due)} {_due_clock(day, row)}, read {read}."

    return found("X02", rows[within] if len(rows) else rows, day.pages.gauge, tell)


def not_in_register(day: Day) -> list[Found]:
    """X03: no gauge of that number stood in the register, or none was named where one is needed; also a master."""
    needs = np.array([*(c.kind in _MEASURED or bool(c.gauge_kinds) for c in day.plans.characteristics), True], bool)
    is_named = day.pages.gauge.is_given
    unknown = (day.gauge_row < 0) & (is_named | needs[day.plans.characteristic_row])
    from_master = day.pages.keyed_as.is_one_of(KeyedAs.DEVIATION, KeyedAs.DIVISIONS)
    no_master = from_master & day.values.is_master_unknown

    def tell(row: int) -> str:
        if not unknown[row]:
            master = day.pages.master.at(row) or "the setting master"
            return f"{master}, on which {day.pages.gauge.at(row)} was set, is not in the list of masters."
        number = day.pages.gauge.at(row)
        return f"{number} is not in the register." if number else "No gauge number stands with the reading."

    return found("X03", rows_of(day, unknown | no_master), day.pages.gauge, tell)


def out_of_use(day: Day) -> list[Found]:
    """X04: at the effective time the gauge was not in use."""
    steps, states, sources = day.gauges.states
    place = steps.at(day.pages.gauge.codes, day.ms)
    is_out = np.array([*(state != GaugeState.IN_USE for state in states), False], bool)[place]

    def tell(row: int) -> str:
        at = int(place[row])
        read = say_time(int(day.ms[row]), day.world.zone)
        return f"{day.pages.gauge.at(row)} was {str(states[at]).lower()} ({sources[at]}), read {read}."

    return found("X04", rows_of(day, is_out & (day.gauge_row >= 0)), day.pages.gauge, tell)


def after_incident(day: Day) -> list[Found]:
    """X05: something befell the gauge before the reading and no good check came between."""
    steps, acts = day.gauges.incidents
    place = steps.at(day.pages.gauge.codes, day.ms)
    is_open = np.array([*(act is not None for act in acts), False], bool)[place]

    def tell(row: int) -> str:
        act = acts[int(place[row])]
        assert act is not None and isinstance(act.page.act, GaugeIncident)
        since = say_time(act.at_ms, day.world.zone)
        read = say_time(int(day.ms[row]), day.world.zone)
        return f"{day.pages.gauge.at(row)} was reported {act.page.act.what} {since}, read {read} before a good check."

    return found("X05", rows_of(day, is_open), day.pages.gauge, tell)


def in_doubt(day: Day) -> list[Found]:
    """X06: between the last time the gauge was shown good and a drop or failed check; holds what is not shipped."""
    doubts, findings = Doubts(day), list[Found]()
    for trouble, rows in doubts.of_night():
        holds = np.zeros(len(day.pages), bool)
        if found_out_after(day.world, trouble.gauge, trouble.act) is None:
            gone = np.array([*(lot in day.lots.gone for lot in day.pages.lot.labels), False], bool)
            holds[rows] = ~gone[day.pages.lot.codes[rows]]
        findings += found("X06", rows, day.pages.gauge, partial(_say_doubt, doubts, trouble, rows), holds=holds)
    return findings


def set_on_unsound_master(day: Day) -> list[Found]:
    """X09: set or calibrated with a master that was past due or not in use at that time."""
    return _matching("X09", day, set_on_unsound(day))


def no_zero_check(day: Day) -> list[Found]:
    """X10: a comparator without a zero check by who measured, in that shift, at that station, before the reading."""
    return _matching("X10", day, zero_check_missing(day))


def late_zero_check(day: Day) -> list[Found]:
    """X11: a comparator last zero-checked good longer ago than N7."""
    return _matching("X11", day, zero_check_late(day))


def failed_zero_check(day: Day) -> list[Found]:
    """X12: after a failed zero check and before a good one."""
    return _matching("X12", day, zero_check_failed(day))


def no_day_check(day: Day) -> list[Found]:
    """X60: a tester or frame without a good day check in its production day, or after a failed one."""
    return _matching("X60", day, day_check_missing(day))


def away_from_home(day: Day) -> list[Found]:
    """X13: used at a station that is not its home and to which it was not issued."""
    home = np.array(
        [*(-2 if g.home_station is None else day.pages.station.code_of(g.home_station) for g in day.gauges.rows), -2],
        np.int64,
    )[day.gauge_row]
    has_home = np.array([*(g.home_station is not None for g in day.gauges.rows), False], bool)[day.gauge_row]
    steps, stations = day.gauges.custody
    issued = np.array([*(day.pages.station.code_of(s) if s else -3 for s in stations), -3], np.int64)
    is_issued = issued[steps.at(day.pages.gauge.codes, day.ms)] == day.pages.station.codes
    away = has_home & (home != day.pages.station.codes) & ~is_issued

    def tell(row: int) -> str:
        gauge = day.gauge_at(row)
        assert gauge is not None
        return (
            f"{gauge.number} belongs to {gauge.home_station}, scanned at {day.pages.station.at(row)}, not issued there."
        )

    return found("X13", rows_of(day, away), day.pages.gauge, tell)


def in_two_places(day: Day) -> list[Found]:
    """X14: the same gauge at two stations within N9; what a closing names as the wrong one is blocked."""
    other, gap = nearest_elsewhere(day, day.pages.gauge.codes, day.pages.station.codes)
    allowed = day.world.numbers.per_row("gauge_two_places_s", day.ms, times=1000)
    two = (other >= 0) & (gap <= allowed)

    def tell(row: int) -> str:
        at, before = int(other[row]), say_elapsed(int(gap[row]))
        limit = f"{int(allowed[row]) // 1000} s"
        stations = f"{day.pages.station.at(row)} and {day.pages.station.at(at)}"
        return f"{day.pages.gauge.at(row)} was read at {stations} {before} apart (within {limit})."

    wrong = named_wrong(day, "X14")
    return [
        *found("X14", rows_of(day, two & ~wrong), day.pages.gauge, tell),
        *found("X14", rows_of(day, two & wrong), day.pages.gauge, tell, effect=Effect.BLOCKED),
    ]


def not_seen(day: Day) -> list[Story]:
    """X22: past due before the day began and neither brought in nor used since, or not seen for 14 days."""
    seen, first_ms = _last_seen(day)
    stories = []
    moment = moment_of(day.world.end_ms - 1)
    for number in sorted({gauge.number for gauge in day.world.lists.gauges}):
        gauge = day.world.lists.gauge(number, moment)
        if gauge is None or day.gauges.state_at(number, day.world.end_ms - 1) != GaugeState.IN_USE:
            continue
        words = _unseen_words(day, gauge, seen.get(number), first_ms)
        if words:
            stories.append(Story("X22", number, words, day.world.start_ms))
    return stories


def past_wear_check(day: Day) -> list[Found]:
    """X21: a thread gauge used more often or longer than N14 since its wear check, by the night's own pages."""
    return _matching("X21", day, worn(day))


def wear_rule(uses_before: Uses, *, held_ms: int) -> Rule:
    """Return X21 with the uses of days before the night's pages; these reach `held_ms` back from the day's start."""
    return Rule("X21", lambda day: _matching("X21", day, worn(day, uses_before, from_ms=day.world.start_ms - held_ms)))


def calibrated_off_temperature(day: Day) -> list[Found]:
    """X81: the last calibration before the reading was made in a room, or after a soak, outside its procedure."""
    return _matching("X81", day, off_temperature(day))


def calibrations_off_temperature(day: Day) -> list[Story]:
    """X81 on the day of the calibration, used since or not."""
    return [
        Story("X81", done.gauge, say_off_temperature(day, act, done), act.at_ms, pages=(act.ref,))
        for act, done in day.world.acts.of(Calibration)
        if day.world.start_ms <= act.at_ms < day.world.end_ms and why_off_temperature(done)
    ]


def due_list_not_worked(day: Day) -> list[Story]:
    """X82: a due date ended in the day while the gauge was in use and had not been brought in."""
    return [Story("X82", told.gauge, told.words, told.at_ms) for told in not_brought_in(day)]


def extension_signed_late(day: Day) -> list[Story]:
    """X83: an extension signed after the due date ended, or dated before it was signed."""
    return [Story("X83", told.gauge, told.words, told.at_ms, pages=told.pages) for told in late_extensions(day)]


def _matching(number: str, day: Day, matched: Matched) -> list[Found]:
    return found(number, rows_of(day, matched.mask), day.pages.gauge, matched.tell)


def _say_doubt(doubts: Doubts, trouble: Trouble, rows: Ints, row: int) -> str:
    return doubts.say(trouble, row, rows)


def _due(day: Day) -> tuple[Ints, Ints, list[date | None]]:
    """Return for each reading which due date stood, when it ends, and the dates."""
    steps, ends, dates = day.gauges.dues
    place = steps.at(day.pages.gauge.codes, day.ms)
    place = np.where(day.gauge_row >= 0, place, -1)
    return place, np.append(ends, np.int64(2**61))[place], dates


def _due_clock(day: Day, row: int) -> str:
    hours = day.world.numbers.at(int(day.ms[row])).due_until_h
    whole, minutes = divmod(int(hours * 60), 60)
    return f"{whole:02d}:{minutes:02d}"


def _shift_end(day: Day, ms: int) -> int:
    production_day, number = shift_of(moment_of(ms), day.world.zone)
    return ms_of(shift_bounds_utc(production_day, number, day.world.zone)[1])


def _last_seen(day: Day) -> tuple[dict[str, int], int]:
    """Return when each gauge was last seen, and how far back the pages reach."""
    seen: dict[str, int] = {}
    acts = day.world.acts

    def note(number: str, ms: int) -> None:
        if ms < day.world.end_ms:
            seen[number] = max(seen.get(number, ms), ms)

    for act, scan in acts.of(GaugeScan):
        note(scan.gauge, act.at_ms)
    for act, check in acts.of(Check):
        note(check.gauge, act.at_ms)
    for act, done in acts.of(Calibration):
        note(done.gauge, max(act.at_ms, text_ms(done.done_at)))
    for act, move in acts.of(GaugeMovement):
        if move.movement != "not found":
            note(move.gauge, act.at_ms)
    used = np.full(len(day.pages.gauge.labels) + 1, -(2**61), np.int64)
    is_used = day.pages.gauge.is_given & (day.ms < day.world.end_ms)
    np.maximum.at(used, day.pages.gauge.codes[is_used], day.ms[is_used])
    for label, last_ms in zip(day.pages.gauge.labels, used.tolist(), strict=False):
        if last_ms > -(2**61):
            note(label, last_ms)
    first = min((act.at_ms for act in acts.all), default=day.world.end_ms)
    return seen, first


def _unseen_words(day: Day, gauge: Gauge, seen_ms: int | None, first_ms: int) -> str:
    due_ms = day.gauges.due_end_at(gauge.number, day.world.end_ms - 1)
    seen = "never" if seen_ms is None else say_time(seen_ms, day.world.zone)
    if due_ms is not None and due_ms <= day.world.start_ms and (seen_ms is None or seen_ms < due_ms):
        return (
            f"{gauge.number} was due until {say_time(due_ms, day.world.zone)} and was not brought in; last seen {seen}."
        )
    known_since = max(first_ms, -(2**61) if gauge.in_force_from is None else text_ms(gauge.in_force_from))
    last = max(known_since, seen_ms or known_since)
    if day.world.end_ms - last >= _UNSEEN_MS:
        return f"{gauge.number} was not scanned or roll-called for 14 days; last seen {seen}."
    return ""


RULES: Final = (
    Rule("X01", past_due),
    Rule("X02", due_this_shift),
    Rule("X03", not_in_register),
    Rule("X04", out_of_use),
    Rule("X05", after_incident),
    Rule("X06", in_doubt),
    Rule("X09", set_on_unsound_master),
    Rule("X10", no_zero_check),
    Rule("X11", late_zero_check),
    Rule("X12", failed_zero_check),
    Rule("X13", away_from_home),
    Rule("X14", in_two_places),
    Rule("X22", not_seen),
    Rule("X21", past_wear_check),
    Rule("X60", no_day_check),
    Rule("X81", calibrated_off_temperature),
    Rule("X81", calibrations_off_temperature),
    Rule("X82", due_list_not_worked),
    Rule("X83", extension_signed_late),
)
