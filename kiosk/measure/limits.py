"""Limits as on the drawing, what lies inside them, and the window in which a reading is believable.

Owns comparison with a limit: exact, and a value equal to a limit is inside.
Knows nothing of gauges, lists or screens. All figures of one `Limits` are in one unit.
"""

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from kiosk.measure.decimals import add, multiply, subtract

Exact = Decimal | Fraction
"""A number that compares exactly."""


@dataclass(frozen=True)
class Window:
    """Where a reading is believable, ends included."""

    low: Decimal
    high: Decimal

    def has(self, value: Exact) -> bool:
        """True when `value` is believable; an end belongs to the window."""
        return Fraction(self.low) <= Fraction(value) <= Fraction(self.high)


@dataclass(frozen=True)
class Limits:
    """Lower and upper limit; one of them is none for a one-sided characteristic."""

    lower: Decimal | None
    upper: Decimal | None

    def has(self, value: Exact) -> bool:
        """True when `value` is in tolerance; limits are absolute, and a value equal to one is in."""
        exact = Fraction(value)
        return (self.lower is None or exact >= Fraction(self.lower)) and (
            self.upper is None or exact <= Fraction(self.upper)
        )

    @property
    def tolerance(self) -> Decimal | None:
        """What a least count is held against: upper - lower; upper limit only: the limit itself; lower only: none."""
        if self.upper is None:
            return None
        return self.upper if self.lower is None else subtract(self.upper, self.lower)

    def is_close(self, value: Decimal, guard_band: Decimal) -> bool:
        """True when `value` is in tolerance and nearer to a limit than `guard_band`."""
        return self.has(value) and any(
            abs(subtract(value, limit)) < guard_band for limit in (self.lower, self.upper) if limit is not None
        )

    def window(
        self, *, tolerances: Decimal, upper_times: Decimal, lower_times: tuple[Decimal, Decimal]
    ) -> Window | None:
        """Return where a reading is believable (N5); none without a limit.

        Two-sided: widened by `tolerances` times the tolerance each side. Upper only: 0 to `upper_times` the limit.
        Lower only: from and to `lower_times` the limit.
        """
        if self.lower is not None and self.upper is not None:
            wider = multiply(tolerances, subtract(self.upper, self.lower))
            return Window(subtract(self.lower, wider), add(self.upper, wider))
        if self.upper is not None:
            return Window(Decimal(0), multiply(upper_times, self.upper))
        if self.lower is not None:
            return Window(multiply(lower_times[0], self.lower), multiply(lower_times[1], self.lower))
        return None
