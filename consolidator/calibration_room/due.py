"""What is due: by day and by shift, with swap partner and drawer; gauges nobody has seen; the interval suggested next.

Owns these lists as pure functions of lists and pages. Nothing here is a decision.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from consolidator.calibration_room.standing import Standing, calibrations_of, standing_of
from consolidator.desk.held_pages import HeldAct
from consolidator.study.gauges import Suggestion, Visit, suggest_interval
from kiosk.lists import Gauge, Lists
from kiosk.lists.words import GaugeState
from kiosk.measure.decimals import to_decimal
from kiosk.pages.desk import Calibration, Extension, SecondSignature
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeMovement, GaugeScan
from kiosk.times import in_zone, read_time, shift_of

_SEEING: Final = ("issued", "borrowed", "returned", "found")
"""Movements at which somebody had the gauge in hand."""


class _Index:
    """Acts by the gauge they name, so that a register of a thousand is gone through once."""

    def __init__(self, acts: Iterable[HeldAct]) -> None:
        self._by_gauge: dict[str, list[HeldAct]] = {}
        self._seconds: list[HeldAct] = []
        for held in acts:
            gauge = getattr(held.page.act, "gauge", None)
            if isinstance(held.page.act, SecondSignature):
                self._seconds.append(held)
            elif isinstance(gauge, str):
                self._by_gauge.setdefault(gauge, []).append(held)

    def of(self, gauge: str) -> list[HeldAct]:
        """Return the acts about a gauge, with the second signatures that may make them work."""
        mine = self._by_gauge.get(gauge, [])
        if not any(isinstance(held.page.act, Extension) for held in mine):
            return mine
        return sorted([*mine, *self._seconds], key=lambda held: (held.at, held.page.series, held.page.number))


@dataclass(frozen=True)
class DueRow:
    """One gauge in use on the due list."""

    gauge: str
    kind: str
    due: date
    goes_out_at: datetime
    """First moment its due date no longer covers, plant time."""
    shift: tuple[date, int]
    """Production day and shift in which it goes out."""
    home_station: str | None
    drawer: str | None
    where: str
    """Who or which station had it last; empty when no page tells."""
    partner: str | None
    partner_drawer: str | None
    partner_is_fit: bool
    is_past: bool

    @property
    def words(self) -> str:
        """The row in one sentence, as it is printed."""
        name = f"{self.gauge} ({self.drawer})" if self.drawer else self.gauge
        clock = (
            "midnight" if (self.goes_out_at.hour, self.goes_out_at.minute) == (0, 0) else f"{self.goes_out_at:%H:%M}"
        )
        told = f"{name} is past due since {self.due}" if self.is_past else f"{name} goes out at {clock}"
        if self.partner is None:
            return f"{told}; no swap partner."
        drawer = f" from {self.partner_drawer}" if self.partner_drawer else ""
        return (
            f"{told}; take {self.partner}{drawer}." if self.partner_is_fit else f"{told}; {self.partner} is unfit too."
        )


def due_list(lists: Lists, acts: Sequence[HeldAct], at: datetime) -> tuple[DueRow, ...]:
    """Return every gauge in use with a due date, by due date and number, as it stands at `at` (plant time)."""
    about = _Index(acts)
    rows = [
        _row(standing, lists, about, at)
        for number in sorted({gauge.number for gauge in lists.gauges})
        if (standing := standing_of(number, lists, about.of(number), at)) is not None
        and standing.state == GaugeState.IN_USE
        and standing.due is not None
    ]
    return tuple(sorted(rows, key=lambda row: (row.due, row.gauge)))


def due_on(rows: Iterable[DueRow], day: date) -> tuple[DueRow, ...]:
    """Return the gauges whose due date is `day`: good until its end, gone after."""
    return tuple(row for row in rows if row.due == day)


def due_in_shift(rows: Iterable[DueRow], day: date, shift: int) -> tuple[DueRow, ...]:
    """Return the gauges that go out during a shift (1 to 3) of a production day; midnight lies in the 3rd."""
    return tuple(row for row in rows if not row.is_past and row.shift == (day, shift))


def past_due(rows: Iterable[DueRow]) -> tuple[DueRow, ...]:
    """Return the gauges still in use after their due date ended."""
    return tuple(row for row in rows if row.is_past)


def not_seen(
    lists: Lists, acts: Sequence[HeldAct], at: datetime, *, days: int
) -> tuple[tuple[str, datetime | None], ...]:
    """Return gauges in use that nobody had in hand for `days` days, with when somebody last did; none: never told."""
    about = _Index(acts)
    out: list[tuple[str, datetime | None]] = []
    for number in sorted({gauge.number for gauge in lists.gauges}):
        standing = standing_of(number, lists, about.of(number), at)
        if standing is None or standing.state != GaugeState.IN_USE:
            continue
        last = last_seen(number, about.of(number))
        if last is None or at - last > timedelta(days=days):
            out.append((number, last))
    return tuple(out)


def last_seen(gauge: str, acts: Iterable[HeldAct]) -> datetime | None:
    """Return when a page last shows the gauge in somebody's hand."""
    return max((held.at for held in acts if _shows(held, gauge)), default=None)


def suggest_for(gauge: str, lists: Lists, acts: Iterable[HeldAct], at: datetime) -> Suggestion | None:
    """Return the interval suggested for a gauge from what it was found like, with the reason; none without an interval.

    A suggestion for two people to sign, in the register; it changes nothing.
    """
    row = lists.gauge(gauge, at)
    if row is None or not row.interval_days:
        return None
    return suggest_interval(visits_of(calibrations_of(gauge, acts)), row.interval_days)


def visits_of(calibrations: Iterable[tuple[HeldAct, Calibration]]) -> tuple[Visit, ...]:
    """Return one visit a day of calibrations: its first as-found and its last as-left, at the worst point of each."""
    days: dict[date, tuple[float | None, float | None]] = {}
    for _, act in calibrations:
        day = read_time(act.done_at).date()
        found, left = days.get(day, (None, None))
        found = _worst(act, "as_found") if found is None else found
        now = _worst(act, "as_left") if act.stage != "as-found" else None
        days[day] = (found, left if now is None else now)
    return tuple(
        Visit(done_on=day, as_found=found, as_left=left if left is not None else found or 0.0)
        for day, (found, left) in sorted(days.items())
        if found is not None or left is not None
    )


def _worst(act: Calibration, side: str) -> float | None:
    """Return the error at the worst point as a signed share of its permissible error; none where none was taken."""
    shares = [
        to_decimal(error) / to_decimal(point.permissible)
        for point in act.points
        if (error := getattr(point, side)) is not None and to_decimal(point.permissible)
    ]
    return None if not shares else float(max(shares, key=abs))


def _row(standing: Standing, lists: Lists, about: _Index, at: datetime) -> DueRow:
    row, due, end = standing.row, standing.due, standing.due_end
    assert isinstance(row, Gauge) and due is not None and end is not None
    partner = None if row.swap_partner is None else standing_of(row.swap_partner, lists, about.of(row.swap_partner), at)
    partner_row = None if partner is None else partner.row
    # The last moment it is still good tells the shift that loses it.
    zone = ZoneInfo(lists.zone)
    return DueRow(
        gauge=row.number,
        kind=row.kind.value,
        due=due,
        goes_out_at=in_zone(end, zone),
        shift=shift_of(end - timedelta(milliseconds=1), zone),
        home_station=row.home_station,
        drawer=row.drawer,
        where=_custody(row.number, about.of(row.number)),
        partner=row.swap_partner,
        partner_drawer=partner_row.drawer if isinstance(partner_row, Gauge) else None,
        # Fit means fit past that midnight: a partner that goes out with it is none.
        partner_is_fit=partner is not None and not partner.why_unfit(max(at, end)),
        is_past=at >= end,
    )


def _custody(gauge: str, acts: Iterable[HeldAct]) -> str:
    where = ""
    for held in sorted(acts, key=lambda each: (each.at, each.page.series, each.page.number)):
        act = held.page.act
        if isinstance(act, GaugeMovement) and act.gauge == gauge:
            where = act.to_station or act.to_person or (act.movement if act.movement != "returned" else "")
        elif isinstance(act, GaugeScan) and act.gauge == gauge:
            where = held.page.station
    return where


def _shows(held: HeldAct, gauge: str) -> bool:
    act = held.page.act
    if isinstance(act, GaugeMovement):
        return act.gauge == gauge and act.movement in _SEEING
    return isinstance(act, GaugeScan | Check | Calibration) and act.gauge == gauge
