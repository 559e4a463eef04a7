"""Events at a station, done on its screen as a person would; the consolidator's and the desk's are the player's own.

What a screen cannot do, or what nobody taught this player, is refused: nothing told is left out unsaid.
"""

from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any, Final

from demo_site.play.played import Trace
from demo_site.play.player import Player, read_span
from demo_site.play.scenario import LINE, Event
from demo_site.play.usual import characteristic_of
from demo_site.play.verbs import VERBS, verb
from kiosk.pages.readings import Reading
from tests.browser.played.beside import (
    check,
    countersign_inside,
    countersign_late,
    from_form,
    incident,
    movement,
    out_of_heat,
    temperatures,
)
from tests.browser.played.floor import ScreenedKiosk
from tests.browser.played.screen import AtScreen, Seen
from tests.browser.played.setting_up import first_piece, set_up_start
from tests.browser.played.ways import (
    Gauge,
    be_there,
    divisions,
    end_open,
    key_digits,
    open_job,
    pages_since,
    take,
    to_hub,
    who,
)

LEAD: Final = timedelta(seconds=30)
"""How long before its time a person begins with what leads up to an act."""
LOOKS_AGAIN: Final = timedelta(seconds=5)
"""How long a person takes to look at the gauge again, as the player reckons."""
ROOM_F: Final = "72"
"""How warm the gauge is where a scenario tells only the part's temperature, in degrees Fahrenheit."""
TOLD: Final = frozenset(
    {
        "lot", "characteristic", "gauge", "with", "keyed", "as", "then", "kind", "re-measure of", "measured anyway",
        "every", "countersigned by", "part temperature", "gauge temperature",
        "source", "form", "taken at", "taken by", "read back by", "sample", LINE,
    }
)  # fmt: skip
"""What can be told of a reading that is played here."""


def play(player: Player, event: Event) -> None:
    """Play one event: at a station through its screen, else as the player does."""
    do = SCREENED.get(event.do)
    if event.station is None or do is None:
        if event.station is not None and (event.do not in VERBS or VERBS[event.do].__module__.endswith("at_station")):
            raise NotImplementedError(f"{event.where}: '{event.do}' has no way through the screens here.")
        player.play(event, verb(event.do))
        return
    player.true.go_to(event.at - LEAD)
    kiosk = player.kiosk(event.station)
    assert isinstance(kiosk, ScreenedKiosk)
    kiosk.screen.come()
    do(player, kiosk, event, player.played.traces.setdefault(event.name, Trace()))


def badge_in(player: Player, kiosk: ScreenedKiosk, event: Event, trace: Trace) -> None:
    """Badge in, or take over."""
    player.true.go_to(event.at)
    trace.said.append(be_there(kiosk, who(kiosk, event)))


def reading(player: Player, kiosk: ScreenedKiosk, event: Event, trace: Trace) -> None:
    """Key each figure told as one reading on the next piece, with all that comes before a first one."""
    if unknown := sorted(set(event.told) - TOLD):
        raise NotImplementedError(f"{event.where}: the screens are not played with {', '.join(unknown)}.")
    what = characteristic_of(player, event)
    assert what is not None
    be_there(kiosk, who(kiosk, event))
    open_job(kiosk, event.told["lot"], what.operation)
    trace.said.append(_begin(player, kiosk, event))
    if "part temperature" in event.told:
        # The screen asks for both; where only the part's is told, the gauge is as warm as the room.
        temperatures(kiosk, event.told["part temperature"], event.told.get("gauge temperature", ROOM_F))
    every, thens = read_span(event.told.get("every", "20 s")), iter(_texts(event.told.get("then")))
    for place, keyed in enumerate(_texts(event.told["keyed"])):
        _key(player, kiosk, event, trace, keyed=keyed, thens=thens, at=event.at + place * every)
        if "countersigned by" in event.told and place == 0:
            trace.said.append(countersign_inside(kiosk, event.told["countersigned by"]))
    if "End the sample" in kiosk.screen.look().keys:
        to_hub(kiosk.screen)


def _begin(player: Player, kiosk: ScreenedKiosk, event: Event) -> str:
    """Come to the screen of the first piece of a new sample; return what was said on the way."""
    screen, told = kiosk.screen, event.told
    gauge, characteristic = _gauge(player, event), str(told["characteristic"])
    kind = told.get("kind", "run")
    if told.get("source") == "from paper":
        from_form(player, kiosk, event)
        return take(screen, gauge)
    if kind == "re-measure":
        screen.more("Another kind of sample", "Re-measure for the QC room")
        screen.scan(player.played.pages(told["re-measure of"])[0])
        screen.reads("Re-measure: of what?")
    elif kind == "run":
        end_open(screen, characteristic, gauge.number)
        to_hub(screen)
    else:
        raise NotImplementedError(f"{event.where}: the screens are not played with pieces of kind '{kind}'.")
    screen.pick(characteristic)
    return take(screen, gauge)


def _gauge(player: Player, event: Event) -> Gauge:
    number = str(event.told["gauge"])
    known = player.lists.gauge(number, player.true.now())
    has_own = any(one.do in ("zero check", "day check") and one.told.get("gauge") == number for one in player.events)
    return Gauge(
        number=number,
        master=event.told.get("with") or (None if known is None else known.wires),
        check=None if has_own else "0",
        is_anyway=event.told.get("measured anyway") == "yes",
    )


def _key(
    player: Player,
    kiosk: ScreenedKiosk,
    event: Event,
    trace: Trace,
    *,
    keyed: str,
    thens: Iterator[str],
    at: datetime,
) -> None:
    screen, before = kiosk.screen, kiosk.book.last_number
    seen = _keep(player, screen, event, keyed, at)
    if seen.has("Look again"):
        trace.asked.append(screen.all_read(seen))
        answer = next(thens, "same")
        seen = _keep(player, screen, event, keyed if answer == "same" else answer, at + LOOKS_AGAIN)
    trace.said.append(screen.all_read(seen))
    kept = [page for page in pages_since(kiosk, before) if isinstance(page.act, Reading)]
    assert len(kept) == 1, f"{event.where}: {len(kept)} readings were kept. The screen says:\n{seen.text}"
    trace.pages.append(kept[0].ref)


def _keep(player: Player, screen: AtScreen, event: Event, keyed: str, at: datetime) -> Seen:
    """Key a figure the way it is told and keep it at its minute."""
    known = player.lists.gauge(str(event.told["gauge"]), player.true.now())
    if event.told.get("as") == "deviation":
        keyed = divisions(event, keyed, None if known is None else known.least_count)
    elif "OVER" in screen.look().keys:
        screen.more("This sample")
        screen.touch_on("Key the whole figure")
    key_digits(screen, keyed)
    player.true.go_to(at)
    return screen.touch_kept("Keep")


def _texts(told: Any) -> list[str]:
    if told is None:
        return []
    return list(told) if isinstance(told, list) else str(told).split()


Do = Callable[[Player, ScreenedKiosk, Event, Trace], None]
SCREENED: Final[dict[str, Do]] = {
    "badge in": badge_in,
    "taking over": badge_in,
    "reading": reading,
    "zero check": check,
    "incident": incident,
    "gauge incident": incident,
    "out of heat": out_of_heat,
    "gauge movement": movement,
    "countersign": countersign_late,
    "set-up start": set_up_start,
    "first-piece approval": first_piece,
}
"""Events that a person does at a screen."""
