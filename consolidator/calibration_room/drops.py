"""What befell gauges, for the calibration technician: which, when, where, and since when their readings are in doubt.

Owns the report only; which readings are in doubt or blocked is close of day's. No person stands in it: whoever tells
is never blamed.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from consolidator.calibration_room.standing import standing_of
from consolidator.desk.held_pages import HeldAct
from kiosk.lists import Gauge, Lists
from kiosk.pages.desk import Calibration
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident
from kiosk.pages.words import CheckVerdict, GaugeIncidentKind
from kiosk.times import in_zone, read_time


@dataclass(frozen=True)
class DropReport:
    """One incident with a gauge, as it stands now; times are plant time."""

    gauge: str
    what: GaugeIncidentKind
    at: datetime
    station: str
    page: str
    last_good_at: datetime | None
    """When it was last shown good before: by a check, or a calibration; none where no page tells."""
    last_good_by: str
    settled_at: datetime | None
    """When it was shown good again; none while nobody has."""
    settled_by: str
    home_station: str | None = None
    partner: str | None = None
    """A swap partner that is fit for use now."""

    @property
    def is_open(self) -> bool:
        """True while nobody has shown the gauge good since."""
        return self.settled_at is None

    @property
    def words(self) -> str:
        """The report in one line, as it is printed."""
        told = f"{self.gauge} {self.what.value} {self.at:%d %b %H:%M} at {self.station}"
        if self.settled_at is not None:
            return f"{told}; shown good {self.settled_at:%d %b %H:%M} ({self.settled_by})."
        since = "its beginning" if self.last_good_at is None else f"{self.last_good_at:%d %b %H:%M}"
        by = f" ({self.last_good_by})" if self.last_good_by else ""
        swap = f"; take {self.partner}" if self.partner is not None else ""
        return f"{told}; in doubt since {since}{by}, blocked from there on until it is checked{swap}."


def drop_reports(lists: Lists, acts: Iterable[HeldAct], at: datetime) -> tuple[DropReport, ...]:
    """Return what befell the gauges as it stands at `at` (aware): those still open first, then the newest first."""
    zone, known = ZoneInfo(lists.zone), [held for held in acts if held.at <= at]
    reports = [
        _report(held, held.page.act, known, lists, at, zone)
        for held in known
        if isinstance(held.page.act, GaugeIncident)
    ]
    return tuple(sorted(reports, key=lambda each: (not each.is_open, -each.at.timestamp(), each.gauge, each.page)))


def _report(
    held: HeldAct, incident: GaugeIncident, acts: list[HeldAct], lists: Lists, at: datetime, zone: ZoneInfo
) -> DropReport:
    number = incident.gauge
    good = sorted(((when, ref) for when, ref in _shown_good(number, acts)), key=lambda each: each[0])
    before = [each for each in good if each[0] <= held.at][-1:]
    after = [each for each in good if each[0] > held.at][:1]
    row = lists.gauge(number, at)
    return DropReport(
        gauge=number,
        what=incident.what,
        at=in_zone(held.at, zone),
        station=held.page.station,
        page=held.page.ref,
        last_good_at=in_zone(before[0][0], zone) if before else None,
        last_good_by=before[0][1] if before else "",
        settled_at=in_zone(after[0][0], zone) if after else None,
        settled_by=after[0][1] if after else "",
        home_station=None if row is None else row.home_station,
        partner=_fit_partner(row, lists, acts, at),
    )


def _shown_good(gauge: str, acts: Iterable[HeldAct]) -> Iterable[tuple[datetime, str]]:
    """Give each moment at which a gauge was shown good: a good check, found good, or left good."""
    for held in acts:
        act = held.page.act
        if isinstance(act, Check) and act.gauge == gauge and act.verdict is CheckVerdict.GOOD:
            yield held.at, held.page.ref
        elif isinstance(act, Calibration) and act.gauge == gauge:
            is_left_good = act.stage != "as-found" and act.as_left == "Good"
            if is_left_good or act.as_found == "Good":
                yield read_time(act.done_at), held.page.ref


def _fit_partner(row: Gauge | None, lists: Lists, acts: list[HeldAct], at: datetime) -> str | None:
    if row is None or row.swap_partner is None:
        return None
    partner = standing_of(row.swap_partner, lists, acts, at)
    return row.swap_partner if partner is not None and not partner.why_unfit(at) else None
