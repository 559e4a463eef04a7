"""The intake over HTTP: contact, packets, lists. Thin: bytes in, signed bytes out, words when something is refused.

Owns the routes of docs/reference/carry-http.md. Must not know what a page means.
"""

import asyncio
import base64
import binascii
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from typing import TypeVar

import uvicorn
from fastapi import FastAPI, Request, Response
from fastapi.concurrency import run_in_threadpool

from consolidator.errors import IntakeBusy, IntakeDamaged, NotTakenIn, UnknownKiosk
from consolidator.intake import enrolment
from consolidator.intake.enrolment import certificate, tls_key
from consolidator.intake.receiving import Intake, newest_lists_version
from consolidator.intake.screened import screen
from consolidator.lists import ListsDamaged, lists_bytes
from consolidator.plant import Plant
from consolidator.settings import Settings
from kiosk.carry import Contact, ListsRequest
from kiosk.carry.contacts import STATEMENT_FIELD
from kiosk.carry.fresh_lists import wrap_lists
from kiosk.carry.keys import signing_key
from kiosk.carry.statements import Statement, read_statement, split_statement, understand
from kiosk.errors import NewerFormat, PacketRefused, StatementRefused, TellingError
from kiosk.settings import Settings as CarrySettings

Told = TypeVar("Told", bound=Statement)
BYTES = "application/octet-stream"
_REFUSED: tuple[type[TellingError], ...] = (PacketRefused, NewerFormat, StatementRefused)


def make_app(plant: Plant, *, now: Callable[[], datetime] | None = None) -> FastAPI:
    """Return the intake of one plant as an application; `now` is the consolidator's clock (default: the machine's)."""
    clock = now or (lambda: datetime.now(UTC))
    intake = Intake(plant, now=clock)

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        screening = asyncio.create_task(_screen_now_and_then(intake))
        yield
        screening.cancel()
        await asyncio.gather(screening, return_exceptions=True)
        intake.close()

    app = FastAPI(title="intake", docs_url=None, redoc_url=None, lifespan=life)

    @app.post("/carry/v1/contact")
    async def contact(request: Request) -> Response:
        at = clock()
        raw = await _body(request, intake.limits.carry_statement_bytes_limit)
        return await _answer(lambda: intake.take_contact(_signed(plant, raw, Contact), at))

    @app.post("/carry/v1/packets")
    async def packets(request: Request) -> Response:
        raw = await _body(request, intake.limits.carry_packet_bytes_limit)
        return await _answer(lambda: intake.take_in(raw).receipt)

    @app.get("/carry/v1/lists/{version}")
    async def lists(version: int, request: Request) -> Response:
        return await _answer(lambda: _lists(intake, version, request.headers.get(STATEMENT_FIELD, "")))

    @app.get("/carry/v1/state")
    async def state() -> dict[str, object]:
        return {"plant": plant.number, "lists": newest_lists_version(plant)}

    return app


def make_server(
    plant: Plant, *, host: str, port: int, is_plain: bool = False, now: Callable[[], datetime] | None = None
) -> uvicorn.Server:
    """Return the intake ready to run on `host` and `port`, over TLS with the plant's own certificate.

    `is_plain` leaves TLS out, which kiosks accept on this same machine only.
    """
    tls = {} if is_plain else {"ssl_certfile": certificate(plant), "ssl_keyfile": tls_key(plant)}
    config = uvicorn.Config(
        make_app(plant, now=now),
        host=host,
        port=port,
        log_level="warning",
        ws="none",
        limit_concurrency=Settings().intake_requests_limit,
        **tls,  # type: ignore[arg-type]
    )
    return uvicorn.Server(config)


async def _screen_now_and_then(intake: Intake) -> None:
    while True:
        await asyncio.sleep(intake.settings.intake_screen_every_s)
        await run_in_threadpool(screen, intake)


async def _body(request: Request, limit_bytes: int) -> bytes:
    """Read a body up to one byte over its limit, so that what is refused as too large costs little."""
    found = bytearray()
    async for piece in request.stream():
        found += piece
        if len(found) > limit_bytes:
            return bytes(found[: limit_bytes + 1])
    return bytes(found)


async def _answer(act: Callable[[], bytes]) -> Response:
    try:
        return Response(await run_in_threadpool(act), media_type=BYTES)
    except UnknownKiosk as told:
        return _words(403, told)
    except ListsDamaged as told:
        return _words(404, told)
    except _REFUSED as told:
        return _words(422, told)
    except (IntakeBusy, NotTakenIn, IntakeDamaged) as told:
        return _words(503, told)


def _words(status: int, told: TellingError) -> Response:
    return Response(str(told), status_code=status, media_type="text/plain; charset=utf-8")


def _lists(intake: Intake, version: int, field: str) -> bytes:
    try:
        raw = base64.b64decode(field, validate=True)
    except binascii.Error as error:
        raise StatementRefused(
            "The request for lists was refused.", why="Its statement cannot be read.", next_step="Carry again."
        ) from error
    asked = _signed(intake.plant, raw, ListsRequest)
    if asked.version != version:
        raise StatementRefused(
            "The request for lists was refused.", why="It is signed for another version.", next_step="Carry again."
        )
    content = lists_bytes(intake.plant, version)
    return wrap_lists(content, plant=intake.plant.number, version=version, key=intake.keys.signing)


def _signed(plant: Plant, raw: bytes, kind: type[Told]) -> Told:
    """Return a statement that an enrolled kiosk of this plant signed.

    Raises:
        UnknownKiosk: the series it names is not enrolled.
        StatementRefused: it is not that kiosk's, or for another plant.
    """
    limit_bytes = CarrySettings().carry_statement_bytes_limit
    claimed = understand(split_statement(raw, kind.__name__, limit_bytes)[0], kind, kind.__name__)
    series = str(getattr(claimed, "series", ""))
    enrolled = enrolment.find(plant, series)
    if getattr(claimed, "plant", "") != plant.number:
        raise StatementRefused(
            f"The contact of {series[:40]} was refused: this is plant {plant.number}.",
            why=f"The kiosk belongs to plant {getattr(claimed, 'plant', '?')}.",
            next_step="Carry it at its own plant.",
        )
    if enrolled is None:
        raise UnknownKiosk(
            f"Series {series[:40]} is not enrolled at plant {plant.number}.",
            why="Nothing proves which kiosk it is.",
            next_step="Keep the kiosk's folder and tell the quality manager.",
        )
    return read_statement(raw, kind, signing_key(enrolled.signs), name=kind.__name__, limit_bytes=limit_bytes)
