"""A million times as text: local time with milliseconds and UTC offset, made digit by digit.

Owns the text form of `kiosk.times` for whole columns.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa

from consolidator.frame.coded import Ints, distinct
from consolidator.frame.world import moment_of

_DAY_MS = 24 * 3_600_000
_LENGTH = 29
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def local_texts(ms: Ints, offset_min: Ints) -> pa.Array:
    """Return each moment as `2026-03-10T23:58:30.000-04:00`."""
    count = len(ms)
    if not count:
        return pa.array([], pa.string())
    local = ms + offset_min * 60_000
    earliest = int(local.min()) // _DAY_MS
    days, place = distinct(local // _DAY_MS - earliest)
    dates = [(_EPOCH + timedelta(days=earliest + day)).strftime("%Y-%m-%dT") for day in days.tolist()]
    letters = np.empty((count, _LENGTH), np.uint8)
    letters[:, :11] = np.frombuffer("".join(date.rjust(11, "0") for date in dates).encode(), np.uint8).reshape(-1, 11)[
        place
    ]
    rest = (local % _DAY_MS).astype(np.int32)
    _digits(letters, 11, rest // 3_600_000, 2)
    _digits(letters, 14, rest // 60_000 % 60, 2)
    _digits(letters, 17, rest // 1000 % 60, 2)
    _digits(letters, 20, rest % 1000, 3)
    for at, mark in ((13, ":"), (16, ":"), (19, "."), (26, ":")):
        letters[:, at] = ord(mark)
    size = np.abs(offset_min).astype(np.int32)
    letters[:, 23] = np.where(offset_min < 0, ord("-"), ord("+"))
    _digits(letters, 24, size // 60, 2)
    _digits(letters, 27, size % 60, 2)
    borders = np.arange(0, (count + 1) * _LENGTH, _LENGTH, dtype=np.int32)
    return pa.StringArray.from_buffers(count, pa.py_buffer(borders), pa.py_buffer(letters))


def local_text(ms: int, zone: ZoneInfo) -> str:
    """Return one moment in the zone as the ledger writes it."""
    return moment_of(ms).astimezone(zone).isoformat(timespec="milliseconds")


def _digits(letters: np.ndarray, at: int, value: np.ndarray, width: int) -> None:
    for place in range(width - 1, -1, -1):
        letters[:, at + place] = ord("0") + value % 10
        value = value // 10
