"""Planted faults are files that say what they plant and what must be found of it."""

from collections import defaultdict
from itertools import groupby, pairwise
from pathlib import Path

import pytest

from consolidator.rules import KINDS
from demo_site.days import Production, in_working_order, ordinary_days
from demo_site.faults import fault_events, left_out, list_changes, read_faults, wanted
from demo_site.plant import demo_lists
from demo_site.play.scenario import ScenarioRefused

LAID_DOWN = [
    "X01", "X02", "X03", "X04", "X05", "X13", "X14", "X15", "X16", "X17", "X18", "X19",
    "X20", "X22", "X23", "X24", "X25", "X26", "X27", "X28", "X29", "X30", "X31", "X32",
    "X33", "X34", "X35", "X37", "X39", "X40", "X41", "X44", "X45", "X46", "X47", "X48",
    "X49", "X50", "X51", "X53", "X54", "X55", "X58", "X59", "X65", "X66", "X67", "X70",
    "X71", "X72", "X73", "X74", "X75", "X76", "X77", "X78", "X79",
    "X06", "X09", "X10", "X11", "X12", "X21", "X36", "X38", "X60", "X81", "X82", "X83",
]  # fmt: skip
"""The kinds that close of day judged when this was written; more come with their rules."""


def test_every_kind_laid_down_is_planted() -> None:
    """Whoever looks at the demo sees each of them once."""
    planted = {fault.number for fault in read_faults()}

    assert set(LAID_DOWN) <= planted


def test_every_planted_kind_is_a_kind_of_exception() -> None:
    """No fault is planted under a number that no rule has."""
    for fault in read_faults():
        assert fault.number in KINDS
        assert fault.path.name.startswith(fault.number)


def test_faults_want_no_exception_twice() -> None:
    """Each exception, by kind, cause and day, is planted by one fault only, so that planted and found can be told."""
    faults = read_faults()
    events = fault_events(faults, Production(7))

    keys = [(each.number, each.cause, each.day) for each in wanted(faults, events)]

    assert len(keys) == len(set(keys))


def test_lots_of_faults_are_on_the_lists_unless_that_is_the_fault() -> None:
    """A fault's lot is known to the plant; only X44 is about one that is not."""
    known = {lot.number for lot in demo_lists().lots} | {
        change["add"]["number"] for change in list_changes(read_faults()) if change.get("list") == "lots"
    }

    named = {e.told["lot"] for e in fault_events(read_faults(), Production(7)) if e.do == "reading"}

    assert named - known == {"L-909"}


@pytest.mark.parametrize("is_quick", [True, False])
def test_no_fault_gets_in_the_way_of_ordinary_work(is_quick: bool) -> None:
    """A lot at a station is worked whole before the next, and nobody is at two stations within 60 s (N9).

    Left out are the two faults that are about just that: lots mixed (X50) and a badge in two places (X67).
    """
    faults = [fault for fault in read_faults() if fault.number not in ("X50", "X67")]
    events = ordinary_days(7, is_quick=is_quick)
    worked = [
        event for event in in_working_order([*events, *fault_events(faults, Production(8))]) if event.do == "reading"
    ]
    by_station, by_person = defaultdict(list), defaultdict(list)
    for event in worked:
        if event.told.get("kind") != "referee":
            by_station[event.station].append(event)
        if event.told.get("source") != "from paper":
            by_person[event.person].append(event)

    for here in by_station.values():
        lots = [lot for lot, _ in groupby(here, key=lambda event: event.told["lot"])]
        small = [lot for lot in lots if lot >= "L-7" and lot != "L-875"]
        assert len(small) == len(set(small))
    for theirs in by_person.values():
        for before, after in pairwise(theirs):
            assert before.station == after.station or (after.at - before.at).total_seconds() > 60, (before, after)


def test_samples_that_nobody_took_are_left_out_of_ordinary_days() -> None:
    """X39 needs a gap where ordinary production would have taken a sample."""
    fault = next(fault for fault in read_faults() if fault.number == "X39")
    events = ordinary_days(7, is_quick=True)

    kept = left_out([fault], events)

    gone = [event for event in events if event not in kept]
    assert {(event.station, event.told["characteristic"]) for event in gone} == {("S12", "D1"), ("S12", "D2")}
    assert {event.at.strftime("%d %H") for event in gone} == {"11 06"}


def test_good_pieces_become_readings_of_everything_the_station_measures(tmp_path: Path) -> None:
    """Five good pieces of each characteristic stand around a fault without being written out."""
    path = tmp_path / "X40-made.yaml"
    path.write_text(
        "scenario: X40\ntitle: made\nevents:\n"
        "  - {at: 2026-03-09 10:00, do: good pieces, station: S11, lot: L-740, sample: 3}\n"
        "expect:\n  - {exception: X40, cause: L-740 D1 3, day: 2026-03-09, counted at: S11,\n"
        "     from: 2026-03-09 09:00, until: 2026-03-09 11:00}\n",
        encoding="utf-8",
    )
    faults = read_faults(tmp_path)

    events = fault_events(faults, Production(7))

    assert [(e.told["characteristic"], e.told["sample"], len(e.told["keyed"].split())) for e in events] == [
        ("D1", "3", 5),
        ("D2", "3", 5),
    ]
    assert wanted(faults, events)[0].readings == 10


@pytest.mark.parametrize(
    ("expect", "why"),
    [
        ("{exception: X40, day: 2026-03-09, readings: 1}", "names no exception"),
        ("{exception: X41, cause: L-1, day: 2026-03-09, readings: 1}", "no expectation names it"),
        ("{exception: X40, cause: L-1, day: 2026-03-09, count: 1}", "says 'count'"),
    ],
)
def test_a_fault_that_says_not_what_must_be_found_is_refused(tmp_path: Path, expect: str, why: str) -> None:
    """A fault nobody could check is no planted fault."""
    path = tmp_path / "X40-made.yaml"
    path.write_text(f"scenario: X40\ntitle: made\nevents: []\nexpect:\n  - {expect}\n", encoding="utf-8")

    with pytest.raises(ScenarioRefused, match=why):
        wanted(read_faults(tmp_path), [])
