"""A journal: lines with their length and fingerprint, and whether they are pages of one book in one unbroken run.

Owns the form of a line and the rules of the chain; trusts not one byte.
Pure: bytes in, findings out. Must not know where a file lies, nor what a page means beyond its envelope.
"""

import hashlib
from typing import Any, Final, NamedTuple

import orjson
import rfc8785

from kiosk.book._records import Counter, Identity, Receipt
from kiosk.errors import NewerFormat
from kiosk.pages import FIRST_PREVIOUS, FORMAT

_LENGTH_DIGITS: Final = 8
_FINGERPRINT_AT: Final = _LENGTH_DIGITS + 1
_CONTENT_AT: Final = _FINGERPRINT_AT + 64 + 1


class Line(NamedTuple):
    """One whole line: where it begins in its file, what it says, and the SHA-256 of that."""

    offset: int
    content: bytes
    fingerprint: str


class Fault(NamedTuple):
    """Bytes from `offset` up to `end` that are no whole line, or a line that says something impossible."""

    offset: int
    end: int
    why: str


def write_line(content: bytes) -> bytes:
    """Return `content` as one line: eight digits of length, SHA-256, the content, a line end.

    The content holds no line end of its own; canonical JSON never does.
    """
    return b"%08d %s %s\n" % (len(content), hashlib.sha256(content).hexdigest().encode(), content)


def write_record(record: Receipt | Counter) -> bytes:
    """Return a receipt or a counter as one line."""
    return write_line(rfc8785.dumps(record.model_dump(mode="json")))


def fingerprint_in(line: bytes) -> str:
    """Return the fingerprint that stands in a line made by `write_line`."""
    return line[_FINGERPRINT_AT : _CONTENT_AT - 1].decode()


def read_lines(file_bytes: bytes) -> tuple[list[Line], list[Fault]]:
    """Return every whole line and every stretch that is none, in order; reading goes on after a fault.

    Each byte of the file belongs to exactly one of them, so one flipped bit anywhere shows.
    """
    lines: list[Line] = []
    faults: list[Fault] = []
    at, fault_from = 0, None
    while at < len(file_bytes):
        line = _line_at(file_bytes, at)
        if line is None:
            fault_from = at if fault_from is None else fault_from
            next_end = file_bytes.find(b"\n", at)
            at = len(file_bytes) if next_end < 0 else next_end + 1
            continue
        if fault_from is not None:
            faults.append(Fault(fault_from, at, "not a whole line"))
            fault_from = None
        lines.append(line)
        at += _CONTENT_AT + len(line.content) + 1
    if fault_from is not None:
        faults.append(Fault(fault_from, len(file_bytes), "not a whole line"))
    return lines, faults


def could_be_torn(file_bytes: bytes, fault: Fault) -> bool:
    """Return True when `fault` may be one last write that a power cut tore: the end of the file, one line only."""
    return fault.end == len(file_bytes) and file_bytes.find(b"\n", fault.offset, fault.end - 1) < 0


def _line_at(file_bytes: bytes, at: int) -> Line | None:
    digits = file_bytes[at : at + _LENGTH_DIGITS]
    begin = at + _CONTENT_AT
    if len(digits) < _LENGTH_DIGITS or not digits.isdigit():
        return None
    end = begin + int(digits)
    content = file_bytes[begin:end]
    fingerprint = hashlib.sha256(content).hexdigest()
    expected = b"%s %s " % (digits, fingerprint.encode())
    if file_bytes[at:begin] != expected or file_bytes[end : end + 1] != b"\n":
        return None
    return Line(at, content, fingerprint)


class Mark(NamedTuple):
    """Where a book stands after one page."""

    number: int
    fingerprint: str
    session: int
    kiosk_time: str
    running_ms: int


class Followed(NamedTuple):
    """What the lines of one segment hold: the pages that are sound, the last of them, and what does not fit.

    `begins_after_gap` is True when the first page itself says that the numbers before it were lost.
    """

    pages: dict[int, Line]
    last: Mark | None
    faults: list[Fault]
    begins_after_gap: bool


class _Unfit(Exception):
    """A line that is no page of this book, or not the next one."""


def follow(lines: list[Line], identity: Identity, segment: int, before: Mark | None) -> Followed:
    """Return what the lines of one segment hold, taken as coming right after page `before`.

    Without `before` the segment is the first one there is: its own first page must begin it.
    After a line that does not fit, the run goes on from the next page of this book; that one's past is not known.

    Raises:
        NewerFormat: a page was made by a newer version of the program.
    """
    pages: dict[int, Line] = {}
    faults: list[Fault] = []
    last, is_known, begins_after_gap = before, True, False
    for line in lines:
        try:
            raw = _envelope(line, identity)
            mark = _mark_of(line, raw, identity, segment)
            _check_order(mark, last, identity.first_of(segment))
            if is_known:
                _check_follows(mark, raw, last, identity.first_of(segment))
        except _Unfit as unfit:
            faults.append(Fault(line.offset, line.offset + len(line.content), str(unfit)))
            is_known = False
            continue
        begins_after_gap |= not pages and tells_of_a_gap(raw)
        pages[mark.number] = line
        last, is_known = mark, True
    return Followed(pages, last, faults, begins_after_gap)


def pages_among(lines: list[Line], identity: Identity, segment: int) -> dict[int, Line]:
    """Return every line that is a page of this segment, whether or not it follows from the one before."""
    pages: dict[int, Line] = {}
    for line in lines:
        try:
            mark = _mark_of(line, _envelope(line, identity), identity, segment)
        except _Unfit:
            continue
        pages.setdefault(mark.number, line)
    return pages


def previous_of(line: Line) -> str:
    """Return the fingerprint that a page holds of the page before it."""
    return str(orjson.loads(line.content)["previous"])


def tells_of_a_gap(raw: dict[str, Any]) -> bool:
    """Return True when a page itself says that the numbers just before it were given out and not found again."""
    act = raw.get("act")
    return (
        isinstance(act, dict)
        and act.get("kind") == "power on"
        and bool(act.get("recovered"))
        and act.get("last_number") == raw["number"] - 1
    )


def _envelope(line: Line, identity: Identity) -> dict[str, Any]:
    try:
        raw = orjson.loads(line.content)
    except orjson.JSONDecodeError as error:
        raise _Unfit("a line that is no page") from error
    if not isinstance(raw, dict):
        raise _Unfit("a line that is no page")
    version = raw.get("format")
    if isinstance(version, int) and version > FORMAT:
        raise NewerFormat(
            f"Book {identity.series} not opened: a page has page format {version}.",
            why=f"This program knows page formats up to {FORMAT}.",
            next_step="Update this program, then open the book again; nothing in it was touched.",
        )
    return raw


def _mark_of(line: Line, raw: dict[str, Any], identity: Identity, segment: int) -> Mark:
    if (raw.get("plant"), raw.get("series")) != (identity.plant, identity.series):
        raise _Unfit(f"a page of book {raw.get('series')} of plant {raw.get('plant')}, not of this one")
    try:
        mark = Mark(raw["number"], line.fingerprint, raw["session"], raw["kiosk_time"], raw["running_ms"])
    except KeyError as missing:
        raise _Unfit(f"a page without {missing.args[0]}") from missing
    if not isinstance(mark.number, int) or identity.segment_of(mark.number) != segment:
        raise _Unfit(f"page {mark.number} lies in the wrong segment")
    return mark


def _check_order(mark: Mark, last: Mark | None, first: int) -> None:
    expected = last.number + 1 if last else first
    if mark.number < expected:
        raise _Unfit(f"page {mark.number} where page {expected} was to come")


def _check_follows(mark: Mark, raw: dict[str, Any], last: Mark | None, first: int) -> None:
    expected = last.number + 1 if last else first
    if mark.number > expected:
        if not tells_of_a_gap(raw):
            raise _Unfit(f"page {mark.number} where page {expected} was to come")
        return
    previous = last.fingerprint if last else FIRST_PREVIOUS
    is_first_known = last is not None or first == 1
    if is_first_known and raw.get("previous") != previous:
        raise _Unfit(f"page {mark.number} does not follow from the page before it")
