"""Kiosks of a played plant whose screens are served and shown in the browser, all in one process, in played time.

The player says when a kiosk carries; everything else of a running kiosk is as `kiosk run` makes it.
"""

import asyncio
import os
import threading
from collections.abc import Coroutine
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path
from typing import Any, Final, TypeVar

import rfc8785
import uvicorn
from playwright.sync_api import BrowserContext

from consolidator.intake import enrol
from consolidator.plant import Plant
from demo_site.play.clocks import KioskTime, PlayedChance, TrueTime
from demo_site.play.floor import PlayedKiosk
from kiosk.carry.network import Carried
from kiosk.lists import Lists
from kiosk.ports import Disk
from kiosk.screens.at_work import AtWork
from kiosk.screens.live import Live
from kiosk.screens.serving import HOST, make_app
from kiosk.settings import Settings
from tests.browser.kiosks import free_port
from tests.browser.played.screen import AtScreen

STARTED_WITHIN_S: Final = 20.0
PANEL: Final = Settings(panel_width_px=640, panel_height_px=400)
"""Half the pixels each way that the usual panel has: the same screens, drawn four times as fast without a GPU."""
Answer = TypeVar("Answer")


class Loop:
    """One event loop in a thread of its own, for every kiosk served."""

    def __init__(self) -> None:
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)
        self._thread.start()

    def run(self, work: Coroutine[Any, Any, Answer]) -> Answer:
        """Do something in the loop and wait for it."""
        return asyncio.run_coroutine_threadsafe(work, self._loop).result(STARTED_WITHIN_S)

    def stop(self) -> None:
        """End the loop."""
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(STARTED_WITHIN_S)
        self._loop.close()


@dataclass
class ScreenedKiosk(PlayedKiosk):
    """One kiosk on the floor that is worked at its screen."""

    at_work: AtWork = field(kw_only=True)
    screen: AtScreen = field(kw_only=True)
    loop: Loop = field(kw_only=True)
    here: str | None = None
    """Who badged in last."""
    job: tuple[str, str] | None = None
    """The lot and operation opened last."""

    def carry(self, true: TrueTime) -> Carried:
        """Carry by network, as the running kiosk does in its rounds."""

        async def round_of() -> Carried:
            done = await asyncio.to_thread(self.at_work.carry)
            self.at_work.take(done, by_network=True)
            return done

        before = self.book.last_number
        done = self.loop.run(round_of())
        self.last_contact = true.running_ms()
        if self.book.last_number > before:
            self.screen.come()
            # The status line says so by itself; only then may a later page be taken for a person's own.
            self.screen.sees(lambda seen: seen.page == self.book.last_number, "the page of the carry")
        return done

    def carry_by(self, stick: Path) -> Carried:
        """No scenario played here carries by stick."""
        raise NotImplementedError

    def cut_power(self) -> None:
        """No scenario played here cuts the power; `test_serving` kills a whole process."""
        raise NotImplementedError


class Floor:
    """Puts kiosks at stations and takes them away again."""

    def __init__(self, context: BrowserContext) -> None:
        self._context = context
        self._loop = Loop()
        self._standing: list[tuple[ScreenedKiosk, uvicorn.Server, asyncio.Task[None]]] = []
        self._ports: list[int] = []
        """Used again for later kiosks, so that the browser need not fetch and compile the renderer each time."""

    def put(
        self,
        plant: Plant,
        folder: Path,
        *,
        station: str,
        series: str,
        true: TrueTime,
        address: str,
        lists: Lists,
        error: timedelta,
        disk: Disk,
    ) -> ScreenedKiosk:
        """Enrol a kiosk, bring its lists, serve it and open it in the browser."""
        enrol(plant, series=series, station=station, now=true.now(), kiosk_folder=folder, address=address)
        clock = KioskTime(true, error)
        brought = folder / "lists.json"
        brought.write_bytes(rfc8785.dumps(lists.model_dump(mode="json", exclude_none=True)))
        os.utime(brought, (clock.now().timestamp(),) * 2)
        at_work = AtWork(folder, clock=clock, chance=PlayedChance(series), settings=PANEL)
        # Without an address the kiosk begins no round of carrying by itself; the carry reads its own from the folder.
        at_work.enrolment = at_work.enrolment.model_copy(update={"address": None})
        place, page_folder = len(self._standing), folder / "page"
        if place == len(self._ports):
            self._ports.append(free_port())
        port = self._ports[place]
        page_folder.mkdir()
        server, task = self._loop.run(_serve(at_work, port, page_folder))
        page = self._context.new_page()
        screen = AtScreen(page, true, f"http://{HOST}:{port}/")
        kiosk = ScreenedKiosk(
            folder, series, clock, at_work.book, at_work.work, disk, at_work=at_work, screen=screen, loop=self._loop
        )
        self._standing.append((kiosk, server, task))
        return kiosk

    def clear(self) -> None:
        """Take every kiosk away; nothing they did may have asked anybody outside this machine."""
        while self._standing:
            kiosk, server, task = self._standing.pop()
            person = kiosk.screen.person
            person.page.close()
            server.should_exit = True
            self._loop.run(_ended(task))
            kiosk.at_work.close()
            assert person.leaks() == []
            assert person.faults == []

    def stop(self) -> None:
        """Take everything away for good."""
        self.clear()
        self._loop.stop()


async def _serve(at_work: AtWork, port: int, page_folder: Path) -> tuple[uvicorn.Server, "asyncio.Task[None]"]:
    app = make_app(Live(at_work), at_work.settings, port=port, page_folder=page_folder)
    server = uvicorn.Server(uvicorn.Config(app, host=HOST, port=port, log_level="warning", access_log=False))
    task = asyncio.create_task(server.serve())
    while not server.started:
        assert not task.done(), "the kiosk did not start"
        await asyncio.sleep(0.01)
    return server, task


async def _ended(task: "asyncio.Task[None]") -> None:
    await task
