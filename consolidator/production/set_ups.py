"""The life of each set-up: begun, touched, approved, proven; and which set-up each reading belongs to.

An approval works from the minute it is signed, forwards only; a set-up change ends approval and proof.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from consolidator.frame import Day
from consolidator.frame.asof import Steps
from consolidator.frame.coded import Coded, Flags, Ints, coded_texts, first_rows, joined_key
from consolidator.frame.words import local_days
from consolidator.frame.world import ActAt, text_ms
from consolidator.production.proofs import has_failed, has_passed, plan_of
from kiosk.lists.words import Level
from kiosk.pages.desk import TestRecord
from kiosk.pages.station import FirstPieceApproval, JobOpen, SetUpChange, SetUpStart
from kiosk.pages.words import SampleKind

RUN: Final = (SampleKind.RUN, SampleKind.LAST)
ON_MACHINE: Final = (SampleKind.SET_UP, SampleKind.FIRST, SampleKind.RUN, SampleKind.LAST)


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
    is_passed: bool = False
    """A passed proof itself; a record that is neither a proof nor a failure leaves things as they were."""
    change: ActAt | None = None
    """The first touch since the last passed proof, while there is no new one."""

    @property
    def ms(self) -> int:
        """From when it stands: a touch from the earliest it can have been, what is good from the latest."""
        return self.act.low_ms if self.is_touch else self.act.high_ms


@dataclass(frozen=True)
class Lives:
    """Each reading's set-up, all turns, and the turn in which the reading was taken (-1: none)."""

    set_up: Coded
    turns: list[Turn]
    place: Ints

    @classmethod
    def of(cls, day: Day) -> "Lives":
        """Return the lives of all set-ups of a night."""
        set_up, turns = set_ups_of(day), turns_of(day)
        return cls(set_up, turns, steps_of(set_up, turns).at(set_up.codes, day.ms))

    def told(self, states: list[bool]) -> Flags:
        """Return for each reading the state of its turn; false where it has none."""
        return np.array([*states, False], bool)[self.place]


def turns_of(day: Day) -> list[Turn]:
    """Return the turns in the lives of all set-ups, in order of the time from which they stand."""
    acts: list[tuple[ActAt, str, object]] = [(act, start.set_up, start) for act, start in day.world.acts.of(SetUpStart)]
    acts += [(act, change.set_up, change) for act, change in day.world.acts.of(SetUpChange)]
    acts += [(act, approval.set_up, approval) for act, approval in day.world.acts.of(FirstPieceApproval)]
    acts += [(act, t.set_up, t) for act, t in day.world.acts.of(TestRecord) if t.what == "fatigue" and t.set_up]
    turns: list[Turn] = []
    set_up, ran = set_ups_of(day), lots_by_set_up(day)
    last: dict[str, Turn] = {}
    for act, name, what in sorted(acts, key=_stands_from):
        before = last.get(name)
        begun_ms = act.at_ms if before is None or isinstance(what, SetUpStart) else before.begun_ms
        approved = before is not None and before.is_approved
        proven = before is not None and before.is_proven
        change = None if before is None else before.change
        is_touch, passed = isinstance(what, SetUpStart | SetUpChange), False
        if is_touch and proven:
            change = act
        elif isinstance(what, FirstPieceApproval):
            approved = what.result == "Approved" and not why_void(day, act, what, set_up)
        elif isinstance(what, TestRecord):
            passed = has_passed(day.plans.characteristics, what, ran.get(name, set()))
            proven = passed or (proven and not has_failed(plan_of(day.plans.characteristics, what), what))
            change = None if passed else change
        if is_touch:
            approved = proven = False
        last[name] = Turn(act, name, begun_ms, approved, proven, is_touch, passed, change)
        turns.append(last[name])
    return turns


def set_ups_of(day: Day) -> Coded:
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


def lots_by_set_up(day: Day) -> dict[str, set[str]]:
    """Return the lots each set-up made: those it was begun for, opened on it, or measured on the machine under it."""
    lots: dict[str, set[str]] = {}
    for _, start in day.world.acts.of(SetUpStart):
        lots.setdefault(start.set_up, set()).add(start.lot)
    for _, job in day.world.acts.of(JobOpen):
        if job.set_up is not None:
            lots.setdefault(job.set_up, set()).add(job.lot)
    pages = day.pages
    rows = np.flatnonzero(pages.sample_kind.is_one_of(*ON_MACHINE) & pages.set_up.is_given & pages.lot.is_given)
    pairs = joined_key([pages.set_up.codes[rows].astype(np.int64), pages.lot.codes[rows].astype(np.int64)])
    for row in rows[first_rows(pairs)].tolist():
        lots.setdefault(pages.set_up.at(row), set()).add(pages.lot.at(row))
    return lots


def steps_of(set_up: Coded, turns: list[Turn]) -> Steps:
    """Return the history of the turns, by the codes of a column of set-ups."""
    return Steps.of([set_up.code_of(turn.set_up) for turn in turns], [turn.ms for turn in turns])


def approval_differs(day: Day, span: tuple[Ints, Ints]) -> Flags:
    """Tell for each run reading whether its set-up, or the approval of it, is another one somewhere in a span."""
    needs = np.array([*(plan.needs_first_piece for plan in day.plans.plans), False], bool)[day.plans.plan_row]
    runs = needs & day.pages.sample_kind.is_one_of(*RUN)
    if not runs.any():
        return runs
    set_up, turns = set_ups_of(day), turns_of(day)
    approved = np.array([turn.is_approved for turn in turns], bool)
    starts = [act for act, _ in day.world.acts.of(SetUpStart)]
    station = day.pages.station
    begun = Steps.of([station.code_of(act.page.station) for act in starts], [act.at_ms for act in starts])
    moved = begun.differs_between(station.codes, span, np.arange(len(starts))) & ~day.pages.set_up.is_given
    return np.asarray(runs & (moved | steps_of(set_up, turns).differs_between(set_up.codes, span, approved)))


def why_void(day: Day, act: ActAt, approval: FirstPieceApproval, set_up: Coded) -> str:
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
    running = day.pages.sample_kind.is_one_of(*RUN) & set_up.is_one_of(approval.set_up)
    by_form, by_badge = (who.is_one_of(approver or "") for who in (day.pages.taken_by, day.pages.person))
    if (running & np.where(day.pages.taken_by.is_given, by_form, by_badge)).any():
        return "who runs it"
    may = _may_approve(day, approver, approval.operation, act.at_ms)
    return "" if may else "somebody not qualified to approve"


def _may_approve(day: Day, person: str | None, operation: str, ms: int) -> bool:
    """True when a person was a first-piece approver for an operation at a moment, whatever the kind of gauge."""
    today = np.datetime64(int(local_days(np.array([ms], np.int64), day.world.zone)[0]), "D").astype(object)
    return any(
        row.person == person
        and row.level is Level.FIRST_PIECE
        and row.operation in (operation, "*")
        and row.valid_from <= today
        and (row.valid_until is None or today <= row.valid_until)
        and (row.in_force_from is None or text_ms(row.in_force_from) <= ms)
        for row in day.world.lists.qualifications
    )


def _stands_from(news: tuple[ActAt, str, object]) -> tuple[int, str, int, str]:
    act, _, what = news
    is_touch = isinstance(what, SetUpStart | SetUpChange)
    return (act.low_ms if is_touch else act.high_ms, *act.sort_key[1:])
