"""The invented plant's lists are whole, and what the demo promises of them holds."""

from datetime import UTC
from pathlib import Path

from consolidator.lists import check_lists, write_csv
from demo_site.days import AT_STATION, WAYS, begins
from demo_site.plant import BOLTS, CREWS, NUMBER, NUT, ZONE, demo_lists, lot_running, operator, part_of
from kiosk.lists import Lists
from kiosk.lists.words import GaugeState
from kiosk.times import read_plant_time


def _checked(folder: Path) -> Lists:
    write_csv(demo_lists(), folder)
    return check_lists(folder, plant=NUMBER, zone=ZONE, before=None, at_utc=begins().astimezone(UTC))


def test_the_lists_written_as_files_are_taken_without_a_fault(tmp_path: Path) -> None:
    """Whoever starts from the demo's list files starts from files that the checks find nothing in."""
    checked = _checked(tmp_path)

    assert len(checked.gauges) == len(demo_lists().gauges)
    assert len(checked.lots) == len(demo_lists().lots)


def test_every_usual_gauge_is_in_date_in_use_and_at_home(tmp_path: Path) -> None:
    """Ordinary production is measured with gauges that nothing speaks against."""
    lists = _checked(tmp_path)
    used = [(station, gauge) for way in WAYS.values() for station, gauge in way.gauges.items()]

    for station, number in used:
        gauge = lists.gauge(number, begins())
        assert gauge is not None and gauge.state is GaugeState.IN_USE, number
        assert gauge.home_station == station, number
        assert gauge.due is not None and str(gauge.due) > "2026-04-01", number


def test_every_usual_gauge_is_of_a_kind_that_the_plan_allows(tmp_path: Path) -> None:
    """No ordinary reading is taken with the wrong kind of gauge."""
    lists = _checked(tmp_path)

    for number, way in WAYS.items():
        kinds = {kind for row in lists.characteristics if row.number == number for kind in row.gauge_kinds}
        used = {gauge.kind for each in way.gauges.values() if (gauge := lists.gauge(each, begins())) is not None}
        assert used <= kinds, number


def test_everybody_on_a_crew_is_qualified_for_the_operations_there(tmp_path: Path) -> None:
    """No ordinary reading is taken by somebody who may not take it."""
    lists = _checked(tmp_path)
    held = {(row.person, row.operation) for row in lists.qualifications}

    for station, crew in CREWS.items():
        row = lists.station(station, begins())
        assert row is not None
        assert all((person, operation) in held for person in crew for operation in row.operations), station


def test_who_works_and_what_runs_follow_the_shift_and_the_day() -> None:
    """At 22:30 on Tuesday the third shift stands at S12, and the lot of Tuesday runs; by the tables, by hand."""
    moment = read_plant_time("2026-03-10 22:30", ZONE)

    assert operator("S12", moment) == "P-113"
    assert lot_running("S12", moment) == "L-622"
    assert lot_running("S12", begins()) is None


def test_what_a_station_measures_is_planned_for_the_part_that_runs_there() -> None:
    """A sample at a station looks at every characteristic planned at its operation, and at nothing else."""
    lists = demo_lists()

    for station, characteristics in AT_STATION.items():
        if station == "S38":
            continue
        known = lists.station(station, begins())
        assert known is not None
        for part in (NUT,) if station in ("S31", "S32") else tuple(BOLTS):
            planned = [
                row.number for row in lists.characteristics if row.part == part and row.operation in known.operations
            ]
            assert tuple(planned) == characteristics, (station, part)


def test_lots_on_a_station_are_of_parts_made_there() -> None:
    """Nuts are tapped and bolts are ground and rolled; a lot that runs somewhere is of the right part."""
    made = {
        station: part_of(lot)
        for station in AT_STATION
        if (lot := lot_running(station, read_plant_time("2026-03-11 23:00", ZONE))) is not None
    }

    assert {station for station, part in made.items() if part == NUT} == {"S31", "S32"}
