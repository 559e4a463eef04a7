"""Which pages take a second signature: the deed they are, and the readings they are about.

Owns that mapping for desk and close. Who may sign stands in the table of deeds.
"""

from typing import Final

from consolidator.authority.deeds import Deed
from kiosk.pages import Act
from kiosk.pages.desk import (
    Disposition,
    ExceptionClose,
    Extension,
    HoldLift,
    LookBackWindow,
    LotClose,
    PagesLost,
    Release,
    Seal,
)
from kiosk.pages.readings import Correction
from kiosk.pages.words import Choice


def deed_seconded(act: Act) -> Deed | None:
    """Return the deed that a second signature under an act is set to; none where the page takes none."""
    if isinstance(act, Disposition) and act.choice is Choice.USE_AS_IS:
        return Deed.REQUEST
    return _DEEDS.get(type(act))


def readings_about(act: Act) -> tuple[str, ...]:
    """Return the readings an act is about, whose takers may not sign it second."""
    if isinstance(act, Correction):
        return (act.of,)
    return act.readings if isinstance(act, Release | Disposition) else ()


_DEEDS: Final[dict[type[Act], Deed]] = {
    Correction: Deed.CORRECT,
    Disposition: Deed.DISPOSE,
    ExceptionClose: Deed.CLOSE_EXCEPTION,
    Extension: Deed.EXTEND,
    HoldLift: Deed.LIFT_HOLD,
    LookBackWindow: Deed.NARROW_WINDOW,
    LotClose: Deed.CLOSE_LOT,
    PagesLost: Deed.DECLARE_LOST,
    Release: Deed.RELEASE,
    Seal: Deed.SEAL,
}
