"""What plugged-in gauges send: taken for the piece that is asked for, or told with why not; never dropped unsaid.

Owns which value is taken. Must not know lines, ports or threads.
"""

from kiosk.acts.checking import CheckScreen
from kiosk.acts.pieces import Piece
from kiosk.acts.shown import Mark, Told
from kiosk.acts.steps import Steps
from kiosk.devices import Away, Event, Indicated, There, Unread
from kiosk.errors import ValueNotTaken
from kiosk.pages.words import KeyedAs, Source
from kiosk.ports import Clock
from kiosk.station import Entry, Said, say, usual_unit


class Instruments:
    """The gauges plugged into this kiosk, as far as the screens know of them."""

    def __init__(self, steps: Steps, clock: Clock) -> None:
        self._steps, self._clock = steps, clock
        self._taken_ms: dict[str, int] = {}
        self._away: set[str] = set()
        self._known: set[str] = set()

    def away(self) -> tuple[Said, ...]:
        """Return what the status line says of gauges that are not plugged in."""
        return tuple(say("{gauge} not plugged in", gauge=gauge) for gauge in sorted(self._away))

    def take(self, gauge: str, event: Event) -> None:
        """Take what came from a gauge's line."""
        match event:
            case Indicated():
                self._steps.take(lambda: self._value(gauge, event))
            case Unread(received, "half"):
                told = say("{gauge} was cut off in a value: {received}. Not taken: measure again.",
                           gauge=gauge, received=received)  # fmt: skip
                self._add(Told(told, Mark.LOOK))
            case Unread(received):
                told = say("{gauge} sent what is no value: {received}. Not taken: measure again.",
                           gauge=gauge, received=received)  # fmt: skip
                self._add(Told(told, Mark.LOOK))
            case Away():
                self._away.add(gauge)
                if gauge in self._known:
                    told = say("{gauge} was unplugged. Plug it in again, or key what it shows.", gauge=gauge)
                    self._add(Told(told, Mark.LOOK))
            case There():
                if gauge in self._away and gauge in self._known:
                    self._add(Told(say("{gauge} is plugged in again.", gauge=gauge), Mark.OK))
                self._away.discard(gauge)
                self._known.add(gauge)

    def _value(self, gauge: str, value: Indicated) -> None:
        now_ms, before_ms = self._clock.running_ms(), self._taken_ms.get(gauge)
        if before_ms is not None and now_ms - before_ms < self._steps.settings.instrument_apart_ms:
            twice = say("{gauge} sent {figure} {unit} at once after it: not taken. Look at what was kept.",
                        gauge=gauge, figure=value.figure, unit=value.unit)  # fmt: skip
            self._add(Told(twice, Mark.LOOK))
            return
        screen = self._steps.screen
        if isinstance(screen, CheckScreen):
            self._check_of(screen, gauge, value)
            self._taken_ms[gauge] = now_ms
            return
        if not isinstance(screen, Piece) or screen.is_full:
            raise not_taken(
                gauge, value, why=say("No piece is asked for on this screen."),
                next_step=say("Go to the piece you measured and send it again."),
            )  # fmt: skip
        self._check(screen, gauge, value)
        self._taken_ms[gauge] = now_ms
        keyed_as = KeyedAs.DEVIATION if value.is_deviation else None
        screen.answer(value.figure, Entry(keyed_as=keyed_as, unit=value.unit, source=Source.INSTRUMENT))
        self._say_what_came(gauge, value)

    def _say_what_came(self, gauge: str, value: Indicated) -> None:
        came = say("{figure} {unit} from instrument {gauge}", figure=value.figure, unit=value.unit, gauge=gauge)
        self._steps.told = (*self._steps.told[:1], Told(came), *self._steps.told[1:])

    def _check_of(self, screen: CheckScreen, gauge: str, value: Indicated) -> None:
        """Take the value of a zero or day check from the gauge that is checked."""
        if gauge != screen.gauge:
            raise not_taken(
                gauge, value, why=say("The check on the screen is of {gauge}.", gauge=screen.gauge),
                next_step=say("Put {gauge} on its master and send again.", gauge=screen.gauge),
            )  # fmt: skip
        known = screen.work.gauge(gauge)
        self._see_free(gauge, value, None if known is None else known.unit)
        screen.indicated(value.figure, KeyedAs.DEVIATION if value.is_deviation else KeyedAs.VALUE)
        self._say_what_came(gauge, value)

    def _check(self, screen: Piece, gauge: str, value: Indicated) -> None:
        """Refuse what is not this piece's: another gauge's, beside a figure half keyed, or in another unit."""
        taken, known = screen.state.gauge_for(screen.what.number), screen.work.gauge(gauge)
        if taken is None or taken.gauge != gauge:
            scanned = "-" if taken is None else taken.gauge
            raise not_taken(
                gauge, value, why=say("It is not the gauge scanned for this piece: {scanned}.", scanned=scanned),
                next_step=say("Measure with the gauge scanned, or scan {gauge} first.", gauge=gauge),
            )  # fmt: skip
        self._see_free(gauge, value, usual_unit(screen.what, known))

    def _see_free(self, gauge: str, value: Indicated, wanted: str | None) -> None:
        """Refuse what comes beside a figure half keyed, or in another unit."""
        if self._steps.figure:
            raise not_taken(
                gauge, value, why=say("A figure is half keyed on the screen."),
                next_step=say("Keep it or take it back, then send again."),
            )  # fmt: skip
        if value.unit != wanted:
            raise not_taken(
                gauge, value, why=say("It is to read in {unit} here.", unit=wanted),
                next_step=say("Switch the gauge over, look at its zero, and measure again."),
            )  # fmt: skip

    def _add(self, told: Told) -> None:
        """Put a sentence behind those on the screen, in place of an older one of its kind."""
        others = (one for one in self._steps.told if one.words.template != told.words.template)
        self._steps.say(*others, told)


def not_taken(gauge: str, value: Indicated, *, why: Said, next_step: Said) -> ValueNotTaken:
    """Return what is said of a value that came from an instrument and was not taken."""
    return ValueNotTaken(
        say("{gauge} sent {figure} {unit}: not taken.", gauge=gauge, figure=value.figure, unit=value.unit),
        why=why,
        next_step=next_step,
    )
