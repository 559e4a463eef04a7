"""Lists in plain files: read, checked as a whole, taken over, and kept for ever, version by version.

Owns the way from the files of the people who keep the lists to what kiosks and close of day are told.
Must not know who judges with them.
"""

from consolidator.lists.examination import check_lists, write_csv
from consolidator.lists.faults import Fault, ListsDamaged, ListsNotKept, ListsRefused
from consolidator.lists.limits import DerivedLimits, derived_limits
from consolidator.lists.versions import (
    TakenOver,
    as_known,
    current,
    history,
    lists_bytes,
    take_over,
    taken_over,
    version,
)

__all__ = [
    "DerivedLimits",
    "Fault",
    "ListsDamaged",
    "ListsNotKept",
    "ListsRefused",
    "TakenOver",
    "as_known",
    "check_lists",
    "current",
    "derived_limits",
    "history",
    "lists_bytes",
    "take_over",
    "taken_over",
    "version",
    "write_csv",
]
