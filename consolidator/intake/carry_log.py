"""Logs that are only ever added to: one line of JSON each, on the disk before anybody is told.

The carry log is what the intake knows; everything else in `screened/` can be made from it and the packets.
Owns the lines, how they are put on the disk, and torn ends.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import orjson

from consolidator.errors import IntakeDamaged
from kiosk.carry import PacketHeader
from kiosk.carry.packets import HEADER_BYTES_LIMIT
from kiosk.carry.statements import split_statement, understand
from kiosk.errors import NewerFormat, StatementRefused
from kiosk.ports import Disk
from kiosk.times import write_time

Line = dict[str, Any]
_BEGINNING: Final = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class By:
    """Which way something came: over the network, by a numbered stick, or from the desk beside it."""

    way: str = "network"
    stick: str | None = None


NETWORK = By()


def milliseconds(moment: datetime) -> int:
    """Return UTC milliseconds since 1970-01-01, exactly."""
    return (moment - _BEGINNING) // timedelta(milliseconds=1)


def packet_line(header: PacketHeader, now: datetime, by: By, *, new: int, conflicts: dict[int, list[str]]) -> Line:
    """Return the carry log's line for a packet whose pages were all held already; a taken packet adds to it."""
    held = header.count - new - len(conflicts)
    words = f"{header.series} {header.first}–{header.last}: {held} already held, {new} new"
    if conflicts:
        words += f", {len(conflicts)} with other content under a number already held"
    return {
        **_began(now, by),
        **_run(header),
        "outcome": "already held",
        "words": words,
        "new": new,
        "held": held,
        "conflicts": [{"number": number, "fingerprints": prints} for number, prints in conflicts.items()],
    }


def refusal_line(raw: bytes, words: str, now: datetime, by: By, *, outcome: str) -> Line:
    """Return the carry log's line for a packet refused; its run stands in it as far as it can be read."""
    try:
        run = _run(understand(split_statement(raw, "packet", HEADER_BYTES_LIMIT)[0], PacketHeader, "packet"))
    except (StatementRefused, NewerFormat):
        run = {}
    return {**_began(now, by), **run, "outcome": outcome, "words": words, "bytes": len(raw), "file": ""}


def _began(now: datetime, by: By) -> Line:
    stick = {} if by.stick is None else {"stick": by.stick}
    return {"what": "packet", "at": write_time(now), "received_ms": milliseconds(now), "by": by.way, **stick}


def _run(header: PacketHeader) -> Line:
    return {"series": header.series, "first": header.first, "last": header.last}


class Log:
    """One log file."""

    def __init__(self, path: Path, disk: Disk) -> None:
        self._path = path
        self._disk = disk

    def append(self, lines: Iterable[Line]) -> int:
        """Put lines at the end, synced, and return the log's length in bytes after it.

        Raises:
            OSError: as the disk gives it; the end may then be torn and is set aside at the next append.
        """
        self._set_torn_end_aside()
        content = b"".join(orjson.dumps(line) + b"\n" for line in lines)
        self._disk.append_synced(self._path, content)
        return self._path.stat().st_size

    def read_from(self, offset_bytes: int) -> Iterator[tuple[Line, int]]:
        """Yield each whole line after `offset_bytes` with the offset behind it; a torn end is passed over.

        Raises:
            IntakeDamaged: a line that is not the torn end cannot be read, or the log is shorter than it was.
        """
        size = self._path.stat().st_size if self._path.exists() else 0
        if size < offset_bytes:
            raise self._damaged(f"it is {size} bytes long and was {offset_bytes}")
        if size == offset_bytes:
            return
        with self._path.open("rb") as kept:
            kept.seek(offset_bytes)
            for raw in kept:
                if not raw.endswith(b"\n"):
                    return
                offset_bytes += len(raw)
                try:
                    line = orjson.loads(raw)
                except orjson.JSONDecodeError as error:
                    raise self._damaged(f"the line that ends at byte {offset_bytes} is not JSON") from error
                yield line, offset_bytes

    def _set_torn_end_aside(self) -> None:
        """A power cut may leave half a line; nobody was told of it, and its bytes are kept beside the log."""
        if not self._path.exists():
            self._path.parent.mkdir(parents=True, exist_ok=True)
            return
        with self._path.open("rb+") as kept:
            size = kept.seek(0, 2)
            if size == 0:
                return
            kept.seek(size - 1)
            if kept.read(1) == b"\n":
                return
            kept.seek(0)
            whole = kept.read().rfind(b"\n") + 1
            kept.seek(whole)
            torn = kept.read()
            self._disk.append_synced(self._path.with_suffix(".torn"), torn + b"\n")
            kept.truncate(whole)

    def _damaged(self, why: str) -> IntakeDamaged:
        return IntakeDamaged(
            f"The log {self._path.name} could not be read on.",
            why=f"In it, {why}.",
            next_step="Stop the intake, keep the file as it is, and bring the plant's folder back from its last copy.",
        )
