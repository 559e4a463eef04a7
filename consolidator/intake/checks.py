"""What is checked of a packet's pages as they come in, on the bytes as received.

Owns fingerprint, envelope and chain of one packet. Pure: values in, values out.
"""

import hashlib
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from consolidator.intake.held import Unfit
from kiosk.carry import Packet, PacketHeader
from kiosk.carry.packets import packet_refused
from kiosk.errors import NewerFormat
from kiosk.pages import FIRST_PREVIOUS, FORMAT

_FORMAT_FIELD: Final = b',"format":'
_FIRST_FIELDS: Final = b',"format":1,"kiosk_time":"'
_AFTER_PREVIOUS: Final = b'","running_ms":'
# Within a page's strings every quotation mark is escaped, so this can only be the envelope (RFC 8785 sorts its keys).
_TEXT: Final = rb'"(?:[^"\\]|\\.)*"'
_ENVELOPE: Final = re.compile(
    rb',"format":(?P<format>\d+),"kiosk_time":'
    + _TEXT
    + rb',(?:"lists_taken_at":'
    + _TEXT
    + rb',)?"lists_version":\d+,'
    rb'"number":(?P<number>\d+),(?:"person":' + _TEXT + rb',)?"plant":(?P<plant>' + _TEXT + rb"),"
    rb'"previous":"(?P<previous>[0-9a-f]{64})","running_ms":\d+,"series":(?P<series>' + _TEXT + rb"),"
    rb'"session":\d+,"station":' + _TEXT + rb"\}"
)
_OTHER_FORMAT: Final = re.compile(rb',"format":(\d{1,9})[,}]')
_STRINGS: Final = re.compile(_TEXT)


@dataclass(frozen=True)
class Misfit:
    """One page that does not fit; `fingerprint` is that of its actual bytes."""

    number: int
    fingerprint: str
    unfit: Unfit
    why: str


@dataclass(frozen=True)
class CheckedPacket:
    """A packet with the fingerprints of its actual bytes and what each page says of the page before.

    `previous` is none where a page's envelope cannot be read.
    """

    packet: Packet
    actual: tuple[str, ...]
    previous: tuple[str | None, ...]
    misfits: tuple[Misfit, ...]


def check_packet(packet: Packet, *, depth_limit: int) -> CheckedPacket:
    """Check every page of a packet against its own fingerprint, its place and its neighbours.

    Raises:
        NewerFormat: a page was made by a newer version of the program.
        PacketRefused: a page is nested deeper than any page is.
    """
    header = packet.header
    actual: list[str] = []
    previous: list[str | None] = []
    misfits: list[Misfit] = []
    expected = _Expected.of(header)
    sha256 = hashlib.sha256
    for place, page in enumerate(packet.pages):
        number = header.first + place
        if page.count(b"{") + page.count(b"[") > depth_limit and _depth(page) > depth_limit:
            raise packet_refused(f"page {number} is nested deeper than {depth_limit}", header)
        print_ = sha256(page).hexdigest()
        actual.append(print_)
        if print_ != packet.fingerprints[place]:
            misfits.append(Misfit(number, print_, Unfit.FINGERPRINT, "its bytes do not fit its fingerprint"))
        before, why = _envelope(page, number, expected)
        previous.append(before)
        if why:
            misfits.append(Misfit(number, print_, Unfit.CONTENT, why))
    misfits.extend(_broken_chain(packet, actual, previous))
    return CheckedPacket(packet, tuple(actual), tuple(previous), tuple(misfits))


def chain_misfit(number: int, prints: tuple[str, ...], named: str) -> Misfit:
    """Return the misfit of page `number`, of which the page after it says that its fingerprint is `named`."""
    return Misfit(number, prints[0], Unfit.CHAIN, f"page {number + 1} names another fingerprint for it: {named}")


def compare(checked: CheckedPacket, held: dict[int, set[str]]) -> tuple[list[int], dict[int, list[str]]]:
    """Return which numbers of a packet are new, and which are held with other content, by their fingerprints.

    `held` are the fingerprints held of each number.
    """
    new: list[int] = []
    conflicts: dict[int, list[str]] = {}
    for number, print_ in enumerate(checked.actual, checked.packet.header.first):
        if number not in held:
            new.append(number)
        elif print_ not in held[number]:
            conflicts[number] = sorted({*held[number], print_})
    return new, conflicts


def runs_of(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """Return rising numbers as unbroken runs, both ends included."""
    runs: list[tuple[int, int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], number)
        else:
            runs.append((number, number))
    return runs


def _broken_chain(packet: Packet, actual: list[str], previous: list[str | None]) -> Iterator[Misfit]:
    first = packet.header.first
    if first == 1 and previous[0] not in (None, FIRST_PREVIOUS):
        yield Misfit(1, actual[0], Unfit.CHAIN, "it is the first page and names a page before it")
    for place in range(1, len(actual)):
        named = previous[place]
        if named is None or named == actual[place - 1] or named == packet.fingerprints[place - 1]:
            continue
        if actual[place] != packet.fingerprints[place]:
            continue  # its own bytes were altered, so it is no witness against the page before it
        yield chain_misfit(first + place - 1, (actual[place - 1],), named)


@dataclass(frozen=True)
class _Expected:
    """What the envelopes of one packet must say, as bytes."""

    plant: bytes
    series: bytes
    before_previous: bytes
    after_running: bytes

    @classmethod
    def of(cls, header: PacketHeader) -> "_Expected":
        plant, series = _quoted(header.plant), _quoted(header.series)
        return cls(plant, series, b',"plant":%s,"previous":"' % plant, b',"series":%s,"session":' % series)


def _envelope(page: bytes, number: int, expected: _Expected) -> tuple[str | None, str]:
    """Return what the page says of the page before, and why its envelope does not fit (empty when it does)."""
    start = page.rfind(_FIRST_FIELDS)
    if start >= 0:
        # No string can hold these marks, its quotation marks being escaped, so finding them is reading them.
        envelope = page[start:]
        place = envelope.find(expected.before_previous) + len(expected.before_previous)
        previous = envelope[place : place + 64]
        if (
            b',"number":%d,' % number in envelope
            and place >= len(expected.before_previous)
            and envelope.startswith(_AFTER_PREVIOUS, place + 64)
            and expected.after_running in envelope
        ):
            return previous.decode("ascii", "replace"), ""
    return _odd_envelope(page, number, expected)


def _odd_envelope(page: bytes, number: int, expected: _Expected) -> tuple[str | None, str]:
    """Read an envelope in which something is not as expected, and say what."""
    found = _ENVELOPE.fullmatch(page, max(0, page.rfind(_FORMAT_FIELD)))
    if found is None or found["format"] != b"1":
        _refuse_newer(page, number)
        return None, "it is no page of a numbered book"
    previous = found["previous"].decode()
    if int(found["number"]) != number:
        return previous, f"it bears number {int(found['number'])}"
    if (found["plant"], found["series"]) != (expected.plant, expected.series):
        return previous, f"it bears plant {found['plant'].decode()} and series {found['series'].decode()}"
    return previous, ""


def _refuse_newer(page: bytes, number: int) -> None:
    told = _OTHER_FORMAT.search(page, max(0, page.rfind(_FORMAT_FIELD)))
    if told is not None and int(told[1]) > FORMAT:
        raise NewerFormat(
            f"The packet was not taken: page {number} has page format {int(told[1])}.",
            why=f"This program knows page formats up to {FORMAT}.",
            next_step="Update the consolidator, then carry again; the pages stay in the kiosk's book.",
        )


def _depth(page: bytes) -> int:
    """Return how deep brackets stand within brackets, strings left out."""
    depth = deepest = 0
    for sign in _STRINGS.sub(b"", page):
        if sign in b"{[":
            depth += 1
            deepest = max(deepest, depth)
        elif sign in b"}]":
            depth -= 1
    return deepest


def _quoted(text: str) -> bytes:
    return b'"%s"' % text.replace("\\", "\\\\").replace('"', '\\"').encode()
