"""What a station is told: gauges, calibrations, masters, people, parts, plans, lots, stations, plant numbers.

Owns the shape of the lists and looking things up as they were at a moment.
Must not know where lists came from or who judges with them.
"""

from kiosk.lists._lists import Lists, in_force
from kiosk.lists.entries import (
    CalibrationRecord,
    Characteristic,
    Gauge,
    Lot,
    Master,
    Part,
    Person,
    Plan,
    PlantNumber,
    Qualification,
    Shift,
    Station,
)
from kiosk.lists.numbers import PlantNumbers

__all__ = [
    "CalibrationRecord",
    "Characteristic",
    "Gauge",
    "Lists",
    "Lot",
    "Master",
    "Part",
    "Person",
    "Plan",
    "PlantNumber",
    "PlantNumbers",
    "Qualification",
    "Shift",
    "Station",
    "in_force",
]
