"""Everything the consolidator can say when a thing did not work.

The families are the kiosk's (`kiosk.errors`): PersonCanMend, OutsideAway, Damaged.
Each class names its entry in docs/reference/errors.md by its own name.
"""

from kiosk.errors import PersonCanMend


class NotComputed(PersonCanMend):
    """A figure, plan or study could not be computed from what was given."""
