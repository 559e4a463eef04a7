"""Dispositions: what is done with pieces that do not conform, and how many are left.

Owns checking one against the legal choices, the pieces left in the lot and what each choice needs.
Which choices are legal stands in `choices`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from consolidator.authority import AUTHORITIES, Deed, person_of
from consolidator.desk.desk import Desk, Done, check_reason
from consolidator.desk.signatures import Person, Signer
from consolidator.errors import DeskRefused
from consolidator.production.disposed import TAKING_PIECES
from consolidator.qc_room.cautions import cautions
from consolidator.qc_room.choices import (
    TRIED_ON_THREAD,
    Offer,
    PlanAllows,
    Problem,
    choices_for,
    is_evidence_only,
)
from kiosk.lists import Characteristic, Lot
from kiosk.lists.words import Feature
from kiosk.pages import Act
from kiosk.pages.desk import Disposition, LotShip
from kiosk.pages.readings import Reading
from kiosk.pages.words import Choice, SampleKind

_NEEDING_TWO = frozenset({"X07", "X08", "X56"})
"""Exceptions whose disposition takes two signatures."""
_COUNTED = (Choice.SCRAP, Choice.REWORK, Choice.RE_TAP, Choice.USE_AS_IS, Choice.RETURN)
"""Choices that are about a number of pieces."""


@dataclass(frozen=True)
class Wanted:
    """A disposition as somebody at the desk, or anything else, asks for it."""

    choice: Choice
    lot: str
    reason: str
    characteristic: str | None = None
    pieces: int = 0
    exceptions: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()
    where: str = ""
    tag: str | None = None
    method: str = ""
    witness: str | None = None
    customer_approval: str | None = None
    ends_hold: bool = False
    is_oversize: bool | None = None
    is_before_rolling: bool = False
    plan: PlanAllows = field(default_factory=PlanAllows)


def offers(desk: Desk, wanted: Wanted, badge: str | None = None) -> tuple[Offer, ...]:
    """Return the legal choices for what `wanted` tells of (its own choice is not looked at), for whoever asks.

    Pieces counted and readings not named are known to be bad; then only what ends them is offered.
    """
    lot = _lot(desk, wanted.lot)
    characteristic = _characteristic(desk, lot, wanted.characteristic)
    re_taps = desk.lists.numbers(desk.now()).re_taps
    is_manager = badge is not None and _is_manager(desk, badge)
    return choices_for(
        characteristic, _problem(desk, wanted, is_manager=is_manager), wanted.plan, re_taps_allowed=re_taps
    )


def dispose(desk: Desk, signer: Signer, wanted: Wanted) -> Done:
    """Sign a disposition and keep it; where it takes two, it waits for the second (`consolidator.desk.seconds`).

    Raises:
        DeskRefused: the choice is not legal here (X62, X63), more pieces than the lot has, or something is missing.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    with desk.refusals_kept(signer.badge):
        if wanted.choice is Choice.RELEASE:
            raise DeskRefused(
                "Not disposed.", why="A release names its evidence.", next_step="Use the release of blocked readings."
            )
        lot = _lot(desk, wanted.lot)
        characteristic = _characteristic(desk, lot, wanted.characteristic)
        deed = Deed.REQUEST if wanted.choice is Choice.USE_AS_IS else Deed.DISPOSE
        operation = None if characteristic is None else characteristic.operation
        person = desk.identified(deed, signer, operation=operation)
        offer = _legal(desk, wanted, characteristic, person)
        _check_pieces(desk, wanted, lot)
        _check_needs(desk, wanted, person)
        check_reason(_not_disposed(wanted), wanted.reason, desk.settings)
        act = desk.make(_not_disposed(wanted), Disposition, _fields(wanted, lot))
        page = desk.keep_signed(act, person, _sentence(wanted), AUTHORITIES[deed].meaning)
        told = cautions(*offer.cautions)
        waits = offer.needs_two or not _NEEDING_TWO.isdisjoint(wanted.exceptions)
        return Done((page,), (*told, *(["Waits for a second signature."] if waits else [])))


def pieces_left(quantity: int, acts: Iterable[Act], lot: str) -> int:
    """Return the pieces of a lot that are neither scrapped nor returned: 2 000 less 35 scrapped is 1 965."""
    gone = sum(
        act.pieces for act in acts if isinstance(act, Disposition) and act.lot == lot and act.choice in TAKING_PIECES
    )
    return quantity - gone


def pieces_shipped(acts: Iterable[Act], lot: str) -> int:
    """Return the pieces of a lot that left the plant as good ones."""
    return sum(act.quantity for act in acts if isinstance(act, LotShip) and act.lot == lot)


def re_taps_so_far(desk: Desk, wanted: Wanted) -> int:
    """Return how often the pieces at hand were re-tapped: by the readings named, by their tag, or else by their lot.

    Where neither readings nor a tag tell these pieces from those re-tapped before, they count as the same.
    """
    kinds = [held.page.act for ref in wanted.readings if (held := desk.page(ref)) is not None]
    if any(isinstance(act, Reading) and act.sample_kind is SampleKind.RE_TAP for act in kinds):
        return 1
    done = [
        act
        for _, act in desk.acts_of(Disposition, (wanted.lot,))
        if act.lot == wanted.lot and act.choice is Choice.RE_TAP
    ]
    if wanted.tag is not None:
        return sum(act.tag == wanted.tag for act in done)
    return 0 if wanted.readings else len(done)


def _problem(desk: Desk, wanted: Wanted, *, is_manager: bool) -> Problem:
    return Problem(
        exceptions=wanted.exceptions,
        re_taps_so_far=re_taps_so_far(desk, wanted),
        are_pieces_bad=wanted.pieces > 0 and not wanted.readings and not wanted.exceptions,
        is_oversize=wanted.is_oversize,
        is_before_rolling=wanted.is_before_rolling,
        is_asked_by_manager=is_manager,
    )


def _legal(desk: Desk, wanted: Wanted, characteristic: Characteristic | None, person: Person) -> Offer:
    """Return the offer that was chosen; anything not offered is refused, whatever sent it."""
    offered = offers(desk, wanted, person.number)
    chosen = next((offer for offer in offered if offer.choice is wanted.choice), None)
    if chosen is not None:
        return chosen
    allowed = ", ".join(offer.choice.value for offer in offered if offer.choice is not Choice.USE_AS_IS)
    feature = Feature.OTHER if characteristic is None else characteristic.feature
    if feature is Feature.EXTERNAL_ROLLED_THREAD and wanted.choice in TRIED_ON_THREAD:
        raise DeskRefused(
            f"Not disposed, lot {wanted.lot}: a rolled external thread is never worked on again (X62).",
            why=cautions(7)[0],
            next_step=f"Choose one of: {allowed}. Scrap is made unusable and witnessed.",
            by_rule="X62",
        )
    if feature is Feature.TAPPED_THREAD and wanted.choice is Choice.RE_TAP and re_taps_so_far(desk, wanted):
        raise DeskRefused(
            f"Not disposed, lot {wanted.lot}: these pieces were re-tapped before (X63).",
            why="A tapped thread is tapped again once. Where others are meant, their readings or tag say so.",
            next_step=f"Choose one of: {allowed}.",
            by_rule="X63",
        )
    raise DeskRefused(
        f"Not disposed, lot {wanted.lot}: '{wanted.choice.value}' is not offered here.",
        why=_why_not_offered(wanted, feature),
        next_step=f"Choose one of: {allowed}.",
    )


def _why_not_offered(wanted: Wanted, feature: Feature) -> str:
    if wanted.choice is Choice.USE_AS_IS:
        return "Only the quality manager may turn to the organisation responsible for the design."
    if is_evidence_only(wanted.exceptions):
        return "What is in doubt is the evidence, not the piece: it is measured again, or released by two."
    return f"It is none of the choices for {feature.value}, or the plan does not allow it."


def _check_pieces(desk: Desk, wanted: Wanted, lot: Lot) -> None:
    if wanted.choice in _COUNTED and wanted.pieces < 1:
        raise DeskRefused(
            _not_disposed(wanted), why="No pieces were counted.", next_step="Count them and key the count."
        )
    acts = [held.page.act for held in desk.acts(Disposition, LotShip, naming=(lot.number,))]
    left = pieces_left(lot.quantity, acts, lot.number) - pieces_shipped(acts, lot.number)
    if wanted.pieces > left:
        raise DeskRefused(
            _not_disposed(wanted),
            why=f"{wanted.pieces} pieces were counted and the lot has {left} left.",
            next_step="Count again, and look whether the pieces are of this lot.",
        )


def _check_needs(desk: Desk, wanted: Wanted, person: Person) -> None:
    missing: list[str] = []
    if wanted.choice is Choice.SCRAP:
        missing += [] if wanted.method.strip() else ["the method by which they are made unusable"]
        missing += [] if wanted.witness else ["a witness"]
    if wanted.choice is Choice.RE_MEASURE and not (wanted.readings or wanted.where.strip()):
        missing.append("the readings, or where the pieces are")
    if missing:
        raise DeskRefused(
            _not_disposed(wanted), why=f"Missing: {' and '.join(missing)}.", next_step="Add it and sign again."
        )
    if wanted.witness is not None:
        witness = person_of(wanted.witness, desk.lists)
        if witness is None or witness.number == person.number:
            raise DeskRefused(
                _not_disposed(wanted),
                why=f"{wanted.witness} is nobody of the plant, or signs it as well.",
                next_step="Name another person who was there when they were destroyed.",
            )


def _fields(wanted: Wanted, lot: Lot) -> dict[str, object]:
    told = {name: getattr(wanted, name) for name in Disposition.model_fields if hasattr(wanted, name)}
    return {**told, "kind": "disposition", "part": lot.part}


def _sentence(wanted: Wanted) -> str:
    pieces = f"{wanted.pieces} pieces of " if wanted.pieces else ""
    about = f" for {wanted.characteristic}" if wanted.characteristic else ""
    method = f", {wanted.method}, witnessed by {wanted.witness}" if wanted.choice is Choice.SCRAP else ""
    return f"I dispose of {pieces}lot {wanted.lot}{about}: {wanted.choice.value}{method}, because {wanted.reason}"


def _not_disposed(wanted: Wanted) -> str:
    return f"Not disposed, lot {wanted.lot}."


def _lot(desk: Desk, number: str) -> Lot:
    lot = desk.lists.lot(number)
    if lot is None:
        raise DeskRefused(
            f"Lot {number} not found.", why="It is not in the register of lots.", next_step="Scan the lot's tag again."
        )
    return lot


def _characteristic(desk: Desk, lot: Lot, number: str | None) -> Characteristic | None:
    if number is None:
        return None
    found = desk.lists.characteristic(lot.part, lot.revision, number, desk.now())
    if found is None:
        raise DeskRefused(
            f"Characteristic {number} not found.",
            why=f"{lot.part} revision {lot.revision} has none of that number.",
            next_step="Look it up on the drawing.",
        )
    return found


def _is_manager(desk: Desk, badge: str) -> bool:
    try:
        desk.allowed(Deed.REQUEST, badge)
    except DeskRefused:
        return False
    return True
