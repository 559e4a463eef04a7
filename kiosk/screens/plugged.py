"""The gauges plugged into a running kiosk: their lines are read beside the screens, their values handed to them.

Owns starting and stopping the lines, and bringing what came onto the screens' own thread.
"""

import asyncio
from collections.abc import Callable

from kiosk.acts.instruments import Instruments
from kiosk.devices import Event, SerialGauge, read_gauges
from kiosk.errors import GaugeFileNotUnderstood
from kiosk.screens.at_work import AtWork
from kiosk.station import Said


class Plugged:
    """The plugged-in gauges of one kiosk."""

    def __init__(self, kiosk: AtWork) -> None:
        self._instruments = Instruments(kiosk.steps, kiosk.clock)
        self._failed: tuple[Said, ...] = ()
        self._came: asyncio.Queue[tuple[str, Event]] = asyncio.Queue()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._gauges: dict[str, SerialGauge] = {}
        try:
            for plugged, kind in read_gauges(kiosk.folder):
                self._gauges[plugged.gauge] = SerialGauge(plugged, kind, self._hand_on)
        except GaugeFileNotUnderstood as told:
            self._failed = tuple(one for one in (told.what,) if isinstance(one, Said))
        kiosk.steps.ask_gauge = self.ask
        kiosk.beside_status = self.status

    def status(self) -> tuple[Said, ...]:
        """Return what the status line says of them: only what is not as it should be."""
        return (*self._failed, *self._instruments.away())

    def ask(self, gauge: str) -> bool:
        """Ask a gauge for its value; False for one that is not plugged in or cannot be asked."""
        one = self._gauges.get(gauge)
        if one is None or not one.can_be_asked:
            return False
        one.ask()
        return True

    async def listen(self, redraw: Callable[[], None]) -> None:
        """Read all lines until cancelled, and draw anew after each thing that came."""
        self._loop = asyncio.get_running_loop()
        for gauge in self._gauges.values():
            gauge.start()
        try:
            while True:
                self._instruments.take(*await self._came.get())
                redraw()
        finally:
            for gauge in self._gauges.values():
                gauge.stop()

    def _hand_on(self, gauge: str, event: Event) -> None:
        """Bring what a line's own thread heard to the screens' thread."""
        assert self._loop is not None
        self._loop.call_soon_threadsafe(self._came.put_nowait, (gauge, event))
