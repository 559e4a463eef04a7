"""What a station is given with a figure, and what it answers: the page kept, what it means, and what to say."""

from pydantic import ConfigDict

from kiosk.judge import HeatNote, Judged
from kiosk.lists import Characteristic, Gauge
from kiosk.lists.words import CharacteristicKind
from kiosk.measure import units
from kiosk.pages import Frozen, Page
from kiosk.pages._base import Fingerprint, Keyed, Name, Words
from kiosk.pages.words import KeyedAs, Source
from kiosk.said import Said
from kiosk.times import LocalTime


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


class StudyTurn(Frozen):
    """What an appraiser measures next in a gauge study; which piece it is stands nowhere in it."""

    trial: int
    place: int
    gauge: Name


class Paper(Frozen):
    """Where a figure on paper comes from: the form, when and by whom it was measured, and who read it back."""

    form: Name
    taken_at: LocalTime
    taken_by: Name
    read_back_by: Name | None = None


class Entry(Frozen):
    """How one figure was keyed; what is not said is as usual."""

    keyed_as: KeyedAs | None = None
    """None: the usual way of the characteristic (`usual_way`)."""
    unit: Name | None = None
    """Unit of what was keyed; none: the gauge's where it can be compared with the drawing's, else the drawing's."""
    piece: int | None = None
    """None: the next piece."""
    position: Name | None = None
    heat: HeatNote = HeatNote()
    """Temperatures as keyed; when the piece came out of heat is known from the book."""
    source: Source = Source.KEYED
    paper: Paper | None = None
    """Only with source paper."""
    wiped: tuple[Keyed, ...] = ()
    """Keyings that were wiped off the screen before this one, oldest first."""
    remark: Words | None = None
    photo: Fingerprint | None = None


def usual_way(characteristic: Characteristic) -> KeyedAs:
    """Return how a figure of the characteristic is keyed when nobody says otherwise."""
    if characteristic.rule == "over wires":
        return KeyedAs.OVER_WIRES
    match characteristic.kind:
        case CharacteristicKind.ACCEPT_REJECT | CharacteristicKind.VISUAL:
            return KeyedAs.ACCEPT_REJECT
        case CharacteristicKind.TURNS:
            return KeyedAs.TURNS
        case _:
            return KeyedAs.VALUE


def usual_unit(characteristic: Characteristic, gauge: Gauge | None) -> str:
    """Return the unit of what the gauge shows where it can be compared with the drawing's; else the drawing's."""
    own = None if gauge is None else gauge.unit
    return own if own is not None and units.are_alike(own, characteristic.unit) else characteristic.unit
