"""When a page was really made, and in which span it surely was (3.3.9, decision 0030)."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from kiosk.lists import Lists
from kiosk.pages.station import ClockSet
from kiosk.times import read_time

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def ms_of(moment: datetime) -> int:
    """Return UTC milliseconds since 1970 of an aware moment."""
    return (moment - _EPOCH) // timedelta(milliseconds=1)


def text_ms(text: str) -> int:
    """Return UTC milliseconds of a page's time text."""
    return ms_of(read_time(text))


def moment_of(ms: int) -> datetime:
    """Return the moment of UTC milliseconds."""
    return _EPOCH + timedelta(milliseconds=ms)


@dataclass(frozen=True)
class Made:
    """When a page was made, and the span it surely lies in; UTC milliseconds."""

    ms: int
    low: int
    high: int
    is_off: bool = False
    is_in_doubt: bool = False


@dataclass(frozen=True)
class Stamp:
    """What a page says of its own time. `fixed_ms`: written on a paper form."""

    series: str
    number: int
    session: int
    running_ms: int
    kiosk_ms: int
    received_ms: int
    fixed_ms: int | None = None
    clock_set_ms: int | None = None
    """By how much this page says that the clock was set, after less before."""


def stamp_of_reading(row: Mapping[str, Any]) -> Stamp:
    """Return what a reading page says of its time."""
    fixed = row["paper_taken_at_ms"] if row["source"] == "from paper" else None
    return Stamp(
        row["series"], row["number"], row["session"], row["running_ms"], row["kiosk_time_ms"], row["received_at_ms"],
        fixed,
    )  # fmt: skip


def stamp_of_act(held: Any) -> Stamp:
    """Return what any other page says of its time."""
    page = held.page
    shift = text_ms(page.act.after) - text_ms(page.act.before) if isinstance(page.act, ClockSet) else None
    return Stamp(
        page.series, page.number, page.session, page.running_ms, text_ms(page.kiosk_time), ms_of(held.received_at),
        None, shift,
    )  # fmt: skip


def make_times(stamps: Sequence[Stamp], contacts: Iterable[Mapping[str, Any]], lists: Lists) -> list[Made]:
    """Return for each stamp when its page was made."""
    told: dict[str, list[Mapping[str, Any]]] = {}
    for contact in contacts:
        told.setdefault(contact["series"], []).append(contact)
    sets: dict[str, list[Stamp]] = {}
    for stamp in stamps:
        if stamp.clock_set_ms is not None:
            sets.setdefault(stamp.series, []).append(stamp)
    alone = [_alone(s, told.get(s.series, []), sets.get(s.series, []), lists) for s in stamps]
    books: dict[str, list[tuple[Stamp, Made]]] = {}
    for stamp, made in zip(stamps, alone, strict=True):
        if stamp.fixed_ms is None:
            books.setdefault(stamp.series, []).append((stamp, made))
    return [
        _bounded(stamp, made, books.get(stamp.series, [])) if made.is_in_doubt else made
        for stamp, made in zip(stamps, alone, strict=True)
    ]


def _alone(stamp: Stamp, contacts: list[Mapping[str, Any]], sets: list[Stamp], lists: Lists) -> Made:
    """Return when a page was made, as far as contacts and its arrival say."""
    if stamp.fixed_ms is not None:
        return Made(stamp.fixed_ms, stamp.fixed_ms, stamp.fixed_ms)
    allowed = lists.numbers(moment_of(stamp.kiosk_ms)).clock_agreement_s * 1000
    ms, is_off, doubt = stamp.kiosk_ms, False, 0
    contact = _contact_that_tells(stamp, contacts)
    if contact is not None:
        difference = _difference(stamp, contact, sets)
        if abs(difference) > allowed:
            ms, is_off = ms + difference, True
            doubt = 0 if contact["session"] == stamp.session else abs(difference)
    ahead = ms - stamp.received_ms
    if ahead > allowed:
        ms, is_off, doubt = stamp.received_ms, True, max(doubt, ahead)
    return Made(ms, ms - doubt, ms + doubt, is_off, doubt > 0)


def _contact_that_tells(stamp: Stamp, contacts: list[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """Return the first after the page in its session, else the last before in it, else later sessions, else earlier."""

    def place(contact: Mapping[str, Any]) -> tuple[int, int, int]:
        return contact["session"], contact["running_ms"], contact["consolidator_ms"]

    here = (stamp.session, stamp.running_ms)
    own = [c for c in contacts if c["session"] == stamp.session]
    after = [c for c in own if place(c)[:2] >= here]
    before = [c for c in own if place(c)[:2] < here]
    later = [c for c in contacts if c["session"] > stamp.session]
    earlier = [c for c in contacts if c["session"] < stamp.session]
    if after:
        return min(after, key=place)
    if before:
        return max(before, key=place)
    if later:
        return min(later, key=place)
    return max(earlier, key=place, default=None)


def _difference(stamp: Stamp, contact: Mapping[str, Any], sets: list[Stamp]) -> int:
    """Return consolidator time less kiosk time at the page, as one contact tells it."""
    if contact["session"] == stamp.session:
        by_running: int = contact["consolidator_ms"] - (contact["running_ms"] - stamp.running_ms) - stamp.kiosk_ms
        return by_running
    here, there = (stamp.session, stamp.running_ms), (contact["session"], contact["running_ms"])
    difference: int = contact["consolidator_ms"] - contact["kiosk_ms"]
    for each in sets:
        place = (each.session, each.running_ms)
        assert each.clock_set_ms is not None
        if here < place <= there:
            difference += each.clock_set_ms
        if there < place <= here:
            difference -= each.clock_set_ms
    return difference


def _bounded(stamp: Stamp, made: Made, book: list[tuple[Stamp, Made]]) -> Made:
    """Return the time of a page in doubt with its span bounded by what surely came before, after and by arrival."""
    low = max([made.low, *(other.low for each, other in book if each.number < stamp.number)])
    arrivals = [min(other.high, each.received_ms) if other.is_in_doubt else other.high for each, other in book]
    later = [high for (each, _), high in zip(book, arrivals, strict=True) if each.number > stamp.number]
    high = min([made.high, stamp.received_ms, *later])
    if low > high:
        low, high = made.low, made.high
    return Made(made.ms, low, high, made.is_off, True)
