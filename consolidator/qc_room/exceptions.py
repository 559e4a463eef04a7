"""Exceptions at the desk: taken, written on, handed over, closed with a reason; evaluations and customer notices.

Owns who may close which and what a closing must name. What closes by itself is close of day's.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from consolidator.authority import AUTHORITIES, Deed, person_of
from consolidator.desk.desk import Desk, Done, check_reason
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused
from consolidator.qc_room.cautions import cautions
from consolidator.qc_room.lots import OpenException
from consolidator.rules import KINDS, Kind
from kiosk.lists.words import Level
from kiosk.pages import Act, Page
from kiosk.pages.desk import (
    Calibration,
    CustomerNotice,
    Disposition,
    Evaluation,
    ExceptionClose,
    ExceptionStep,
    Extension,
    GaugeStateChange,
    LotShip,
    PagesLost,
    Release,
    SecondSignature,
    TestRecord,
)
from kiosk.pages.readings import Check, Reading
from kiosk.pages.station import GaugeMovement, PieceCount, SetUpChange, SetUpStart
from kiosk.pages.words import CheckVerdict, Choice

_QUALITY: Final = (Level.DISPOSITION, Level.QUALITY_MANAGER)
_INSPECTION: Final = (Level.INSPECTOR, *_QUALITY)
_CLOSERS: Final = {
    "Op": (Level.OPERATOR, Level.TRAINER, Level.LEAD, *_INSPECTION),
    "Lead": (Level.LEAD, *_INSPECTION),
    "QC": _INSPECTION,
    "Cal": (Level.CALIBRATOR, *_QUALITY),
    "Eng": _QUALITY,
    "QM": (Level.QUALITY_MANAGER,),
}
"""Who may close, by the word of who acts on a kind."""

BY_ITSELF: Final = {"X55": "its proof passes", "X70": "its kiosk is heard from", "X72": "its pages arrive"}
"""Kinds that close by their course; a hand closes X70 and X72 only on pages declared lost."""

EVIDENCE: Final[dict[str, tuple[type[Act], ...]]] = {
    "X05": (Calibration, Check, Release),
    "X06": (Calibration, Check),
    "X07": (Disposition, Evaluation),
    "X08": (Disposition, Evaluation, Calibration),
    "X09": (Calibration, Check, Release, Reading),
    "X10": (Release, Reading),
    "X11": (Check,),
    "X12": (Check,),
    "X14": (Reading,),
    "X21": (Calibration,),
    "X23": (Disposition,),
    "X36": (Reading,),
    "X39": (Disposition, Evaluation, Reading),
    "X42": (PieceCount,),
    "X43": (Disposition, Evaluation, Reading),
    "X48": (Evaluation,),
    "X50": (Evaluation, Disposition),
    "X52": (Evaluation, TestRecord),
    "X53": (Disposition,),
    "X56": (Disposition,),
    "X57": (TestRecord,),
    "X60": (Check, TestRecord, Release),
    "X61": (TestRecord,),
    "X62": (Disposition,),
    "X63": (Disposition,),
    "X64": (SetUpChange, SetUpStart),
    "X67": (Reading,),
    "X69": (SecondSignature, Evaluation),
    "X70": (PagesLost,),
    "X72": (PagesLost,),
    "X80": (Evaluation,),
    "X81": (Calibration,),
    "X82": (Calibration, GaugeMovement, GaugeStateChange, Extension),
    "X84": (CustomerNotice, Evaluation),
}
"""Kinds that no statement alone closes, with the pages that may bear the closing out."""


_ONE_IS_WRONG: Final = frozenset({"X14", "X67"})
"""Kinds of two readings that cannot both be true: their closing names the wrong one, and close of day blocks it."""
_ENDED_BY_SCRAP: Final = frozenset({"X62", "X63"})
"""Kinds after which the pieces are made unusable; no other disposition closes them."""


@dataclass(frozen=True)
class Closing:
    """A closing as it is asked for."""

    reason: str
    evidence: tuple[str, ...] = ()
    was_nothing_wrong: bool = False
    operation: str | None = None
    """Operation the exception is about, where whoever closes it is qualified for that one only."""


@dataclass(frozen=True)
class NoticeFacts:
    """What a customer is told: facts only, each of them, and not a word more."""

    lot: str
    quantity: int
    shipped_on: str
    made_from: str
    made_until: str
    characteristic: str
    error: str
    """Size of the error with its unit, e.g. `0.0003 in`."""
    direction: str
    """Which way the gauge was off: `reads high` or `reads low`."""


def take_step(desk: Desk, badge: str, step: ExceptionStep) -> Done:
    """Keep that somebody took an exception, wrote on it, asked the floor, joined, split or handed it over.

    Raises:
        DeskRefused: nobody has that badge, or what the step needs is missing.
    """
    what = f"Step on exception {step.exception} not kept."
    with desk.refusals_kept(badge):
        person = desk.allowed(Deed.STEP, badge)
        needs_words = step.step in ("note", "ask the floor", "split")
        if needs_words and not step.words.strip():
            raise DeskRefused(what, why="There are no words in it.", next_step="Write what the next reader must know.")
        if not _leads_somewhere(desk, step):
            raise DeskRefused(
                what,
                why=f"'{step.to or ''}' is nobody and nothing to {step.step} to.",
                next_step="Name the person, the station, or the other exception.",
            )
        return Done((desk.keep(step, person.number),))


def _leads_somewhere(desk: Desk, step: ExceptionStep) -> bool:
    to = step.to or ""
    if step.step == "hand over":
        return person_of(to, desk.lists) is not None
    if step.step == "ask the floor":
        return desk.lists.station(to, desk.now()) is not None
    return step.step != "join" or (bool(to) and to != step.exception)


def close_exception(desk: Desk, signer: Signer, which: OpenException, closing: Closing) -> Done:
    """Sign the closing of an exception; urgency A works from a second signature.

    Raises:
        DeskRefused: it closes by its course only, the reason says nothing, evidence is missing, or this person may not.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"Exception {which.key} not closed."
    with desk.refusals_kept(signer.badge):
        kind = KINDS.get(which.number)
        if kind is None:
            raise DeskRefused(what, why=f"There is no kind {which.number}.", next_step="Take its name from the list.")
        person = desk.identified(Deed.CLOSE_EXCEPTION, signer, operation=closing.operation, levels=closers_of(kind))
        if any(act.exception == which.key for _, act in desk.acts_of(ExceptionClose, (which.key,))):
            raise DeskRefused(what, why="Its closing is signed already.", next_step="Nothing is to be done.")
        check_reason(what, closing.reason, desk.settings)
        if not (closing.was_nothing_wrong and which.number in _ONE_IS_WRONG):
            _check_evidence(desk, what, kind, which, closing.evidence)
        told = {"exception": which.key, "reason": closing.reason, "evidence": closing.evidence}
        act = desk.make(what, ExceptionClose, {**told, "was_nothing_wrong": closing.was_nothing_wrong})
        sentence = f"I close {which.number} {kind.name} ({which.key}), because {closing.reason}"
        page = desk.keep_signed(act, person, sentence, AUTHORITIES[Deed.CLOSE_EXCEPTION].meaning)
        return Done((page,), _notes(which, closing))


def _notes(which: OpenException, closing: Closing) -> tuple[str, ...]:
    if which.number in _ONE_IS_WRONG and closing.evidence:
        named = ", ".join(closing.evidence)
        return (f"Blocked when the day is closed again: {named}. The ledger of a sealed day is not changed.",)
    return ("It stays open until a second person signs.",) if which.urgency == "A" else ()


def closers_of(kind: Kind) -> tuple[Level, ...]:
    """Return the levels that may close a kind: of everybody who acts on it; where the manager does, only his."""
    words = [word for word in re.findall(r"[A-Za-z]+", kind.who) if word in _CLOSERS]
    if "QM" in words:
        return _CLOSERS["QM"]
    levels = [level for word in words for level in _CLOSERS[word]] or list(_QUALITY)
    return tuple(dict.fromkeys(levels))


def evaluate(desk: Desk, signer: Signer, evaluation: Evaluation) -> Done:
    """Sign a written judgement on something that can no longer be measured.

    Raises:
        DeskRefused: it names no exception or lot, or its words say nothing.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"Evaluation of lot {evaluation.lot} not kept."
    with desk.refusals_kept(signer.badge):
        person = desk.identified(Deed.EVALUATE, signer)
        if desk.lists.lot(evaluation.lot) is None or not evaluation.exceptions:
            raise DeskRefused(what, why="It names no known lot or no exception.", next_step="Name what it is about.")
        check_reason(what, evaluation.words, desk.settings)
        numbers = ", ".join(evaluation.exceptions)
        sentence = f"I judge {numbers} of lot {evaluation.lot} as written: {evaluation.words}"
        return Done((desk.keep_signed(evaluation, person, sentence, AUTHORITIES[Deed.EVALUATE].meaning),))


def prepare_notice(desk: Desk, badge: str, facts: NoticeFacts) -> Done:
    """Keep the facts for a customer about product already delivered; the quality manager decides and sends.

    Raises:
        DeskRefused: a fact is missing, or nothing of the lot was shipped.
    """
    what = f"Notice about lot {facts.lot} not prepared."
    with desk.refusals_kept(badge):
        person = desk.allowed(Deed.NOTIFY, badge)
        missing = [name.replace("_", " ") for name, value in vars(facts).items() if not value]
        if missing:
            raise DeskRefused(what, why=f"Missing: {', '.join(missing)}.", next_step="Add what is missing.")
        shipped = [act for _, act in desk.acts_of(LotShip, (facts.lot,)) if act.lot == facts.lot]
        if not shipped:
            raise DeskRefused(what, why="Nothing of it was shipped.", next_step="Hold the lot instead.")
        told = {"lot": facts.lot, "customer": shipped[-1].customer, "facts": facts_text(facts)}
        return Done((desk.keep(desk.make(what, CustomerNotice, told), person.number),), cautions(17))


def facts_text(facts: NoticeFacts) -> str:
    """Return the facts as they are told: no opinion, no cause, no promise."""
    return (
        f"Lot {facts.lot}, {facts.quantity} pieces shipped {facts.shipped_on}, made {facts.made_from} to "
        f"{facts.made_until}. Characteristic {facts.characteristic}: the gauge was found in error by {facts.error}, "
        f"it {facts.direction}."
    )


def _check_evidence(desk: Desk, what: str, kind: Kind, which: OpenException, evidence: tuple[str, ...]) -> None:
    wanted = EVIDENCE.get(kind.number, ())
    held = [(ref, desk.page(ref)) for ref in evidence]
    gone = [ref for ref, found in held if found is None]
    if gone:
        raise DeskRefused(what, why=f"Not held here: {', '.join(gone)}.", next_step="Look up their names again.")
    acts: list[Act] = [found.page.act for _, found in held if found is not None]
    if kind.number in _ONE_IS_WRONG:
        _check_wrong_ones(what, which, [found.page for _, found in held if found is not None])
        return
    if any(_bears_out(act, wanted, which) for act in acts):
        _check_every_lot(what, which, acts)
        return
    if kind.number in BY_ITSELF:
        hint = "" if not wanted else " Where they will never come, name the page that declares them lost."
        raise DeskRefused(
            what, why=f"It closes by itself when {BY_ITSELF[kind.number]}.", next_step=f"Wait for that.{hint}"
        )
    if wanted:
        words = " or ".join(str(act.model_fields["kind"].default) for act in wanted)
        raise DeskRefused(
            what,
            why=f"A statement alone does not close {kind.number}; it takes the page of a good {words}.",
            next_step=f"What closes it: {kind.closes}. Name that page as evidence.",
        )


def _check_wrong_ones(what: str, which: OpenException, pages: Sequence[Page]) -> None:
    """Refuse the closing of two readings that cannot both be true unless it names the wrong one, and only such."""
    mine = [page for page in pages if isinstance(page.act, Reading) and _is_about(page, page.act, which)]
    if not mine or len(mine) < len(pages):
        strange = [page.ref for page in pages if page not in mine]
        raise DeskRefused(
            what,
            why=f"{', '.join(strange)} is no reading of {which.cause}." if strange else "It names no reading as wrong.",
            next_step="Find out which was true and name the other; where both were true, say that nothing was wrong.",
        )


def _is_about(page: Page, reading: Reading, which: OpenException) -> bool:
    return which.cause in ("", reading.gauge) or (which.number == "X67" and page.station in which.cause.split(" and "))


def _bears_out(act: Act, wanted: tuple[type[Act], ...], which: OpenException) -> bool:
    if not isinstance(act, wanted):
        return False
    if isinstance(act, Calibration):
        return act.as_found == "Good" and which.cause in ("", act.gauge)
    if isinstance(act, Check):
        return act.verdict is CheckVerdict.GOOD and which.cause in ("", act.gauge)
    if isinstance(act, PieceCount):
        told = act.good + act.scrap + act.test + act.in_hand
        return act.pieces_in == told and which.cause in ("", act.lot)
    if isinstance(act, TestRecord):
        of = act.set_up if which.number == "X57" else act.lot if which.number == "X61" else ""
        return not act.verdict.is_bad and (not of or which.cause in ("", of))
    if which.number in _ENDED_BY_SCRAP:
        return isinstance(act, Disposition) and act.choice is Choice.SCRAP and which.cause in ("", act.lot)
    return True


def _check_every_lot(what: str, which: OpenException, acts: Sequence[Act]) -> None:
    """Refuse the closing of a failed proof while a lot of its set-up has no disposition of its own."""
    disposed = {act.lot for act in acts if isinstance(act, Disposition)}
    waiting = [lot for lot in which.lots if lot not in disposed]
    if which.number == "X56" and waiting:
        raise DeskRefused(
            what,
            why=f"Each lot of the set-up takes a disposition of its own; none is named for {', '.join(waiting)}.",
            next_step="Dispose of each of them with two signatures, then name those pages.",
        )
