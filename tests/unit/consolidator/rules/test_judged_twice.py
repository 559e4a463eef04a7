"""The station's judge and close of day are two programs; on the same reading and lists they must say the same.

Neither is the measure of the other: where they differ, one of them is wrong, and the reading is printed.
"""

from collections import Counter

import pytest
from hypothesis import HealthCheck, Phase, given, seed, settings

from tests.unit.consolidator.held_builder import HeldBuilder
from tests.unit.consolidator.rules.judged_twice import BOTH_KNOW, NEXT, said_at_close, said_at_station, why_apart
from tests.unit.consolidator.rules.judged_twice_readings import Drawn, nights, readings

_SLOW = (HealthCheck.too_slow, HealthCheck.data_too_large)
_PARTS = 4
_NIGHTS = 13
_READINGS = 2_000
"""Readings of one night; parts x nights x readings is what one run compares: 104 000."""


def _apart(drawn: Drawn, count: int) -> tuple[list[str], Counter[str]]:
    """Judge a night twice; return how the two differ, and how often each kind and verdict was met."""
    lists, said = drawn.lists(), {}
    builder = HeldBuilder(lists)
    for at, told in readings(drawn, lists, count):
        fields = {name: value for name, value in told.items() if name != "keyed"}
        said[builder.reading(at, told["keyed"], **fields)] = (at, told, said_at_station(lists, at, told))
    close = said_at_close(builder.close(*NEXT))
    met: Counter[str] = Counter()
    differences = []
    for page, (at, told, station) in said.items():
        met.update([*close[page].kinds, close[page].verdict, close[page].standing])
        why = why_apart(told, station, close[page])
        differences += [f"{why}: {at} {told}"] if why else []
    return differences, met


@settings(max_examples=40, derandomize=True, deadline=None, database=None, suppress_health_check=_SLOW)
@given(drawn=nights())
def test_station_and_close_say_the_same_of_a_few_readings(drawn: Drawn) -> None:
    """3.3.8: same verdict, kinds and standing; what differs is made as small as can be before it is printed."""
    differences, _ = _apart(drawn, 15)

    assert differences == []


@pytest.mark.slow
@pytest.mark.parametrize("part", range(_PARTS))
def test_station_and_close_say_the_same_of_a_hundred_thousand_readings(part: int) -> None:
    """3.3.8, 3.9: drawn the same way each run, so that a red run is never luck; every kind both know is met."""
    seen, met = 0, Counter[str]()

    @seed(part)
    @settings(
        max_examples=_NIGHTS,
        deadline=None,
        database=None,
        phases=(Phase.generate,),
        suppress_health_check=_SLOW,
    )
    @given(drawn=nights())
    def judge_twice(drawn: Drawn) -> None:
        nonlocal seen
        differences, kinds = _apart(drawn, _READINGS)
        met.update(kinds)
        seen += _READINGS
        assert differences[:5] == []

    judge_twice()

    assert seen >= 100_000 // _PARTS
    assert sorted(BOTH_KNOW - set(met)) == []
