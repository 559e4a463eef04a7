"""Words of the QC room to a station, shown there at the next badge-in after the kiosk's next contact."""

from consolidator.desk import Desk, Done
from consolidator.errors import DeskRefused
from kiosk.pages.desk import StationMessage

WORDS_AT_MOST = 120
"""Characters of one message: three lines of the smallest panel, which somebody in noise reads to the end."""


def tell_station(desk: Desk, badge: str, station: str, words: str) -> Done:
    """Tell a station something by lot and by what is to be done, never who did what.

    Raises:
        DeskRefused: nobody has the badge, there is no such station, or the words are none or too many.
    """
    what = "Message not sent."
    with desk.refusals_kept(badge):
        person = desk.known(badge)
        if desk.lists.station(station, desk.now()) is None:
            raise DeskRefused(what, why=f"There is no station {station}.", next_step="Name a station.")
        if not 0 < len(words.strip()) <= WORDS_AT_MOST:
            raise DeskRefused(
                what,
                why=f"A message has 1 to {WORDS_AT_MOST} characters.",
                next_step="Say by lot what is to be done, in one sentence.",
            )
        act = desk.make(what, StationMessage, {"words": words.strip(), "to_station": station})
        return Done((desk.keep(act, person.number),))
