"""Exceptions of a day as they are kept: raised today or carried over, open or closed.

Owns keys that stay the same, carrying over, and closing: by a page, or by the few normal courses there are.
"""

import hashlib
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from consolidator.authority import Deed
from consolidator.close.clock_text import local_text
from consolidator.close.closed import Closed
from consolidator.close.grouping import Raised
from consolidator.frame import Day
from consolidator.frame.day import rows_of_page
from consolidator.frame.verdicts import SLIP_BIT
from consolidator.frame.world import ActAt, text_ms
from consolidator.rules import KINDS, OpenSpan
from consolidator.rules.book import gaps_of, is_silent
from consolidator.rules.setups import proved_at_ms, proved_by
from consolidator.upkeep.doubt import Doubts, found_out_after, last_trouble, shows_good
from kiosk.pages.desk import ExceptionClose

IN_DOUBT: Final = "X06"
_CITED: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9.-]*/[1-9][0-9]*")
_LONGEST_KEY: Final = 40
"""A page names an exception in at most so many characters."""
_HOUR_MS: Final = 3_600_000
_WEEK_MS: Final = 7 * 24 * _HOUR_MS
_WEEKLY: Final = "X36"
"""Raised at most once a week: the same 200 readings would raise it again the day after it was closed."""
Cells = dict[str, str]


@dataclass(frozen=True)
class Kept:
    """One exception of the day: its cells, and what the night raised of it; none when it is only carried over."""

    cells: Cells
    raised: Raised | None


def keep_exceptions(day: Day, raised: list[Raised], before: Closed | None) -> list[Kept]:
    """Return all exceptions of the day: those raised, in their order, then those carried over, by key."""
    known = {(row["number"], row["cause"]): row for row in _open_before(before)}
    closers = _closers(day)
    kept = [_raised(day, one, known.get((one.number, one.cause)), closers) for one in raised]
    today = {(one.number, one.cause) for one in raised}
    carried = [row for cause, row in known.items() if cause not in today]
    kept += [Kept(_carried(day, row, closers), None) for row in sorted(carried, key=lambda row: row["key"])]
    in_doubt = {one.cells["cause"] for one in kept if one.cells["number"] == IN_DOUBT and one.cells["state"] == "open"}
    return [_waiting(one) if one.cells["cause"] in in_doubt else one for one in kept]


def _waiting(one: Kept) -> Kept:
    """Return a failed zero check (X12) as open: what it put in doubt must be settled first."""
    if one.cells["number"] != "X12":
        return one
    return Kept(one.cells | {"state": "open", "closed_by": "", "closed_why": ""}, one.raised)


def open_span(day: Day, cells: Cells) -> OpenSpan:
    """Return from when until when an exception stood open.

    What closed without a page of its own did so when the last page it cites was made; one that cites none, because
    its kiosk was heard from or its pages came in, counts as never open: nobody knows the minute.
    """
    closed_ms, opened_ms = None, text_ms(cells["opened_at"])
    if cells["state"] != "open":
        cited = _CITED.findall(cells["closed_by"] or cells["closed_why"])
        proof = proved_at_ms(day, cells["cause"]) if cells["number"] == "X55" else None
        made = [_made_ms(day, ref) for ref in cited] if proof is None else [proof]
        closed_ms = max(made, default=opened_ms)
    lots = tuple(lot for lot in cells["lots"].split(";") if lot)
    return OpenSpan(cells["number"], cells["urgency"], lots, opened_ms, closed_ms)


def _made_ms(day: Day, ref: str) -> int:
    acts = [act.at_ms for act in day.world.acts.all if act.ref == ref]
    return max(acts or (int(day.ms[row]) for row in rows_of_page(day.pages, ref)), default=day.world.at_ms)


def make_key(number: str, cause: str, first_day: date) -> str:
    """Return the key of an exception: kind, cause and the day it was first raised; long causes by their fingerprint."""
    plain = f"{number}:{cause}:{first_day.isoformat()}"
    if len(plain) <= _LONGEST_KEY:
        return plain
    return f"{number}:{hashlib.sha256(cause.encode()).hexdigest()[:16]}:{first_day.isoformat()}"


def _open_before(before: Closed | None) -> list[Cells]:
    return [] if before is None else [row for row in before.exceptions.to_pylist() if row["state"] == "open"]


Closers = dict[str, list[ActAt]]
"""For each exception the pages that close it, signed by somebody who may, oldest first."""


def _closers(day: Day) -> Closers:
    closers: Closers = {}
    for act, close in day.world.acts.of(ExceptionClose):
        if day.world.may_sign(act, Deed.CLOSE_EXCEPTION):
            closers.setdefault(close.exception, []).append(act)
    return closers


def _known_ms(day: Day, one: Raised) -> int:
    """Return when the last of what an exception is about had been made and was in."""
    known = np.maximum(day.ms[one.rows], day.pages.received_at_ms[one.rows])
    acts = {act.ref: max(act.at_ms, act.received_ms) for act in day.world.acts.all} if one.pages else {}
    return max([one.opened_ms, int(known.max(initial=one.opened_ms)), *(acts.get(page, 0) for page in one.pages)])


def _raised(day: Day, one: Raised, known: Cells | None, closers: Closers) -> Kept:
    kind = KINDS[one.number]
    opened_ms = one.opened_ms if known is None else min(one.opened_ms, text_ms(known["opened_at"]))
    cells = {
        "key": known["key"] if known is not None else make_key(one.number, one.cause, day.world.day),
        "number": one.number,
        "name": kind.name,
        "urgency": one.urgency if known is None else min(one.urgency, known["urgency"]),
        "effect": one.effect,
        "family": str(one.family),
        "cause": one.cause,
        "lots": ";".join(one.lots),
        "stations": ";".join(one.stations),
        "readings": str(len(one.rows)),
        "pieces": str(one.pieces),
        "sentence": one.sentence,
        "who": kind.who,
        "closes": kind.closes,
        "opened_at": local_text(opened_ms, day.world.zone),
        "age_h": _age_h(day, opened_ms),
        "state": "open",
        "closed_by": "",
        "closed_why": "",
    }
    if one.number == IN_DOUBT:
        troubles = [trouble.act for trouble, _ in Doubts(day).of_night() if trouble.gauge == one.cause]
        trouble = troubles[-1] if troubles else last_trouble(day.world, one.cause, before_ms=day.world.end_ms)
        return Kept(cells if trouble is None else _doubt_settled(day, cells, closers, trouble), one)
    if one.number == _WEEKLY and (looked := _looked_at_this_week(day, cells["key"], closers)) is not None:
        why = f"looked at once a week: closed {local_text(looked.at_ms, day.world.zone)}"
        return Kept(cells | {"state": "closed", "closed_by": looked.ref, "closed_why": why}, one)
    why = _proved(day, cells) if one.number == "X55" else _in_effect(day, one) if one.number == "X32" else ""
    if why:
        return Kept(cells | {"state": "closed", "closed_why": why}, one)
    return Kept(_closed_by_page(day, cells, closers, _known_ms(day, one)), one)


def _looked_at_this_week(day: Day, key: str, closers: Closers) -> ActAt | None:
    """Return the page that closed this kind and cause, raised whenever, within a week before the day ended."""
    about, end_ms = key.rpartition(":")[0], day.world.end_ms
    acts = [act for other, acts in closers.items() if other.rpartition(":")[0] == about for act in acts]
    return next((act for act in acts if end_ms - _WEEK_MS <= act.at_ms < day.world.at_ms), None)


def _carried(day: Day, row: Cells, closers: Closers) -> Cells:
    opened_ms = text_ms(row["opened_at"])
    cells = row | {"age_h": _age_h(day, opened_ms)}
    if row["number"] == IN_DOUBT:
        trouble = last_trouble(day.world, row["cause"], before_ms=day.world.start_ms)
        return cells if trouble is None else _doubt_settled(day, cells, closers, trouble)
    closed = _closed_by_page(day, cells, closers, opened_ms)
    if closed["state"] == "closed":
        return closed
    why = _normal_course(day, row)
    return cells | {"state": "closed", "closed_why": why} if why else cells


def _closed_by_page(day: Day, cells: Cells, closers: Closers, known_ms: int) -> Cells:
    """Return the exception, closed where a page closes all that is known of it; what came later keeps it open."""
    for act in closers.get(cells["key"], ()):
        is_alone = cells["urgency"] == "A" and day.world.second_of(act, Deed.CLOSE_EXCEPTION) is None
        if act.at_ms < known_ms or is_alone:
            continue
        close = act.page.act
        assert isinstance(close, ExceptionClose)
        return cells | {"state": "closed", "closed_by": act.ref, "closed_why": close.reason}
    return cells


def _doubt_settled(day: Day, cells: Cells, closers: Closers, trouble: ActAt) -> Cells:
    """Return a doubt (X06), closed where it became X07, or where one signature cites the gauge shown good since.

    Whether the readings were in when it was signed does not matter: what settles the doubt lies in the gauge.
    """
    gauge = cells["cause"]
    worse = found_out_after(day.world, gauge, trouble)
    if worse is not None:
        why = f"became X07: as-found not good, {worse.ref}"
        return cells | {"state": "closed", "closed_by": worse.ref, "closed_why": why}
    for act in closers.get(cells["key"], ()):
        close = act.page.act
        assert isinstance(close, ExceptionClose)
        if act.at_ms >= trouble.high_ms and shows_good(day.world, gauge, close.evidence, trouble):
            return cells | {"state": "closed", "closed_by": act.ref, "closed_why": close.reason}
    return cells


def _normal_course(day: Day, row: Cells) -> str:
    """Say why an exception that was not raised again is closed by its normal course; empty when it stays open."""
    number = row["number"]
    if number in _COURSES:
        return _COURSES[number](day, row)
    is_tag = number in SLIP_BIT and row["urgency"] == "D" and not row["effect"]
    return "for the record: its day is over" if KINDS[number].ends_with_day or is_tag else ""


def _pages_arrived(day: Day, row: Cells) -> str:
    series, _, numbers = row["cause"].rpartition(" ")
    first, _, last = numbers.partition("–")
    wanted = range(int(first), int(last or first) + 1)
    open_gaps = [gap for name, gap in gaps_of(day) if name == series]
    is_missing = any(gap.first <= wanted[-1] and wanted[0] <= gap.last for gap in open_gaps)
    return "" if is_missing else "closed by itself: the pages arrived"


def _heard_again(day: Day, row: Cells) -> str:
    for kiosk in day.world.held.kiosks:
        if kiosk.series == row["cause"]:
            return "" if is_silent(day, kiosk) else "closed by itself: the kiosk was heard from"
    return ""


def _in_effect(day: Day, one: Raised) -> str:
    """Say by which pages every correction of an exception is in effect; empty while one of them waits."""
    pages = [day.corrected.get(row) for row in one.rows.tolist()]
    return "" if None in pages else f"closed by its signatures and re-measure: {', '.join(map(str, pages))}"


def _proved(day: Day, row: Cells) -> str:
    return proved_by(day, row["cause"])


_COURSES: Final[dict[str, Callable[[Day, Cells], str]]] = {
    "X55": _proved,
    "X70": _heard_again,
    "X72": _pages_arrived,
}


def _age_h(day: Day, opened_ms: int) -> str:
    return str(max(0, day.world.at_ms - opened_ms) // _HOUR_MS)
