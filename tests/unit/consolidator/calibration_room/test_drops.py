"""What befell gauges, as the calibration technician reads it. Situations and times by hand (O19 in small)."""

from typing import Any

import pytest

from consolidator.calibration_room.drops import DropReport, drop_reports
from kiosk.pages.desk import Calibration, CalibrationPoint
from kiosk.pages.readings import Check
from kiosk.pages.station import GaugeIncident
from kiosk.pages.words import CheckKind, CheckVerdict, GaugeIncidentKind
from tests.unit.consolidator.desk.small_desk import SmallDesk


def _check(small: SmallDesk, clock: str, verdict: CheckVerdict = CheckVerdict.GOOD, gauge: str = "G-220") -> None:
    small.to(f"2026-03-16 {clock}")
    small.keep(
        Check(check_kind=CheckKind.ZERO, gauge=gauge, keyed="0", unit="in", error="0", limit="0.00005", verdict=verdict)
    )


def _drop(small: SmallDesk, clock: str, gauge: str = "G-220", what: str = "dropped") -> None:
    small.to(f"2026-03-16 {clock}")
    small.keep(GaugeIncident(gauge=gauge, what=GaugeIncidentKind(what)))


def _calibrated(small: SmallDesk, clock: str, **told: Any) -> None:
    small.to(f"2026-03-16 {clock}")
    usual = {"as_found": "Good", "as_left": "Good", "gauge": "G-220", "unit": "in", "masters": ("M-02",),
             "procedure": "C-2", "points": (CalibrationPoint(at="0", permissible="0.00005", as_found="0"),),
             "done_at": f"2026-03-16T{clock}:00.000-04:00"}  # fmt: skip
    small.desk.keep(Calibration.model_validate(usual | told), "P-105")


def _reports(small: SmallDesk, clock: str) -> tuple[DropReport, ...]:
    small.to(f"2026-03-16 {clock}")
    return drop_reports(small.desk.lists, small.desk.acts(), small.desk.now())


def test_a_drop_says_since_when_the_gauge_is_in_doubt_and_names_nobody(small: SmallDesk) -> None:
    """O19: zero check good 08:05, dropped 10:12: in doubt from 08:05, blocked from 10:12 on."""
    _check(small, "08:05")
    _drop(small, "10:12")

    (report,) = _reports(small, "10:15")

    assert report.is_open
    assert report.last_good_at is not None and report.last_good_at.strftime("%H:%M") == "08:05"
    assert report.words.startswith("G-220 dropped 16 Mar 10:12 at S12; in doubt since 16 Mar 08:05 (S12-a/1), blocked")
    assert report.home_station == "S12"
    assert not any(person in repr(report) for person in ("P-101", "Ana"))


def test_a_good_as_found_settles_it_and_a_bad_one_does_not(small: SmallDesk) -> None:
    """13:00 found out as-found only: open; 14:00 left good: settled."""
    _check(small, "08:05")
    _drop(small, "10:12")
    _calibrated(small, "13:00", as_found="Out", as_left="Out", stage="as-found")
    still = _reports(small, "13:30")
    _calibrated(small, "14:00", as_found="Not taken", stage="as-left")

    (report,) = _reports(small, "15:00")

    assert [each.is_open for each in still] == [True]
    assert not report.is_open
    assert "; shown good 16 Mar 14:00 (desk-a/" in report.words


@pytest.mark.parametrize("verdict", [CheckVerdict.GOOD, CheckVerdict.FAILED])
def test_only_a_good_check_shows_a_gauge_good(small: SmallDesk, verdict: CheckVerdict) -> None:
    """A failed check before the drop is no good one, and after it settles nothing; another gauge's never counts."""
    _check(small, "08:05", verdict)
    _check(small, "09:00", gauge="G-221")
    _drop(small, "10:12")
    _check(small, "10:20", verdict)
    _check(small, "10:30", gauge="G-221")

    (report,) = _reports(small, "11:00")

    assert report.is_open is (verdict is CheckVerdict.FAILED)
    assert (report.last_good_at is None) is (verdict is CheckVerdict.FAILED)


def test_what_is_open_stands_first_and_then_the_newest(small: SmallDesk) -> None:
    """Three incidents; the oldest is open, the two others were checked good since."""
    _drop(small, "07:00", gauge="G-108", what="knocked")
    _drop(small, "08:00")
    _check(small, "08:30")
    _drop(small, "09:00", what="wet inside")
    _check(small, "09:30")

    told = [(each.gauge, each.what.value) for each in _reports(small, "10:00")]

    assert told == [("G-108", "knocked"), ("G-220", "wet inside"), ("G-220", "dropped")]


def test_a_report_names_a_swap_partner_that_is_fit_and_none_that_is_not(small: SmallDesk) -> None:
    """G-220's partner G-221 is fit; when it is dropped as well there is none."""
    _drop(small, "10:12")
    (fit,) = _reports(small, "10:15")
    _drop(small, "10:20", gauge="G-221")

    unfit = [each for each in _reports(small, "10:25") if each.gauge == "G-220"]

    assert (fit.partner, unfit[0].partner) == ("G-221", None)
    assert fit.words.endswith("until it is checked; take G-221.")


def test_nothing_befell_and_nothing_is_told_of_what_is_still_to_come(small: SmallDesk) -> None:
    """Known at 10:00, an incident of 10:12 is not there yet."""
    _drop(small, "10:12")
    earlier = small.desk.now().replace(hour=10, minute=0)

    assert drop_reports(small.desk.lists, small.desk.acts(), earlier) == ()
