"""Test records kept at the desk: verdicts computed from the results, pieces only of the record's own lot and set-up.

Owns what a record must name. That a part is fit is never said by it.
"""

from collections.abc import Mapping
from decimal import Decimal

from consolidator.authority import Deed
from consolidator.desk.desk import Desk, Done
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused
from consolidator.production.proofs import has_failed, has_passed, is_outside, own_pieces
from kiosk.lists import Characteristic
from kiosk.pages.desk import TestPiece, TestRecord
from kiosk.pages.station import JobOpen, SetUpStart
from kiosk.pages.words import Verdict


def record_test(desk: Desk, signer: Signer, told: Mapping[str, object]) -> Done:
    """Keep a test record (fields of `kiosk.pages.desk.TestRecord` without verdicts); its verdicts are computed here.

    A fatigue record that passes proves its set-up from this minute on; one that fails puts all its lots on hold.

    Raises:
        DeskRefused: a piece is of another lot or set-up (X61), the set-up is unknown or never made the lot, or
            something it names is not in the lists.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"Test record {told.get('number', '')} not kept.".replace("  ", " ")
    with desk.refusals_kept(signer.badge):
        record = desk.make(what, TestRecord, _with_no_verdict(told))
        plan = _plan(desk, record, what)
        person = desk.identified(Deed.RECORD_TEST, signer, operation=plan.operation)
        made = _made(desk, record, what)
        _check_origin(record, made, what)
        pieces = tuple(_judged(piece, plan) for piece in record.pieces)
        record = record.model_copy(update={"pieces": pieces})
        failed = has_failed(plan, record)
        record = record.model_copy(update={"verdict": Verdict.OUT if failed else Verdict.IN})
        page = desk.keep(record, person.number)
        return Done((page,), _notes(desk, record, plan, made))


def _with_no_verdict(told: Mapping[str, object]) -> dict[str, object]:
    """Return the fields with a verdict of nothing; whatever was told of it is not looked at."""
    pieces = told.get("pieces", ())
    listed = [dict(piece) | {"verdict": Verdict.NOT_JUDGED} for piece in pieces]  # type: ignore[attr-defined]
    return {**told, "kind": "test record", "pieces": listed, "verdict": Verdict.NOT_JUDGED}


def _plan(desk: Desk, record: TestRecord, what: str) -> Characteristic:
    lot = desk.lists.lot(record.lot)
    if lot is None or lot.part != record.part:
        raise DeskRefused(
            what, why=f"{record.lot} is no lot of {record.part} in the register.", next_step="Scan the lot's tag again."
        )
    plan = desk.lists.characteristic(lot.part, lot.revision, record.characteristic, desk.now())
    if plan is None:
        raise DeskRefused(
            what,
            why=f"{lot.part} revision {lot.revision} has no characteristic {record.characteristic}.",
            next_step="Look it up on the drawing.",
        )
    if not record.pieces:
        raise DeskRefused(what, why="It names no piece.", next_step="Enter the pieces with their results.")
    return plan


def _made(desk: Desk, record: TestRecord, what: str) -> set[str]:
    """Return the lots the record's set-up made, as pages tell; a fatigue test is of a set-up, never of a lot alone."""
    if record.set_up is None:
        if record.what == "fatigue":
            raise DeskRefused(
                what, why="A fatigue test is the proof of a set-up, and none is named.", next_step="Scan the set-up."
            )
        return set()
    starts = [act for _, act in desk.acts_of(SetUpStart, (record.set_up,)) if act.set_up == record.set_up]
    if not starts:
        raise DeskRefused(
            what,
            why=f"No page here tells that {record.set_up} was ever begun.",
            next_step="Scan the set-up again, or carry the pages of its kiosk first.",
        )
    jobs = [act.lot for _, act in desk.acts_of(JobOpen, (record.set_up,)) if act.set_up == record.set_up]
    return {*jobs, *(start.lot for start in starts)}


def _check_origin(record: TestRecord, made: set[str], what: str) -> None:
    if record.set_up is not None and record.lot not in made:
        raise DeskRefused(
            what,
            why=f"{record.set_up} never made {record.lot}; it made {', '.join(sorted(made))} (X61).",
            next_step="Name the set-up the pieces come from, or make a new test of the right pieces.",
            by_rule="X61",
        )
    own = own_pieces(record, made)
    foreign = [piece for piece in record.pieces if piece not in own]
    if foreign:
        named = ", ".join(f"piece {p.piece} of {p.lot}, {p.set_up or 'no set-up named'}" for p in foreign)
        of = f"{record.lot}, {record.set_up}" if record.set_up else record.lot
        raise DeskRefused(
            what,
            why=f"It is for {of} and names {named} (X61).",
            next_step="Keep each piece in a record of its own lot and set-up; test further pieces for this one.",
            by_rule="X61",
        )


def _judged(piece: TestPiece, plan: Characteristic) -> TestPiece:
    """Return the piece with its verdict, where it has a result."""
    if piece.result is None:
        return piece
    verdict = Verdict.OUT if is_outside(plan, Decimal(piece.result)) else Verdict.IN
    return piece.model_copy(update={"verdict": verdict})


def _notes(desk: Desk, record: TestRecord, plan: Characteristic, made: set[str]) -> tuple[str, ...]:
    if record.verdict is Verdict.OUT:
        if record.what == "fatigue":
            lots = ", ".join(sorted(made))
            return (f"Failed (X56): {lots} are on hold. Tell the quality manager now.",)
        return (f"Out of tolerance: hold {record.lot} and tell the quality manager now.",)
    if record.what == "fatigue" and not has_passed(desk.lists.characteristics, record, made):
        return (f"{len(record.pieces)} of {plan.sample_n} pieces: {record.set_up} is not proven yet (X55).",)
    return (f"{record.set_up} is proven from now on; X55 closes by itself.",) if record.what == "fatigue" else ()
