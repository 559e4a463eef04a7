"""The screens of a kiosk that nobody enrolled yet: its number, the answer, and two persons who compare.

Owns the order of the steps and handing on touches. Must not know how an enrolment is made or kept.
"""

import asyncio
from collections.abc import Coroutine
from typing import Final

import flet as ft

from kiosk.acts.shown import Choice, Mark, Shown, Told
from kiosk.carry.enrolling import Answer, NewKiosk
from kiosk.devices import Pressed, Stroke
from kiosk.errors import TellingError
from kiosk.languages import Languages
from kiosk.ports import Clock
from kiosk.screens.drawing import Drawing, Layout
from kiosk.screens.live import AWAY, View
from kiosk.screens.panel import Panel
from kiosk.settings import Settings
from kiosk.station import Said, say
from kiosk.times import write_time

TICK_S: Final = 1.0
ASK: Final = Choice(say("Put the request on the stick"), "ask", is_strong=True)
READ: Final = Choice(say("Take the answer from the stick"), "read")
COMPARE: Final = (Choice(say("It is the same"), "same"), Choice(say("It is not the same"), "other"))


class Enrolling:
    """What the screens of a new kiosk show, and where a key leads, as values."""

    def __init__(self, kiosk: NewKiosk, clock: Clock) -> None:
        self._kiosk, self._clock = kiosk, clock
        self._told: tuple[Told, ...] = ()
        self._answer: Answer | None = None
        self.is_done = False

    @property
    def shown(self) -> Shown:
        """What is on the screen now."""
        if self.is_done:
            return Shown(title=say("Enrolled. The kiosk starts again."), has_back=False)
        if self._answer is not None:
            enrolment = self._answer.enrolment
            place = say(
                "Plant {plant}, station {station}, series {series}.",
                plant=enrolment.plant, station=enrolment.station, series=enrolment.series,
            )  # fmt: skip
            number = say("{number}", number=self._answer.number)
            told = (*self._told, Told(place), Told(say("Number of the consolidator:")), Told(number))
            title = say("Two persons: is it the same as at the consolidator?")
            return Shown(title=title, told=told, choices=COMPARE, is_apart=True, has_back=False)
        number = say("{number}", number=self._kiosk.number)
        told = (*self._told, Told(say("Number of this kiosk:")), Told(number), Told(self._time()))
        return Shown(title=say("This kiosk is new. Nothing can be measured yet."), told=told, choices=(ASK, READ),
                     has_back=False)  # fmt: skip

    def press(self, key: str) -> None:
        """Take one key: `pick …` for a choice, or the number that stands on it."""
        choices = self.shown.choices
        if key.isdecimal() and 0 < int(key) <= len(choices):
            key = f"pick {choices[int(key) - 1].act}"
        if key not in {f"pick {choice.act}" for choice in choices}:
            return
        self._told = ()
        try:
            self._do(key.removeprefix("pick "))
        except TellingError as told:
            self._answer = None
            self._told = (
                Told(_said(told.what), Mark.STOP), Told(_said(told.why), Mark.LOOK), Told(_said(told.next_step)),
            )  # fmt: skip

    def _do(self, act: str) -> None:
        if act == "ask":
            self._kiosk.ask(self._clock.now())
            told = say("On the stick. Enrol it at the consolidator with this number, then bring the stick back.")
            self._told = (Told(told, Mark.OK),)
        elif act == "read":
            self._answer = self._kiosk.answer()
        elif act == "other":
            self._answer = None
            self._told = (
                Told(say("Nothing was taken over. Tell the quality manager and IT."), Mark.STOP),
            )  # fmt: skip
        elif self._answer is not None:
            self._kiosk.take(self._answer)
            self.is_done = True

    def _time(self) -> Said:
        time = write_time(self._clock.now())[:16].replace("T", " ")
        return say("Its clock says {time} UTC. Not the plant's time? Call IT first.", time=time)


class NewScreens:
    """All pages that are open on a new kiosk; each shows the same."""

    station = "new"

    def __init__(self, steps: Enrolling, settings: Settings) -> None:
        self._steps, self._done = steps, asyncio.Event()
        self._panel = Panel.from_settings(settings)
        self._language = Languages().of(settings.language)
        self._views: list[View] = []
        self.lines: list[asyncio.Queue[dict[str, str]]] = []

    def away_words(self) -> str:
        """Return what a page says by itself while the program is away."""
        return "\n".join(self._language.speak(one) for one in AWAY)

    def works(self) -> tuple[Coroutine[None, None, None], ...]:
        """Return what goes on beside the screens."""
        return (self._tick(),)

    async def ended(self) -> None:
        """Wait until the kiosk is enrolled."""
        await self._done.wait()

    def open(self, page: ft.Page) -> None:
        """Show the kiosk on a page that was just opened."""
        view = View(page)
        self._views.append(view)
        page.on_close = lambda _: self._views.remove(view)
        view.render(self._draw)

    def strokes(self, session: str, strokes: list[Stroke]) -> None:
        """Take key strokes: a number pad picks what is numbered, a scanner is not asked for anything."""
        for view in self._views:
            if view.page.session.id == session:
                for found in view.strokes.take(strokes):
                    if isinstance(found, Pressed):
                        self._press(found.key)

    async def _tick(self) -> None:
        """Let the time on the screen go on."""
        while True:
            await asyncio.sleep(TICK_S)
            self._redraw()

    def _press(self, key: str) -> None:
        self._steps.press(key)
        self._redraw()
        if self._steps.is_done:
            self._done.set()

    def _redraw(self) -> None:
        for view in self._views:
            view.redraw()

    def _draw(self) -> ft.Control:
        drawing = Drawing(Layout(self._panel), self._language.speak, self._press,
                          is_right_to_left=self._language.is_right_to_left)  # fmt: skip
        shown = self._steps.shown
        return drawing.cover(shown)


def _said(words: str) -> Said:
    return words if isinstance(words, Said) else say("{words}", words=words)
