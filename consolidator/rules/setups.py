"""Rules about set-ups, their proofs, heat and dies: X53 to X59, X61, X64.

An approval works from the minute it is signed, forwards only; a set-up change ends approval and proof.
"""

from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.asof import Steps
from consolidator.frame.coded import Flags, Ints, first_rows, joined_key
from consolidator.frame.pages import NO_TIME
from consolidator.frame.words import many, say_elapsed, say_time
from consolidator.frame.world import ActAt, text_ms
from consolidator.production.dies import DiePieces
from consolidator.production.failures import Failure, failures_of, foreign_pieces, taken_in, tested_elsewhere
from consolidator.production.set_ups import ON_MACHINE, RUN, Lives, lots_by_set_up, set_ups_of, turns_of, why_void
from consolidator.rules.found import Found, Rule, Story, found, rows_of, say_piece
from kiosk.pages.desk import TestRecord
from kiosk.pages.station import FirstPieceApproval, OutOfHeat, SetUpChange, SetUpStart
from kiosk.pages.words import Source


def not_approved(day: Day) -> list[Found]:
    """X53: a run reading before the approval of its set-up, or without one."""
    lives = Lives.of(day)
    set_up, turns, place = lives.set_up, lives.turns, lives.place
    needs = np.array([*(plan.needs_first_piece for plan in day.plans.plans), False], bool)[day.plans.plan_row]
    early = needs & ~lives.told([turn.is_approved for turn in turns]) & day.pages.sample_kind.is_one_of(*RUN)

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
    stories, set_up = [], set_ups_of(day)
    for act, approval in day.world.acts.of(FirstPieceApproval):
        why = why_void(day, act, approval, set_up)
        if why and day.world.start_ms <= act.at_ms < day.world.end_ms:
            at = say_time(act.at_ms, day.world.zone)
            sentence = f"{approval.set_up} was approved {at} by {why}: the approval is void."
            lots = tuple(sorted(lots_by_set_up(day).get(approval.set_up, ())))
            stories.append(
                Story(
                    "X54", approval.set_up, sentence, act.at_ms,
                    lots=lots, stations=(act.page.station,), pages=(act.ref,), holds=lots,
                )
            )  # fmt: skip
    return stories


def not_proven(day: Day) -> list[Found]:
    """X55: a rolling set-up without a passed fatigue proof at the time of the reading."""
    lives = Lives.of(day)
    open_ = _needs_proof(day) & ~lives.told([turn.is_proven for turn in lives.turns])

    def tell(row: int) -> str:
        name, read = lives.set_up.at(row) or "No set-up named", say_time(int(day.ms[row]), day.world.zone)
        return f"{name} had no passed fatigue proof, read {read}."

    return found("X55", rows_of(day, open_), lives.set_up, tell)


def proved_by(day: Day, set_up: str) -> str:
    """Say by which test record a set-up stands proven as it was last touched; empty when it does not."""
    proof = _proof(day, set_up)
    if proof is None:
        return ""
    record = proof.page.act
    assert isinstance(record, TestRecord)
    return f"closed by itself: test record {record.number} passed {say_time(proof.at_ms, day.world.zone)}"


def proved_at_ms(day: Day, set_up: str) -> int | None:
    """Return when a set-up was proven as `proved_by` says; none when it is not."""
    proof = _proof(day, set_up)
    return None if proof is None else proof.at_ms


def _proof(day: Day, set_up: str) -> ActAt | None:
    turns = [turn for turn in turns_of(day) if turn.set_up == set_up]
    touches = [at for at, turn in enumerate(turns) if turn.is_touch]
    if not turns or not turns[-1].is_proven or len(touches) > 1:
        return None
    return next(turn.act for turn in turns if turn.is_proven)


def proof_failed(day: Day) -> list[Found | Story]:
    """X56: a fatigue proof failed; every reading of the set-up since its start or last passed proof, all its lots."""
    set_up, findings = set_ups_of(day), list[Found | Story]()
    for failure in failures_of(day):
        rows = rows_of(day, taken_in(day, set_up, failure))
        findings += found("X56", rows, set_up, partial(_say_failed, day, failure))
        if day.world.start_ms <= failure.act.at_ms < day.world.end_ms:
            cause = failure.set_up or f"lot {failure.record.lot}"
            findings.append(
                Story(
                    "X56", cause, _say_failed(day, failure), failure.act.at_ms,
                    lots=failure.lots, pages=(failure.act.ref,), holds=failure.lots,
                )
            )  # fmt: skip
    return findings


def changed_since_proof(day: Day) -> list[Found]:
    """X57: the set-up was proven, then changed, and not proven again at the time of the reading."""
    lives = Lives.of(day)
    changed = _needs_proof(day) & lives.told([turn.change is not None for turn in lives.turns])

    def tell(row: int) -> str:
        change = lives.turns[int(lives.place[row])].change
        assert change is not None
        act = change.page.act
        what = act.what if isinstance(act, SetUpChange) else "begun anew"
        at, read = (say_time(ms, day.world.zone) for ms in (change.at_ms, int(day.ms[row])))
        return f"{lives.set_up.at(row)} was changed {at} ({what}) after its proof, read {read}."

    return found("X57", rows_of(day, changed), lives.set_up, tell)


def test_piece_elsewhere(day: Day) -> list[Found | Story]:
    """X61: a test piece of another lot or set-up than what it is to show; it shows nothing, whatever it bore."""
    pages, findings = day.pages, list[Found | Story]()

    def tell(row: int) -> str:
        return f"{say_piece(day, row)} was tested for {pages.set_up.at(row)}, which never made this lot."

    findings += found("X61", rows_of(day, tested_elsewhere(day)), pages.lot, tell)
    for act, record, pieces in foreign_pieces(day):
        if day.world.start_ms <= act.at_ms < day.world.end_ms:
            of = f"{record.lot}, {record.set_up}" if record.set_up else record.lot
            origins = ", ".join(f"{p.piece} of {p.lot}, {p.set_up or 'no set-up named'}" for p in pieces)
            sentence = f"Test record {record.number} is for {of}; it names {many(len(pieces), 'piece')} that " + (
                f"cannot be from there: {origins}."
            )
            findings.append(
                Story(
                    "X61", record.lot, sentence, act.at_ms,
                    lots=(record.lot,), pages=(act.ref,), holds=(record.lot,), pieces=len(pieces),
                )
            )  # fmt: skip
    return findings


def dies_past_life(day: Day) -> list[Found]:
    """X64: made on dies that had made more pieces than planned, or came to it before they were counted again."""
    dies = DiePieces.of(day)
    if not dies.counts:
        return []
    life = np.array([*(-1 if plan.die_life is None else plan.die_life for plan in day.plans.plans), -1], np.int64)
    planned = life[day.plans.plan_row]
    before, after = dies.pieces(dies.before), dies.pieces(dies.after)
    past = (planned >= 0) & ((before > planned) | (after > planned)) & day.pages.sample_kind.is_one_of(*ON_MACHINE)

    def tell(row: int) -> str:
        name, read = dies.set_up.at(row), say_time(int(day.ms[row]), day.world.zone)
        is_past = bool(before[row] > planned[row])
        count = dies.counts[int((dies.before if is_past else dies.after)[row])]
        counted = f"{count.pieces} pieces by {say_time(count.ms, day.world.zone)}"
        within = "" if is_past else f", {int(before[row])} at the count before"
        return f"Dies of {name} had made {counted}{within}; {int(planned[row])} are planned, read {read}."

    return found("X64", rows_of(day, past & (dies.before >= 0)), dies.set_up, tell)


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


def _needs_proof(day: Day) -> Flags:
    needs = np.array([*(plan.needs_fatigue_proof for plan in day.plans.plans), False], bool)[day.plans.plan_row]
    return np.asarray(needs & day.pages.sample_kind.is_one_of(*ON_MACHINE))


def _say_failed(day: Day, failure: Failure, row: int | None = None) -> str:
    record, at = failure.record, say_time(failure.act.at_ms, day.world.zone)
    results = ", ".join(f"{p.result or 'no result'}{' stopped' if p.is_stopped else ''}" for p in record.pieces)
    read = "" if row is None else f", read {say_time(int(day.ms[row]), day.world.zone)}"
    return f"Test record {record.number} of {failure.set_up or record.lot} failed {at} ({results} {record.unit}){read}."


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
    heated = heated | set_ups_of(day).is_one_of(*hot_set_ups) if hot_set_ups else heated
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
    Rule("X56", proof_failed),
    Rule("X57", changed_since_proof),
    Rule("X58", measured_hot),
    Rule("X59", cooling_not_shown),
    Rule("X61", test_piece_elsewhere),
    Rule("X64", dies_past_life),
)
