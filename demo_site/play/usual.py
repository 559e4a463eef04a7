"""What people do without being told: badge in, open the job, check zero, set up, sign off heat treat.

A scenario leaves all of it out unless it is about just that; here it is done with real pages.
"""

from collections.abc import Mapping
from datetime import timedelta
from typing import Final

from demo_site.play.floor import PlayedKiosk
from demo_site.play.player import Player
from demo_site.play.scenario import Event
from kiosk.lists import Characteristic, Gauge, Lists
from kiosk.pages.desk import OperationSignOff, TestPiece, TestRecord
from kiosk.pages.station import SetUpStart
from kiosk.pages.words import KeyedAs, Verdict
from kiosk.times import production_day, shift_of

OPERATORS: Final[Mapping[str, str]] = {
    "S12": "P-101", "S13": "P-101", "S21": "P-101", "S24": "P-102", "S25": "P-102", "S31": "P-103",
}  # fmt: skip
"""Who usually works at a station of the standard deck; P-104 everywhere else."""
ELSEWHERE: Final = "P-104"
SETTER: Final = "P-107"
APPROVER: Final = "P-104"


def be_there(player: Player, kiosk: PlayedKiosk, event: Event) -> str:
    """Badge in who the event names, or the usual operator where nobody stands; return who stands there."""
    here = kiosk.work.state.person
    wanted = event.person or here or OPERATORS.get(kiosk.station, ELSEWHERE)
    if wanted != here:
        kiosk.work.badge_in(wanted)
    return wanted


def open_job(kiosk: PlayedKiosk, lot: str, operation: str, *, anyway: bool, part: str | None = None) -> None:
    """Open the job of a lot at an operation, unless it is open."""
    job = kiosk.work.state.job
    if job is None or (job.lot, job.operation) != (lot, operation) or (part is not None and job.part != part):
        kiosk.work.open_job(lot, operation, part=part, measured_anyway=anyway)


def check_gauge(player: Player, kiosk: PlayedKiosk, gauge: str) -> None:
    """Do the zero or day check that a gauge needs now, good, where the scenario has none of its own for it."""
    now = player.true.now()
    known = player.lists.gauge(gauge, now)
    if known is None or any(each.do in ("zero check", "day check") and _is_of(each, gauge) for each in player.events):
        return
    person = kiosk.work.state.person
    if known.kind.is_comparator:
        day, shift = shift_of(now, player.true.zone)
        check = kiosk.work.state.checks.get(gauge)
        is_mine = check is not None and (person, day, shift) in check.by
        is_young = check is not None and check.good_at is not None
        is_young = is_young and check is not None and now - (check.good_at or now) < timedelta(hours=4)
        if not (is_mine and is_young):
            kiosk.work.check_zero(gauge, "0")
    elif known.kind.needs_day_check:
        mark = f"day check {gauge} {kiosk.series} {production_day(now, player.true.zone)}"
        if mark not in player.seen:
            player.seen.add(mark)
            kiosk.work.check_day(gauge, _block_size(known, player.lists, player))


def set_up(player: Player, kiosk: PlayedKiosk, what: Characteristic, lot: str) -> None:
    """Set up, approve and prove the operation the evening before, where its plan needs that and no event does it."""
    now = player.true.now()
    plan = player.lists.plan(what.part, what.revision, what.operation, now)
    is_told = any(each.do == "set-up start" and each.station == kiosk.station for each in player.events)
    if plan is None or not plan.needs_first_piece or is_told:
        return
    if kiosk.work.state.set_up_of(what.operation) is not None:
        return
    number = f"SU-{kiosk.station}-{what.operation}"
    before = kiosk.work.state.person
    kiosk.work.badge_in(SETTER)
    kiosk.work.begin_set_up(
        SetUpStart(
            set_up=number, lot=lot, part=what.part, revision=what.revision, operation=what.operation, set_by=SETTER
        )
    )
    kiosk.work.approve_first_piece(number, APPROVER, is_approved=True)
    if plan.needs_fatigue_proof:
        prove(player, what, number, lot)
    if before is not None:
        kiosk.work.badge_in(before)


def prove(player: Player, what: Characteristic, set_up: str, lot: str) -> None:
    """Keep a passed fatigue test of a set-up, where the part has such a characteristic."""
    fatigue = next((row for row in player.lists.characteristics if row.part == what.part and row.stopped_at), None)
    if fatigue is None:
        return
    pieces = tuple(
        TestPiece(piece=str(n), lot=lot, set_up=set_up, result=fatigue.stopped_at, is_stopped=True, verdict=Verdict.IN)
        for n in (1, 2, 3)
    )
    player.keep_at_desk(
        TestRecord(
            number=f"TR-{set_up}",
            what="fatigue",
            lot=lot,
            part=what.part,
            characteristic=fatigue.number,
            set_up=set_up,
            method="the plan's",
            frame="F-1",
            unit=fatigue.unit,
            pieces=pieces,
            verdict=Verdict.IN,
        ),
        APPROVER,
    )


def sign_off(player: Player, what: Characteristic, lot: str) -> None:
    """Sign off the operation that must come before, once for each lot, unless an event does."""
    plan = player.lists.plan(what.part, what.revision, what.operation, player.true.now())
    if plan is None or plan.after_operation is None:
        return
    mark = f"sign-off {lot} {plan.after_operation}"
    is_told = any(each.do == "operation sign-off" and each.told.get("lot") == lot for each in player.events)
    if mark not in player.seen and not is_told:
        player.seen.add(mark)
        player.keep_at_desk(OperationSignOff(lot=lot, operation=plan.after_operation), APPROVER)


def prepare(player: Player) -> None:
    """Do the evening before what the readings of the events will need: set-ups, proofs, sign-offs."""
    for event in player.events:
        what = characteristic_of(player, event) if event.do == "reading" and event.station else None
        if what is None or event.station is None:
            continue
        sign_off(player, what, str(event.told["lot"]))
        set_up(player, player.kiosk(event.station), what, str(event.told["lot"]))


def characteristic_of(player: Player, event: Event) -> Characteristic | None:
    """Return the characteristic a reading event measures, by the lot's part or the part told."""
    lot = player.lists.lot(str(event.told.get("lot", "")))
    part = str(event.told.get("part") or (lot.part if lot else ""))
    number = str(event.told.get("characteristic", ""))
    rows = [row for row in player.lists.characteristics if row.number == number and part in ("", row.part)]
    return rows[0] if rows else None


def usual_way(as_told: str | None) -> KeyedAs | None:
    """Return the way a figure is keyed, as told; none: the usual way of the characteristic."""
    return None if as_told is None else KeyedAs(as_told)


def _is_of(event: Event, gauge: str) -> bool:
    return bool(event.told.get("gauge") == gauge)


def _block_size(gauge: Gauge, lists: Lists, player: Player) -> str:
    master = None if gauge.master is None else lists.master(gauge.master, player.true.now())
    return "0" if master is None or master.size is None else master.size
