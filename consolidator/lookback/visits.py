"""Calibration visits of gauges and masters: what each was found like, what it was left like, and when.

Owns joining an as-found saved first with its as-left, and the records of the lists with the pages of the desk.
Knows no windows and no readings.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction

from consolidator.frame.world import ActAt, World, text_ms
from kiosk.lists import CalibrationRecord
from kiosk.pages.desk import Calibration, CalibrationPoint

GOOD = "Good"
OUT = "Out"
NOT_TAKEN = "Not taken"


@dataclass(frozen=True)
class Point:
    """One calibrated point: `error` is indicated minus true as found, none where it was not taken."""

    at: Fraction
    error: Fraction | None
    permissible: Fraction


@dataclass(frozen=True)
class Visit:
    """One visit of a gauge or master to the calibration room. Times are UTC milliseconds, errors in `unit`."""

    number: str
    found_ms: int
    left_ms: int | None
    """When it was done and left; none while only an as-found is in."""
    as_found: str
    as_left: str
    masters: tuple[str, ...]
    unit: str
    points: tuple[Point, ...] = ()
    """As found; none are known of a calibration that only the lists tell of."""
    page: str = ""
    """The page that says what it was found like; empty for one that only the lists tell of."""
    known_ms: int = 0
    """When that page was made."""
    found_late: bool = False
    """The as-found was entered after the as-left, so none was taken."""

    @property
    def is_left_good(self) -> bool:
        """True when it was left in tolerance, whatever it was found like."""
        return self.left_ms is not None and self.as_left == GOOD

    @property
    def is_good_check(self) -> bool:
        """True when it was found good and not touched since."""
        return self.left_ms is None and self.as_found == GOOD


def worst_of(points: Iterable[Point]) -> Point | None:
    """Return the point whose error is largest over what is permissible; none when no error is known."""
    taken = [(abs(point.error) - point.permissible, point) for point in points if point.error is not None]
    return max(taken, key=lambda each: each[0])[1] if taken else None


def visits_of(world: World) -> dict[str, list[Visit]]:
    """Return the visits of every gauge and master, each in order of time; a page outdoes a record of the lists."""
    told: dict[str, list[tuple[ActAt, Calibration]]] = {}
    for act, done in world.acts.of(Calibration):
        told.setdefault(done.gauge, []).append((act, done))
    found = {number: list(_joined(number, pages)) for number, pages in told.items()}
    for record in world.lists.calibrations:
        visits, done_ms = found.setdefault(record.gauge, []), text_ms(record.done_at)
        if done_ms <= world.at_ms and not any(done_ms in (visit.found_ms, visit.left_ms) for visit in visits):
            visits.append(_from_list(record, done_ms))
    return {
        number: sorted(visits, key=lambda visit: (visit.found_ms, visit.known_ms)) for number, visits in found.items()
    }


def _joined(number: str, pages: list[tuple[ActAt, Calibration]]) -> Iterable[Visit]:
    open_visit: Visit | None = None
    for act, done in sorted(pages, key=lambda each: (text_ms(each[1].done_at), each[0].sort_key)):
        if done.stage == "as-left" and open_visit is not None:
            yield _closed(open_visit, act, done)
            open_visit = None
            continue
        if open_visit is not None:
            yield open_visit
        visit = _from_page(number, act, done)
        open_visit = visit if done.stage == "as-found" else None
        if open_visit is None:
            yield visit
    if open_visit is not None:
        yield open_visit


def _closed(found: Visit, act: ActAt, done: Calibration) -> Visit:
    whole = replace(
        found,
        left_ms=text_ms(done.done_at),
        as_left=done.as_left,
        masters=tuple(dict.fromkeys((*found.masters, *done.masters))),
    )
    if found.known_ms > act.at_ms:
        # Entered after the touch, whatever time it bears: it cannot be told from what was left.
        return replace(whole, as_found=NOT_TAKEN, points=(), found_late=True)
    return whole


def _from_page(number: str, act: ActAt, done: Calibration) -> Visit:
    done_ms = text_ms(done.done_at)
    return Visit(
        number=number,
        found_ms=done_ms,
        left_ms=None if done.stage == "as-found" else done_ms,
        as_found=done.as_found,
        as_left="" if done.stage == "as-found" else done.as_left,
        masters=done.masters,
        unit=done.unit,
        points=tuple(sorted(map(_point, done.points), key=lambda point: point.at)),
        page=act.ref,
        known_ms=act.at_ms,
    )


def _point(told: CalibrationPoint) -> Point:
    error = None if told.as_found is None else Fraction(Decimal(told.as_found))
    return Point(Fraction(Decimal(told.at)), error, abs(Fraction(Decimal(told.permissible))))


def _from_list(record: CalibrationRecord, done_ms: int) -> Visit:
    return Visit(
        number=record.gauge,
        found_ms=done_ms,
        left_ms=done_ms,
        as_found=record.as_found,
        as_left=record.as_left,
        masters=record.masters,
        unit="",
        known_ms=done_ms,
    )
