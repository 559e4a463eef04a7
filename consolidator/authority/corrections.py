"""When a correction takes effect (3.5): which signatures and which re-measure it needs, and which it has.

Owns that rule as a pure function of the pages about one correction. Times are UTC milliseconds, as effective times are.
Must not judge a value; the caller says what the verdict was and would be.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from kiosk.pages.readings import Correction
from kiosk.pages.words import Verdict


class Weight(StrEnum):
    """What a correction changes, and so what it needs."""

    SAME = "same verdict"
    TO_BAD = "good to bad"
    TO_GOOD = "bad to good"
    TO_JUDGED = "not judged to good, from a paper form"
    TRACE = "another lot, gauge, master or piece"

    @property
    def signatures(self) -> int:
        """How many signatures it needs."""
        return 1 if self in (Weight.SAME, Weight.TO_BAD) else 2

    @property
    def needs_re_measure(self) -> bool:
        """True when the piece must be measured again."""
        return self is Weight.TO_GOOD

    @property
    def bars_taker(self) -> bool:
        """True when no signature of the person who took the reading counts, not even the first."""
        return self in (Weight.TO_GOOD, Weight.TO_JUDGED)


@dataclass(frozen=True)
class SignedAt:
    """One signature under a correction: whose, when, on which page, and whether that person may sign it."""

    person: str
    at_ms: int
    ref: str
    is_authorised: bool = True


@dataclass(frozen=True)
class ReMeasured:
    """One reading that measures the piece again, or a piece of a fresh sample taken in its place."""

    ref: str
    at_ms: int
    piece: int
    is_good: bool
    counts: bool
    """False when it is blocked: it is no evidence then."""


@dataclass(frozen=True)
class Correcting:
    """One correction and everything that was done about it."""

    ref: str
    correction: Correction
    at_ms: int
    first: SignedAt | None
    """The signature on the correction page itself; none where there is none."""
    weight: Weight
    taker: str
    """Who took the reading."""
    piece: int
    planned: int
    """Pieces of the planned sample, for a fresh sample of twice the size."""
    seconds: tuple[SignedAt, ...] = ()
    re_measures: tuple[ReMeasured, ...] = ()


@dataclass(frozen=True)
class CorrectionState:
    """Where a correction stands. Until it is effective the verdict stays what it was, and so does the hold."""

    weight: Weight
    signed_by: tuple[str, ...]
    re_measured_by: tuple[str, ...]
    """Pages of the re-measure that counts."""
    waits_for: tuple[str, ...]
    effective_ms: int | None
    """When the last of what it needs came in; none while it waits."""

    @property
    def is_effective(self) -> bool:
        """True when it works."""
        return self.effective_ms is not None

    @property
    def words(self) -> str:
        """How it is told: `waiting for second signature and re-measure`, or `in effect`."""
        return f"waiting for {' and '.join(self.waits_for)}" if self.waits_for else "in effect"


def weight_of(field: str, before: Verdict, after: Verdict, *, is_from_paper: bool = False) -> Weight:
    """Return what a correction of `field` weighs, from the verdict that stands and the one it would bring.

    A reading that was not judged is not good yet, so making it good weighs as much as bad to good; from a paper form
    two people who read the original are enough, for nothing was measured wrong. What turns bad works at once, and
    what would take a reject out of sight weighs as if it turned good.
    """
    if field != "value":
        return Weight.TRACE
    if before is after or (_is_good(before) and _is_good(after)) or (before.is_bad and after.is_bad):
        return Weight.SAME
    if before is Verdict.NOT_JUDGED and is_from_paper and not after.is_bad:
        return Weight.TO_JUDGED
    return Weight.TO_GOOD if _is_good(after) or before.is_bad else Weight.TO_BAD


def _is_good(verdict: Verdict) -> bool:
    return verdict in (Verdict.IN, Verdict.ACCEPT)


def correction_state(correcting: Correcting) -> CorrectionState:
    """Return where a correction stands, from the pages about it."""
    signed = _signatures(correcting)
    measured = _re_measure(correcting) if correcting.weight.needs_re_measure else ()
    waits = ["signature", "second signature"][len(signed) : correcting.weight.signatures]
    if correcting.weight.needs_re_measure and not measured:
        waits.append("re-measure")
    last = max([correcting.at_ms, *(s.at_ms for s in signed), *(m.at_ms for m in measured)])
    return CorrectionState(
        correcting.weight,
        tuple(each.person for each in signed),
        tuple(each.ref for each in measured),
        tuple(waits),
        None if waits else last,
    )


def _signatures(correcting: Correcting) -> list[SignedAt]:
    """Return the signatures that count, oldest first, as many as are needed, each of another person."""
    weight, counted = correcting.weight, list[SignedAt]()
    barred = {correcting.taker} if weight.bars_taker else set()
    if correcting.first is not None and correcting.first.is_authorised and correcting.first.person not in barred:
        counted.append(correcting.first)
    proposer = None if correcting.first is None else correcting.first.person
    # Whoever signs second never took the reading, whatever the correction is about (two-person rule).
    barred |= {correcting.taker, *([proposer] if proposer is not None else [])}
    for second in sorted(correcting.seconds, key=lambda each: (each.at_ms, each.ref)):
        if second.is_authorised and second.person not in barred and second.at_ms >= correcting.at_ms:
            counted.append(second)
            barred.add(second.person)
    return counted[: weight.signatures]


def _re_measure(correcting: Correcting) -> tuple[ReMeasured, ...]:
    """Return the re-measure that bears the correction out; nothing while there is none, or while one speaks against it.

    The same piece measured good; or, where it cannot be found, a fresh sample of twice the size, all good.
    """
    counting = sorted((m for m in correcting.re_measures if m.counts), key=lambda each: (each.at_ms, each.ref))
    if any(not each.is_good for each in counting):
        return ()
    same = [each for each in counting if each.piece == correcting.piece]
    if same:
        return (same[0],)
    fresh = _first_of_each_piece(counting)
    needed = 2 * correcting.planned
    return tuple(fresh[:needed]) if needed and len(fresh) >= needed else ()


def _first_of_each_piece(measured: Iterable[ReMeasured]) -> list[ReMeasured]:
    first: dict[int, ReMeasured] = {}
    for each in measured:
        first.setdefault(each.piece, each)
    return sorted(first.values(), key=lambda each: (each.at_ms, each.ref))
