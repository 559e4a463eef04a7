"""From findings to exceptions: one for each cause and kind, with its readings, and one leading cause a reading.

Owns counting, the worst urgency, and which cause leads (4.2). Closing and carrying over come after.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from consolidator.close.judging import Judging
from consolidator.frame import Day
from consolidator.frame.coded import Ints, joined_key, natural_key
from consolidator.rules import KINDS, Effect, Family, Found, Hold, Story
from consolidator.rules.kinds import FAMILY_ORDER

_MANY = 2**40
NO_LEAD = 2**31


@dataclass(frozen=True)
class Raised:
    """One exception as raised by a night: a kind and a cause, before it is joined with what is carried over."""

    number: str
    family: Family
    cause: str
    urgency: str
    effect: str
    sentence: str
    opened_ms: int
    rows: Ints
    """Rows of the readings it touches, in ledger order."""
    tag_rows: Ints
    """Those among `rows` that it only tags."""
    pages: tuple[str, ...]
    lots: tuple[str, ...]
    stations: tuple[str, ...]
    pieces: int
    holds: dict[str, list[int]] = field(default_factory=dict)
    """Lots it holds, with the rows because of which; none for a finding about no reading."""

    @property
    def is_about_readings(self) -> bool:
        """False for a kind that is about a sample, gauge or kiosk: it touches readings and is no mark on them."""
        return KINDS[self.number].effect is not Effect.NONE

    @property
    def sort_key(self) -> tuple[int, str, str, tuple[tuple[int, int, str], ...]]:
        """Order in which causes lead: kiosk, gauge, master, set-up, lot, person; then urgency, number, cause."""
        return (FAMILY_ORDER[self.family], self.urgency, self.number, natural_key(self.cause))


def raise_exceptions(judging: Judging, ledger_rank: Ints) -> list[Raised]:
    """Return the exceptions of a night in the order in which their causes lead.

    `ledger_rank` gives each row its place in the ledger; the first reading there speaks for the cause.
    """
    day = judging.day
    parts: dict[tuple[str, str], list[_Part]] = {}
    for found in judging.found:
        for part in _split(day, judging, found, ledger_rank):
            parts.setdefault((found.number, part.cause), []).append(part)
    for story in judging.stories:
        parts.setdefault((story.number, story.cause), []).append(_part_of(story))
    pieces = _Pieces(day)
    raised = [_join(day, number, each, ledger_rank, pieces) for (number, _), each in sorted(parts.items())]
    return sorted(raised, key=lambda one: one.sort_key)


def leading(raised: list[Raised], count: int) -> Ints:
    """Return for each row the place of its leading exception in `raised`; `NO_LEAD` where nothing touches it.

    A tag never leads where something else does.
    """
    firm, tagged = np.full(count, NO_LEAD, np.int64), np.full(count, NO_LEAD, np.int64)
    for place, each in enumerate(raised):
        if not each.is_about_readings:
            continue
        rows = np.setdiff1d(each.rows, each.tag_rows, assume_unique=True) if len(each.tag_rows) else each.rows
        firm[rows] = np.minimum(firm[rows], place)
        tagged[each.tag_rows] = np.minimum(tagged[each.tag_rows], place)
    return np.where(firm < NO_LEAD, firm, tagged)


@dataclass(frozen=True)
class _Part:
    """What one finding says of one cause."""

    cause: str
    family: Family
    urgency: str
    effect: Effect
    sentence: str
    first_rank: int
    opened_ms: int
    rows: Ints
    is_tag: bool
    pages: tuple[str, ...] = ()
    lots: tuple[str, ...] = ()
    stations: tuple[str, ...] = ()
    pieces: int = 0
    holds: dict[str, list[int]] = field(default_factory=dict)


def _part_of(story: Story) -> _Part:
    return _Part(
        cause=story.cause,
        family=story.family or story.kind.family,
        urgency=story.urgency or story.kind.urgency,
        effect=Effect.NONE,
        sentence=story.sentence,
        first_rank=_MANY,
        opened_ms=story.opened_ms,
        rows=np.array(story.rows, np.int64),
        is_tag=False,
        pages=story.pages,
        lots=story.lots,
        stations=story.stations,
        pieces=story.pieces,
        holds={lot: list(story.rows) for lot in story.holds},
    )


def _split(day: Day, judging: Judging, found: Found, ledger_rank: Ints) -> Iterator[_Part]:
    """Give what a finding says of each of its causes."""
    order = np.lexsort((ledger_rank[found.rows], found.causes))
    causes, rows = found.causes[order], found.rows[order]
    borders = np.flatnonzero(np.append(True, causes[1:] != causes[:-1])) if len(rows) else np.zeros(0, np.int64)
    is_urgent = None if found.urgency is None else found.urgency[order]
    held = _held_rows(day, judging, found)[order]
    for start, end in zip(borders.tolist(), [*borders[1:].tolist(), len(rows)], strict=True):
        mine = rows[start:end]
        is_a = is_urgent is not None and bool(is_urgent[start:end].any())
        effect = found.kind.effect if found.effect is None else found.effect
        yield _Part(
            cause=found.labels[int(causes[start])],
            family=found.kind.family,
            urgency="A" if is_a else found.urgency_word or found.kind.urgency,
            effect=Effect.NONE if found.is_tag else effect,
            sentence=found.tell(int(mine[0])),
            first_rank=int(ledger_rank[mine[0]]),
            opened_ms=int(day.ms[mine].min()),
            rows=mine,
            is_tag=found.is_tag,
            holds=_holds(day, mine, held[start:end], found),
        )


def _held_rows(day: Day, judging: Judging, found: Found) -> np.ndarray:
    """Tell which rows of a finding put their lot on hold."""
    if found.is_tag or found.kind.hold is Hold.NO:
        return np.zeros(len(found.rows), bool)
    if found.holds is not None:
        return np.asarray(found.holds[found.rows])
    if found.number == "X01":
        return ~_has_counting_sample(day, judging)[found.rows]
    return np.full(len(found.rows), found.kind.hold is Hold.YES)


def _has_counting_sample(day: Day, judging: Judging) -> np.ndarray:
    """Tell for each row whether some reading of its sample counts (X01 holds the lot only where none does)."""
    pages = day.pages
    columns = (day.home.codes, pages.lot.codes, pages.operation.codes, pages.characteristic.codes)
    sample = joined_key([*(column.astype(np.int64) + 1 for column in columns), pages.sample])
    counts = (judging.standing != Effect.BLOCKED) & (day.replaced_by < 0)
    has_count = np.zeros(int(sample.max(initial=-1)) + 1, bool)
    has_count[sample[counts]] = True
    return np.asarray(has_count[sample])


def _holds(day: Day, rows: Ints, held: np.ndarray, found: Found) -> dict[str, list[int]]:
    holds: dict[str, list[int]] = {}
    for row in rows[held].tolist():
        if day.pages.lot.at(row):
            holds.setdefault(day.pages.lot.at(row), []).append(row)
    mine = set(rows.tolist()) if found.also_holds else set()
    for lot, row in found.also_holds:
        if row in mine:
            holds.setdefault(lot, []).append(row)
    return {lot: list(dict.fromkeys(because)) for lot, because in holds.items()}


class _Pieces:
    """Counts distinct pieces among rows."""

    def __init__(self, day: Day) -> None:
        columns = (day.home.codes, day.pages.lot.codes, day.pages.operation.codes)
        self._key = joined_key([*(c.astype(np.int64) + 1 for c in columns), day.pages.sample, day.pages.piece])

    def count(self, rows: Ints) -> int:
        """Return how many different pieces the rows are of."""
        return len(np.unique(self._key[rows]))


def _join(day: Day, number: str, parts: list[_Part], ledger_rank: Ints, pieces: _Pieces) -> Raised:
    """Join what several findings say of one kind and cause."""
    first = min(parts, key=lambda part: (part.is_tag, part.urgency, part.first_rank, part.sentence))
    rows = parts[0].rows if len(parts) == 1 else np.unique(np.concatenate([part.rows for part in parts]))
    rows = rows[np.argsort(ledger_rank[rows], kind="stable")]
    firm = np.concatenate([part.rows for part in parts if not part.is_tag] or [np.zeros(0, np.int64)])
    holds: dict[str, list[int]] = {}
    for part in parts:
        for lot, because in part.holds.items():
            holds[lot] = sorted({*holds.get(lot, []), *because})
    told = [part for part in parts if part.lots or part.stations]
    lots = {day.pages.lot.at_code(code) for code in np.unique(day.pages.lot.codes[rows]).tolist()}
    stations = {day.pages.station.at_code(code) for code in np.unique(day.pages.station.codes[rows]).tolist()}
    lots |= {lot for part in told for lot in part.lots} | set(holds)
    stations |= {station for part in told for station in part.stations}
    return Raised(
        number=number,
        family=first.family,
        cause=first.cause,
        urgency=min(part.urgency for part in parts),
        effect=max(part.effect for part in parts).words,
        sentence=first.sentence,
        opened_ms=min(part.opened_ms for part in parts),
        rows=rows,
        tag_rows=np.setdiff1d(rows, firm) if any(part.is_tag for part in parts) else np.zeros(0, np.int64),
        pages=tuple(sorted({page for part in parts for page in part.pages})),
        lots=tuple(sorted(lots - {""}, key=natural_key)),
        stations=tuple(sorted(stations - {""}, key=natural_key)),
        pieces=pieces.count(rows) + sum(part.pieces for part in parts),
        holds=dict(sorted(holds.items())),
    )
