"""Yield by the offset method on curves whose answer is known in advance."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kiosk.errors import OutsideTheTable
from kiosk.measure.load_curve import Point, ultimate_load, yield_by_offset


def _curve(slack: str = "0", step: str = "0.0005") -> list[Point]:
    """A curve drawn by hand: straight at 1 000 000 per unit to 8 000, then a fifth as steep, a peak, a fall."""
    points = []
    for index in range(60):
        extension = Decimal(step) * index
        load = extension * 1_000_000
        if load > 8000:
            load = 8000 + (load - 8000) / 5
        points.append(Point(extension + Decimal(slack), min(load, Decimal(11_000))))
    points.append(Point(points[-1].extension + 1, Decimal(9000)))
    return points


@pytest.mark.parametrize("slack", ["0", "0.013"])
def test_yield_is_where_the_curve_meets_the_offset_line(slack: str) -> None:
    """1e6 (x - .002) = 8000 + 2e5 (x - .008) gives x = .0105 and a load of 8 500 (by hand)."""
    found = yield_by_offset(
        _curve(slack), offset=Decimal("0.002"), straight_from=Decimal(1000), straight_to=Decimal(7000)
    )

    assert found.load == 8500
    assert found.extension == Decimal("0.0105") + Decimal(slack)
    assert found.stiffness == 1_000_000
    assert found.zero_extension == Decimal(slack)
    assert found.points_used == 13


def test_ultimate_load_is_the_largest_recorded() -> None:
    """The peak, not the last point."""
    assert ultimate_load(_curve()) == 11_000


@given(st.integers(1, 40), st.integers(1, 40))
def test_a_larger_offset_never_gives_a_smaller_yield(first: int, second: int) -> None:
    """On a rising curve the offset line only moves on."""
    small, large = sorted((first, second))
    loads = [
        yield_by_offset(
            _curve(), offset=Decimal(count) / 10_000, straight_from=Decimal(1000), straight_to=Decimal(7000)
        ).load
        for count in (small, large)
    ]

    assert loads[0] <= loads[1]


@pytest.mark.parametrize(
    ("curve", "offset", "told"),
    [
        ([], "0.002", "0 points"),
        (_curve()[:3], "0.002", "3 points"),
        (_curve()[:12], "0.002", "ends before"),
        (_curve()[:1] + _curve()[16:30], "0.002", "three are the least"),
        ([Point(Decimal(1), Decimal(load)) for load in (1000, 2000, 3000, 4000)], "0.002", "does not rise"),
    ],
)
def test_a_curve_without_an_answer_is_refused(curve: list[Point], offset: str, told: str) -> None:
    """No straight part, too few points or an end before the line: said, never guessed."""
    with pytest.raises(OutsideTheTable) as refusal:
        yield_by_offset(curve, offset=Decimal(offset), straight_from=Decimal(1000), straight_to=Decimal(7000))

    assert told in refusal.value.why


def test_an_empty_curve_has_no_ultimate_load() -> None:
    """Nothing recorded is said so."""
    with pytest.raises(OutsideTheTable):
        ultimate_load([])
