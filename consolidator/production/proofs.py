"""Test records: whether one passes or fails by the plan's own rule, and where its pieces come from.

Pure: a record, the characteristics of the lists and the lots a set-up made in, a judgement out. A piece of another
lot or set-up tells nothing good of this one; a bad result of it accuses all the same.
"""

from collections.abc import Collection, Iterable
from decimal import Decimal

from kiosk.lists import Characteristic
from kiosk.pages.desk import TestPiece, TestRecord


def has_passed(characteristics: Iterable[Characteristic], record: TestRecord, made: Collection[str]) -> bool:
    """True when a fatigue record passes: enough pieces of this lot and set-up, each, and on average.

    `made` are the lots that the record's set-up made.
    """
    plan = plan_of(characteristics, record)
    if plan is None or has_failed(plan, record):
        return False
    results = _results(plan, own_pieces(record, made))
    least_each, least_average = plan.least_each or plan.lower, plan.least_average
    if least_each is None or not results or len(results) < max(plan.sample_n, 1):
        return False
    return least_average is None or sum(results) >= Decimal(least_average) * len(results)


def has_failed(plan: Characteristic | None, record: TestRecord) -> bool:
    """True when a record says so, or any piece is outside its limits, or enough of them are below the least average.

    Too few pieces are no failure: the proof is not there yet.
    """
    if record.verdict.is_bad or any(piece.verdict.is_bad for piece in record.pieces):
        return True
    if plan is None:
        return False
    results, least_average = _results(plan, record.pieces), plan.least_average
    if any(is_outside(plan, result) for result in results):
        return True
    is_whole = len(results) >= max(plan.sample_n, 1)
    return is_whole and least_average is not None and sum(results) < Decimal(least_average) * len(results)


def is_outside(plan: Characteristic, result: Decimal) -> bool:
    """True when one result is beyond its limits; limits belong to the good side, figures are compared as written."""
    least = plan.least_each or plan.lower
    return (least is not None and result < Decimal(least)) or (plan.upper is not None and result > Decimal(plan.upper))


def plan_of(characteristics: Iterable[Characteristic], record: TestRecord) -> Characteristic | None:
    """Return the characteristic a record tests, of the revision that came last."""
    rows = [c for c in characteristics if (c.part, c.number) == (record.part, record.characteristic)]
    return max(rows, key=lambda c: (c.in_force_from or "", c.revision), default=None)


def own_pieces(record: TestRecord, made: Collection[str]) -> tuple[TestPiece, ...]:
    """Return the pieces that come from the record's lot and, where it names one, from its set-up."""
    if record.set_up is not None and record.lot not in made:
        return ()
    return tuple(p for p in record.pieces if p.lot == record.lot and record.set_up in (None, p.set_up))


def _results(plan: Characteristic, pieces: Iterable[TestPiece]) -> list[Decimal]:
    """Return what pieces bore; none counts more than the count at which the test is stopped."""
    results = [Decimal(piece.result) for piece in pieces if piece.result is not None]
    return results if plan.stopped_at is None else [min(result, Decimal(plan.stopped_at)) for result in results]
