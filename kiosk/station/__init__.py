"""The work at a station as a state machine without a screen.

Badge in → job → gauge → sample → pieces; zero check, set-up, stop, incident, correction beside it.
What a person does is a method; each keeps a page and answers with what is to be said, or refuses with the next step.
The state is made from nothing but the book's own pages, so a power cut loses none of it.
Must not know any screen or device.
"""

from kiosk.said import Said, say, say_count
from kiosk.station._core import Kept
from kiosk.station._exchange import Begun, Done, Entry, KeptReading, LookAgain, Paper, StudyTurn, usual_unit, usual_way
from kiosk.station._gauges import Movement
from kiosk.station._jobs import StopReason
from kiosk.station._state import State, Study
from kiosk.station._studies import Studies

__all__ = [
    "Begun",
    "Done",
    "Entry",
    "Kept",
    "KeptReading",
    "LookAgain",
    "Movement",
    "Paper",
    "Said",
    "State",
    "Station",
    "StopReason",
    "Study",
    "StudyTurn",
    "say",
    "say_count",
    "usual_unit",
    "usual_way",
]


class Station(Studies):
    """The whole work at one station."""
