"""Every act of the desk that needs authority: who may do it, who may sign it second, and what the signature says.

Owns the table only. `docs/reference/desk.md` is made from it.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from kiosk.lists.words import Level
from kiosk.pages.words import Meaning


class Deed(StrEnum):
    """An act of the desk, in the words of the sentence that refuses it."""

    CALIBRATE = "enter a calibration"
    CHANGE_STATE = "change the state of a gauge"
    USE_AGAIN = "put a gauge back to use"
    MOVE_GAUGE = "move a gauge or keep a roll call"
    EXTEND = "extend a due date"
    NARROW_WINDOW = "narrow a look-back window"
    DISPOSE = "choose a disposition"
    REQUEST = "ask the design organisation"
    RELEASE = "release blocked readings"
    CORRECT = "correct a reading"
    ORDER_RE_MEASURE = "order a re-measure"
    CLOSE_LOT = "close a lot"
    REOPEN_LOT = "open a lot again"
    SHIP_LOT = "ship pieces of a lot"
    SIGN_OFF = "sign off an operation"
    RECORD_TEST = "keep a test record"
    HOLD = "put a lot on hold"
    LIFT_HOLD = "lift a hold"
    STEP = "take, write on or hand over an exception"
    CLOSE_EXCEPTION = "close an exception"
    EVALUATE = "write an evaluation"
    NOTIFY = "prepare a customer notice"
    DECLARE_LOST = "declare pages lost"
    SEAL = "seal a day"
    SET_PIN = "set somebody's PIN"
    UNLOCK_PIN = "unlock a PIN"


@dataclass(frozen=True)
class Authority:
    """Who may do a deed. `first` empty: every person of the plant; `second` empty: one person is always enough."""

    deed: Deed
    first: tuple[Level, ...]
    second: tuple[Level, ...] = ()
    second_when: str = ""
    """When the second signature is needed, in words; empty where it never is."""
    meaning: Meaning = Meaning.RECORDED


_MANAGER: Final = (Level.QUALITY_MANAGER,)
_QUALITY: Final = (Level.DISPOSITION, Level.QUALITY_MANAGER)
_INSPECTION: Final = (Level.INSPECTOR, *_QUALITY)
_CALIBRATION: Final = (Level.CALIBRATOR, Level.QUALITY_MANAGER)
_TELLERS: Final = (Level.LEAD, Level.CALIBRATOR, *_INSPECTION)
_ALWAYS: Final = "always"

_ROWS: Final = (
    Authority(Deed.CALIBRATE, (Level.CALIBRATOR,)),
    Authority(Deed.CHANGE_STATE, _TELLERS),
    Authority(Deed.USE_AGAIN, _CALIBRATION),
    Authority(Deed.MOVE_GAUGE, _TELLERS),
    Authority(Deed.EXTEND, _CALIBRATION, _QUALITY, _ALWAYS, Meaning.APPROVED),
    Authority(Deed.NARROW_WINDOW, _CALIBRATION, _QUALITY, _ALWAYS, Meaning.DECLARED),
    Authority(Deed.DISPOSE, _QUALITY, _QUALITY, "tensile and fatigue, X07, X08, X56", Meaning.DISPOSED),
    Authority(Deed.REQUEST, _MANAGER, _QUALITY, _ALWAYS, Meaning.DISPOSED),
    Authority(Deed.RELEASE, _QUALITY, _QUALITY, _ALWAYS, Meaning.RELEASED),
    Authority(
        Deed.CORRECT, _INSPECTION, _INSPECTION, "bad to good; another lot, gauge, master or piece", Meaning.APPROVED
    ),
    Authority(Deed.ORDER_RE_MEASURE, _INSPECTION),
    Authority(Deed.CLOSE_LOT, _QUALITY, _QUALITY, "a kiosk where it was worked is silent", Meaning.APPROVED),
    Authority(Deed.REOPEN_LOT, _QUALITY, meaning=Meaning.APPROVED),
    Authority(Deed.SHIP_LOT, (Level.LEAD, *_INSPECTION)),
    Authority(Deed.SIGN_OFF, _INSPECTION, meaning=Meaning.APPROVED),
    Authority(Deed.RECORD_TEST, (Level.OPERATOR, Level.TRAINER, *_INSPECTION)),
    Authority(Deed.HOLD, ()),
    Authority(Deed.LIFT_HOLD, _QUALITY, _QUALITY, "the hold is urgency A", Meaning.RELEASED),
    Authority(Deed.STEP, ()),
    Authority(Deed.CLOSE_EXCEPTION, _TELLERS, _QUALITY, "urgency A", Meaning.CHECKED),
    Authority(Deed.EVALUATE, _QUALITY, meaning=Meaning.APPROVED),
    Authority(Deed.NOTIFY, _MANAGER),
    Authority(Deed.DECLARE_LOST, _QUALITY, _QUALITY, _ALWAYS, Meaning.DECLARED),
    Authority(
        Deed.SEAL, (Level.SEALER, Level.QUALITY_MANAGER), (Level.SEALER, *_QUALITY), "the day is not Complete",
        Meaning.SEALED,
    ),
    Authority(Deed.SET_PIN, _MANAGER),
    Authority(Deed.UNLOCK_PIN, (Level.LEAD, Level.QUALITY_MANAGER)),
)  # fmt: skip

AUTHORITIES: Final = {row.deed: row for row in _ROWS}
"""Every deed with who may do it."""
