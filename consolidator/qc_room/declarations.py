"""What makes a day whole: pages declared lost by two persons, and the page of its seal with both PINs looked at first.

Owns these two acts. The sealing itself is the ledger's.
"""

from collections.abc import Callable

from consolidator.authority import AUTHORITIES, Deed, Proposal
from consolidator.desk.desk import Desk, Done, Second, check_reason
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused
from kiosk.pages.desk import PagesLost, Seal


def declare_lost(desk: Desk, signer: Signer, lost: PagesLost) -> Done:
    """Sign that pages will never come; it works from a second signature, and stays if they turn up later.

    Raises:
        DeskRefused: the range is none, too long, or holds pages that are here; or the reason says nothing.
        PinRefused: the PIN is wrong or locked, or there is none.
    """
    what = f"Pages {lost.first} to {lost.last} of {lost.series} not declared lost."
    with desk.refusals_kept(signer.badge):
        person = desk.identified(Deed.DECLARE_LOST, signer)
        count, most = lost.last - lost.first + 1, desk.settings.lost_pages_at_once
        if not 1 <= count <= most:
            raise DeskRefused(
                what,
                why=f"The range is empty or longer than {most} pages.",
                next_step="Give first and last page number.",
            )
        here = [run for run in desk.held.runs(lost.series) if run[0] <= lost.last and lost.first <= run[1]]
        if here:
            named = ", ".join(f"{max(a, lost.first)}–{min(b, lost.last)}" for a, b in here[:5])
            raise DeskRefused(what, why=f"These are here: {named}.", next_step="Leave them out of the range.")
        check_reason(what, lost.reason, desk.settings)
        sentence = f"I declare pages {lost.first} to {lost.last} of {lost.series} lost, because {lost.reason}"
        page = desk.keep_signed(lost, person, sentence, AUTHORITIES[Deed.DECLARE_LOST].meaning)
        return Done(
            (page,), ("Waits for a second signature.", "Affected samples are measured again or evaluated (X79).")
        )


def seal_page(desk: Desk, signer: Signer, ledger: str, seal: Callable[[], Seal], second: Second | None = None) -> Done:
    """Look at the PINs of who seals and of the second person, let `seal` fix the ledger, and keep its act as a page.

    `ledger` is the fingerprint of the ledger whose front sheet the second person must have seen.

    Raises:
        DeskRefused: one of the two may not seal (X69).
        PinRefused: a PIN is wrong or locked, or there is none.
        SealRefused: the ledger refused it; nothing was kept.
    """
    with desk.refusals_kept(signer.badge):
        person = desk.identified(Deed.SEAL, signer)
        proposal = Proposal(person.number, desk.now())
        other = None if second is None else desk.second_person(Deed.SEAL, second, proposal, shown=ledger)
        act = seal()
        pages = [desk.keep(act, person.number)]
        if other is not None:
            sentence = "" if act.signature is None else act.signature.sentence
            pages.append(desk.keep_second(pages[0], other, sentence, AUTHORITIES[Deed.SEAL].meaning))
        return Done(tuple(pages))
