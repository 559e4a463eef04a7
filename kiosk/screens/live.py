"""The one live screen of a kiosk, and the pages that ask to be it.

Owns which page is live, what is drawn on each, and handing on touches and key strokes.
"""

import asyncio
import logging
from collections.abc import Callable, Coroutine
from functools import partial
from typing import Final

import flet as ft

from kiosk.acts.shown import Choice, Mark, Shown, Told, meant_on_a_number_pad
from kiosk.devices import CutShort, Found, Scanned, Stroke, Strokes
from kiosk.errors import TellingError
from kiosk.languages import Language, Languages
from kiosk.screens.at_work import AtWork
from kiosk.screens.drawing import Drawing, Layout
from kiosk.screens.panel import COLOURS, Panel
from kiosk.screens.plugged import Plugged
from kiosk.station import say

_log = logging.getLogger(__name__)

AWAY: Final = (
    say("The kiosk is starting again."),
    say("Nothing you press now is kept."),
    say("Wait for the screen to come back."),
)
"""What a page says by itself while the program is away."""
TICK_S = 1.0
"""How often the status line is looked at without anybody having done anything."""


class View:
    """One page of a browser that shows the kiosk, live or not."""

    def __init__(self, page: ft.Page) -> None:
        page.padding, page.spacing, page.bgcolor = 0, 0, COLOURS.ground
        page.theme = ft.Theme(font_family="Kiosk")
        page.theme_mode = ft.ThemeMode.LIGHT
        self.page = page
        self.is_connected = True
        self.strokes = Strokes()
        self._version = 0
        self._redraw: Callable[[int], None] | None = None

    def render(self, draw: Callable[[], ft.Control]) -> None:
        """Put what `draw` makes on the page, and again at each `redraw`."""

        def app() -> ft.Control:
            _, self._redraw = ft.use_state(0)
            return draw()

        self.page.render(ft.component(app))

    def redraw(self) -> None:
        """Draw anew, as a task of the page's own, since key strokes and the clock come from beside it."""
        self.page.run_task(self._ask)

    async def _ask(self) -> None:
        if self._redraw is not None:
            self._version += 1
            self._redraw(self._version)


class Live:
    """All pages that are open on one kiosk; exactly one of them is live."""

    def __init__(self, kiosk: AtWork) -> None:
        self._kiosk, self._languages = kiosk, Languages()
        self._told_language = ""
        self._plugged = Plugged(kiosk)
        self._panel = Panel.from_settings(kiosk.settings)
        self._views: list[View] = []
        self._live: View | None = None
        self._shown_status: object = None
        self._is_cut: Callable[[Shown], bool] | None = None
        self.lines: list[asyncio.Queue[dict[str, str]]] = []
        """What is told to the pages themselves, beside what is drawn; one queue for each page's own line."""

    @property
    def language(self) -> Language:
        """The language of who is badged in; while nobody is, the kiosk's own."""
        person = self._kiosk.work.state.person
        known = None if person is None else self._kiosk.work.lists.person(person)
        return self._languages.of(self._kiosk.settings.language if known is None else known.language)

    @property
    def station(self) -> str:
        """The number of the station."""
        return self._kiosk.work.number

    def works(self) -> tuple[Coroutine[None, None, None], ...]:
        """Return what goes on beside the screens."""
        return (self.tick(), self.carry(), self.gauges())

    async def ended(self) -> None:
        """Wait for ever: a kiosk at work shows its screens until it is stopped."""
        await asyncio.Event().wait()

    def away_words(self) -> str:
        """Return what a page says by itself while the program is away."""
        return "\n".join(self.language.speak(one) for one in AWAY)

    def open(self, page: ft.Page) -> None:
        """Take a page that was just opened: live when no other one is."""
        view = View(page)
        self._views.append(view)
        page.on_disconnect = lambda _: self._connected(view, False)
        page.on_connect = lambda _: self._connected(view, True)
        page.on_close = lambda _: self._forget(view)
        if self._live is None or not self._live.is_connected:
            self._live = view
        view.render(lambda: self._draw(view))

    def strokes(self, session: str, strokes: list[Stroke]) -> None:
        """Take key strokes of a page; those of a page that is not live mean nothing."""
        if self._live is None or self._live.page.session.id != session:
            return
        for found in self._live.strokes.take(strokes):
            self._last_resort(partial(self._hand_on, found))
        self.redraw()

    def _hand_on(self, found: Found) -> None:
        match found:
            case Scanned(code):
                self._kiosk.steps.scan(code)
            case CutShort(code):
                self._kiosk.steps.cut_short(code)
            case _:
                shown = self._kiosk.steps.shown
                is_cut = self._is_cut is not None and self._is_cut(shown)
                self._kiosk.steps.press(meant_on_a_number_pad(found.key, shown, is_cut=is_cut))

    def _last_resort(self, act: Callable[[], None]) -> None:
        """Do an act; a fault of the program is written to the log and told, and the screen stays usable.

        What counts is in the book, so the screen that the book asks for is put up.
        """
        try:
            act()
        except Exception:  # noqa: BLE001 - the one last resort: a covered screen would keep nothing at all
            _log.exception("a key failed")
            self._kiosk.steps.home()
            fault = say("STOP. The program failed at that key. Look at what was kept before you key again.")
            self._kiosk.steps.say(Told(fault, Mark.STOP), Told(say("Tell the lead and IT: the log holds the reason.")))

    def redraw(self) -> None:
        """Draw every page anew, and flash the edge where something said wants it."""
        flash = self._kiosk.steps.take_flash()
        if flash is not None:
            self._tell_pages({"flash": str(flash)})
        if self.language.code != self._told_language:
            self._told_language = self.language.code
            self._tell_pages({"away": self.away_words()})
        for view in self._views:
            if view.is_connected:
                view.redraw()

    def _tell_pages(self, told: dict[str, str]) -> None:
        for line in self.lines:
            line.put_nowait(told)

    async def tick(self) -> None:
        """Look at the status line for ever; draw anew when it says something else."""
        while True:
            await asyncio.sleep(TICK_S)
            for found in () if self._live is None else self._live.strokes.settle():
                self._hand_on(found)
                self.redraw()
            if self._kiosk.steps.remind():
                self.redraw()
            status = (self._kiosk.status(), self._kiosk.steps.wipe_left_s)
            if status != self._shown_status:
                self._shown_status = status
                self.redraw()

    async def gauges(self) -> None:
        """Take what plugged-in gauges send, for ever."""
        await self._plugged.listen(self.redraw)

    async def carry(self) -> None:
        """Carry over the network for ever, a round every few minutes; a round that fails is tried again by the next."""
        while self._kiosk.enrolment.address is not None:
            try:
                done = await asyncio.to_thread(self._kiosk.carry)
                self._kiosk.take(done, by_network=True)
            except TellingError as told:
                self._kiosk.carry_failed = told
            else:
                self._kiosk.carry_failed = None
            await asyncio.sleep(self._kiosk.settings.carry_every_s)

    def _draw(self, view: View) -> ft.Control:
        person = self._kiosk.work.state.person
        known = None if person is None else self._kiosk.work.lists.person(person)
        layout = Layout(self._panel, is_left_handed=known is not None and known.hand == "left")
        drawing = Drawing(
            layout, self.language.speak, lambda key: self._touch(view, key),
            is_right_to_left=self.language.is_right_to_left,
        )  # fmt: skip
        if view is not self._live:
            title = say("Station {station} is open on another page of this kiosk.", station=self._kiosk.work.number)
            take_over = Choice(say("Take over here"), "take over", is_strong=True)
            return drawing.cover(Shown(title=title, choices=(take_over,)))
        self._is_cut = drawing.is_cut
        steps = self._kiosk.steps
        if steps.wipe_left_s:
            return drawing.cover(Shown(title=say("Wipe now. Touch is ignored for {s} s.", s=steps.wipe_left_s)))
        status, is_bad = self._kiosk.status()
        return drawing.screen(steps.shown, steps.choices(), status, is_bad=is_bad)

    def _touch(self, view: View, key: str) -> None:
        if view is self._live:
            self._last_resort(lambda: self._kiosk.steps.touch(key))
        elif key == "pick take over":
            self._live = view
        self.redraw()

    def _connected(self, view: View, is_connected: bool) -> None:
        view.is_connected = is_connected
        if is_connected and (self._live is None or not self._live.is_connected):
            self._live = view
        self.redraw()

    def _forget(self, view: View) -> None:
        self._views.remove(view)
        if view is self._live:
            self._live = next((other for other in self._views if other.is_connected), None)
        self.redraw()
