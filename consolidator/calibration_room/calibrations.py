"""Calibration events: as-found before as-left, masters that are fit, verdicts and due date computed.

Owns what a calibration must have before it is kept. A verdict or a due date is never typed.
"""

from dataclasses import replace
from datetime import date, datetime, timedelta

from consolidator.authority import Deed
from consolidator.calibration_room.bench import NOT_KEPT, Bench, Stage, exact, points_of, verdict_at
from consolidator.calibration_room.standing import Standing, calibrations_of, news_of, standing_of
from consolidator.desk.desk import Desk, Done
from consolidator.desk.held_pages import HeldAct
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused
from kiosk.lists import Gauge
from kiosk.measure.decimals import to_decimal
from kiosk.pages.desk import Calibration, CalibrationPoint
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident, GaugeMovement, GaugeScan
from kiosk.pages.words import Meaning
from kiosk.times import read_time, write_time


def save_as_found(desk: Desk, signer: Signer, bench: Bench) -> Done:
    """Keep what a gauge was found like before any touch, so that a look-back can start at once.

    Raises:
        DeskRefused: it was touched before, points or masters are missing or unfit, or this person may not.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    return _save(desk, signer, bench, "as-found")


def save_as_left(desk: Desk, signer: Signer, bench: Bench) -> Done:
    """Keep what a gauge was left like; what it was found like comes from the page saved first, if there is one.

    Raises:
        DeskRefused: points or masters are missing or unfit, a due date was typed, or this person may not.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    return _save(desk, signer, bench, "as-left")


def save_calibration(desk: Desk, signer: Signer, bench: Bench) -> Done:
    """Keep a whole calibration, as-found and as-left at once.

    Raises:
        DeskRefused: points or masters are missing or unfit, a due date was typed, or this person may not.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    return _save(desk, signer, bench, "whole")


def _save(desk: Desk, signer: Signer, bench: Bench, stage: Stage) -> Done:
    what = NOT_KEPT.format(bench.gauge)
    with desk.refusals_kept(signer.badge):
        acts = news_of(desk, bench.gauge)
        standing = standing_of(bench.gauge, desk.lists, acts, desk.now())
        if standing is None:
            raise DeskRefused(what, why="It is not in the register.", next_step="Scan it again, or enrol it first.")
        kind = standing.row.kind.value if isinstance(standing.row, Gauge) else None
        person = desk.identified(Deed.CALIBRATE, signer, gauge_kind=kind)
        done_at = desk.moment(bench.done_at)
        before = calibrations_of(bench.gauge, acts)
        _check_order(desk, bench, stage, done_at, before)
        found = _as_found_saved(before) if stage == "as-left" else None
        points = points_of(bench, stage, standing, before[-1][1] if before else None, found)
        masters = bench.masters or (found.masters if found else ())
        _check_masters(desk, replace(bench, masters=masters), done_at)
        notes = _check_room(bench, what)
        act = _made(desk, bench, stage, (points, found), standing, done_at)
        notes += _told(act)
        page = desk.keep_signed(act, person, _sentence(act), Meaning.CHECKED)
        return Done((page,), tuple(notes))


def _made(
    desk: Desk,
    bench: Bench,
    stage: Stage,
    found: tuple[tuple[CalibrationPoint, ...], Calibration | None],
    standing: Standing,
    done_at: datetime,
) -> Calibration:
    points, saved = found
    as_found = verdict_at(points, "as_found")
    as_left = verdict_at(points, "as_left")
    if as_left == "Not taken":
        # Nothing was touched, or not yet: it stands as it was found.
        as_left = as_found
    due = None if stage == "as-found" or as_left == "Out" else _due(desk, bench, standing, done_at)
    _check_due(bench, stage, due)
    told = {
        "gauge": bench.gauge,
        "done_at": write_time(done_at),
        "masters": bench.masters or (saved.masters if saved else ()),
        "procedure": bench.procedure.name,
        "room_temperature": bench.room_temperature,
        "temperature_unit": bench.procedure.temperature_unit,
        "soak_min": bench.soak_min,
        "room_low": bench.procedure.room_low,
        "room_high": bench.procedure.room_high,
        "soak_least_min": bench.procedure.soak_min,
        "unit": standing.row.unit or "accept/reject",
        "points": points,
        "as_found": as_found,
        "action": bench.action,
        "as_left": as_left,
        "uncertainty": bench.uncertainty,
        "decision_rule": bench.decision_rule,
        "due": due,
        "certificate": bench.certificate,
        "certificate_file": bench.certificate_file,
        "laboratory": bench.laboratory,
        "stage": stage,
    }
    return desk.make(NOT_KEPT.format(bench.gauge), Calibration, told)


def _check_order(
    desk: Desk, bench: Bench, stage: Stage, done_at: datetime, before: list[tuple[HeldAct, Calibration]]
) -> None:
    if not before:
        return
    what, (last_held, last) = NOT_KEPT.format(bench.gauge), before[-1]
    last_at = read_time(last.done_at)
    if done_at < last_at:
        raise DeskRefused(
            what, why=f"A later one of {last.done_at} is kept already.", next_step="Give the time it was done."
        )
    is_open = last.stage == "as-found"
    if is_open and stage != "as-left":
        raise DeskRefused(
            what,
            why=f"Its as-found was saved at {last.done_at} and the as-left is not yet in.",
            next_step="Save the as-left.",
        )
    has_found = bool(bench.as_found) and not is_open
    if has_found and _is_same_visit(desk, bench.gauge, max(last_at, last_held.at), done_at):
        raise DeskRefused(
            f"As-found of {bench.gauge} not kept.",
            why=f"Its as-left was entered at {last.done_at} and nobody used it since; it was touched already (X80).",
            next_step="Leave the as-found out and write an evaluation; it cannot be taken afterwards.",
            by_rule="X80",
        )


def _is_same_visit(desk: Desk, gauge: str, since: datetime, done_at: datetime) -> bool:
    """True when the gauge was left so lately, and nobody took it up since, that this is still the same visit."""
    if done_at - since >= timedelta(hours=desk.settings.calibration_visit_h):
        return False
    uses = (GaugeScan, GaugeIncident, GaugeMovement, Check)
    return not any(
        isinstance(held.page.act, uses) and held.page.act.gauge == gauge and held.at > since
        for held in desk.acts(*uses, naming=(gauge,))
    )


def _as_found_saved(before: list[tuple[HeldAct, Calibration]]) -> Calibration | None:
    return before[-1][1] if before and before[-1][1].stage == "as-found" else None


def _check_masters(desk: Desk, bench: Bench, done_at: datetime) -> None:
    what = NOT_KEPT.format(bench.gauge)
    if bench.laboratory:
        if not (bench.certificate and bench.certificate_file):
            raise DeskRefused(
                what,
                why="An outside laboratory's calibration needs its certificate number and the certificate itself.",
                next_step="Load the certificate; its figures are entered point by point.",
            )
        return
    if not bench.masters:
        raise DeskRefused(what, why="No master was scanned.", next_step="Scan each master that was used.")
    for number in bench.masters:
        standing = standing_of(number, desk.lists, news_of(desk, number), done_at)
        why = f"{number} is not in the register" if standing is None else standing.why_unfit(done_at)
        if number == bench.gauge:
            why = f"{number} cannot be its own master"
        if why:
            raise DeskRefused(
                what,
                why=f"Master: {why} (X09).",
                next_step="Calibrate again with a master that is in date and in use.",
                by_rule="X09",
            )


def _check_room(bench: Bench, what: str) -> list[str]:
    procedure = bench.procedure
    missing = [] if procedure.room_low is None or bench.room_temperature is not None else ["the room's temperature"]
    missing += [] if procedure.soak_min is None or bench.soak_min is not None else ["the soak time"]
    if missing:
        raise DeskRefused(what, why=f"Missing: {' and '.join(missing)}.", next_step="Read it off and enter it.")
    notes: list[str] = []
    if bench.room_temperature is not None and procedure.room_low is not None and procedure.room_high is not None:
        low, high = (to_decimal(exact(what, text)) for text in (procedure.room_low, procedure.room_high))
        if not low <= to_decimal(exact(what, bench.room_temperature)) <= high:
            notes.append(
                f"X81: the room was at {bench.room_temperature}, the procedure asks for {procedure.room_low} to "
                f"{procedure.room_high} {procedure.temperature_unit}. Repeat it."
            )
    if procedure.soak_min is not None and bench.soak_min is not None and bench.soak_min < procedure.soak_min:
        notes.append(f"X81: it soaked {bench.soak_min} min of {procedure.soak_min} min. Repeat it.")
    return notes


def _due(desk: Desk, bench: Bench, standing: Standing, done_at: datetime) -> date | None:
    """Return the date of the calibration and the interval on; without an interval the due date stays what it was."""
    interval = standing.row.interval_days if isinstance(standing.row, Gauge) else None
    if interval:
        return done_at.astimezone(desk.zone).date() + timedelta(days=interval)
    if standing.due_end is not None and standing.due_end <= desk.now():
        raise DeskRefused(
            NOT_KEPT.format(bench.gauge),
            why=f"It was due {standing.due} and the register has no interval to compute the next date from.",
            next_step="Enter its interval in the register of gauges, then save the calibration.",
        )
    return standing.due


def _check_due(bench: Bench, stage: Stage, due: date | None) -> None:
    if bench.due is not None and bench.due != due and stage != "as-found":
        raise DeskRefused(
            NOT_KEPT.format(bench.gauge),
            why=f"The due date {bench.due} was typed; computed from the interval it is {due or 'none'}.",
            next_step="Leave it out. Where the interval is wrong, let two people change it in the register.",
        )


def _told(act: Calibration) -> list[str]:
    notes: list[str] = []
    if act.as_found == "Not taken":
        notes.append("X80: no as-found was taken; readings since the last good calibration cannot be told.")
    if act.as_found == "Out":
        notes.append("Found out: start the look-back now; the gauge is out of use from the as-found (X07).")
    if act.as_left == "Out" and act.stage != "as-found":
        notes.append("Left out: it stays out of use and has no due date.")
    if act.due is not None:
        notes.append(f"Due {act.due}, to the end of that day.")
    return notes


def _sentence(act: Calibration) -> str:
    left = "" if act.stage == "as-found" else f", left {act.as_left.lower()}"
    return f"I calibrated {act.gauge} by {act.procedure}: as-found {act.as_found.lower()}{left}."
