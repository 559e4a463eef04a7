"""What the pieces of a fatigue test show together against the plan: each, their average, and stopped pieces.

Owns that one decision. Cycles are whole numbers; nothing is rounded before it is compared.
Knows nothing of set-ups, lots or records. The result holds for the pieces tested, and speaks for no others.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from kiosk.errors import OutsideTheTable
from kiosk.measure.rounding import EXACT


@dataclass(frozen=True)
class FatiguePlan:
    """What a fatigue proof must show: cycles of each piece, their average, and the count the test is stopped at."""

    pieces: int
    least_each: int
    least_average: int
    stopped_at: int


@dataclass(frozen=True)
class FatiguePiece:
    """The result of one piece: the counter when it broke, or when the machine stood still with it unbroken."""

    cycles: int
    is_broken: bool


@dataclass(frozen=True)
class FatigueResult:
    """What the pieces show together. `passed` only when every planned piece ran, each and the average are enough."""

    counted: tuple[int, ...]
    """Cycles that count, piece by piece: never more than the stop count."""
    total: int
    is_complete: bool
    is_each_enough: bool
    is_average_enough: bool

    @property
    def average(self) -> Decimal:
        """Average of the counted cycles, for showing; the decision is made on the whole numbers."""
        return EXACT.divide(self.total, len(self.counted)) if self.counted else Decimal(0)

    @property
    def passed(self) -> bool:
        """True when nothing is missing and nothing is short."""
        return self.is_complete and self.is_each_enough and self.is_average_enough


def judge_fatigue(pieces: Sequence[FatiguePiece], plan: FatiguePlan) -> FatigueResult:
    """Judge a fatigue proof: each piece, the average, stopped pieces; "at least" includes equality.

    A piece that ran to the stop count counts exactly that, broken later or not, however far the counter ran.
    A piece taken off unbroken before the stop count counts what it ran, which it is known to have borne.

    Check: 130 000 stopped, 72 400, 58 900 average 87 100.
    """
    if plan.pieces < 1 or plan.stopped_at < 1 or any(piece.cycles < 0 for piece in pieces):
        raise _refuse("The fatigue proof was not judged.", "A count of pieces or cycles is less than it can be.")
    counted = tuple(min(piece.cycles, plan.stopped_at) for piece in pieces)
    total = sum(counted)
    return FatigueResult(
        counted=counted,
        total=total,
        is_complete=len(counted) >= plan.pieces,
        is_each_enough=bool(counted) and min(counted) >= plan.least_each,
        is_average_enough=bool(counted) and total >= plan.least_average * len(counted),
    )


def _refuse(what: str, why: str) -> OutsideTheTable:
    return OutsideTheTable(what, why=why, next_step="Look at the plan of this characteristic again.")
