"""What is due by day and by shift, who has not been seen, and the interval suggested next."""

from datetime import date, timedelta

from consolidator.calibration_room.due import (
    due_in_shift,
    due_list,
    due_on,
    last_seen,
    not_seen,
    past_due,
    suggest_for,
    visits_of,
)
from consolidator.calibration_room.movements import Extending, extend_due
from consolidator.calibration_room.standing import calibrations_of
from consolidator.desk.seconds import second_sign
from kiosk.lists import Lists
from kiosk.pages.desk import Calibration, CalibrationPoint, GaugeStateChange
from kiosk.pages.station import GaugeMovement, GaugeScan
from tests.unit.consolidator.desk.small_desk import SmallDesk


def test_gauge_due_today_goes_out_at_midnight_in_the_third_shift_with_its_swap_partner(small: SmallDesk) -> None:
    """O2's gauge: due 10 March, out at 00:00 of the 11th, which lies in the 3rd shift of production day 10 March."""
    small.to("2026-03-10 13:00")
    rows = due_list(small.desk.lists, small.desk.acts(), small.desk.now())

    (row,) = due_on(rows, date(2026, 3, 10))

    assert (row.gauge, row.drawer, row.partner, row.partner_drawer) == ("G-107", "A-1", "G-108", "A-2")
    assert row.goes_out_at.isoformat() == "2026-03-11T00:00:00-04:00"
    assert row.words == "G-107 (A-1) goes out at midnight; take G-108 from A-2."
    assert due_in_shift(rows, date(2026, 3, 10), 3) == (row,)
    assert due_in_shift(rows, date(2026, 3, 10), 2) == () == due_in_shift(rows, date(2026, 3, 11), 3)
    assert past_due(rows) == ()


def test_gauge_past_due_and_still_in_use_is_named_until_it_is_set_aside(small: SmallDesk) -> None:
    """At 00:00 it is past due; a gauge that awaits calibration is on no due list."""
    small.to("2026-03-11 00:00")
    rows = due_list(small.desk.lists, small.desk.acts(), small.desk.now())
    assert [row.gauge for row in past_due(rows)] == ["G-107"]
    assert past_due(rows)[0].words == "G-107 (A-1) is past due since 2026-03-10; take G-108 from A-2."

    small.desk.keep(GaugeStateChange(gauge="G-107", state="Awaiting calibration"), "P-105")

    assert past_due(due_list(small.desk.lists, small.desk.acts(), small.desk.now())) == ()


def test_swap_partner_that_goes_out_with_it_or_is_stopped_is_none(small: SmallDesk) -> None:
    """G-108's partner G-107 is past due, so there is nothing to take; G-222 has none at all."""
    rows = {row.gauge: row for row in due_list(small.desk.lists, small.desk.acts(), small.desk.now())}

    assert not rows["G-108"].partner_is_fit and rows["G-108"].words.endswith("G-107 is unfit too.")
    assert rows["G-222"].words.endswith("no swap partner.")
    # G-220 and G-221 are both due 30 June: neither is good past that midnight.
    assert not rows["G-220"].partner_is_fit


def test_due_at_the_change_of_clocks_ends_at_midnight_of_the_wall(small: SmallDesk, deck: Lists) -> None:
    """Due Sunday 1 November 2026, a day of 25 hours: good until 24:00 −05:00, not 23:00."""
    told = {name: getattr(deck, name) for name in Lists.model_fields}
    gauges = tuple(g.model_copy(update={"due": date(2026, 11, 1)}) if g.number == "G-222" else g for g in deck.gauges)
    lists = Lists.model_validate(told | {"gauges": gauges})

    (row,) = due_on(due_list(lists, (), small.desk.now()), date(2026, 11, 1))

    assert row.goes_out_at.isoformat() == "2026-11-02T00:00:00-05:00"


def test_extension_moves_a_gauge_on_the_due_list_from_its_second_signature(small: SmallDesk) -> None:
    """Due 20 March until the second signature, 27 March after; a good calibration moves it on again."""
    asked = Extending("G-415", date(2026, 3, 27), "the laboratory is closed", "as-found good five times in a row")
    page = extend_due(small.desk, small.by("P-105"), asked).page

    def due() -> date:
        rows = due_list(small.desk.lists, small.desk.acts(), small.desk.now())
        return next(row.due for row in rows if row.gauge == "G-415")

    assert due() == date(2026, 3, 20)
    second_sign(small.desk, page.ref, small.second("P-108", page.ref))
    assert due() == date(2026, 3, 27)
    small.to("2026-03-25 09:00")
    act = Calibration(
        gauge="G-415", done_at="2026-03-25T08:00:00.000-04:00", masters=("M-02",), procedure="C-4", unit="in",
        points=(CalibrationPoint(at="0", permissible="0.0001", as_found="0", as_left="0"),), as_found="Good",
        as_left="Good", due=date(2026, 9, 25),
    )  # fmt: skip
    small.desk.keep(act, "P-105")
    assert due() == date(2026, 9, 25)


def test_stopped_gauge_is_neither_due_nor_missed_at_roll_call(small: SmallDesk) -> None:
    """Only gauges in use are called."""
    small.desk.keep(GaugeStateChange(gauge="G-107", state="Stopped", words="set aside"), "P-105")

    assert "G-107" not in dict(not_seen(small.desk.lists, small.desk.acts(), small.desk.now(), days=14))


def test_custody_and_last_seen_follow_movements_and_scans(small: SmallDesk) -> None:
    """Where it was last, and when somebody last had it in hand; not found is no seeing."""
    small.keep(GaugeMovement(gauge="G-220", movement="issued", to_station="S13"))
    assert {row.gauge: row.where for row in due_list(small.desk.lists, small.desk.acts(), small.desk.now())}[
        "G-220"
    ] == "S13"
    small.to("2026-03-17 09:00")
    small.keep(GaugeScan(gauge="G-220"))
    seen = small.desk.now()
    small.to("2026-03-18 09:00")
    small.keep(GaugeMovement(gauge="G-220", movement="not found"))

    assert last_seen("G-220", small.desk.acts()) == seen


def test_gauge_not_seen_for_more_than_14_days_is_named(small: SmallDesk) -> None:
    """Exactly 14 days is still seen; the rest of the register was never told of."""
    small.keep(GaugeScan(gauge="G-220"))
    at = small.desk.now()
    acts = small.desk.acts()

    on_time = dict(not_seen(small.desk.lists, acts, at + timedelta(days=14), days=14))
    late = dict(not_seen(small.desk.lists, acts, at + timedelta(days=14, seconds=1), days=14))

    assert "G-220" not in on_time and late["G-220"] == at
    assert on_time["G-221"] is None


def _visit(small: SmallDesk, at: str, found: str | None, left: str) -> None:
    small.to(at)
    point = CalibrationPoint(at="0", permissible="0.0001", as_found=found, as_left=left)
    act = Calibration(
        gauge="G-108", done_at=small.desk.now().isoformat(timespec="milliseconds"), masters=("M-02",), procedure="C-1",
        unit="in", points=(point,), as_found="Not taken" if found is None else "Good", as_left="Good",
    )  # fmt: skip
    small.desk.keep(act, "P-105")


def test_found_out_twice_in_the_last_three_halves_the_interval(small: SmallDesk, deck: Lists) -> None:
    """3.6: two found out in three calibrations, so 180 days become 90; a suggestion with its reason."""
    told = {name: getattr(deck, name) for name in Lists.model_fields}
    gauges = tuple(g.model_copy(update={"interval_days": 180}) if g.number == "G-108" else g for g in deck.gauges)
    lists = Lists.model_validate(told | {"gauges": gauges})
    for at, found in (("2026-04-01 09:00", "0.0002"), ("2026-10-01 09:00", "0"), ("2027-04-01 09:00", "-0.0003")):
        _visit(small, at, found, "0")

    suggestion = suggest_for("G-108", lists, small.desk.acts(), small.desk.now())

    assert suggestion is not None and suggestion.interval_days == 90
    assert "twice" in suggestion.reason
    assert suggest_for("G-108", deck, small.desk.acts(), small.desk.now()) is None


def test_visit_is_told_by_its_worst_point_as_a_share_of_what_is_permissible(small: SmallDesk) -> None:
    """.0003 of .0001 is 3 times, -.00005 is minus a half; several pages of one day are one visit."""
    _visit(small, "2026-04-01 09:00", "0.0003", "0.00001")
    _visit(small, "2026-04-01 10:00", "0.00001", "-0.00005")

    (visit,) = visits_of(calibrations_of("G-108", small.desk.acts()))

    assert (visit.done_on, visit.as_found, visit.as_left) == (date(2026, 4, 1), 3.0, -0.5)
