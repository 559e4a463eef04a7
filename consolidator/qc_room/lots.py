"""Lots: closed, opened again, shipped, held, lifted, and operations signed off.

Owns what each of these asks. Whether something is open on a lot is told by the caller, for close of day knows it.
"""

import hashlib
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Final

import rfc8785

from consolidator.authority import AUTHORITIES, Deed, Proposal
from consolidator.desk.desk import Desk, Done, Second, check_reason
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused
from consolidator.qc_room.dispositions import pieces_left, pieces_shipped
from kiosk.lists import Lot
from kiosk.pages.desk import Disposition, Hold, HoldLift, LotClose, LotReopen, LotShip, OperationSignOff
from kiosk.times import write_time

_SILENT: Final = "X70"
"""Kiosk not heard from: it does not stop a close, it takes a second person for it."""


@dataclass(frozen=True)
class OpenException:
    """One open exception that touches a lot."""

    key: str
    number: str
    urgency: str
    sentence: str = ""
    cause: str = ""
    """What it is about as the ledger names it, such as the gauge."""
    lots: tuple[str, ...] = ()
    """Lots it touches or holds."""


@dataclass(frozen=True)
class CloseConditions:
    """What stands against closing a lot, as close of day knows it; empty fields speak for it."""

    exceptions: tuple[OpenException, ...] = ()
    holds: tuple[str, ...] = ()
    unproven_set_ups: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    """Anything else that is missing, in words: acceptance counts, operations not signed off, pieces not counted."""
    silent_kiosks: tuple[str, ...] = ()
    """Kiosks not heard from where the lot was worked."""

    @property
    def fingerprint(self) -> str:
        """What a second signer says he has seen."""
        return hashlib.sha256(rfc8785.dumps(asdict(self))).hexdigest()

    @property
    def against(self) -> tuple[str, ...]:
        """Everything that stops the close, in words."""
        blocking = [e for e in self.exceptions if e.urgency in ("A", "B") and e.number != _SILENT]
        return (
            *(f"{e.number} open ({e.sentence or e.key})" for e in blocking),
            *(f"on hold ({hold})" for hold in self.holds),
            *(f"set-up {set_up} not proven (X55)" for set_up in self.unproven_set_ups),
            *self.missing,
        )


def close_lot(
    desk: Desk,
    signer: Signer,
    which: tuple[str, int],
    conditions: CloseConditions,
    second: Second | None = None,
) -> Done:
    """Sign the closing of a lot (number and good pieces); with a silent kiosk a second person signs at once.

    Raises:
        DeskRefused: something stands against it, all of it named; it is closed already; more pieces than are left;
            or a second person is needed (X70) and there is none, or may not (X69).
        PinRefused: a PIN is wrong or locked, or there is none.
    """
    number, quantity = which
    what = f"Lot {number} not closed."
    with desk.refusals_kept(signer.badge):
        lot = _lot(desk, number, what)
        person = desk.identified(Deed.CLOSE_LOT, signer)
        if is_closed(desk, number):
            raise DeskRefused(what, why="It is closed already.", next_step="Open it again first if it must change.")
        if conditions.against:
            raise DeskRefused(
                what,
                why=f"Still open or missing: {'; '.join(conditions.against)}.",
                next_step="Settle each of them, then close it.",
            )
        left = _check_quantity(desk, lot, quantity, what)
        needs_second = bool(conditions.silent_kiosks)
        if needs_second and second is None:
            raise DeskRefused(
                what,
                why=f"It was worked at kiosks not heard from: {', '.join(conditions.silent_kiosks)} (X70).",
                next_step="Wait for the kiosk, carry by stick, or let a second person sign with you.",
                by_rule=_SILENT,
            )
        proposal = Proposal(person.number, desk.now())
        other = (
            None
            if second is None
            else desk.second_person(Deed.CLOSE_LOT, second, proposal, shown=conditions.fingerprint)
        )
        act = desk.make(what, LotClose, {"lot": number, "quantity": quantity})
        silent = f", although not heard from: {', '.join(conditions.silent_kiosks)}" if needs_second else ""
        sentence = f"I close lot {number} with {quantity} pieces{silent}."
        meaning = AUTHORITIES[Deed.CLOSE_LOT].meaning
        pages = [desk.keep_signed(act, person, sentence, meaning)]
        if other is not None:
            pages.append(desk.keep_second(pages[0], other, sentence, meaning))
        rest = left - quantity
        return Done(tuple(pages), (f"{rest} of {left} pieces left are not in it (X42).",) if rest else ())


def reopen_lot(desk: Desk, signer: Signer, lot: str, reason: str) -> Done:
    """Sign the opening again of a closed lot.

    Raises:
        DeskRefused: it is not closed, or the reason says nothing.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"Lot {lot} not opened again."
    with desk.refusals_kept(signer.badge):
        _lot(desk, lot, what)
        person = desk.identified(Deed.REOPEN_LOT, signer)
        if not is_closed(desk, lot):
            raise DeskRefused(what, why="It is not closed.", next_step="Nothing is to be done.")
        check_reason(what, reason, desk.settings)
        act = desk.make(what, LotReopen, {"lot": lot, "reason": reason})
        page = desk.keep_signed(
            act, person, f"I open lot {lot} again, because {reason}", AUTHORITIES[Deed.REOPEN_LOT].meaning
        )
        return Done((page,))


def ship_lot(desk: Desk, badge: str, shipment: LotShip, conditions: CloseConditions | None = None) -> Done:
    """Keep that pieces of a lot left the plant. A fact is never refused for what is open; the notes say what is (X84).

    Raises:
        DeskRefused: there is no such lot, or more pieces than it has.
    """
    what = f"Shipment of lot {shipment.lot} not kept."
    with desk.refusals_kept(badge):
        lot = _lot(desk, shipment.lot, what)
        person = desk.allowed(Deed.SHIP_LOT, badge)
        _check_quantity(desk, lot, shipment.quantity, what)
        notes = [] if is_closed(desk, lot.number) else [f"Lot {lot.number} is not closed."]
        against = () if conditions is None else conditions.against
        notes += (
            [f"X84: shipped with what is open: {'; '.join(against)}. Tell the quality manager now."] if against else []
        )
        return Done((desk.keep(shipment, person.number),), tuple(notes))


def hold_lot(desk: Desk, badge: str, lot: str, reason: str) -> Done:
    """Put a lot on hold by hand; anybody of the plant may.

    Raises:
        DeskRefused: there is no such lot or badge, or the reason says nothing.
    """
    what = f"Lot {lot} not put on hold."
    with desk.refusals_kept(badge):
        _lot(desk, lot, what)
        person = desk.allowed(Deed.HOLD, badge)
        check_reason(what, reason, desk.settings)
        return Done((desk.keep(desk.make(what, Hold, {"lot": lot, "reason": reason}), person.number),))


def lift_hold(desk: Desk, signer: Signer, lot: str, reason: str, exceptions: Iterable[tuple[str, str]] = ()) -> Done:
    """Sign the lifting of a lot's hold, for exceptions by number and urgency (none: all); an A waits for a second.

    Raises:
        DeskRefused: there is no such lot, or the reason says nothing.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"Hold of lot {lot} not lifted."
    with desk.refusals_kept(signer.badge):
        _lot(desk, lot, what)
        person = desk.identified(Deed.LIFT_HOLD, signer)
        check_reason(what, reason, desk.settings)
        told = tuple(exceptions)
        numbers = tuple(number for number, _ in told)
        act = desk.make(what, HoldLift, {"lot": lot, "exceptions": numbers, "reason": reason})
        because = f" for {', '.join(numbers)}" if numbers else ""
        sentence = f"I lift the hold of lot {lot}{because}, because {reason}"
        page = desk.keep_signed(act, person, sentence, AUTHORITIES[Deed.LIFT_HOLD].meaning)
        waits = not told or any(urgency == "A" for _, urgency in told)
        return Done((page,), ("An A hold stays until a second person signs.",) if waits else ())


def sign_off(desk: Desk, signer: Signer, lot: str, operation: str, words: str = "") -> Done:
    """Sign that an operation of a lot is accepted, so that the next may start; it works forwards only.

    Raises:
        DeskRefused: the route has no such operation, the one before is not signed off, or this one is already.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"Operation {operation} of lot {lot} not signed off."
    with desk.refusals_kept(signer.badge):
        known = _lot(desk, lot, what)
        person = desk.identified(Deed.SIGN_OFF, signer, operation=operation)
        plan = desk.lists.plan(known.part, known.revision, operation, desk.now())
        if plan is None:
            raise DeskRefused(what, why="The route has no such operation.", next_step="Look it up on the traveller.")
        done = {act.operation for _, act in desk.acts_of(OperationSignOff, (lot,)) if act.lot == lot}
        if operation in done:
            raise DeskRefused(what, why="It is signed off already.", next_step="Nothing is to be done.")
        if plan.after_operation is not None and plan.after_operation not in done:
            raise DeskRefused(
                what,
                why=f"Operation {plan.after_operation} comes before it and is not signed off (X48).",
                next_step=f"Sign off operation {plan.after_operation} first.",
                by_rule="X48",
            )
        act = desk.make(what, OperationSignOff, {"lot": lot, "operation": operation, "words": words})
        sentence = f"I accept operation {operation} of lot {lot} at {write_time(desk.now())}."
        return Done((desk.keep_signed(act, person, sentence, AUTHORITIES[Deed.SIGN_OFF].meaning),))


def is_closed(desk: Desk, lot: str) -> bool:
    """True when the last that was signed of a lot is its closing."""
    news = [
        (held.at, held.page.number, isinstance(held.page.act, LotClose))
        for held in desk.acts(LotClose, LotReopen, naming=(lot,))
        if _is_of(held.page.act, lot)
    ]
    return bool(news) and max(news)[2]


def _is_of(act: object, lot: str) -> bool:
    return isinstance(act, LotClose | LotReopen) and act.lot == lot


def _lot(desk: Desk, number: str, what: str) -> Lot:
    lot = desk.lists.lot(number)
    if lot is None:
        raise DeskRefused(what, why="It is not in the register of lots.", next_step="Scan the lot's tag again.")
    return lot


def _check_quantity(desk: Desk, lot: Lot, quantity: int, what: str) -> int:
    acts = [held.page.act for held in desk.acts(Disposition, LotShip, naming=(lot.number,))]
    left = pieces_left(lot.quantity, acts, lot.number) - pieces_shipped(acts, lot.number)
    if not 0 < quantity <= left:
        raise DeskRefused(
            what, why=f"{quantity} pieces were counted and {left} are left.", next_step="Count again and key the count."
        )
    return left
