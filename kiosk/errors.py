"""Everything the kiosk can say when a thing did not work.

Family tree::

    TellingError                what failed, why, and the next step
    ├── PersonCanMend           the person in front of it can put it right
    ├── OutsideAway             network, stick or consolidator is away; it is tried again
    └── Damaged                 something kept is damaged; it stops there and the evidence stays

A bug is none of these: it is left to crash.
Each class names its entry in docs/reference/errors.md by its own name.
"""


class TellingError(Exception):
    """A failure told in full: what failed and where, why, and the next step."""

    def __init__(self, what: str, *, why: str, next_step: str) -> None:
        super().__init__(f"{what} {why} {next_step}")
        self.what = what
        self.why = why
        self.next_step = next_step


class PersonCanMend(TellingError):
    """The person at the screen or the command can put it right."""


class OutsideAway(TellingError):
    """Something outside the machine is away; the program tries again by itself."""


class Damaged(TellingError):
    """Something kept is damaged or was altered; nothing is written over it."""


class PageNotUnderstood(PersonCanMend):
    """Bytes that should be a page are not one, or not one of these pages."""


class NewerFormat(PersonCanMend):
    """A page or file was made by a newer version of the program; it is refused by name, never guessed at."""


class ThreadNotUnderstood(PersonCanMend):
    """A thread designation could not be read, or names a thread its standard does not have."""


class OutsideTheTable(PersonCanMend):
    """A figure lies outside what a standard's table or rule is valid for; nothing is guessed beyond it."""


class NotANumber(PersonCanMend):
    """What was keyed is not one plain number; it is kept as keyed and asked for again."""
