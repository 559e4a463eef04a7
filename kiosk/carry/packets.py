"""Packets: a run of pages on its way, the same by network and by stick.

First line: the header (canonical JSON). Second line: its Ed25519 signature.
Then one line a page: fingerprint, space, canonical bytes. The header holds the SHA-256 of all that follows it.
Owns the form and its limits; must not know how a packet travels.
"""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, Literal, Protocol

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from pydantic import Field

from kiosk.carry.statements import Statement, is_signed, split_statement, understand, write_statement
from kiosk.errors import PacketRefused, StatementRefused
from kiosk.pages import Page, fingerprint
from kiosk.pages._base import Fingerprint, Name, Series
from kiosk.settings import Settings

HEADER_BYTES_LIMIT = 4_096
"""A header has fixed fields only and stays under 600 bytes."""
_MARGIN = 65
"""Fingerprint and space before each page's bytes."""

Run = tuple[int, int]
"""First and last page number, both included."""
PageNumber = Annotated[int, Field(ge=1, le=9_999_999_999)]


class CarriedBook(Protocol):
    """What carry needs of a numbered book."""

    @property
    def last_number(self) -> int:
        """The number of the last page kept; 0 in an empty book."""
        ...

    def pages(self, first: int, last: int) -> Iterator[tuple[Page, bytes]]:
        """Yield pages and their bytes in page order; numbers that are not in the book are passed over."""
        ...

    def receipt(self, through: int, fingerprint: str, at: str) -> None:
        """Note that the consolidator holds every page up to `through`, whose fingerprint it names."""
        ...


class PacketHeader(Statement):
    """What a packet says of itself; `head` is the fingerprint of its last page, `body` of all page lines."""

    what: Literal["packet"] = "packet"
    plant: Name
    series: Series
    first: PageNumber
    last: PageNumber
    count: Annotated[int, Field(ge=1)]
    head: Fingerprint
    body: Fingerprint


@dataclass(frozen=True)
class Packet:
    """A packet whose form is right; whether it is signed by its kiosk is asked of it."""

    header: PacketHeader
    header_line: bytes
    signature: bytes
    fingerprints: tuple[str, ...]
    """As carried beside each page; whether they fit the bytes is for the receiver to check."""
    pages: tuple[bytes, ...]

    def is_signed_by(self, key: Ed25519PublicKey) -> bool:
        """True when the header was signed with the private half of `key`."""
        return is_signed(self.header_line, self.signature, key)


def make_packets(
    pages: Iterable[tuple[Page, bytes]], key: Ed25519PrivateKey, *, settings: Settings | None = None
) -> Iterator[tuple[PacketHeader, bytes]]:
    """Yield signed packets, cut where a number is missing and after every full segment of the book.

    The same pages give the same packets to the byte, so carrying again changes nothing.
    """
    size = (settings or Settings()).carry_packet_pages
    run: list[tuple[Page, bytes]] = []
    for page, page_bytes in pages:
        if run and (page.number != run[-1][0].number + 1 or (page.number - 1) % size == 0):
            yield _packet(run, key)
            run = []
        run.append((page, page_bytes))
    if run:
        yield _packet(run, key)


def _packet(run: list[tuple[Page, bytes]], key: Ed25519PrivateKey) -> tuple[PacketHeader, bytes]:
    lines = [(fingerprint(page_bytes), page_bytes) for _, page_bytes in run]
    body = b"".join(b"%s %s\n" % (print_.encode(), page_bytes) for print_, page_bytes in lines)
    header = PacketHeader(
        plant=run[0][0].plant,
        series=run[0][0].series,
        first=run[0][0].number,
        last=run[-1][0].number,
        count=len(run),
        head=lines[-1][0],
        body=hashlib.sha256(body).hexdigest(),
    )
    return header, write_statement(header, key) + body


def read_packet(raw: bytes, *, settings: Settings | None = None) -> Packet:
    """Return the packet that `raw` holds, with its form, its limits and its body's fingerprint checked.

    Costs no more than one pass over `raw`, and stops at the header when that is wrong.

    Raises:
        PacketRefused: it is no packet, is too large, or was changed on the way.
        NewerFormat: a newer version of the program made it.
    """
    limits = settings or Settings()
    if len(raw) > limits.carry_packet_bytes_limit:
        raise packet_refused(f"it is larger than {limits.carry_packet_bytes_limit} bytes")
    try:
        header_line, signature, body = split_statement(raw, "packet", HEADER_BYTES_LIMIT)
        header = understand(header_line, PacketHeader, "packet")
    except StatementRefused as error:
        raise PacketRefused(error.what, why=error.why, next_step=error.next_step) from error
    if header.count > limits.carry_packet_pages_limit or header.count != header.last - header.first + 1:
        raise packet_refused(f"it says {header.count} pages from {header.first} to {header.last}", header)
    lines = body.split(b"\n", header.count + 1)
    if lines.pop() != b"" or len(lines) != header.count:
        raise packet_refused(f"it does not hold the {header.count} pages it says", header)
    if hashlib.sha256(body).hexdigest() != header.body:
        raise packet_refused(_changed(lines, header), header)
    return _cut(header, header_line, signature, lines, limits)


def _cut(header: PacketHeader, header_line: bytes, signature: bytes, lines: list[bytes], limits: Settings) -> Packet:
    longest = limits.carry_page_bytes_limit + _MARGIN
    for place, line in enumerate(lines):
        if line[64:_MARGIN] != b" " or len(line) > longest:
            number = header.first + place
            raise packet_refused(f"page {number} is not one fingerprint and up to {longest} bytes", header)
    try:
        fingerprints = tuple(line[:64].decode("ascii") for line in lines)
    except UnicodeDecodeError as error:
        raise packet_refused("a fingerprint in it is not made of hexadecimal digits", header) from error
    return Packet(header, header_line, signature, fingerprints, tuple(line[_MARGIN:] for line in lines))


def _changed(lines: list[bytes], header: PacketHeader) -> str:
    """Name the pages that do not fit their fingerprints, so that the person knows where to look."""
    wrong = [
        str(header.first + place)
        for place, line in enumerate(lines)
        if fingerprint(line[_MARGIN:]).encode() != line[:64]
    ]
    if not wrong:
        return "its pages are not those its header was made for"
    named = ", ".join(wrong[:5]) + (" and others" if len(wrong) > 5 else "")
    return f"it was changed on the way at page {named}"


def packet_refused(reason: str, header: PacketHeader | None = None) -> PacketRefused:
    """Return the refusal of a packet; names its run where a header could be read."""
    name = "The packet" if header is None else f"The packet {header.series} {header.first}–{header.last}"
    return PacketRefused(
        f"{name} was not taken: {reason}.",
        why="Nothing proves that it is as the kiosk made it.",
        next_step="Carry again from the kiosk; the pages are still in its book.",
    )
