"""When a page was really made: the kiosk's time, put right where its clock is known to be wrong (3.3.9).

Owns the arithmetic between contacts, power-on sessions and pages. Knows nothing of readings or rules.
"""

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from consolidator.frame.coded import Coded, Flags, Ints, coded, ints

_EARLIEST_MS = -2_208_988_800_000
"""1900-01-01: no page was made before it, however wild a clock was."""
_RUNNING_BITS = 50
_MOST_SESSIONS = 2 ** (62 - _RUNNING_BITS)


@dataclass(frozen=True)
class PageTimes:
    """What the pages of all books say of their time; one row a page, in the order series, number."""

    series: Coded
    number: Ints
    session: Ints
    running_ms: Ints
    kiosk_ms: Ints
    received_ms: Ints
    fixed_ms: Ints
    """A time that stands by itself (written on a paper form); `NO_TIME` where there is none."""


@dataclass(frozen=True)
class Contacts:
    """Contacts with kiosks, and the moments their clocks were set by hand (`shift_ms` = after - before)."""

    series: Coded
    session: Ints
    running_ms: Ints
    consolidator_ms: Ints
    kiosk_ms: Ints


@dataclass(frozen=True)
class ClockSets:
    """Clocks set by hand: where in the running of which kiosk, and by how much (after - before)."""

    series: tuple[str, ...]
    session: Ints
    running_ms: Ints
    shift_ms: Ints


@dataclass(frozen=True)
class Effective:
    """Effective time of each page in UTC milliseconds, and the span it surely lies in."""

    ms: Ints
    low_ms: Ints
    high_ms: Ints
    is_off: Flags
    """The kiosk's clock was off by more than N2."""
    is_in_doubt: Flags

    def taken(self, rows: Ints) -> "Effective":
        """Return the times of the rows named."""
        return Effective(
            self.ms[rows], self.low_ms[rows], self.high_ms[rows], self.is_off[rows], self.is_in_doubt[rows]
        )


def contacts_of(table: pa.Table, *, at_ms: int) -> Contacts:
    """Return the contacts not after the moment of closing."""
    known = table.filter(pa.compute.less_equal(table["consolidator_ms"], at_ms))
    return Contacts(
        coded(known["series"]),
        *(ints(known[name], 0) for name in ("session", "running_ms", "consolidator_ms", "kiosk_ms")),
    )


def effective_times(pages: PageTimes, contacts: Contacts, sets: ClockSets, *, agreement_ms: Ints) -> Effective:
    """Return the effective time of every page.

    Same power-on session as a contact: contact time less the running time between. Other sessions: kiosk time plus
    the difference seen at the contact (and what the clock was set by in between), in doubt by its size. A page that
    arrived before its own time was made at its arrival at the latest, and is in doubt as well.
    """
    ms, off, doubt = pages.kiosk_ms.copy(), np.zeros(len(pages.number), bool), np.zeros(len(pages.number), np.int64)
    borders = np.searchsorted(pages.series.codes, np.arange(len(pages.series.labels) + 1))
    for code, label in enumerate(pages.series.labels):
        rows = np.arange(borders[code], borders[code + 1])
        here = contacts.series.codes == contacts.series.code_of(label)
        if not len(rows) or not here.any():
            continue
        told = _told(contacts, here)
        set_here = np.array([name == label for name in sets.series], dtype=np.bool_)
        moved = _moved(pages, rows, told, (sets.session[set_here], sets.running_ms[set_here], sets.shift_ms[set_here]))
        is_off = np.abs(moved.difference_ms) > agreement_ms[rows]
        ms[rows] += np.where(is_off, moved.difference_ms, 0)
        off[rows] = is_off
        doubt[rows] = np.where(is_off & ~moved.is_same_session, np.abs(moved.difference_ms), 0)
    is_fixed = pages.fixed_ms > -(2**61)
    ahead = ms - pages.received_ms
    is_ahead = ~is_fixed & (ahead > agreement_ms)
    # Nothing arrives before it was made: a clock ahead of the arrival is off by at least that much.
    ms, off = np.where(is_ahead, pages.received_ms, ms), off | is_ahead
    doubt = np.where(is_ahead, np.maximum(doubt, ahead), doubt)
    ms = np.where(is_fixed, pages.fixed_ms, ms)
    off, doubt = off & ~is_fixed, np.where(is_fixed, 0, doubt)
    low, high = _bounded(pages, ms, doubt, is_fixed)
    return Effective(ms, low, high, off, doubt > 0)


@dataclass(frozen=True)
class _Moved:
    difference_ms: Ints
    is_same_session: Flags


def _told(contacts: Contacts, here: Flags) -> Contacts:
    rows = np.flatnonzero(here)
    rows = rows[np.lexsort((contacts.consolidator_ms[rows], contacts.running_ms[rows], contacts.session[rows]))]
    return Contacts(
        contacts.series.taken(rows),
        contacts.session[rows],
        contacts.running_ms[rows],
        contacts.consolidator_ms[rows],
        contacts.kiosk_ms[rows],
    )


def _moved(pages: PageTimes, rows: Ints, told: Contacts, sets: tuple[Ints, Ints, Ints]) -> _Moved:
    """Return by how much each page's kiosk time differs from the consolidator's, by the contact that tells best."""
    session, running = pages.session[rows], pages.running_ms[rows]
    keys, contact_keys, set_keys = _keys((session, running), (told.session, told.running_ms), sets[:2])
    following = np.searchsorted(contact_keys, keys, side="left")
    before = following - 1
    next_place, last_place = np.minimum(following, len(contact_keys) - 1), np.maximum(before, 0)
    next_same = (following < len(contact_keys)) & (told.session[next_place] == session)
    last_same = (before >= 0) & (told.session[last_place] == session)
    use_next = next_same | (~last_same & (following < len(contact_keys)))
    place = np.where(use_next, next_place, last_place)
    is_same = next_same | last_same
    by_running = told.consolidator_ms[place] - (told.running_ms[place] - running) - pages.kiosk_ms[rows]
    order = np.argsort(set_keys, kind="stable")
    summed = np.concatenate(([0], np.cumsum(sets[2][order])))
    shift_to_contact = summed[np.searchsorted(set_keys[order], contact_keys[place], side="right")]
    shift_to_page = summed[np.searchsorted(set_keys[order], keys, side="right")]
    by_clock = told.consolidator_ms[place] - told.kiosk_ms[place] + shift_to_contact - shift_to_page
    return _Moved(np.where(is_same, by_running, by_clock), is_same)


def _keys(*pairs: tuple[Ints, Ints]) -> tuple[Ints, ...]:
    """Return one sortable key for each (session, running), comparable between all the pairs given."""
    sessions = np.unique(np.concatenate([session for session, _ in pairs]))
    runnings = np.concatenate([running for _, running in pairs])
    if len(sessions) < _MOST_SESSIONS and int(runnings.max(initial=0)) < 2**_RUNNING_BITS:
        return tuple((np.searchsorted(sessions, s).astype(np.int64) << _RUNNING_BITS) + r for s, r in pairs)
    ranks = np.unique(runnings)
    bits = len(ranks).bit_length()
    return tuple((np.searchsorted(sessions, s).astype(np.int64) << bits) + np.searchsorted(ranks, r) for s, r in pairs)


def _bounded(pages: PageTimes, ms: Ints, doubt: Ints, is_fixed: Flags) -> tuple[Ints, Ints]:
    """Return the span each page surely lies in: neighbours in page order and the arrival bound a page in doubt."""
    low, high = np.where(doubt > 0, np.maximum(ms - doubt, np.minimum(ms, _EARLIEST_MS)), ms), ms + doubt
    if not doubt.any():
        return low, high
    bound_low, bound_high = low.copy(), np.minimum(high, np.where(doubt > 0, pages.received_ms, high))
    for code in np.unique(pages.series.codes[doubt > 0]):
        start, end = np.searchsorted(pages.series.codes, [code, code + 1])
        rows = start + np.flatnonzero(~is_fixed[start:end])
        bound_low[rows] = np.maximum.accumulate(low[rows])
        bound_high[rows] = np.minimum.accumulate(bound_high[rows][::-1])[::-1]
    is_bounded = (doubt > 0) & (bound_low <= bound_high)
    return np.where(is_bounded, bound_low, low), np.where(is_bounded, bound_high, high)
