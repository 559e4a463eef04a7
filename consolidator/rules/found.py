"""What a rule says when it has looked at a night: which readings, of which cause, in which words.

Owns the two forms a finding has. Knows no rule.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from consolidator.authority import Deed
from consolidator.frame import Day
from consolidator.frame.coded import Coded, Codes, Flags, Ints
from consolidator.frame.day import rows_of_page
from consolidator.rules.kinds import KINDS, Effect, Family, Kind
from kiosk.pages.desk import ExceptionClose

Tell = Callable[[int], str]
"""Says the rule in one sentence, with the two things compared, for one row."""


@dataclass(frozen=True)
class Found:
    """Readings that match one exception kind; one cause for each row."""

    number: str
    rows: Ints
    causes: Ints
    """Place of each row's cause in `labels`."""
    labels: Sequence[str]
    tell: Tell
    effect: Effect | None = None
    """None: the kind's own."""
    urgency: Flags | None = None
    """Rows that are urgency A whatever the kind's own is."""
    urgency_word: str | None = None
    """One urgency for all rows in place of the kind's own."""
    holds: Flags | None = None
    """Rows whose lot is held; none: as the kind says."""
    also_holds: tuple[tuple[str, int], ...] = ()
    """Further lots held, each with the row because of which."""
    is_tag: bool = False
    """Kept for the record on the reading: no effect, no hold, urgency D."""

    @property
    def kind(self) -> Kind:
        """The kind's data."""
        return KINDS[self.number]


@dataclass(frozen=True)
class Story:
    """A finding about a gauge, kiosk, lot or sample rather than about single readings."""

    number: str
    cause: str
    sentence: str
    opened_ms: int
    lots: tuple[str, ...] = ()
    stations: tuple[str, ...] = ()
    rows: tuple[int, ...] = ()
    pages: tuple[str, ...] = ()
    """Further pages it touches that are no readings of the day."""
    holds: tuple[str, ...] = ()
    urgency: str | None = None
    pieces: int = 0
    family: Family | None = None
    state: str = "open"
    closed_by: str = ""
    closed_why: str = ""

    @property
    def kind(self) -> Kind:
        """The kind's data."""
        return KINDS[self.number]


@dataclass(frozen=True)
class Rule:
    """One exception kind's function."""

    number: str
    find: Callable[[Day], list[Found] | list[Story] | list[Found | Story]]

    @property
    def partition(self) -> str:
        """What must be seen whole."""
        return KINDS[self.number].partition


@dataclass(frozen=True)
class LateRule:
    """One exception kind's function that needs to know which readings count."""

    number: str
    find: Callable[[Day, Ints], list[Story]]
    """Given the standing of each row as `Effect` numbers."""


@dataclass(frozen=True)
class OpenSpan:
    """An exception as it was kept: on which lots, how urgent, from when, and until when it was open."""

    number: str
    urgency: str
    lots: tuple[str, ...]
    opened_ms: int
    closed_ms: int | None
    """None: still open."""

    def is_open_at(self, ms: int) -> bool:
        """True when it stood open at a moment."""
        return self.opened_ms <= ms and (self.closed_ms is None or ms < self.closed_ms)


@dataclass(frozen=True)
class LastRule:
    """One exception kind's function that needs to know which exceptions stand open, and since when."""

    number: str
    find: Callable[[Day, Sequence[OpenSpan]], list[Story]]


def say_piece(day: Day, row: int) -> str:
    """Name a reading's characteristic, piece, sample and lot in a sentence."""
    piece = f"piece {int(day.pages.piece[row])} of sample {int(day.pages.sample[row])}"
    return f"{day.pages.characteristic.at(row)}, {piece}, {day.pages.lot.at(row)}"


def rows_of(day: Day, mask: Flags) -> Ints:
    """Return the rows that a mask names, of the production day and of the samples that reach into it."""
    return np.flatnonzero(mask & day.is_judged)


def of_day(day: Day, each: Found) -> Found:
    """Return a finding without the readings of other days."""
    keep = day.is_in_day[each.rows]
    urgency = None if each.urgency is None else each.urgency[keep]
    return replace(each, rows=each.rows[keep], causes=each.causes[keep], urgency=urgency)


def found(number: str, rows: Ints, by: Coded, tell: Tell, **also: object) -> list[Found]:
    """Return a finding with one cause for each word of a column; nothing when there are no rows."""
    if not len(rows):
        return []
    codes = by.codes[rows].astype(np.int64)
    labels = (*by.labels, "not named")
    return [Found(number, rows, np.where(codes < 0, len(by.labels), codes), labels, tell, **also)]  # type: ignore[arg-type]


def found_one_cause(number: str, rows: Ints, cause: str, tell: Tell, **also: object) -> list[Found]:
    """Return a finding with a single cause."""
    if not len(rows):
        return []
    return [Found(number, rows, np.zeros(len(rows), np.int64), (cause,), tell, **also)]  # type: ignore[arg-type]


def found_causes(number: str, rows: Iterable[int], causes: Iterable[str], tell: Tell, **also: object) -> list[Found]:
    """Return a finding with a cause given in words for each row."""
    row_array, cause_list = np.array(list(rows), np.int64), list(causes)
    if not len(row_array):
        return []
    labels = sorted(set(cause_list))
    place = {label: at for at, label in enumerate(labels)}
    codes = np.array([place[cause] for cause in cause_list], np.int64)
    return [Found(number, row_array, codes, labels, tell, **also)]  # type: ignore[arg-type]


def named_wrong(day: Day, number: str) -> Flags:
    """Tell which readings a closing of this kind names as the wrong ones of two that cannot both be true (0161)."""
    wrong = np.zeros(len(day.pages), bool)
    for act, close in day.world.acts.of(ExceptionClose):
        if close.exception.startswith(f"{number}:") and day.world.may_sign(act, Deed.CLOSE_EXCEPTION):
            for ref in close.evidence:
                wrong[rows_of_page(day.pages, ref)] = True
    return wrong


def nearest_elsewhere(day: Day, what: Codes, where: Codes) -> tuple[Ints, Ints]:
    """Return for each row the nearest one in time of the same `what` at another place, and how far apart they are."""
    count = len(what)
    other, gap = np.full(count, -1, np.int64), np.full(count, 2**61, np.int64)
    rows = np.flatnonzero((what >= 0) & (day.replaced_by < 0))
    rows = rows[np.lexsort((day.ms[rows], what[rows]))]
    if not len(rows):
        return other, gap
    starts = np.ones(len(rows), bool)
    starts[1:] = (what[rows[1:]] != what[rows[:-1]]) | (where[rows[1:]] != where[rows[:-1]])
    run_start = np.maximum.accumulate(np.where(starts, np.arange(len(rows)), 0))
    ends = np.append(starts[1:], True)
    run_end = np.minimum.accumulate(np.where(ends, np.arange(len(rows)), len(rows))[::-1])[::-1]
    for neighbour in (run_start - 1, run_end + 1):
        at = np.clip(neighbour, 0, len(rows) - 1)
        same = (neighbour >= 0) & (neighbour < len(rows)) & (what[rows[at]] == what[rows])
        apart = np.where(same, np.abs(day.ms[rows[at]] - day.ms[rows]), 2**61)
        nearer = apart < gap[rows]
        other[rows[nearer]], gap[rows[nearer]] = rows[at[nearer]], apart[nearer]
    return other, gap
