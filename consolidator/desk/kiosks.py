"""A new kiosk enrolled by two persons of the plant, and the page that says so.

Owns who may do it. How a request is answered stands in the intake.
"""

from datetime import datetime
from pathlib import Path

from consolidator.authority import levels_at
from consolidator.desk.book import open_desk
from consolidator.errors import EnrolmentRefused
from consolidator.intake import Place, enrol_from_stick
from consolidator.intake.enrolment import find
from consolidator.lists import current
from consolidator.plant import Plant
from kiosk.carry.enrolling import Answer
from kiosk.lists import Lists
from kiosk.lists.words import Level
from kiosk.pages.desk import KioskEnrolled
from kiosk.ports import Clock, SystemChance


def enrol_new_kiosk(
    plant: Plant, stick: Path, place: Place, number: str, persons: tuple[str, str], *, clock: Clock
) -> Answer:
    """Let a quality manager and a second person enrol the kiosk with this number, and keep that they did.

    Done again for the same kiosk it only puts the answer on the stick once more.

    Raises:
        EnrolmentRefused: they may not, no request has the number, or the lists name no such station.
        SeriesTaken: the series was enrolled before.
        StatementRefused: the request was changed on the way.
        ForeignStick: the plant did not issue the stick.
        StickAway: it cannot be read or written.
    """
    lists = current(plant)
    _see_two(lists, persons, clock.now())
    is_new = find(plant, place.series) is None
    answer = enrol_from_stick(plant, stick, place, number=number, now=clock.now())
    if is_new:
        by, second = persons
        act = KioskEnrolled(series=place.series, at_station=place.station, key=answer.kiosk, second=second)
        with open_desk(plant, clock=clock, chance=SystemChance()) as desk:
            desk.keep(act, person=by, lists_version=lists.version)
    return answer


def _see_two(lists: Lists, persons: tuple[str, str], now: datetime) -> None:
    """Return when the two persons may enrol a kiosk together: a quality manager and another one of the plant.

    Raises:
        EnrolmentRefused: they may not.
    """
    by, second = persons
    why = ""
    if Level.QUALITY_MANAGER not in levels_at(by, lists, now):
        why = f"{by} is not a quality manager now."
    elif second == by or lists.person(second) is None:
        why = f"It takes a second person of the plant, and {second} is " + (
            "the same." if second == by else "not known."
        )
    if why:
        raise EnrolmentRefused(
            "No kiosk was enrolled.", why=why, next_step="Let the quality manager and a second person do it together."
        )
