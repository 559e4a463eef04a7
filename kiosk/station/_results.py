"""What a station answers: the page kept, what it means, and what to say."""

from pydantic import ConfigDict

from kiosk.judge import Judged
from kiosk.pages import Frozen, Page
from kiosk.station._said import Said


class Done(Frozen):
    """An act was kept; `say` is to be shown, worst first."""

    page: Page
    say: tuple[Said, ...] = ()

    model_config = ConfigDict(arbitrary_types_allowed=True)


class KeptReading(Done):
    """A reading was kept. Where `is_blind`, limits and verdict stay off the screen until the sample is all in."""

    judged: Judged
    is_blind: bool = False


class LookAgain(Frozen):
    """Nothing is a reading yet: look again and key the whole reading.

    It holds no value, no limit and no hint at either; what was keyed is kept as a page all the same.
    """

    say: tuple[Said, ...]

    model_config = ConfigDict(arbitrary_types_allowed=True)


class Begun(Frozen):
    """A sample is open; nothing is kept before its first piece."""

    number: int
    piece: int
    planned: int
    say: tuple[Said, ...] = ()

    model_config = ConfigDict(arbitrary_types_allowed=True)
