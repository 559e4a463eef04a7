"""Setting and unlocking PINs from the desk; each is kept as a page, the PIN itself never.

Owns who may do it. How PINs are kept stands in `consolidator.pins`.
"""

from consolidator.authority import Deed, levels_at
from consolidator.desk.desk import Desk, Done
from consolidator.desk.signatures import Signer
from consolidator.errors import DeskRefused
from kiosk.lists.words import Level
from kiosk.pages.station import Remark
from kiosk.times import write_time


def set_pin(desk: Desk, person: str, pin: str, by: Signer) -> Done:
    """Set somebody's PIN: a quality manager does, or the person himself, with his old PIN; a lock is not lifted by it.

    The plant's very first PIN is a quality manager's own, set without one; from then on nobody sets his own first PIN.

    Raises:
        DeskRefused: nobody has that badge, or whoever sets it may not.
        PinRefused: the PIN of whoever sets it is wrong or locked, or the new one is too easy.
    """
    with desk.refusals_kept(by.badge):
        owner, setter = desk.known(person), desk.known(by.badge)
        if desk.pins.is_empty:
            _check_first(desk, owner.number, setter.number)
        elif owner.number == setter.number:
            desk.pins.check(owner.number, by.pin)
        else:
            desk.identified(Deed.SET_PIN, by)
        desk.pins.set(owner.number, pin, write_time(desk.now()))
        words = f"PIN of {owner.number} set by {setter.number}"
        return Done((desk.keep(Remark(words=words), setter.number),))


def unlock_pin(desk: Desk, person: str, by: Signer) -> Done:
    """Unlock a PIN after too many wrong keyings: a shift lead or the quality manager does, never the person himself.

    Raises:
        DeskRefused: whoever unlocks it may not, or it is his own.
        PinRefused: the PIN of whoever unlocks it is wrong or locked, or there is none to unlock.
    """
    with desk.refusals_kept(by.badge):
        owner = desk.known(person)
        setter = desk.identified(Deed.UNLOCK_PIN, by)
        if owner.number == setter.number:
            raise DeskRefused(
                f"PIN of {owner.number} not unlocked.",
                why="Nobody unlocks his own.",
                next_step="Ask the shift lead or another quality manager.",
            )
        desk.pins.unlock(owner.number)
        words = f"PIN of {owner.number} unlocked by {setter.number}"
        return Done((desk.keep(Remark(words=words), setter.number),))


def _check_first(desk: Desk, owner: str, setter: str) -> None:
    if owner != setter or Level.QUALITY_MANAGER not in levels_at(owner, desk.lists, desk.now()):
        raise DeskRefused(
            f"PIN of {owner} not set.",
            why="The plant has no PIN yet, and the first is a quality manager's own.",
            next_step="Let the quality manager set his own PIN first.",
        )
