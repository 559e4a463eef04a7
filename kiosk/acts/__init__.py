"""Every act of a person at a station as a screen of its own: what is shown and where a key leads, as values.

Holds no rule of the trade and draws nothing: a screen asks the station, and `kiosk.screens` draws what it says.
"""

from kiosk.acts.beside import WAYS
from kiosk.acts.shown import Bar, Choice, Mark, Pad, Shown, Told
from kiosk.acts.steps import Screen, Steps, Ways

__all__ = ["WAYS", "Bar", "Choice", "Mark", "Pad", "Screen", "Shown", "Steps", "Told", "Ways"]
