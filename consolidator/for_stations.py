"""What the QC room asks of a station and tells it, on its way out with the receipts of that station's kiosks.

Owns `PLANT/intake/for-stations.json`, which is made from the desk's own book and can be made from it again.
Must not know how a receipt travels.
"""

import json
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final, Literal

from pydantic import ValidationError

from consolidator.plant import Plant
from kiosk.carry.receipts import Message, Order
from kiosk.pages import Frozen, Page
from kiosk.pages._base import Name
from kiosk.pages.desk import StationMessage
from kiosk.pages.readings import ReMeasureOrder
from kiosk.ports import Disk
from kiosk.times import LocalTime, read_time

ORDERS_KEPT: Final = timedelta(days=30)
"""How long an order goes out: a piece not measured again by then is hardly to be found."""
MESSAGES_KEPT: Final = timedelta(days=3)
"""How long a message goes out: every shift has read it by then."""
AT_MOST: Final = 50
"""Orders, and messages, that one receipt bears; a station seldom has three."""


class _Asked(Frozen):
    station: Name
    at: LocalTime
    order: Order


class _Told(Frozen):
    station: Name
    message: Message


class _File(Frozen):
    format: Literal[1] = 1
    asked: tuple[_Asked, ...] = ()
    told: tuple[_Told, ...] = ()


def note_for_stations(plant: Plant, pages: Iterable[Page], disk: Disk) -> None:
    """Put down what new pages of the desk's book ask of stations and tell them; what is too old is left out."""
    file, changed = _read(plant), False
    for page in pages:
        before = file
        file = _after(file, page)
        changed = changed or file != before
    if changed:
        content = file.model_dump(mode="json", exclude_none=True)
        disk.replace_synced(_path(plant), json.dumps(content, ensure_ascii=False).encode() + b"\n")


def for_station(plant: Plant, station: str, now: datetime) -> tuple[tuple[Order, ...], tuple[Message, ...]]:
    """Return what goes out to a station now, the oldest first."""
    file = _read(plant)
    orders = [one.order for one in file.asked if one.station == station and now - read_time(one.at) <= ORDERS_KEPT]
    messages = [
        one.message for one in file.told if one.station == station and now - read_time(one.message.at) <= MESSAGES_KEPT
    ]
    return tuple(orders[-AT_MOST:]), tuple(messages[-AT_MOST:])


def _after(file: _File, page: Page) -> _File:
    act = page.act
    if isinstance(act, ReMeasureOrder):
        order = Order(
            page=page.ref, of=act.of, lot=act.lot, characteristic=act.characteristic, piece=act.piece, words=act.words
        )
        asked = _Asked(station=act.at_station, at=page.kiosk_time, order=order)
        return file.model_copy(update={"asked": (*file.asked, asked)})
    if isinstance(act, StationMessage):
        message = Message(page=page.ref, at=page.kiosk_time, words=act.words)
        return file.model_copy(update={"told": (*file.told, _Told(station=act.to_station, message=message))})
    return file


def _path(plant: Plant) -> Path:
    return plant.intake / "for-stations.json"


def _read(plant: Plant) -> _File:
    """Return what is put down; nothing where the file is away or damaged: a receipt is worth more than an order."""
    try:
        return _File.model_validate_json(_path(plant).read_bytes())
    except (OSError, ValidationError):
        return _File()
