"""Rules about the person behind a reading or a signature: X65 to X69.

A qualification counts at the minute of the act; a countersign only inside the sample it is for.
Causes name stations, never people.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final

import numpy as np

from consolidator.authority import deed_seconded, readings_about
from consolidator.frame import Day
from consolidator.frame.coded import Flags, Ints, first_rows, joined_key
from consolidator.frame.day import rows_of_page
from consolidator.frame.words import local_days, say_date, say_elapsed, say_time
from consolidator.frame.world import ActAt, moment_of, ms_of, text_ms
from consolidator.rules.found import Found, Rule, Story, found, found_causes, named_wrong, nearest_elsewhere, rows_of
from consolidator.rules.kinds import Effect
from consolidator.upkeep.order import shift_id, shifts_of
from kiosk.lists import Qualification
from kiosk.lists.words import Level
from kiosk.pages.desk import SecondSignature
from kiosk.pages.readings import Correction, Countersign, SampleEnd
from kiosk.pages.station import Refusal
from kiosk.pages.words import SampleKind, Source

MEASURING: Final = frozenset({Level.OPERATOR, Level.TRAINER, Level.INSPECTOR, Level.FIRST_PIECE, Level.CALIBRATOR})
"""Levels that may take readings alone."""
_NEVER_LAPSED: Final = (SampleKind.FIRST, SampleKind.TEST, SampleKind.ACCEPTANCE)
_EPOCH: Final = date(1970, 1, 1)
_WAITS_MS: Final = 30 * 60_000
_FIT, _LAPSED, _NEVER = 0, 1, 2


@dataclass(frozen=True)
class _Fitness:
    """For each reading: fit, lapsed or never qualified; and the last day of a lapsed qualification (days of 1970)."""

    state: Ints
    until: Ints
    today: Ints


def not_qualified(day: Day) -> list[Found]:
    """X65: no qualification for operation and gauge kind, and no trainer's countersign inside the sample."""
    rows = rows_of(day, (_fitness(day).state == _NEVER) & ~_is_countersigned(day))

    def tell(row: int) -> str:
        read = say_time(int(day.ms[row]), day.world.zone)
        who = "Somebody not qualified" if _has_person(day)[row] else "Nobody named"
        where = f"{day.pages.station.at(row)}, operation {day.pages.operation.at(row)}"
        return f"{who} for this operation and kind of gauge measured at {where}, read {read}, not countersigned."

    return found("X65", rows, day.pages.station, tell)


def lapsed(day: Day) -> list[Found]:
    """X66: the until-date has passed; in process within N11 flagged, else blocked."""
    fitness = _fitness(day)
    since = fitness.today - fitness.until
    limit = day.world.numbers.per_row("lapsed_days", day.ms)
    is_final = np.array([*(plan.is_final for plan in day.plans.plans), False], bool)[day.plans.plan_row]
    never = day.pages.sample_kind.is_one_of(*_NEVER_LAPSED) | is_final
    is_lapsed = (fitness.state == _LAPSED) & ~_is_countersigned(day)
    tolerated = is_lapsed & (since <= limit) & ~never

    def tell(row: int) -> str:
        until, read = _EPOCH + timedelta(days=int(fitness.until[row])), say_time(int(day.ms[row]), day.world.zone)
        where = f"{day.pages.station.at(row)}, operation {day.pages.operation.at(row)}"
        return f"A qualification for {where} lapsed {say_date(until)} 24:00, read {read}."

    station = day.pages.station
    return [
        *found("X66", rows_of(day, is_lapsed & ~tolerated), station, tell),
        *found("X66", rows_of(day, tolerated), station, tell, effect=Effect.FLAGGED, urgency_word="C"),
    ]


def badge_in_two_places(day: Day) -> list[Found]:
    """X67: one badge at two stations within N9; what a closing names as the wrong one is blocked."""
    # The hour on a paper form is not when the badge of whoever keyed it was used.
    badge = np.where(day.pages.source.is_one_of(Source.PAPER), -1, day.pages.person.codes)
    other, gap = nearest_elsewhere(day, badge, day.pages.station.codes)
    allowed = day.world.numbers.per_row("badge_two_places_s", day.ms, times=1000)
    two, wrong = (other >= 0) & (gap <= allowed), named_wrong(day, "X67")

    def stations(row: int) -> str:
        return " and ".join(sorted({day.pages.station.at(row), day.pages.station.at(int(other[row]))}))

    def tell(row: int) -> str:
        limit = int(allowed[row]) // 1000
        return f"One badge was used at {stations(row)} {say_elapsed(int(gap[row]))} apart (within {limit} s)."

    flagged, blocked = rows_of(day, two & ~wrong).tolist(), rows_of(day, two & wrong).tolist()
    return [
        *found_causes("X67", flagged, map(stations, flagged), tell),
        *found_causes("X67", blocked, map(stations, blocked), tell, effect=Effect.BLOCKED),
    ]


def off_shift(day: Day) -> list[Found]:
    """X68: taken by somebody whom the list of that shift does not name; where no list is, nothing can be told."""
    listed: dict[int, set[str]] = defaultdict(set)
    for row in day.world.lists.shifts:
        listed[shift_id(row.day, row.shift)].add(row.person)
    taker, shift, labels = _taker(day), shifts_of(day, day.ms), _person_labels(day)
    case = joined_key((taker + 1, shift - int(shift.min(initial=0))))
    first = first_rows(case)
    told = zip(taker[first].tolist(), shift[first].tolist(), strict=True)
    is_off = np.array([who >= 0 and here in listed and labels[who] not in listed[here] for who, here in told], bool)
    rows = rows_of(day, is_off[case]) if len(case) else case

    def tell(row: int) -> str:
        on_day, number = divmod(int(shift[row]), 3)
        which = f"shift {number + 1} of {say_date(date.fromordinal(on_day))}"
        read = say_time(int(day.ms[row]), day.world.zone)
        return f"Somebody not on the list of {which} measured at {day.pages.station.at(row)}, read {read}."

    return found("X68", rows, day.pages.station, tell)


def signed_twice(day: Day) -> list[Story]:
    """X69: a second signature by who proposed, who took the reading, or somebody without authority; or refused as such.

    It works nothing, wherever it was set; the desk and the kiosk keep what they refuse as a page.
    """
    stories = []
    by_ref = {act.ref: act for act in day.world.acts.all} if day.world.acts.of(SecondSignature) else {}
    for act, second in day.world.acts.of(SecondSignature):
        first = by_ref.get(second.of)
        why = "" if first is None or not _is_today(day, act) else _why_no_second(day, first, act)
        if why:
            stories.append(_signed_story(day, act, f"Second signature under {second.of} refused: {why}"))
    for act, refusal in day.world.acts.of(Refusal):
        if refusal.by_rule == "X69" and _is_today(day, act):
            stories.append(_signed_story(day, act, refusal.what.removesuffix(".")))
    return stories


def _is_today(day: Day, act: ActAt) -> bool:
    return day.world.start_ms <= act.at_ms < day.world.end_ms


def _why_no_second(day: Day, first: ActAt, second: ActAt) -> str:
    """Say why a second signature does not stand, naming nobody; empty when it does."""
    deed = deed_seconded(first.page.act)
    if deed is None:
        return ""
    rows = [row for ref in readings_about(first.page.act) for row in rows_of_page(day.pages, ref)]
    operation = day.pages.operation.at(rows[0]) if isinstance(first.page.act, Correction) and rows else None
    if second.signer is None or second.signer == first.signer:
        return "whoever proposed it signed it again"
    if second.signer in {day.pages.taken_by.at(row) or day.pages.person.at(row) for row in rows}:
        return "whoever took the reading signed it"
    is_authorised = day.world.may_sign(second, deed, is_second=True, operation=operation)
    return "" if is_authorised else f"whoever signed it may not {deed}"


def _signed_story(day: Day, act: ActAt, words: str) -> Story:
    station = act.page.station
    sentence = f"{words}, {say_time(act.at_ms, day.world.zone)}."
    return Story("X69", station, sentence, act.at_ms, stations=(station,), pages=(act.ref,))


def qualification_differs(day: Day, span: tuple[Ints, Ints]) -> Flags:
    """Tell for each reading whether a row of its taker's qualifications begins, lapses or ends inside a span."""
    differs = np.zeros(len(day.pages), bool)
    rows = np.flatnonzero(span[0] < span[1])
    if not len(rows):
        return differs
    taker, labels, people = _taker(day), _person_labels(day), _by_person(day, MEASURING)
    for code in np.unique(taker[rows][taker[rows] >= 0]).tolist():
        borders = _borders_ms(day, people.get(labels[code], []))
        mine = rows[taker[rows] == code]
        low, high = (np.searchsorted(borders, side[mine], side="right") for side in span)
        differs[mine] = low != high
    return differs


def _borders_ms(day: Day, rows: list[Qualification]) -> Ints:
    """Return every moment at which a row begins to stand, lapses, or is lapsed too long by N11 as in force then."""
    zone, numbers = day.world.zone, day.world.numbers
    borders = {int(ms) for ms in numbers.from_ms[1:]}
    for row in rows:
        dates = [row.valid_from]
        if row.valid_until is not None:
            days = {each.lapsed_days for each in numbers.numbers}
            dates += [row.valid_until + timedelta(days=1 + each) for each in (0, *days)]
        borders |= {ms_of(datetime.combine(each, time(0, 0), tzinfo=zone)) for each in dates}
        borders |= set() if row.in_force_from is None else {text_ms(row.in_force_from)}

    def stand(ms: int) -> list[tuple[bool, bool, bool]]:
        today, tolerated = moment_of(ms).astimezone(zone).date(), numbers.at(ms).lapsed_days
        lapsed = [0 if row.valid_until is None else (today - row.valid_until).days for row in rows]
        begun = [
            row.valid_from <= today and (row.in_force_from is None or text_ms(row.in_force_from) <= ms) for row in rows
        ]
        return [(is_begun, days > 0, days > tolerated) for is_begun, days in zip(begun, lapsed, strict=True)]

    return np.array(sorted(ms for ms in borders if stand(ms) != stand(ms - 1)), np.int64)


def countersigns(day: Day) -> dict[int, str]:
    """Return for each countersigned reading the trainer who signed inside its sample."""
    signed: dict[int, str] = {}
    pages = day.pages
    acts = day.world.acts.of(Countersign)
    if not acts:
        return signed
    ends: dict[tuple[str, str, str, str, int], list[int]] = defaultdict(list)
    for act, end in day.world.acts.of(SampleEnd):
        ends[act.page.series, end.lot, end.operation, end.characteristic, end.sample].append(act.page.number)
    trainers = _by_person(day, frozenset({Level.TRAINER}))
    for act, sign in acts:
        trainer = act.page.person
        where = (act.page.series, sign.lot, sign.operation, sign.characteristic)
        same = pages.sample == sign.sample
        for column, word in zip((pages.series, pages.lot, pages.operation, pages.characteristic), where, strict=True):
            same &= column.codes == column.code_of(word)
        rows = np.flatnonzero(same & (_taker(day) == _person_code(day, sign.trainee)))
        if trainer is None or trainer == sign.trainee or not len(rows):
            continue
        first, last = int(day.ms[rows].min()) - _WAITS_MS, int(day.ms[rows].max()) + _WAITS_MS
        has_ended = any(
            int(pages.number[rows].min()) <= number < act.page.number for number in ends[*where, sign.sample]
        )
        if has_ended or not first <= act.at_ms <= last:
            continue
        for row in rows.tolist():
            if _state_of(day, row, trainers.get(trainer, []))[0] == _FIT:
                signed[row] = trainer
    return signed


def _is_countersigned(day: Day) -> Flags:
    mask = np.zeros(len(day.pages), bool)
    mask[list(countersigns(day))] = True
    return mask


def _fitness(day: Day) -> _Fitness:
    """Return how qualified the person behind each reading was; each distinct case once."""
    today = local_days(day.ms, day.world.zone)
    kinds = [str(kind) for kind in sorted({gauge.kind for gauge in day.gauges.rows})]
    kind_of = np.array([*(kinds.index(gauge.kind) for gauge in day.gauges.rows), -1], np.int64)[day.gauge_row]
    starts = sorted({text_ms(q.in_force_from) for q in day.world.lists.qualifications if q.in_force_from is not None})
    step = np.searchsorted(np.array(starts, np.int64), day.ms, side="right")
    operation = day.pages.operation.codes.astype(np.int64) + 1
    taker, labels, people = _taker(day), _person_labels(day), _by_person(day, MEASURING)
    case = joined_key((taker + 1, operation, kind_of + 1, today - int(today.min(initial=0)), step))
    found_states = []
    for row in first_rows(case).tolist():
        code = int(taker[row])
        found_states.append(_state_of(day, row, people.get(labels[code], []) if code >= 0 else []))
    states = np.array([state for state, _ in found_states], np.int64)
    untils = np.array([until for _, until in found_states], np.int64)
    return _Fitness(states[case], untils[case], today) if len(states) else _Fitness(case, case, today)


def _state_of(day: Day, row: int, rows: list[Qualification]) -> tuple[int, int]:
    """Return whether the rows of one person's list make a reading's taker fit, lapsed (with its day) or never."""
    gauge, operation, ms = day.gauge_at(row), day.pages.operation.at(row), int(day.ms[row])
    today = int(local_days(day.ms[row : row + 1], day.world.zone)[0])
    kind = "*" if gauge is None else str(gauge.kind)
    begun = [
        each
        for each in rows
        if each.operation in (operation, "*")
        and (kind == "*" or each.gauge_kind in (kind, "*"))
        and _days(each.valid_from) <= today
        and (each.in_force_from is None or text_ms(each.in_force_from) <= ms)
    ]
    if any(each.valid_until is None or today <= _days(each.valid_until) for each in begun):
        return _FIT, 0
    return (_LAPSED, max(_days(e.valid_until) for e in begun if e.valid_until is not None)) if begun else (_NEVER, 0)


def _days(day: date) -> int:
    return (day - _EPOCH).days


def _by_person(day: Day, levels: frozenset[Level]) -> dict[str, list[Qualification]]:
    people: dict[str, list[Qualification]] = defaultdict(list)
    for row in day.world.lists.qualifications:
        if row.level in levels:
            people[row.person].append(row)
    return people


def _person_labels(day: Day) -> tuple[str, ...]:
    return (*day.pages.person.labels, *day.pages.taken_by.labels)


def _taker(day: Day) -> Ints:
    """Return who took each reading, as a place in `_person_labels`: the one named on a paper form, else the badge."""
    person, other = day.pages.person, day.pages.taken_by
    place = [
        person.code_of(word) if word in person.labels else len(person.labels) + at
        for at, word in enumerate(other.labels)
    ]
    of_form = np.array([*place, -1], np.int64)[other.codes]
    return np.where(of_form >= 0, of_form, person.codes.astype(np.int64))


def _person_code(day: Day, person: str) -> int:
    labels = _person_labels(day)
    return labels.index(person) if person in labels else -2


def _has_person(day: Day) -> Flags:
    return np.asarray(_taker(day) >= 0)


RULES: Final = (
    Rule("X65", not_qualified),
    Rule("X66", lapsed),
    Rule("X67", badge_in_two_places),
    Rule("X68", off_shift),
    Rule("X69", signed_twice),
)
