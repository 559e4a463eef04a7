"""Rules about set-ups and heat: X53 to X55, X58, X59.

An approval works from the minute it is signed, forwards only; a set-up change ends approval and proof.
"""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.asof import Steps
from consolidator.frame.coded import Coded, Flags, Ints, coded_texts, first_rows, joined_key
from consolidator.frame.pages import NO_TIME
from consolidator.frame.words import say_elapsed, say_time
from consolidator.frame.world import ActAt, text_ms
from consolidator.rules.found import Found, Rule, Story, found, rows_of, say_piece
from consolidator.rules.people import is_authorised
from kiosk.lists import Characteristic
from kiosk.lists.words import Level
from kiosk.pages.desk import TestRecord
from kiosk.pages.station import FirstPieceApproval, OutOfHeat, SetUpChange, SetUpStart
from kiosk.pages.words import SampleKind, Source

_RUN: Final = (SampleKind.RUN, SampleKind.LAST)
_ON_MACHINE: Final = (SampleKind.SET_UP, SampleKind.FIRST, SampleKind.RUN, SampleKind.LAST)


@dataclass(frozen=True)
class Turn:
    """A moment in the life of a set-up: from here it is approved or not, proven or not."""

    act: ActAt
    set_up: str
    begun_ms: int
    is_approved: bool
    is_proven: bool
    is_touch: bool
    """A start or a change: approval and proof begin anew."""

    @property
    def ms(self) -> int:
        """From when it stands: a touch from the earliest it can have been, what is good from the latest."""
        return self.act.low_ms if self.is_touch else self.act.high_ms


def not_approved(day: Day) -> list[Found]:
    """X53: a run reading before the approval of its set-up, or without one."""
    set_up, turns, place = _lives(day)
    approved = np.array([*(turn.is_approved for turn in turns), False], bool)[place]
    needs = np.array([*(plan.needs_first_piece for plan in day.plans.plans), False], bool)[day.plans.plan_row]
    early = needs & ~approved & day.pages.sample_kind.is_one_of(*_RUN)

    def tell(row: int) -> str:
        name, read = set_up.at(row) or "no set-up named", say_time(int(day.ms[row]), day.world.zone)
        at = int(place[row])
        if at < 0:
            return f"{name} of {day.pages.station.at(row)} was not begun and not approved, read {read}."
        begun = say_time(turns[at].begun_ms, day.world.zone)
        later = next((t for t in turns[at + 1 :] if t.set_up == name and t.is_approved), None)
        until = "not approved" if later is None else f"approved {say_time(later.act.at_ms, day.world.zone)}"
        return f"{name} was begun {begun}, {until}, read {read}; pieces made between are to be segregated."

    return found("X53", rows_of(day, early), set_up, tell)


def approved_by_wrong_person(day: Day) -> list[Story]:
    """X54: approved by the setter, by who runs it, or by somebody not qualified to approve; the approval is void."""
    stories, set_up = [], _set_ups(day)
    for act, approval in day.world.acts.of(FirstPieceApproval):
        why = _why_void(day, act, approval, set_up)
        if why and day.world.start_ms <= act.at_ms < day.world.end_ms:
            at = say_time(act.at_ms, day.world.zone)
            sentence = f"{approval.set_up} was approved {at} by {why}: the approval is void."
            lots = _lots_of(day, approval.set_up)
            stories.append(
                Story(
                    "X54", approval.set_up, sentence, act.at_ms,
                    lots=lots, stations=(act.page.station,), pages=(act.ref,), holds=lots,
                )
            )  # fmt: skip
    return stories


def not_proven(day: Day) -> list[Found]:
    """X55: a rolling set-up without a passed fatigue proof at the time of the reading."""
    set_up, turns, place = _lives(day)
    proven = np.array([*(turn.is_proven for turn in turns), False], bool)[place]
    needs = np.array([*(plan.needs_fatigue_proof for plan in day.plans.plans), False], bool)[day.plans.plan_row]
    open_ = needs & ~proven & day.pages.sample_kind.is_one_of(*_ON_MACHINE)

    def tell(row: int) -> str:
        name, read = set_up.at(row) or "No set-up named", say_time(int(day.ms[row]), day.world.zone)
        return f"{name} had no passed fatigue proof, read {read}."

    return found("X55", rows_of(day, open_), set_up, tell)


def proved_by(day: Day, set_up: str) -> str:
    """Say by which test record a set-up stands proven as it was last touched; empty when it does not."""
    turns = [turn for turn in _turns(day) if turn.set_up == set_up]
    touches = [at for at, turn in enumerate(turns) if turn.is_touch]
    if not turns or not turns[-1].is_proven or len(touches) > 1:
        return ""
    proof = next(turn for turn in turns if turn.is_proven)
    record = proof.act.page.act
    assert isinstance(record, TestRecord)
    return f"closed by itself: test record {record.number} passed {say_time(proof.act.at_ms, day.world.zone)}"


def measured_hot(day: Day) -> list[Found]:
    """X58: out of heat too short a time ago, or the thermometer says hot; the thermometer outranks the clock."""
    heat = _heat(day)

    def tell(row: int) -> str:
        limit = day.world.numbers.at(int(day.ms[row]))
        if heat.by_thermometer[row]:
            part = f"{day.pages.part_temperature.at(row)} {day.pages.temperature_unit.at(row)}"
            return f"The part had {part}, at most {limit.cool_part_degf} degF is allowed ({say_piece(day, row)})."
        since = say_elapsed(int(day.ms[row] - heat.out_ms[row]))
        return f"Out of heat {since} before; {limit.cool_down_min} min are needed ({say_piece(day, row)})."

    return found("X58", rows_of(day, heat.is_hot), day.pages.lot, tell)


def cooling_not_shown(day: Day) -> list[Found]:
    """X59: a heated operation with neither a time out of heat nor a part temperature."""
    heat = _heat(day)

    def tell(row: int) -> str:
        return f"Neither a time out of heat nor a part temperature stands with {say_piece(day, row)}."

    return found("X59", rows_of(day, heat.is_unknown), day.pages.lot, tell)


def _turns(day: Day) -> list[Turn]:
    """Return the turns in the lives of all set-ups, by set-up and time."""
    acts: list[tuple[ActAt, str, object]] = [(act, start.set_up, start) for act, start in day.world.acts.of(SetUpStart)]
    acts += [(act, change.set_up, change) for act, change in day.world.acts.of(SetUpChange)]
    acts += [(act, approval.set_up, approval) for act, approval in day.world.acts.of(FirstPieceApproval)]
    acts += [(act, t.set_up, t) for act, t in day.world.acts.of(TestRecord) if t.what == "fatigue" and t.set_up]
    turns: list[Turn] = []
    set_up = _set_ups(day)
    last: dict[str, Turn] = {}
    for act, name, what in sorted(acts, key=_stands_from):
        before = last.get(name)
        begun_ms = act.at_ms if before is None or isinstance(what, SetUpStart) else before.begun_ms
        approved = before is not None and before.is_approved
        proven = before is not None and before.is_proven
        is_touch = isinstance(what, SetUpStart | SetUpChange)
        if is_touch:
            approved = proven = False
        elif isinstance(what, FirstPieceApproval):
            approved = what.result == "Approved" and not _why_void(day, act, what, set_up)
        elif isinstance(what, TestRecord):
            proven = has_passed(day, act, what)
        last[name] = Turn(act, name, begun_ms, approved, proven, is_touch)
        turns.append(last[name])
    return turns


def has_passed(day: Day, act: ActAt, record: TestRecord) -> bool:
    """True when a fatigue record passes by the plan's own rule: enough pieces of this set-up, each, and on average."""
    plan = _fatigue_plan(day, record)
    results = [Decimal(p.result) for p in record.pieces if p.result is not None and p.set_up == record.set_up]
    if plan is not None and plan.stopped_at is not None:
        results = [min(result, Decimal(plan.stopped_at)) for result in results]
    if plan is None or not results or len(results) < max(plan.sample_n, 1) or record.verdict.is_bad:
        return False
    least_each, least_average = plan.least_each or plan.lower, plan.least_average
    if least_each is None or any(result < Decimal(least_each) for result in results):
        return False
    return least_average is None or sum(results) >= Decimal(least_average) * len(results)


def _fatigue_plan(day: Day, record: TestRecord) -> Characteristic | None:
    rows = [c for c in day.plans.characteristics if (c.part, c.number) == (record.part, record.characteristic)]
    return max(rows, key=lambda c: (c.in_force_from or "", c.revision), default=None)


def _lives(day: Day) -> tuple[Coded, list[Turn], Ints]:
    """Return each reading's set-up, all turns, and the turn in which the reading was taken (-1: none)."""
    set_up, turns = _set_ups(day), _turns(day)
    return set_up, turns, _steps(set_up, turns).at(set_up.codes, day.ms)


def _set_ups(day: Day) -> Coded:
    """Return the set-up each reading names, else the last begun at its station."""
    starts = [(act, start) for act, start in day.world.acts.of(SetUpStart)]
    station = day.pages.station
    by_station = Steps.of([station.code_of(act.page.station) for act, _ in starts], [act.at_ms for act, _ in starts])
    at_station = by_station.at(station.codes, day.ms)
    names = coded_texts([*day.pages.set_up.labels, *(start.set_up for _, start in starts)])
    own = np.array([*names.codes[: len(day.pages.set_up.labels)], -1], np.int32)
    of_start = np.array([*names.codes[len(day.pages.set_up.labels) :], -1], np.int32)
    named = own[day.pages.set_up.codes]
    return Coded(np.where(named >= 0, named, of_start[at_station]).astype(np.int32), names.labels)


def _steps(set_up: Coded, turns: list[Turn]) -> Steps:
    return Steps.of([set_up.code_of(turn.set_up) for turn in turns], [turn.ms for turn in turns])


def _stands_from(news: tuple[ActAt, str, object]) -> tuple[int, str, int, str]:
    act, _, what = news
    is_touch = isinstance(what, SetUpStart | SetUpChange)
    return (act.low_ms if is_touch else act.high_ms, *act.sort_key[1:])


def approval_differs(day: Day, span: tuple[Ints, Ints]) -> Flags:
    """Tell for each run reading whether its set-up, or the approval of it, is another one somewhere in a span."""
    needs = np.array([*(plan.needs_first_piece for plan in day.plans.plans), False], bool)[day.plans.plan_row]
    runs = needs & day.pages.sample_kind.is_one_of(*_RUN)
    if not runs.any():
        return runs
    set_up, turns, _ = _lives(day)
    approved = np.array([turn.is_approved for turn in turns], bool)
    starts = [act for act, _ in day.world.acts.of(SetUpStart)]
    station = day.pages.station
    begun = Steps.of([station.code_of(act.page.station) for act in starts], [act.at_ms for act in starts])
    moved = begun.differs_between(station.codes, span, np.arange(len(starts))) & ~day.pages.set_up.is_given
    return np.asarray(runs & (moved | _steps(set_up, turns).differs_between(set_up.codes, span, approved)))


def _why_void(day: Day, act: ActAt, approval: FirstPieceApproval, set_up: Coded) -> str:
    """Say who the approver is that may not approve; empty when the approval is good."""
    if approval.result != "Approved":
        return ""
    approver = act.signer
    for start_act, start in day.world.acts.of(SetUpStart):
        if start.set_up == approval.set_up and approver in (start.set_by, start_act.page.person):
            return "the setter"
    for change_act, change in day.world.acts.of(SetUpChange):
        if change.set_up == approval.set_up and approver == change_act.page.person and change_act.low_ms <= act.high_ms:
            return "the setter"
    running = day.pages.sample_kind.is_one_of(*_RUN) & set_up.is_one_of(approval.set_up)
    by_form, by_badge = (who.is_one_of(approver or "") for who in (day.pages.taken_by, day.pages.person))
    if (running & np.where(day.pages.taken_by.is_given, by_form, by_badge)).any():
        return "who runs it"
    is_approver = is_authorised(day, approver, Level.FIRST_PIECE, approval.operation, act.at_ms)
    return "" if is_approver else "somebody not qualified to approve"


def _lots_of(day: Day, set_up: str) -> tuple[str, ...]:
    rows = np.flatnonzero(day.pages.set_up.is_one_of(set_up))
    lots = {day.pages.lot.at_code(code) for code in np.unique(day.pages.lot.codes[rows]).tolist()}
    lots |= {start.lot for _, start in day.world.acts.of(SetUpStart) if start.set_up == set_up}
    return tuple(sorted(lots - {""}))


@dataclass(frozen=True)
class _Heat:
    is_hot: Flags
    is_unknown: Flags
    by_thermometer: Flags
    out_ms: Ints


def _heat(day: Day) -> _Heat:
    """Return which readings of heated work were taken hot, and of which nothing is shown (N10)."""
    pages = day.pages
    heated = np.array([*(c.is_heated for c in day.plans.characteristics), False], bool)[day.plans.characteristic_row]
    hot_set_ups = [start.set_up for _, start in day.world.acts.of(SetUpStart) if start.is_hot]
    heated = heated | _set_ups(day).is_one_of(*hot_set_ups) if hot_set_ups else heated
    told = _thermometer(day, heated)
    outs = [(act, out) for act, out in day.world.acts.of(OutOfHeat) if out.piece is None]
    steps = Steps.of([pages.lot.code_of(out.lot) for _, out in outs], [_out_ms(act, out) for act, out in outs])
    place = steps.at(pages.lot.codes, day.ms)
    out_ms = np.array([*(_out_ms(act, out) for act, out in outs), NO_TIME], np.int64)[place]
    for act, out in day.world.acts.of(OutOfHeat):
        if out.piece is not None:
            ms = _out_ms(act, out)
            mine = pages.lot.is_one_of(out.lot) & (pages.piece == out.piece) & (day.ms >= ms)
            out_ms = np.where(mine, np.maximum(out_ms, ms), out_ms)
    # A time told by a clock that is off is moved with it where that makes the cooling shorter, never longer.
    moved = np.where(pages.source.is_one_of(Source.PAPER), 0, np.maximum(day.ms - pages.kiosk_time_ms, 0))
    own_ms = pages.out_of_heat_at_ms + moved
    out_ms = np.where(pages.out_of_heat_at_ms != NO_TIME, own_ms, out_ms)
    needed = day.world.numbers.per_row("cool_down_min", day.ms, times=60_000)
    has_time = out_ms != NO_TIME
    by_clock = has_time & (day.ms - out_ms < needed)
    is_hot = heated & np.where(told >= 0, told == 1, by_clock)
    return _Heat(is_hot, heated & (told < 0) & ~has_time, told == 1, out_ms)


def _out_ms(act: ActAt, out: OutOfHeat) -> int:
    return text_ms(out.out_at) + max(act.at_ms - text_ms(act.page.kiosk_time), 0)


def _thermometer(day: Day, heated: Flags) -> Ints:
    """Return what the thermometer says of each reading: 1 hot, 0 cool, -1 nothing."""
    pages = day.pages
    told = np.full(len(pages), -1, np.int64)
    rows = np.flatnonzero(heated & pages.part_temperature.is_given)
    if not len(rows):
        return told
    columns = (pages.part_temperature, pages.gauge_temperature, pages.temperature_unit)
    case = joined_key([*(c.codes[rows].astype(np.int64) + 1 for c in columns), day.world.numbers.step(day.ms[rows])])
    said = [_is_hot(day, int(row)) for row in rows[first_rows(case)].tolist()]
    told[rows] = np.array(said, np.int64)[case]
    return told


def _is_hot(day: Day, row: int) -> int:
    numbers, unit = day.world.numbers.at(int(day.ms[row])), day.pages.temperature_unit.at(row)
    part = _degf(day.pages.part_temperature.at(row), unit)
    if part > numbers.cool_part_degf:
        return 1
    if not day.pages.gauge_temperature.is_given[row]:
        return -1
    gauge = _degf(day.pages.gauge_temperature.at(row), unit)
    return int(abs(part - gauge) > numbers.cool_difference_degf)


def _degf(text: str, unit: str) -> Decimal:
    return Decimal(text) if unit != "degC" else Decimal(text) * 9 / 5 + 32


RULES: Final = (
    Rule("X53", not_approved),
    Rule("X54", approved_by_wrong_person),
    Rule("X55", not_proven),
    Rule("X58", measured_hot),
    Rule("X59", cooling_not_shown),
)
