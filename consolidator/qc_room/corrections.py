"""Corrections at the desk: old value, new value and reason; the reading's own page stays as it was.

Owns entering one and telling where it stands. When it takes effect is `consolidator.authority`'s to say.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from consolidator.authority import (
    AUTHORITIES,
    Correcting,
    CorrectionState,
    Deed,
    ReMeasured,
    Weight,
    correction_state,
    levels_at,
    role_for,
    weight_of,
)
from consolidator.authority.corrections import SignedAt
from consolidator.desk.desk import Desk, Done, check_reason
from consolidator.desk.held_pages import HeldAct
from consolidator.desk.seconds import seconds_of
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused
from consolidator.frame.values import Way, read_keyed
from consolidator.frame.verdicts import bounds_of
from consolidator.frame.world import ms_of
from kiosk.lists import Characteristic, Lists
from kiosk.lists.words import CharacteristicKind
from kiosk.pages.readings import Correction, Reading, ReMeasureOrder
from kiosk.pages.words import Standing, Verdict

_WHAT: Final = "Not corrected."
_GAUGED: Final = {"Accept": Verdict.ACCEPT, "Reject": Verdict.REJECT}


@dataclass(frozen=True)
class Wanted:
    """A correction as it is entered; the old value is looked up, never typed."""

    of: str
    field: str
    new: str
    reason: str
    words: str
    stands: Verdict | None = None
    """The verdict in the ledger, where it is not the one the limits give (a slip never asked about: Not judged)."""


def correct(desk: Desk, signer: Signer, wanted: Wanted) -> Done:
    """Sign a correction and keep it; the notes say from when it works, or what it waits for.

    Raises:
        DeskRefused: the reading is not held, the new value is none or the old one, or the signer took the reading
            and would turn it good (X69).
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    with desk.refusals_kept(signer.badge):
        held, reading = _reading(desk, wanted.of)
        person = desk.identified(Deed.CORRECT, signer, operation=reading.operation)
        check_reason(_WHAT, wanted.words, desk.settings)
        old = _old(reading, wanted.field)
        _check_new(desk, reading, wanted, old)
        weight = _weight(desk, held, reading, wanted)
        if weight.bars_taker and person.number in desk.takers((wanted.of,)):
            raise DeskRefused(
                "Not corrected (X69).",
                why=f"{person.number} took the reading; nobody turns his own reading good.",
                next_step="Tell an inspector or the quality manager what was keyed wrong.",
                by_rule="X69",
            )
        told = {"of": wanted.of, "field": wanted.field, "old": old, "new": wanted.new, "words": wanted.words}
        act = desk.make(_WHAT, Correction, {**told, "reason": wanted.reason})
        sentence = (
            f"I correct the {wanted.field} of reading {wanted.of} from {old} to {wanted.new}, because {wanted.words}"
        )
        page = desk.keep_signed(act, person, sentence, AUTHORITIES[Deed.CORRECT].meaning)
        state = state_of(desk, page.ref, stands=wanted.stands)
        return Done((page,), (f"{weight.value.capitalize()}: {state.words}.",))


def state_of(desk: Desk, ref: str, *, stands: Verdict | None = None) -> CorrectionState:
    """Return where a correction stands now, from the pages about it.

    Raises:
        DeskRefused: there is no such correction, or its reading is not held.
    """
    held = desk.page(ref)
    if held is None or not isinstance(held.page.act, Correction):
        raise DeskRefused(f"Correction {ref} not found.", why="No such page is held.", next_step="Look up its name.")
    act = held.page.act
    of, reading = _reading(desk, act.of)
    wanted = Wanted(act.of, act.field, act.new, act.reason, act.words, stands)
    characteristic = characteristic_of(reading, desk.lists, of.at)
    signature = act.signature
    first = None if signature is None else _signed(desk, held, signature.person, reading.operation, is_first=True)
    seconds = [
        _signed(desk, second, each.signature.person, reading.operation)
        for second, each in seconds_of(desk, ref)
        if each.signature is not None
    ]
    return correction_state(
        Correcting(
            ref=ref,
            correction=act,
            at_ms=ms_of(held.at),
            first=first,
            weight=_weight(desk, of, reading, wanted),
            taker=reading.taken_by or of.page.person or "",
            piece=reading.piece,
            planned=0 if characteristic is None else characteristic.sample_n,
            seconds=tuple(seconds),
            re_measures=tuple(_re_measured(desk, each) for each in desk.held.re_measures(act.of)),
        )
    )


def order_re_measure(desk: Desk, badge: str, of: str, at_station: str, words: str = "") -> Done:
    """Order a blind re-measure of a piece at a station; the old value is never in it.

    Raises:
        DeskRefused: the reading is not held, there is no such station, or the words tell the old value.
    """
    what = "Re-measure not ordered."
    with desk.refusals_kept(badge):
        _, reading = _reading(desk, of)
        person = desk.allowed(Deed.ORDER_RE_MEASURE, badge, operation=reading.operation)
        if desk.lists.station(at_station, desk.now()) is None:
            raise DeskRefused(what, why=f"There is no station {at_station}.", next_step="Name a station.")
        if reading.keyed.strip().lstrip("0") and reading.keyed.strip().lstrip("0") in words:
            raise DeskRefused(
                what,
                why="The words tell the old value; whoever measures must not know it.",
                next_step="Leave every figure out of the words.",
            )
        told = {"of": of, "at_station": at_station, "lot": reading.lot, "characteristic": reading.characteristic}
        act = desk.make(what, ReMeasureOrder, {**told, "piece": reading.piece, "words": words})
        return Done((desk.keep(act, person.number),))


def characteristic_of(reading: Reading, lists: Lists, at: datetime) -> Characteristic | None:
    """Return the characteristic as the revision of the part in force at `at` has it."""
    part = lists.part(reading.part, at)
    revision = reading.revision if part is None else part.revision
    return lists.characteristic(reading.part, revision, reading.characteristic, at)


def verdict_of(reading: Reading, keyed: str, lists: Lists, at: datetime) -> Verdict:
    """Return the verdict of a reading had `keyed` been keyed, by its limits alone; slips are not looked for."""
    characteristic = characteristic_of(reading, lists, at)
    if characteristic is None:
        return Verdict.NOT_JUDGED
    if keyed in _GAUGED:
        return _GAUGED[keyed]
    gauge = None if reading.gauge is None else lists.gauge(reading.gauge, at)
    number = reading.master or (None if gauge is None else gauge.wires or gauge.master)
    master = None if number is None else lists.master(number, at)
    way = Way(reading.keyed_as, reading.unit, master, number is not None, gauge, characteristic)
    figure = way.figures(keyed).value
    value = None if figure is None else way.comparable(figure)
    bounds = bounds_of(characteristic)
    if value is None or bounds is None:
        return Verdict.NOT_JUDGED
    if characteristic.kind is CharacteristicKind.TURNS:
        return Verdict.ACCEPT if bounds.has(value) else Verdict.REJECT
    return Verdict.IN if bounds.has(value) else Verdict.OUT


def _reading(desk: Desk, ref: str) -> tuple[HeldAct, Reading]:
    held = desk.page(ref)
    if held is None or not isinstance(held.page.act, Reading):
        raise DeskRefused(
            f"Reading {ref} not found.",
            why="No reading of that name is held here.",
            next_step="Look up its name on the list, or wait until its kiosk has carried.",
        )
    return held, held.page.act


def _old(reading: Reading, field: str) -> str:
    olds = {
        "value": reading.keyed,
        "lot": reading.lot,
        "gauge": reading.gauge or "none",
        "master": reading.master or "none",
        "piece": str(reading.piece),
    }
    if field not in olds:
        raise DeskRefused(_WHAT, why=f"'{field}' of a reading is not corrected.", next_step=f"Use {', '.join(olds)}.")
    return olds[field]


def _check_new(desk: Desk, reading: Reading, wanted: Wanted, old: str) -> None:
    lists, now, new = desk.lists, desk.now(), wanted.new
    is_known = {
        "value": new in _GAUGED or read_keyed(new) is not None,
        "lot": lists.lot(new) is not None,
        "gauge": lists.gauge(new, now) is not None,
        "master": lists.master(new, now) is not None,
        "piece": new.isascii() and new.isdigit() and int(new) > 0,
    }[wanted.field]
    if not is_known:
        raise DeskRefused(
            _WHAT, why=f"'{new}' is no {wanted.field} known here.", next_step="Look again and key the whole of it."
        )
    if new == old:
        raise DeskRefused(_WHAT, why=f"The {wanted.field} is {old} already.", next_step="Nothing is to be done.")


def _weight(desk: Desk, held: HeldAct, reading: Reading, wanted: Wanted) -> Weight:
    before = wanted.stands or verdict_of(reading, reading.keyed, desk.lists, held.at)
    after = verdict_of(reading, wanted.new, desk.lists, held.at) if wanted.field == "value" else before
    return weight_of(wanted.field, before, after, is_from_paper=reading.paper_form is not None)


def _signed(desk: Desk, held: HeldAct, person: str, operation: str, *, is_first: bool = False) -> SignedAt:
    authority = AUTHORITIES[Deed.CORRECT]
    levels = levels_at(person, desk.lists, held.at, operation=operation)
    is_authorised = role_for(authority.first if is_first else authority.second, levels) is not None
    return SignedAt(person, ms_of(held.at), held.page.ref, is_authorised)


def _re_measured(desk: Desk, held: HeldAct) -> ReMeasured:
    act = held.page.act
    assert isinstance(act, Reading)
    verdict = verdict_of(act, act.keyed, desk.lists, held.at)
    is_good = verdict in (Verdict.IN, Verdict.ACCEPT)
    counts = act.standing is not Standing.BLOCKED and verdict is not Verdict.NOT_JUDGED
    return ReMeasured(held.page.ref, ms_of(held.at), act.piece, is_good, counts)
