"""Releases: readings blocked for want of evidence are released by two persons, and printed as Released for ever.

Owns what a release must name. That the pieces are good is never said by it.
"""

from collections.abc import Mapping

from consolidator.authority import AUTHORITIES, Deed
from consolidator.desk.desk import Desk, Done, check_reason
from consolidator.desk.held_pages import HeldAct
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused
from consolidator.qc_room.cautions import cautions
from consolidator.qc_room.choices import is_evidence_only
from consolidator.rules import KINDS, Effect
from kiosk.pages.desk import Calibration, Release
from kiosk.pages.readings import Check, Reading
from kiosk.pages.words import CheckVerdict

_WHAT = "Readings not released."


def release(
    desk: Desk,
    signer: Signer,
    act: Mapping[str, object],
    *,
    found: Mapping[str, tuple[str, ...]] | None = None,
) -> Done:
    """Sign a release of blocked readings (fields of `kiosk.pages.desk.Release`); it works from its second signature.

    `found` tells the exceptions of each reading, as the ledger has them: each must be blocked, and by evidence only.

    Raises:
        DeskRefused: no fresh evidence, a reading is not held or is not blocked, or the signer took one of them.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    with desk.refusals_kept(signer.badge):
        person = desk.identified(Deed.RELEASE, signer)
        asked = desk.make(_WHAT, Release, {**act, "signature": None})
        check_reason(_WHAT, asked.reason, desk.settings)
        takers = desk.takers(asked.readings)
        if person.number in takers:
            raise DeskRefused(
                _WHAT,
                why=f"{person.number} took one of them (X69).",
                next_step="Let two others release them.",
                by_rule="X69",
            )
        _check_evidence(desk, asked, found)
        count = len(asked.readings)
        sentence = (
            f"I release {count} reading{'s' if count > 1 else ''} ({', '.join(asked.readings[:20])}) "
            f"on the evidence of {', '.join(asked.evidence)}, because {asked.reason}"
        )
        page = desk.keep_signed(asked, person, sentence, AUTHORITIES[Deed.RELEASE].meaning)
        return Done((page,), (*cautions(6), "Waits for a second signature."))


def _bears_out(held: HeldAct, readings: list[tuple[str, HeldAct | None]]) -> bool:
    """True when a page may bear a release out: a check or calibration only if good, and of a gauge that was used."""
    act = held.page.act
    if isinstance(act, Calibration | Check):
        taken = [each.page.act for _, each in readings if each is not None]
        used = {number for each in taken if isinstance(each, Reading) for number in (each.gauge, each.master)}
        is_good = act.as_found == "Good" if isinstance(act, Calibration) else act.verdict is CheckVerdict.GOOD
        return is_good and act.gauge in used
    return True


def _check_evidence(desk: Desk, asked: Release, found: Mapping[str, tuple[str, ...]] | None) -> None:
    readings = [(ref, desk.page(ref)) for ref in asked.readings]
    evidence = [(ref, desk.page(ref)) for ref in asked.evidence]
    gone = [ref for ref, held in (*readings, *evidence) if held is None]
    not_readings = [ref for ref, held in readings if held is not None and not isinstance(held.page.act, Reading)]
    if not readings or not evidence:
        raise DeskRefused(_WHAT, why="Readings and evidence must both be named.", next_step="Name them and sign again.")
    if gone or not_readings:
        named = ", ".join((*gone, *not_readings))
        raise DeskRefused(_WHAT, why=f"Not held here, or no readings: {named}.", next_step="Look up their names again.")
    first = min(held.at for _, held in readings if held is not None)
    if all(held.at <= first for _, held in evidence if held is not None):
        raise DeskRefused(
            _WHAT,
            why="All evidence named is older than the readings; it tells nothing new of them.",
            next_step="Name what was found since, such as an as-found.",
        )
    if not any(_bears_out(held, readings) for _, held in evidence if held is not None and held.at > first):
        raise DeskRefused(
            _WHAT,
            why="No page named shows the gauge of these readings good: it failed, was found out, or is another gauge.",
            next_step="Name a good check or an as-found that was good, of that gauge or its master.",
        )
    for ref in asked.readings if found is not None else ():
        blocking = [number for number in (found or {}).get(ref, ()) if KINDS[number].effect is Effect.BLOCKED]
        if not blocking or not is_evidence_only(blocking):
            why = f"{ref} is not blocked." if not blocking else f"{ref} is blocked by {', '.join(blocking)}."
            raise DeskRefused(
                _WHAT,
                why=f"{why} Only readings blocked for want of evidence can be released.",
                next_step="Measure the piece again, or leave the reading out.",
            )
