"""The desk: its own numbered book, signing with badge and PIN, second signatures, and refusals kept as pages.

The QC room and the calibration room stand on it.
"""

from consolidator.desk.book import DESK_SERIES, open_desk, take_in_desk
from consolidator.desk.desk import Desk, Done, Second
from consolidator.desk.opening import desk_of
from consolidator.desk.pins import set_pin, unlock_pin
from consolidator.desk.seconds import second_sign
from consolidator.desk.signatures import Evidence, Seen, Signer

__all__ = [
    "DESK_SERIES",
    "Desk",
    "Done",
    "Evidence",
    "Second",
    "Seen",
    "Signer",
    "desk_of",
    "open_desk",
    "second_sign",
    "set_pin",
    "take_in_desk",
    "unlock_pin",
]
