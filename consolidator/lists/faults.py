"""What can be wrong with lists, told so that the person who keeps them can mend it.

Owns the one sentence a fault is said in, and what is raised when lists are refused, damaged or could not be kept.
Must not know how a fault was found.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from kiosk.errors import Damaged, PersonCanMend

TAKE_OVER = "take-over"
"""Stands where a file's name stands, when the fault is in who takes over or when."""


@dataclass(frozen=True)
class Fault:
    """One fault: the file, the row as a spreadsheet counts it (the heading row is 1), the column, and what to do.

    `what`, `why` and `next_step` are clauses without a capital or a full stop; `sentence` joins them.
    """

    file: str
    row: int | None
    column: str | None
    what: str
    why: str
    next_step: str

    @property
    def where(self) -> str:
        """File, row and column as far as they are known, e.g. `gauges.csv, row 7, column 'due'`."""
        row = "" if self.row is None else f", row {self.row}"
        column = "" if self.column is None else f", column '{self.column}'"
        return f"{self.file}{row}{column}"

    @property
    def sentence(self) -> str:
        """The whole fault in one sentence."""
        return f"{self.where}: {self.what}, because {self.why}; {self.next_step}."


class ListsRefused(PersonCanMend):
    """Lists were not taken over; `faults` holds every fault found, and nothing was changed."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        files = len({fault.file for fault in self.faults})
        told = "\n".join(fault.sentence for fault in self.faults)
        super().__init__(
            "Lists not taken over; nothing was changed.",
            why=f"{_counted(len(self.faults), 'fault')} found in {_counted(files, 'file')}:\n{told}\n",
            next_step="Mend what is named and take the whole folder over again.",
        )


class ListsNotKept(PersonCanMend):
    """A new version of the lists could not be written; the version before is still in use."""


class ListsDamaged(Damaged):
    """A kept version of the lists is missing, incomplete, or no longer what was taken over."""


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
