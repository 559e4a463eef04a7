"""Reads the pixels of a picture a browser took: PNG, eight bits a channel (RFC 2083)."""

import struct
import zlib
from dataclasses import dataclass


@dataclass(frozen=True)
class Picture:
    """Rows of pixels, three bytes each."""

    width: int
    height: int
    rows: tuple[bytes, ...]

    def pixel(self, x: int, y: int) -> tuple[int, int, int]:
        """Return red, green and blue."""
        red, green, blue = self.rows[y][3 * x : 3 * x + 3]
        return red, green, blue

    def part(self, left: int, top: int, width: int, height: int) -> tuple[bytes, ...]:
        """Return the pixels of a part."""
        return tuple(row[3 * left : 3 * (left + width)] for row in self.rows[top : top + height])

    def inked_rows(self, left: int, top: int, width: int, height: int, *, darker_than: int = 90) -> list[int]:
        """Return the rows of a part that hold a dark pixel."""
        part = self.part(left, top, width, height)
        return [
            y for y, row in enumerate(part) if any(max(row[i : i + 3]) < darker_than for i in range(0, len(row), 3))
        ]


def read_png(content: bytes) -> Picture:
    """Return the pixels of a PNG without interlacing."""
    place, packed, width, height, channels = 8, b"", 0, 0, 3
    while place < len(content):
        length, kind = struct.unpack(">I4s", content[place : place + 8])
        chunk = content[place + 8 : place + 8 + length]
        if kind == b"IHDR":
            width, height, depth, colour, _, _, interlaced = struct.unpack(">IIBBBBB", chunk)
            assert (depth, interlaced) == (8, 0)
            channels = {2: 3, 6: 4}[colour]
        elif kind == b"IDAT":
            packed += chunk
        place += 12 + length
    return Picture(width, height, _rows(zlib.decompress(packed), width, height, channels))


def _rows(raw: bytes, width: int, height: int, channels: int) -> tuple[bytes, ...]:
    rows, before, long = [], bytearray(width * channels), width * channels + 1
    for y in range(height):
        kind, line = raw[y * long], bytearray(raw[y * long + 1 : (y + 1) * long])
        _unfilter(kind, line, before, channels)
        before = line
        rows.append(bytes(line) if channels == 3 else bytes(b for i, b in enumerate(line) if i % 4 != 3))
    return tuple(rows)


def _unfilter(kind: int, line: bytearray, before: bytearray, channels: int) -> None:
    for i in range(len(line)):
        left = line[i - channels] if i >= channels else 0
        corner = before[i - channels] if i >= channels else 0
        if kind == 1:
            line[i] = (line[i] + left) & 255
        elif kind == 2:
            line[i] = (line[i] + before[i]) & 255
        elif kind == 3:
            line[i] = (line[i] + (left + before[i]) // 2) & 255
        elif kind == 4:
            guess = left + before[i] - corner
            nearest = min((abs(guess - left), 0, left), (abs(guess - before[i]), 1, before[i]),
                          (abs(guess - corner), 2, corner))  # fmt: skip
            line[i] = (line[i] + nearest[2]) & 255
