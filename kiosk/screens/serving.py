"""Serves the screens on this machine only: everything the page needs comes from here, and nobody else gets in.

Owns the web side: files, headers, the key strokes' line, start and stop.
"""

import asyncio
import json
import os
import secrets
import shutil
import subprocess
import sys
import tempfile
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import ExitStack, asynccontextmanager, suppress
from datetime import UTC
from pathlib import Path
from typing import Final, Protocol

import fastapi
import flet as ft
import flet_web
import flet_web.fastapi as flet_app
import uvicorn
from starlette.middleware.trustedhost import TrustedHostMiddleware
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from kiosk.carry.enrolling import NewKiosk, is_enrolled
from kiosk.devices import Stroke
from kiosk.errors import BrowserNotHere
from kiosk.ports import MachineClock, SyncedDisk
from kiosk.screens.at_work import AtWork
from kiosk.screens.live import Live
from kiosk.screens.new_kiosk import Enrolling, NewScreens
from kiosk.screens.panel import Panel
from kiosk.settings import Settings

HOST: Final = "127.0.0.1"
PAGE_FILES: Final = Path(__file__).with_name("page")
BURST_MS: Final = 50
"""Silence after which key strokes without an Enter are handed on: longer than any pause inside a scanner's code."""
CODE_MS: Final = 150
"""The same for strokes that hold a letter, which only a code can: a hiccup of the machine must not cut it in two."""
STROKES_LIMIT: Final = 400
"""Strokes of one burst; the longest label has 40 characters."""
BROWSERS: Final = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
BROWSER_FLAGS: Final = (
    "--kiosk", "--no-first-run", "--noerrdialogs", "--disable-pinch", "--overscroll-history-navigation=0",
    "--disable-features=Translate", "--disable-sync", "--disable-background-networking", "--disable-component-update",
    # Browsers run errands of their own: what is not for this machine goes to a port of it where nobody listens.
    "--proxy-server=http://127.0.0.1:9",
)  # fmt: skip
_DROPPED: Final = {b"access-control-allow-origin", b"cross-origin-opener-policy", b"cross-origin-embedder-policy"}
"""Headers taken off: with the last two the renderer uses threads, which was seen to draw wrong glyphs."""


class Guard:
    """Lets nothing in but this machine's own page, and tells the page to ask nobody else."""

    def __init__(self, app: ASGIApp, port: int) -> None:
        self._app = app
        self._origins = {f"http://{host}:{port}".encode() for host in (HOST, "localhost")}
        lines = " ".join(f"ws://{host}:{port}" for host in (HOST, "localhost"))
        self._policy = (
            "default-src 'self'; script-src 'self' 'unsafe-inline' 'wasm-unsafe-eval' blob:; worker-src 'self' blob:; "
            "style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; font-src 'self' data:; "
            f"connect-src 'self' blob: data: {lines}; frame-ancestors 'none'"
        ).encode()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or close a line that another page opened."""
        if scope["type"] == "websocket" and dict(scope["headers"]).get(b"origin", b"") not in self._origins:
            await receive()
            await send({"type": "websocket.close", "code": 1008})
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                kept = [pair for pair in message["headers"] if pair[0].lower() not in _DROPPED]
                # Asked for anew at each load: after a change of the program no old part of it may stay in the browser.
                added = [(b"content-security-policy", self._policy), (b"cache-control", b"no-cache")]
                message = {**message, "headers": [*kept, *added]}
            await send(message)

        await self._app(scope, receive, send_guarded if scope["type"] == "http" else send)


class Screens(Protocol):
    """What is shown on the pages of a kiosk: at work, or new."""

    lines: list[asyncio.Queue[dict[str, str]]]

    @property
    def station(self) -> str:
        """The number of the station."""
        ...

    def away_words(self) -> str:
        """Return what a page says by itself while the program is away."""
        ...

    def works(self) -> tuple[Coroutine[None, None, None], ...]:
        """Return what goes on beside the screens until the kiosk stops."""
        ...

    async def ended(self) -> None:
        """Wait until nothing more is to be shown."""
        ...

    def open(self, page: ft.Page) -> None:
        """Take a page that was just opened."""
        ...

    def strokes(self, session: str, strokes: list[Stroke]) -> None:
        """Take key strokes of a page."""
        ...


def make_app(screens: Screens, settings: Settings, *, port: int, page_folder: Path) -> fastapi.FastAPI:
    """Return the web side of a kiosk; `page_folder` is an empty folder for what the page needs."""
    boot = secrets.token_hex(8)
    _lay_out(page_folder, settings, screens.away_words())

    @asynccontextmanager
    async def lifespan(_: fastapi.FastAPI) -> AsyncIterator[None]:
        await flet_app.app_manager.start()
        tasks = [asyncio.create_task(work) for work in screens.works()]
        yield
        for task in tasks:
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task
        await flet_app.app_manager.shutdown()

    app = fastapi.FastAPI(lifespan=lifespan, docs_url=None, redoc_url=None, openapi_url=None)

    @app.get("/kiosk/health")
    async def health() -> dict[str, str]:
        return {"boot": boot, "station": screens.station}

    @app.websocket("/kiosk/keys")
    async def keys(line: fastapi.WebSocket) -> None:
        await line.accept()
        await _serve_keys(line, screens)

    app.mount("/", flet_app.app(screens.open, no_cdn=True, assets_dir=str(page_folder), app_name="Kiosk"))
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=[HOST, "localhost"])
    app.add_middleware(Guard, port=port)
    return app


async def _serve_keys(line: fastapi.WebSocket, screens: Screens) -> None:
    told_to: asyncio.Queue[dict[str, str]] = asyncio.Queue()
    told_to.put_nowait({"away": screens.away_words()})
    screens.lines.append(told_to)

    async def send_all() -> None:
        while True:
            await line.send_text(json.dumps(await told_to.get()))

    sender = asyncio.create_task(send_all())
    try:
        while True:
            told = json.loads(await line.receive_text())
            strokes = [Stroke(str(key), float(at_ms)) for key, at_ms in told["keys"][:STROKES_LIMIT]]
            screens.strokes(str(told["session"]), strokes)
    except fastapi.WebSocketDisconnect:
        pass
    finally:
        screens.lines.remove(told_to)
        sender.cancel()


def _lay_out(folder: Path, settings: Settings, away: str) -> None:
    """Put the page's own files and the entry page with our script before all others into `folder`."""
    shutil.copytree(PAGE_FILES, folder, dirs_exist_ok=True)
    panel = Panel.from_settings(settings)
    told = {
        "away": away, "burstMs": BURST_MS, "codeMs": CODE_MS, "bounceMs": settings.screen_bounce_ms,
        "typePx": round(panel.type_px(9)), "edgePx": round(panel.px(3)),
    }  # fmt: skip
    ours = f'<script>window.kioskSettings = {json.dumps(told)};</script>\n  <script src="page.js"></script>\n'
    entry = (Path(flet_web.__file__).parent / "web" / "index.html").read_text(encoding="utf-8")
    place = entry.index("<script>")
    (folder / "index.html").write_text(entry[:place] + ours + "  " + entry[place:], encoding="utf-8")


def serve(folder: Path, *, port: int, is_opened: bool, started: Callable[[str], None]) -> None:
    """Serve a kiosk until it is stopped; a new one is enrolled first. `started` is told its address once it answers."""
    settings, address = Settings(), f"http://{HOST}:{port}/"
    with ExitStack() as at_end:

        def answers() -> None:
            started(address)
            if is_opened:
                at_end.callback(_end, open_browser(address))

        if is_enrolled(folder):
            kiosk = AtWork(folder)
            at_end.callback(kiosk.close)
            _serve(Live(kiosk), kiosk.settings, port, answers)
            return
        new = Enrolling(NewKiosk(folder, settings.stick_folder, SyncedDisk(), settings=settings), MachineClock(UTC))
        _serve(NewScreens(new, settings), settings, port, answers)
    if new.is_done:
        # A program anew: what the renderer's side remembers of the pages of a new kiosk goes with it.
        os.execv(sys.executable, [sys.executable, *sys.orig_argv[1:]])


def _serve(screens: Screens, settings: Settings, port: int, answers: Callable[[], None]) -> None:
    """Serve the screens until the program is stopped, or until they have ended."""
    with tempfile.TemporaryDirectory() as page_folder:
        app = make_app(screens, settings, port=port, page_folder=Path(page_folder))
        config = uvicorn.Config(
            app, host=HOST, port=port, log_level="warning", access_log=False, timeout_graceful_shutdown=1
        )
        asyncio.run(_run(uvicorn.Server(config), screens, answers))


async def _run(server: uvicorn.Server, screens: Screens, answers: Callable[[], None]) -> None:
    running = asyncio.create_task(server.serve())
    while not server.started and not running.done():
        await asyncio.sleep(0.02)
    if server.started:
        answers()
    ended = asyncio.create_task(screens.ended())
    await asyncio.wait((running, ended), return_when=asyncio.FIRST_COMPLETED)
    server.should_exit = True
    ended.cancel()
    await running


def _end(browser: "subprocess.Popen[bytes]") -> None:
    browser.terminate()
    browser.wait()


def open_browser(address: str) -> "subprocess.Popen[bytes]":
    """Start the system's browser full-screen on the kiosk and return its process.

    Raises:
        BrowserNotHere: none of the browsers known is installed.
    """
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    if found is None:
        raise BrowserNotHere(
            "The browser was not started.",
            why="None of these is installed here: " + ", ".join(BROWSERS) + ".",
            next_step=f"Install the package chromium, or open {address} in the browser that is here.",
        )
    return subprocess.Popen([found, *BROWSER_FLAGS, address], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
