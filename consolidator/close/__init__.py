"""Close of day: effective time, frames, as-of joins, rules, holds, lines.

Owns making one production day whole and judged. Must not know how a ledger is kept on disk.
"""

from consolidator.close.closed import CarriedOver, Closed, ClosedDay
from consolidator.close.day import close_day

__all__ = ["CarriedOver", "Closed", "ClosedDay", "close_day"]
