"""What is plugged into a kiosk: scanner and number pad as key strokes, gauges on serial lines.

Owns telling a scanner's burst from a person's keys, and a gauge's value from noise.
Must not know what a code or a figure means.
"""

from kiosk.devices.indications import Indicated, Indications, Unread
from kiosk.devices.keystrokes import CutShort, Found, Pressed, Scanned, Stroke, Strokes, read_burst
from kiosk.devices.kinds import GAUGES_FILE, Kind, PluggedGauge, own_kinds, read_gauges, read_kind
from kiosk.devices.serial_gauges import Away, Event, SerialGauge, There

__all__ = [
    "GAUGES_FILE",
    "Away",
    "CutShort",
    "Event",
    "Found",
    "Indicated",
    "Indications",
    "Kind",
    "PluggedGauge",
    "Pressed",
    "Scanned",
    "SerialGauge",
    "Stroke",
    "Strokes",
    "There",
    "Unread",
    "own_kinds",
    "read_burst",
    "read_gauges",
    "read_kind",
]
