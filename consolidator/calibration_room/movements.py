"""Gauges on the move and out of use: custody, roll call, states, extensions of a due date, a narrowed look-back window.

Owns what each of these asks. Bad news may reach back; good news works from its page on.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from consolidator.authority import AUTHORITIES, Deed
from consolidator.calibration_room.standing import (
    FOUND_OUT,
    Standing,
    calibrations_of,
    extensions_of,
    news_of,
    standing_of,
)
from consolidator.desk.desk import Desk, Done, check_reason
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused
from kiosk.pages.desk import Extension, GaugeStateChange, LookBackWindow
from kiosk.pages.station import GaugeMovement
from kiosk.times import read_time, write_time


@dataclass(frozen=True)
class Extending:
    """An extension as it is asked for; the old due date is looked up, never typed."""

    gauge: str
    new_due: date
    reason: str
    evidence: str
    """The history that bears it out: what the gauge was found like at its last calibrations."""


def move_gauge(desk: Desk, badge: str, movement: GaugeMovement) -> Done:
    """Keep that custody of a gauge moved.

    Raises:
        DeskRefused: the gauge is not in the register, or where it went is not told or not known.
    """
    what = f"Movement of {movement.gauge} not kept."
    with desk.refusals_kept(badge):
        _standing(desk, movement.gauge, what)
        person = desk.allowed(Deed.MOVE_GAUGE, badge)
        station = movement.to_station
        if station is not None and desk.lists.station(station, desk.now()) is None:
            raise DeskRefused(what, why=f"There is no station {station}.", next_step="Scan the station.")
        if movement.movement in ("issued", "borrowed") and not (station or movement.to_person):
            raise DeskRefused(what, why="Where it went is not told.", next_step="Scan the station or the badge.")
        return Done((desk.keep(movement, person.number),))


def keep_roll_call(desk: Desk, badge: str, seen: Iterable[str], not_seen: Iterable[str]) -> Done:
    """Keep a roll call, one page a gauge: found, or not found.

    Raises:
        DeskRefused: a gauge is not in the register, or is in both lists; then nothing of it is kept.
    """
    what = "Roll call not kept."
    with desk.refusals_kept(badge):
        person = desk.allowed(Deed.MOVE_GAUGE, badge)
        found, gone = list(dict.fromkeys(seen)), list(dict.fromkeys(not_seen))
        both = sorted(set(found) & set(gone))
        if both or not (found or gone):
            why = f"Seen and not seen: {', '.join(both)}." if both else "No gauge was called."
            raise DeskRefused(what, why=why, next_step="Go round again.")
        for number in (*found, *gone):
            _standing(desk, number, what)
        moves = [GaugeMovement(gauge=number, movement="found") for number in found]
        moves += [GaugeMovement(gauge=number, movement="not found") for number in gone]
        pages = tuple(desk.keep(move, person.number) for move in moves)
        return Done(pages, (f"Not found: {', '.join(gone)}. Look for them now.",) if gone else ())


def change_state(desk: Desk, signer: Signer, change: GaugeStateChange) -> Done:
    """Sign that a gauge is stopped, set aside, lost or retired from some time on, or put back to use from now on.

    Raises:
        DeskRefused: back to use it is not fit, or from an earlier time; the time lies ahead; or there are no words.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"State of {change.gauge} not changed."
    with desk.refusals_kept(signer.badge):
        standing = _standing(desk, change.gauge, what)
        is_back = change.state == "In use"
        person = desk.identified(Deed.USE_AGAIN if is_back else Deed.CHANGE_STATE, signer)
        if change.state == standing.state:
            raise DeskRefused(what, why=f"It is {change.state} already.", next_step="Nothing is to be done.")
        if is_back:
            _check_fit(desk, change, standing, what)
        desk.moment(change.since)
        check_reason(what, change.words, desk.settings)
        since = f" since {change.since}" if change.since else ""
        sentence = f"{change.gauge} is {change.state}{since}, because {change.words}"
        page = desk.keep_signed(change, person, sentence, AUTHORITIES[Deed.CHANGE_STATE].meaning)
        lost = change.state == "Lost"
        return Done((page,), ("Readings since its last good calibration: cannot tell (X07).",) if lost else ())


def extend_due(desk: Desk, signer: Signer, asked: Extending) -> Done:
    """Sign an extension of a due date; it works from its second signature, once, and never after the date.

    Raises:
        DeskRefused: the due date has ended (X83), it was extended before, or nothing bears it out.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"The due date of {asked.gauge} was not extended."
    with desk.refusals_kept(signer.badge):
        standing = _standing(desk, asked.gauge, what)
        person = desk.identified(Deed.EXTEND, signer)
        due, end = standing.due, standing.due_end
        if due is None or end is None:
            raise DeskRefused(what, why="It has no due date.", next_step="Nothing is to be done.")
        if desk.now() >= end:
            raise DeskRefused(
                f"The due date of {asked.gauge} was not extended (X83).",
                why=f"It ended at {write_time(end)}; nothing good works backwards.",
                next_step="Take the gauge out of use and calibrate it.",
                by_rule="X83",
            )
        _check_once(desk, asked.gauge, what)
        if asked.new_due <= due:
            raise DeskRefused(what, why=f"{asked.new_due} is not after {due}.", next_step="Give a later date.")
        check_reason(what, asked.reason, desk.settings)
        check_reason(f"{what} Its evidence is missing.", asked.evidence, desk.settings)
        told = {"gauge": asked.gauge, "old_due": due, "new_due": asked.new_due}
        act = desk.make(what, Extension, {**told, "reason": asked.reason, "evidence": asked.evidence})
        sentence = f"I extend the due date of {asked.gauge} from {due} to {asked.new_due}, because {asked.reason}"
        page = desk.keep_signed(act, person, sentence, AUTHORITIES[Deed.EXTEND].meaning)
        return Done((page,), (f"Works from a second signature, if that comes before {write_time(end)}.",))


def narrow_window(desk: Desk, signer: Signer, window: LookBackWindow) -> Done:
    """Sign that a look-back window is narrower; it works from a second signature.

    Raises:
        DeskRefused: the window is none, or the reason says nothing.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"Look-back window of {window.gauge} not narrowed."
    with desk.refusals_kept(signer.badge):
        _standing(desk, window.gauge, what)
        person = desk.identified(Deed.NARROW_WINDOW, signer)
        if desk.moment(window.begins_at) >= desk.moment(window.ends_at):
            raise DeskRefused(what, why="It ends before it begins.", next_step="Give both times again.")
        check_reason(what, window.reason, desk.settings)
        sentence = (
            f"I narrow the look-back window of {window.gauge} to {window.begins_at} until {window.ends_at}, "
            f"because {window.reason}"
        )
        page = desk.keep_signed(window, person, sentence, AUTHORITIES[Deed.NARROW_WINDOW].meaning)
        return Done((page,), ("Waits for a second signature.", "A zero check at one size proves only that size."))


def _standing(desk: Desk, number: str, what: str) -> Standing:
    standing = standing_of(number, desk.lists, news_of(desk, number), desk.now())
    if standing is None:
        raise DeskRefused(what, why=f"{number} is not in the register.", next_step="Scan it again, or enrol it first.")
    return standing


def _check_fit(desk: Desk, change: GaugeStateChange, standing: Standing, what: str) -> None:
    if change.since is not None:
        raise DeskRefused(
            what, why="Putting back to use works from now on only.", next_step="Leave the earlier time out."
        )
    now = desk.now()
    good = [act for _, act in calibrations_of(change.gauge, news_of(desk, change.gauge)) if act.stage != "as-found"]
    if standing.state == FOUND_OUT or (good and good[-1].as_left == "Out"):
        raise DeskRefused(what, why="It was found or left out of tolerance.", next_step="Calibrate it good first.")
    if standing.due_end is not None and now >= standing.due_end:
        raise DeskRefused(what, why=f"It was due {standing.due}.", next_step="Calibrate it first.")
    if standing.is_in_doubt:
        raise DeskRefused(what, why="It was dropped or knocked and not checked since.", next_step="Check it first.")


def _check_once(desk: Desk, gauge: str, what: str) -> None:
    acts = news_of(desk, gauge)
    done = [read_time(act.done_at) for _, act in calibrations_of(gauge, acts) if act.as_left == "Good"]
    listed = [read_time(c.done_at) for c in desk.lists.calibrations if c.gauge == gauge and c.as_left == "Good"]
    since: datetime | None = max((*done, *listed), default=None)
    before = [held for held, _, _ in extensions_of(gauge, desk.lists, acts) if since is None or held.at > since]
    if before:
        raise DeskRefused(
            what,
            why=f"It was extended by page {before[-1].page.ref}; a due date is put back once.",
            next_step="Calibrate it.",
        )
