"""Ways through the screens that several events share: badge, job, the choice of what is measured, gauge, figure."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from demo_site.play.scenario import Event, ScenarioRefused
from demo_site.play.usual import ELSEWHERE, OPERATORS
from kiosk.pages import Page
from tests.browser.played.floor import ScreenedKiosk
from tests.browser.played.screen import AtScreen, Seen

WAYS_BACK: Final = ("End the sample", "Go on", "Back")
"""Keys that lead from any screen of the work to the choice of what is measured."""


@dataclass(frozen=True)
class Gauge:
    """A gauge to be taken, as the person knows it."""

    number: str
    master: str | None
    check: str | None
    """What is keyed where a check on the master is asked for; none: the event has a check of its own."""
    is_anyway: bool
    """Whether the person measures although the screen refuses."""


def be_there(kiosk: ScreenedKiosk, person: str) -> str:
    """Badge in, unless this person stands here already; return what the screen says."""
    if kiosk.here == person:
        return ""
    seen = kiosk.screen.scan_kept(badge_of(kiosk, person))
    assert seen.has("Badged in: "), seen.text
    kiosk.here = person
    return kiosk.screen.all_read(seen)


def badge_of(kiosk: ScreenedKiosk, person: str) -> str:
    """Return what stands on a person's badge."""
    known = kiosk.at_work.work.lists.person(person)
    return known.badges[0] if known is not None and known.badges else person


def open_job(kiosk: ScreenedKiosk, lot: str, operation: str) -> None:
    """Scan the traveller, unless the job is open; say which operation where the station has several."""
    if kiosk.job == (lot, operation):
        return
    screen = kiosk.screen
    if kiosk.job is not None:
        to_hub(screen)
    before = screen.look().page
    screen.scan(lot)
    seen = screen.sees(lambda one: one.page > before or one.has("which operation?"), "the job or its operations")
    if seen.has("which operation?"):
        screen.touch_kept(f"Operation {operation}")
    else:
        screen.kept_after(before)
    screen.reads("What is measured?")
    kiosk.job = (lot, operation)


def to_hub(screen: AtScreen) -> Seen:
    """Go to the choice of what is measured."""
    seen = screen.look()
    for _ in range(8):
        if seen.has("What is measured?"):
            return seen
        way = next((key for key in WAYS_BACK if key in seen.keys), None)
        assert way is not None, f"No way back. The screen says:\n{seen.text}"
        seen = screen.touch_kept(way) if way == "End the sample" else screen.touch_on(way)
    raise AssertionError(f"Never came to the choice of what is measured:\n{seen.text}")


def end_open(screen: AtScreen, what: str, gauge: str) -> None:
    """End what is open of a characteristic: the scenario begins a new sample at each event."""
    name = to_hub(screen).key_with(what)
    assert name is not None
    if "no sample open" in name:
        return
    seen = screen.touch_on(name)
    if seen.has("scan the gauge"):
        seen = screen.scan_kept(gauge)
    if "End the sample" in seen.keys:
        screen.touch_kept("End the sample")
        return
    screen.more("This sample")
    screen.touch_kept("End this sample short")
    screen.reads("What is measured?")


def take(screen: AtScreen, gauge: Gauge) -> str:
    """Scan a gauge, and its wires where they are asked for; return what the screen said of it."""
    before = screen.look().page
    screen.scan(gauge.number)
    asks = "Now scan the wire set"
    seen = screen.sees(lambda one: one.page > before or one.has(asks), "what the screen says of the gauge")
    if seen.page == before and gauge.master is not None:
        seen = screen.scan_kept(gauge.master)
    else:
        screen.true.go_on(screen.looked)
    said = screen.all_read(seen)
    if gauge.is_anyway and "I measured with it all the same" in seen.keys:
        seen = screen.touch_kept("I measured with it all the same")
        said += screen.all_read(seen)
    if gauge.check is not None and (check := seen.key_with(f"Check {gauge.number} now")) is not None:
        screen.touch_on(check)
        seen = key_figure(screen, gauge.check)
        said += screen.all_read(seen)
    if "Measure with it all the same" in seen.keys:
        screen.touch_on("Measure with it all the same")
    screen.sees(lambda one: one.has("Piece "), "the screen of a piece")
    return said


def key_figure(screen: AtScreen, figure: str) -> Seen:
    """Key a figure digit by digit, look at it, keep it."""
    key_digits(screen, figure)
    return screen.touch_kept("Keep")


def key_digits(screen: AtScreen, figure: str, *, shown: str | None = None) -> None:
    """Key a figure, its sign last, and look whether it stands there as it was meant; `shown` is how, if not itself."""
    sign, digits = figure[:1].strip("0123456789."), figure.lstrip("+-")
    side = {"-": "UNDER", "+": "OVER"}
    keys = screen.look().keys
    if sign and side[sign] not in keys:
        side = {"-": "\N{MINUS SIGN}", "+": "+"}
    screen.touch_keys(*digits, *((side[sign],) if sign else ()))
    wanted = shown or figure.replace("-", "\N{MINUS SIGN}")
    screen.sees(lambda one: wanted in one.words, f"the figure {wanted}")


def divisions(event: Event, keyed: str, least_count: str | None) -> str:
    """Return a deviation as the dial shows it: whole divisions over or under.

    Raises:
        ScenarioRefused: it lies between two divisions, which no dial shows.
    """
    count = Decimal(keyed) / Decimal(least_count or "1")
    if count != count.to_integral_value():
        raise ScenarioRefused(f"{event.where}: not played.", why=f"{keyed} is no whole division.", next_step="Mend it.")
    return "0" if count == 0 else f"{int(count):+d}"


def who(kiosk: ScreenedKiosk, event: Event) -> str:
    """Return who does it: the person told, who stands here, or the deck's usual operator."""
    return event.person or kiosk.here or OPERATORS.get(kiosk.station, ELSEWHERE)


def pages_since(kiosk: ScreenedKiosk, number: int) -> list[Page]:
    """Return the pages kept after a page."""
    return [kiosk.book.page(one) for one in range(number + 1, kiosk.book.last_number + 1)]
