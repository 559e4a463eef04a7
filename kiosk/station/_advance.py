"""What each page does to the state: the same pages always give the same state, after a power cut too."""

from collections.abc import Mapping
from datetime import datetime, tzinfo
from typing import TypeVar

from kiosk.pages import Page, readings, station, studies
from kiosk.pages.words import CheckVerdict, SampleKind
from kiosk.station._exchange import Paper
from kiosk.station._state import (
    GaugeCheck,
    GaugeInHand,
    Job,
    KeptPiece,
    LastReading,
    Round,
    Sample,
    SetUp,
    State,
    Stop,
    Study,
)
from kiosk.times import read_time, shift_of

ROUNDS_KEPT = 400
"""Lots and operations whose last sample number is remembered; a station works a handful a day."""

Key = TypeVar("Key")
Value = TypeVar("Value")


def advance(state: State, page: Page, zone: tzinfo) -> State:
    """Return the state after `page`, a page of this station's own book."""
    at = read_time(page.kiosk_time)
    state = state.model_copy(update={"session": page.session, "last_page": page.number})
    match page.act:
        case readings.Reading():
            return _after_reading(state, page, page.act, at)
        case readings.AskedAgain():
            place = _place_of(page.act)
            asked = (*state.asked.get(place, ()), page.act.keying)
            return state.model_copy(update={"asked": _with(state.asked, place, asked)})
        case readings.Check():
            return _after_check(state, page, page.act, at, zone)
        case readings.Countersign() | readings.SampleEnd():
            return _after_sample_act(state, page, page.act)
        case station.SetUpStart() | station.SetUpChange() | station.SetUpEnd() | station.FirstPieceApproval():
            return _after_set_up_act(state, page, page.act, at)
        case station.GaugeScan() | station.GaugeMovement() | station.GaugeIncident():
            return _after_gauge_act(state, page, page.act, at)
        case studies.GaugeStudyOrder() | studies.GaugeStudyReading() | studies.GaugeStudyEnd():
            return state.model_copy(update={"studies": _after_study_act(state.studies, page, page.act)})
        case _:
            return _after_floor_act(state, page, at)


def _place_of(act: readings.Reading | readings.AskedAgain) -> tuple[str, str, str, int, int]:
    return act.lot, act.operation, act.characteristic, act.sample, act.piece


def _after_floor_act(state: State, page: Page, at: datetime) -> State:
    act = page.act
    match act:
        case station.BadgeIn():
            return state.model_copy(update={"person": page.person, "badged_at": at})
        case station.BadgeOut():
            return state.model_copy(update={"person": None, "badged_at": None, "gauges": ()})
        case station.JobOpen():
            job = Job(lot=act.lot, operation=act.operation, part=act.part, typed=act.typed)
            is_same = state.job is not None and (state.job.lot, state.job.operation) == (job.lot, job.operation)
            return state.model_copy(update={"job": job, "gauges": state.gauges if is_same else ()})
        case station.MeasuringOrder():
            return state.model_copy(update={"is_piece_by_piece": act.is_piece_by_piece})
        case station.Changeover():
            return state.model_copy(update={"cleared_for": act.to_lot if act.is_line_clear else None})
        case station.StopBegin():
            return state.model_copy(update={"stop": Stop(since=at, reason=act.reason)})
        case station.StopEnd():
            return state.model_copy(update={"stop": None})
        case station.OutOfHeat():
            heats = _with(state.out_of_heat, (act.lot, act.piece), read_time(act.out_at))
            return state.model_copy(update={"out_of_heat": heats})
        case _:
            return state


def _after_reading(state: State, page: Page, act: readings.Reading, at: datetime) -> State:
    last = LastReading(
        lot=act.lot, characteristic=act.characteristic, piece=act.piece, value=act.value, keyed=act.keyed, at=at
    )
    asked = {place: told for place, told in state.asked.items() if place != _place_of(act)}
    state = _with_round(state.model_copy(update={"last_reading": last, "asked": asked}), act, at)
    kept = KeptPiece(
        piece=act.piece, page=page.number, keyed=act.keyed, verdict=act.verdict, standing=act.standing,
        paper=_paper_of(act),
    )  # fmt: skip
    wanted = (act.lot, act.operation, act.characteristic)
    sample = next((s for s in state.samples if (s.lot, s.operation, s.characteristic) == wanted), None)
    if sample is None or sample.number != act.sample:
        sample = Sample(
            lot=act.lot,
            operation=act.operation,
            characteristic=act.characteristic,
            number=act.sample,
            kind=act.sample_kind,
            planned=0,
            re_measure_of=act.re_measure_of,
        )
    others = tuple(piece for piece in sample.pieces if piece.piece != act.piece)
    sample = sample.model_copy(update={"pieces": (*others, kept)})
    return _with_set_up_work(_with_gauge_used(with_sample(state, sample), page, act, at), page, act)


def _paper_of(act: readings.Reading) -> Paper | None:
    if act.paper_form is None or act.paper_taken_at is None or act.taken_by is None:
        return None
    return Paper(form=act.paper_form, taken_at=act.paper_taken_at, taken_by=act.taken_by, read_back_by=act.read_back_by)


def _with_gauge_used(state: State, page: Page, act: readings.Reading, at: datetime) -> State:
    taken = state.gauge_for(act.characteristic)
    if taken is None or taken.gauge != act.gauge:
        return state
    used = {"used_at": at, "used_running_ms": page.running_ms, "session": page.session}
    return with_gauge(state, taken.model_copy(update=used))


def _with_set_up_work(state: State, page: Page, act: readings.Reading) -> State:
    set_ups = tuple(_worked_on(s, page, act) if s.number == act.set_up else s for s in state.set_ups)
    return state.model_copy(update={"set_ups": set_ups})


def _worked_on(set_up: SetUp, page: Page, act: readings.Reading) -> SetUp:
    if act.sample_kind is SampleKind.FIRST:
        return set_up.model_copy(update={"first_pieces": (*set_up.first_pieces, page.ref)})
    if act.sample_kind is SampleKind.RUN and page.person is not None and page.person not in set_up.ran_by:
        return set_up.model_copy(update={"ran_by": (*set_up.ran_by, page.person)})
    return set_up


def _with_round(state: State, act: readings.Reading, at: datetime) -> State:
    key = (act.lot, act.operation)
    known = state.rounds.get(key)
    if known is not None and act.sample < known.number:
        return state
    before = known.characteristics if known is not None and known.number == act.sample else frozenset()
    latest = Round(number=act.sample, characteristics=before | {act.characteristic}, last_at=at)
    rounds = {other: value for other, value in state.rounds.items() if other != key}
    rounds[key] = latest
    return state.model_copy(update={"rounds": dict(list(rounds.items())[-ROUNDS_KEPT:])})


def _after_check(state: State, page: Page, act: readings.Check, at: datetime, zone: tzinfo) -> State:
    day, shift = shift_of(at, zone)
    known = state.checks.get(act.gauge)
    is_good = act.verdict is CheckVerdict.GOOD
    here = () if known is None else tuple(entry for entry in known.by if entry[1:] == (day, shift))
    check = GaugeCheck(
        last_verdict=act.verdict,
        last_at=at,
        good_at=at if is_good else (None if known is None else known.good_at),
        good_day=day if is_good else (None if known is None else known.good_day),
        by=here if page.person is None else (*here, (page.person, day, shift)),
    )
    return state.model_copy(update={"checks": _with(state.checks, act.gauge, check)})


def _after_sample_act(state: State, page: Page, act: readings.Countersign | readings.SampleEnd) -> State:
    wanted = (act.lot, act.operation, act.characteristic, act.sample)
    sample = next((s for s in state.samples if _name_of(s) == wanted), None)
    if isinstance(act, readings.Countersign):
        if sample is None:
            return state
        signed = {"countersigned_by": page.person, "countersigned_for": act.trainee}
        return with_sample(state, sample.model_copy(update=signed))
    return state.model_copy(
        update={
            "samples": tuple(s for s in state.samples if s is not sample),
            "gauges": tuple(taken for taken in state.gauges if taken.characteristic != act.characteristic),
        }
    )


def _after_set_up_act(
    state: State,
    page: Page,
    act: station.SetUpStart | station.SetUpChange | station.SetUpEnd | station.FirstPieceApproval,
    at: datetime,
) -> State:
    if isinstance(act, station.SetUpStart):
        begun = SetUp(
            number=act.set_up, lot=act.lot, part=act.part, operation=act.operation, set_by=act.set_by,
            is_hot=act.is_hot, began_at=at,
        )  # fmt: skip
        return state.model_copy(update={"set_ups": (*_other_set_ups(state, act.operation), begun)})
    if isinstance(act, station.SetUpEnd):
        return state.model_copy(update={"set_ups": tuple(s for s in state.set_ups if s.number != act.set_up)})
    if isinstance(act, station.SetUpChange):
        change: dict[str, object] = {"state": "Changed", "approved_by": None, "first_pieces": (), "ran_by": ()}
        if act.what == "hot or cold":
            change["is_hot"] = not next((s.is_hot for s in state.set_ups if s.number == act.set_up), False)
    else:
        is_good = act.result == "Approved" and not is_approval_void(state, act.set_up, page.person)
        change = {
            "state": "Approved" if is_good else "Awaiting first piece",
            "approved_by": page.person if is_good else None,
        }
    set_ups = tuple(s.model_copy(update=change) if s.number == act.set_up else s for s in state.set_ups)
    return state.model_copy(update={"set_ups": set_ups})


def is_approval_void(state: State, set_up: str, approver: str | None) -> bool:
    """True when the approver set it up or ran it, as far as this book shows (X54)."""
    known = next((s for s in state.set_ups if s.number == set_up), None)
    return approver is None or (known is not None and approver in (known.set_by, *known.ran_by))


def _after_gauge_act(
    state: State, page: Page, act: station.GaugeScan | station.GaugeMovement | station.GaugeIncident, at: datetime
) -> State:
    if isinstance(act, station.GaugeIncident):
        dropped = tuple(taken for taken in state.gauges if taken.gauge != act.gauge)
        return state.model_copy(update={"incidents": _with(state.incidents, act.gauge, at), "gauges": dropped})
    if isinstance(act, station.GaugeMovement):
        is_here = act.movement in ("issued", "borrowed") and act.to_station in (None, page.station)
        issued = state.issued | {act.gauge} if is_here else state.issued - {act.gauge}
        return state.model_copy(update={"issued": issued})
    if act.characteristic is None:
        return state
    taken = GaugeInHand(
        characteristic=act.characteristic, gauge=act.gauge, master=act.master,
        typed=("gauge",) if act.typed else (), person=page.person, told=act.told, page=page.number, used_at=at,
        used_running_ms=page.running_ms, session=page.session,
    )  # fmt: skip
    return with_gauge(state, taken)


def _after_study_act(
    known: tuple[Study, ...],
    page: Page,
    act: studies.GaugeStudyOrder | studies.GaugeStudyReading | studies.GaugeStudyEnd,
) -> tuple[Study, ...]:
    if isinstance(act, studies.GaugeStudyOrder):
        begun = Study(
            order=page.ref, number=act.study, gauge=act.gauge, unit=act.unit, leader=page.person, pieces=act.pieces,
            appraisers=act.appraisers, trials=act.trials, seed=page.filler,
        )  # fmt: skip
        return (*known, begun)
    if isinstance(act, studies.GaugeStudyEnd):
        return tuple(study for study in known if study.order != act.order)
    taken = {act.turn: page.number}
    return tuple(s.model_copy(update={"taken": {**s.taken, **taken}}) if s.order == act.order else s for s in known)


def with_gauge(state: State, taken: GaugeInHand) -> State:
    """Return the state with a gauge in hand for its characteristic."""
    others = tuple(other for other in state.gauges if other.characteristic != taken.characteristic)
    return state.model_copy(update={"gauges": (*others, taken)})


def with_sample(state: State, sample: Sample) -> State:
    """Return the state with an open sample in the place of an earlier one of the same characteristic."""
    others = tuple(other for other in state.samples if _name_of(other)[:3] != _name_of(sample)[:3])
    return state.model_copy(update={"samples": (*others, sample)})


def _name_of(sample: Sample) -> tuple[str, str, str, int]:
    return sample.lot, sample.operation, sample.characteristic, sample.number


def _other_set_ups(state: State, operation: str) -> tuple[SetUp, ...]:
    return tuple(s for s in state.set_ups if s.operation != operation)


def _with(known: Mapping[Key, Value], key: Key, value: Value) -> Mapping[Key, Value]:
    return {**known, key: value}
