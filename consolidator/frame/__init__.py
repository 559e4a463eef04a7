"""A night of readings made ready to be judged: codes, effective times, what stood then, figures, verdicts.

Owns the frame that rules look at. Knows no exception kinds and no ledger.
"""

from consolidator.frame.day import Day, make_day

__all__ = ["Day", "make_day"]
