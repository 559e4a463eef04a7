"""A second person signs what a first one proposed: at the same screen, or later at another one.

Owns which acts take a second signature and what it is about. Who may give it stands in `consolidator.authority`.
"""

from dataclasses import dataclass

from consolidator.authority import AUTHORITIES, Deed, Proposal, deed_seconded, readings_about
from consolidator.authority.due import extension_state
from consolidator.desk.desk import Desk, Done, Second
from consolidator.desk.held_pages import HeldAct
from consolidator.errors import DeskRefused
from kiosk.pages.desk import Extension, SecondSignature
from kiosk.pages.readings import Correction, Reading


@dataclass(frozen=True)
class Matter:
    """What a second signature is about: the deed, the readings whose takers may not sign, and the operation."""

    deed: Deed
    readings: tuple[str, ...] = ()
    operation: str | None = None


def second_sign(desk: Desk, of: str, second: Second) -> Done:
    """Set a second signature under page `of` and keep it; the first proposal works from then, never before.

    Raises:
        DeskRefused: X69, X83, the evidence was not seen as it stands, or the page takes no second signature.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    with desk.refusals_kept(second.signer.badge):
        evidence = desk.evidence(of)
        proposed = evidence.pages[0]
        matter = matter_of(desk, proposed)
        proposal = Proposal(proposed.page.person, proposed.at, desk.takers(matter.readings))
        person = desk.second_person(
            matter.deed, second, proposal, shown=evidence.fingerprint, operation=matter.operation
        )
        _check_not_signed_already(desk, of, person.number)
        _check_in_time(desk, proposed)
        meaning = AUTHORITIES[matter.deed].meaning
        first = getattr(proposed.page.act, "signature", None)
        told = "" if first is None else f": {first.sentence}"
        page = desk.keep_second(proposed.page, person, f"I sign page {of} as second person{told}", meaning)
        return Done((page,))


def matter_of(desk: Desk, proposed: HeldAct) -> Matter:
    """Return what a second signature under a page is about.

    Raises:
        DeskRefused: the page takes no second signature.
    """
    act = proposed.page.act
    deed = deed_seconded(act)
    if deed is None:
        raise DeskRefused(
            f"Second signature not set under {proposed.page.ref}.",
            why=f"A page of kind '{act.kind}' takes none.",
            next_step="Look up the page that waits for a second person.",
        )
    reading = desk.page(act.of) if isinstance(act, Correction) else None
    operation = reading.page.act.operation if reading and isinstance(reading.page.act, Reading) else None
    return Matter(deed, readings_about(act), operation)


def seconds_of(desk: Desk, ref: str) -> list[tuple[HeldAct, SecondSignature]]:
    """Return the second signatures under a page, oldest first."""
    return [(held, act) for held, act in desk.acts_of(SecondSignature, (ref,)) if act.of == ref]


def _check_not_signed_already(desk: Desk, ref: str, person: str) -> None:
    if any(held.page.person == person for held, _ in seconds_of(desk, ref)):
        raise DeskRefused(
            f"Second signature not set under {ref} (X69).",
            why=f"{person} has signed it already.",
            next_step="Nothing is to be done; where one more is needed, let another person sign.",
            by_rule="X69",
        )


def _check_in_time(desk: Desk, proposed: HeldAct) -> None:
    act = proposed.page.act
    if not isinstance(act, Extension):
        return
    state = extension_state(proposed.at, desk.now(), act.old_due, desk.lists)
    if state.is_late:
        raise DeskRefused(
            f"The due date of {act.gauge} was not extended (X83).",
            why=f"{state.why[0].upper()}{state.why[1:]}; nothing good works backwards.",
            next_step="Take the gauge out of use and calibrate it.",
            by_rule="X83",
        )
