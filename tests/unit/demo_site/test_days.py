"""Ordinary days are the same from the same seed, and nothing in them is out of the ordinary."""

from collections import defaultdict
from decimal import Decimal
from itertools import groupby, pairwise

import pytest

from demo_site.days import WAYS, in_working_order, ordinary_days
from demo_site.plant import ZONE, demo_lists, part_of
from demo_site.play.scenario import Event
from kiosk.lists import Characteristic
from kiosk.lists.words import SHORTEST_CREDIBLE_S, CharacteristicKind
from kiosk.times import read_plant_time, shift_of

SEED = 7
LISTS = demo_lists()
HALF_PITCH_24_TPI = Decimal("0.866025") / 24
"""60-degree thread, 24 threads per inch: pitch diameter = over wires - 3 x wire + 0.866025 x pitch (rule 3.2.3)."""
WIRES = {"G-301": Decimal("0.02406"), "G-302": Decimal("0.02405")}
MASTERS = {"G-201": Decimal("0.31225"), "G-211": Decimal("0.31225"), "G-221": Decimal("0.37475")}


@pytest.fixture(scope="module")
def whole() -> list[Event]:
    """All events of the whole plant, in working order."""
    return in_working_order(ordinary_days(SEED, is_quick=False))


def _readings(events: list[Event]) -> list[Event]:
    return [event for event in events if event.do == "reading"]


def _figure(gauge: str, keyed: str) -> Decimal:
    """What a keyed figure comes to, reckoned here anew: over wires, or from the master."""
    value = Decimal(keyed)
    if gauge in WIRES:
        return value - 3 * WIRES[gauge] + HALF_PITCH_24_TPI
    return value + MASTERS.get(gauge, Decimal(0))


def _plan_of(event: Event) -> Characteristic:
    wanted = (part_of(event.told["lot"]), event.told["characteristic"])
    return next(row for row in LISTS.characteristics if (row.part, row.number) == wanted)


def test_the_same_seed_gives_the_same_days_and_another_gives_others() -> None:
    """A demo can be played again exactly."""
    first, again, other = (ordinary_days(seed, is_quick=True) for seed in (SEED, SEED, SEED + 1))

    assert first == again
    assert first != other


def test_every_value_lies_inside_its_limits_and_off_the_guard_band(whole: list[Event]) -> None:
    """Ordinary production gives no reject and nothing near a limit that somebody would have to look at."""
    for event in _readings(whole):
        plan, told = _plan_of(event), event.told
        if plan.kind not in (CharacteristicKind.TWO_SIDED, CharacteristicKind.UPPER, CharacteristicKind.LOWER):
            assert set(told["keyed"].split()) <= {"Accept", "1", "1.5", "2"}
            continue
        band, shop = Decimal(plan.guard_band or 0), plan.shop_limit
        for keyed in told["keyed"].split():
            value = _figure(told["gauge"], keyed)
            assert plan.lower is None or value - band > Decimal(plan.lower), event
            assert plan.upper is None or value + band < Decimal(plan.upper), event
            assert shop is None or value <= Decimal(shop), event


def test_every_value_is_a_whole_number_of_least_counts(whole: list[Event]) -> None:
    """Nobody keys what the gauge cannot show."""
    least = {gauge.number: Decimal(gauge.least_count) for gauge in LISTS.gauges if gauge.least_count}

    for event in _readings(whole):
        if event.told["gauge"] in least:
            assert all(Decimal(keyed) % least[event.told["gauge"]] == 0 for keyed in event.told["keyed"].split())


def test_no_eight_readings_in_a_row_are_alike_and_no_average_drifts() -> None:
    """Eight alike (N12) and seven averages in a row rising or falling (X38) would each be out of the ordinary."""
    values: dict[tuple[str, str, str], list[list[Decimal]]] = defaultdict(list)
    in_time = sorted(ordinary_days(SEED, is_quick=False), key=lambda event: event.at)
    for event in _readings(in_time):
        told = event.told
        if not WAYS[told["characteristic"]].words:
            key = (str(event.station), told["characteristic"], part_of(told["lot"]))
            values[key].append([Decimal(keyed) for keyed in told["keyed"].split()])

    for key, samples in values.items():
        alike = max(len(list(same)) for _, same in groupby(value for sample in samples for value in sample))
        means = [sum(sample) / len(sample) for sample in samples]
        ways = [(after > before) - (after < before) for before, after in pairwise(means)]
        drift = max((len(list(same)) for way, same in groupby(ways) if way), default=0)
        assert alike < 8, key
        assert drift < 6, key


def test_pieces_come_no_faster_than_hands_can_measure(whole: list[Event]) -> None:
    """The pace is one that hands keep up (N13)."""
    kinds = {gauge.number: gauge.kind for gauge in LISTS.gauges}

    for event in _readings(whole):
        assert int(event.told["every"].split()[0]) > SHORTEST_CREDIBLE_S.get(kinds[event.told["gauge"]], 0)


def test_nobody_is_at_two_stations_at_once(whole: list[Event]) -> None:
    """One person looks after several stations, one after the other, more than 60 s apart (N9)."""
    places: dict[str | None, list[Event]] = defaultdict(list)
    for event in _readings(whole):
        places[event.person].append(event)

    for of_person in places.values():
        for before, after in pairwise(of_person):
            apart_s = (after.at - before.at).total_seconds()
            assert apart_s > 60 if before.station != after.station else apart_s >= 15


def test_each_shift_badges_in_before_its_first_reading_at_a_station(whole: list[Event]) -> None:
    """No reading bears the name of the shift before."""
    badged: dict[str, tuple[str | None, object]] = {}
    for event in whole:
        if event.do == "badge in":
            badged[str(event.station)] = (event.person, shift_of(event.at, ZONE))
        elif event.do == "reading":
            assert badged[str(event.station)] == (event.person, shift_of(event.at, ZONE))


def test_a_lot_changes_only_after_the_line_was_cleared() -> None:
    """Between two lots at one station stands a changeover with line clearance."""
    at = read_plant_time("2026-03-10 13:00", ZONE)
    told = {"characteristic": "D1", "gauge": "G-101", "keyed": "0.3122"}
    first = Event(at, "reading", "a", "S11", None, told | {"lot": "L-701"}, "")
    second = Event(at.replace(minute=30), "reading", "b", "S11", None, told | {"lot": "L-702"}, "")

    ordered = in_working_order([second, first])

    assert [event.do for event in ordered] == ["badge in", "reading", "changeover", "reading"]
    assert ordered[2].told == {"from": "L-701", "to": "L-702", "line clear": "yes"}
