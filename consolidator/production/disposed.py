"""Dispositions that work nothing, whoever signed them and whatever program let them into a book.

Owns saying which: a rolled external thread worked on again, a thread tapped too often, more pieces than the lot has.
The desk refuses them all; close of day must not count one that came another way. Knows no exception kinds.
"""

from consolidator.frame import Day
from consolidator.production.rework import forbidden_rework, re_taps_of
from kiosk.pages.desk import Disposition, LotShip
from kiosk.pages.words import Choice

TAKING_PIECES = (Choice.SCRAP, Choice.RETURN)
"""Choices after which the pieces are no longer in the lot."""


def void_dispositions(day: Day) -> frozenset[str]:
    """Return the pages of dispositions that work nothing."""
    threads = {act.ref for act, _ in forbidden_rework(day)}
    taps = {tap.act.ref for tap in re_taps_of(day) if tap.is_too_often}
    return frozenset(threads | taps | _of_more_than_there_are(day))


def _of_more_than_there_are(day: Day) -> set[str]:
    """Return the dispositions of more pieces than their lot had left, by scrap, returns and shipments before."""
    left = {lot.number: lot.quantity for lot in day.world.lists.lots}
    found: set[str] = set()
    for act in day.world.acts.all:
        match act.page.act:
            case LotShip(lot=lot, quantity=pieces) if lot in left:
                left[lot] -= pieces
            case Disposition(lot=lot, pieces=pieces, choice=choice) if lot in left:
                if pieces > left[lot]:
                    found.add(act.ref)
                elif choice in TAKING_PIECES:
                    left[lot] -= pieces
            case _:
                pass
    return found
