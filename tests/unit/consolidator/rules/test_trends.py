"""X36 and X38: readings heaped up at a limit, sample averages that drift. Situations and expectations by hand."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

import pytest

from tests.unit.consolidator.held_builder import HeldBuilder, exception_of, held_lots, marks_of, numbers_of
from tests.unit.consolidator.rules.test_checks import at

MIDDLE = (".31210", ".31215", ".31220", ".31225")
"""Values of BC1 (.3120 to .3125) far from both limits, on the grid of G-108, which reads .00005."""


def heaped(builder: HeldBuilder, near: Sequence[str], *, total: int = 200, **also: str) -> list[str]:
    """Add `total` readings 20 s apart from 07:00 on: those in the middle first, then the ones told."""
    keyed = [*(MIDDLE[n % 4] for n in range(total - len(near))), *near]
    begin = datetime(2026, 3, 9, 7, tzinfo=UTC)
    return [
        builder.reading(
            f"{begin + timedelta(seconds=20 * n):%Y-%m-%dT%H:%M:%S}.000-04:00", text, piece=n + 1, sample=n // 5 + 1,
            **also,
        )
        for n, text in enumerate(keyed)
    ]  # fmt: skip


def spread(
    at_limit: int, next_two: int, *, limit: str = ".31250", inner: tuple[str, str] = (".31245", ".31240")
) -> list[str]:
    """Return figures in the cell at the limit and in the next two, mixed so that no two neighbours are alike."""
    cells = [limit] * at_limit, [inner[n % 2] for n in range(next_two)]
    fill = MIDDLE * (at_limit + next_two)
    return [text for pair in zip([*cells[0], *cells[1]], fill, strict=False) for text in pair]


@pytest.mark.parametrize(
    ("at_limit", "next_two", "is_heap"),
    [(10, 0, True), (9, 0, False), (10, 6, True), (10, 7, False), (12, 8, True)],
)
def test_a_heap_needs_ten_and_three_times_the_next_two_cells(at_limit: int, next_two: int, is_heap: bool) -> None:
    """X36: means of the next two cells 0, 0, 3, 3.5 and 4: three times that is 0, 0, 9, 10.5 and 12."""
    builder = HeldBuilder()
    near = spread(at_limit, next_two)
    heaped(builder, near)

    closed = builder.close()

    marked = [row for row in closed.readings.to_pylist() if "X36" in row["exceptions"]]
    assert len(marked) == (at_limit if is_heap else 0)
    assert all(row["value"] == "0.31250" and row["standing"].startswith("Counts") for row in marked)
    assert "X36" not in held_lots(closed).get("L-411", set())


def test_a_heap_is_told_with_its_two_figures() -> None:
    """X36: ten of 200 at .3125, 3 on average in the next two cells."""
    builder = HeldBuilder()
    heaped(builder, spread(10, 6))

    told = exception_of(builder.close(), "X36")

    assert told["cause"] == "B-3124 BC1 at S12"
    assert told["sentence"] == (
        "10 of the last 200 readings of B-3124 BC1 at S12 lie in the cell just inside 0.3125 in, "
        "3 on average in the next two, none outside."
    )


def test_one_reading_in_the_first_cell_outside_shows_that_nobody_shies_from_the_limit() -> None:
    """X36: .31255 is out and was written down: no heap; .31265 lies in another cell and says nothing."""
    for outside, is_heap in ((".31255", False), (".31265", True)):
        builder = HeldBuilder()
        heaped(builder, [*spread(10, 0), outside, ".31220"])

        assert ("X36" in numbers_of(builder.close())) is is_heap


def test_a_heap_at_the_lower_limit_is_one_too() -> None:
    """X36: the limit .3120 belongs to the cell .31200 up to but not including .31205."""
    builder = HeldBuilder()
    near = spread(10, 2, limit=".31200", inner=(".31205", ".31225"))
    heaped(builder, [text.replace(".31210", ".31230") for text in near])
    for row in builder.rows:
        row["keyed"] = row["keyed"].replace(".31210", ".31230")

    closed = builder.close()

    assert "just inside 0.312" in exception_of(closed, "X36")["sentence"]


def test_fewer_than_two_hundred_readings_are_no_heap() -> None:
    """X36 looks at the last 200; of 199 nothing is said."""
    builder = HeldBuilder()
    heaped(builder, spread(12, 0), total=199)

    assert "X36" not in numbers_of(builder.close())


def test_readings_of_earlier_days_are_counted_with_those_of_the_day() -> None:
    """X36: 195 readings on 9 March with nine at the limit, five on 10 March with one more: ten in the last 200."""
    builder = HeldBuilder()
    heaped(builder, spread(9, 0), total=195)
    late = [
        builder.reading(at(f"08:0{n}", 10), text, piece=n, sample=90)
        for n, text in enumerate((".31220", ".31250", ".31215", ".31225", ".31210"), 1)
    ]

    first = builder.close()
    second = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))

    assert "X36" not in numbers_of(first)
    assert ["X36" in marks_of(second, page) for page in late] == [False, True, False, False, False]


def test_a_heap_looked_at_is_not_raised_again_within_a_week() -> None:
    """X36 is weekly: closed on 10 March on ten pieces measured again; the same 200 readings say nothing more then."""
    builder = HeldBuilder()
    heaped(builder, spread(10, 0))
    late = builder.reading(at("08:00", 10), ".31250", piece=1, sample=90)
    told = {"kind": "exception close", "exception": "X36:B-3124 BC1 at S12:2026-03-09", "reason": "measured again"}
    builder.act(at("07:00", 10), told | {"evidence": [late]}, person="P-104")

    closed = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))

    assert exception_of(closed, "X36")["state"] == "closed"
    assert "once a week" in exception_of(closed, "X36")["closed_why"]


def sampled(builder: HeldBuilder, samples: Sequence[Sequence[str]], *, hour: int = 7, **also: str) -> list[list[str]]:
    """Add samples of BC1 ten minutes apart."""
    begin = datetime(2026, 3, 9, hour, tzinfo=UTC)
    return [
        [
            builder.reading(
                f"{begin + timedelta(minutes=10 * n, seconds=20 * piece):%Y-%m-%dT%H:%M:%S}.000-04:00", text,
                sample=n + 1, piece=piece + 1, **also,
            )
            for piece, text in enumerate(keyed)
        ]
        for n, keyed in enumerate(samples)
    ]  # fmt: skip


RISING = [[".31205", f".312{n:02d}"] for n in range(10, 80, 5)]
"""Averages .312075, .312100, … each above the one before; the second figure is .31210, .31215, …"""


@pytest.mark.parametrize(("count", "drift"), [(6, False), (7, True), (8, True)])
@pytest.mark.parametrize("is_falling", [False, True])
def test_seven_sample_averages_in_a_row_rising_or_falling_are_a_drift(
    count: int, is_falling: bool, drift: bool
) -> None:
    """X38: six are none; of seven or more every reading is flagged."""
    builder = HeldBuilder()
    samples = RISING[:count]
    pages = sampled(builder, samples[::-1] if is_falling else samples)

    closed = builder.close()

    assert {("X38" in marks_of(closed, page)) for sample in pages for page in sample} == {drift}
    if drift:
        way = "falling" if is_falling else "rising"
        assert exception_of(closed, "X38")["sentence"] == (
            f"{count} sample averages of B-3124 BC1 at S12 in a row are {way} (from 7 on)."
        )
        assert exception_of(closed, "X38")["urgency"] == "D"


def test_an_average_equal_to_the_one_before_ends_the_run() -> None:
    """X38: of eight averages the fifth equals the fourth: four and four."""
    builder = HeldBuilder()
    sampled(builder, [*RISING[:4], RISING[3], *RISING[4:7]])

    assert "X38" not in numbers_of(builder.close())


def test_averages_are_compared_exactly_however_many_pieces_a_sample_has() -> None:
    """X38: 1/3 of .93661 is .31220333…, just above .31220 and just below .31221: a rise both times."""
    builder = HeldBuilder()
    third = [".31220", ".31220", ".31221"]
    samples = [[".31217"], [".31218"], [".31219"], [".31220"], third, [".31221"], [".31222"]]
    pages = sampled(builder, samples)

    assert all("X38" in marks_of(builder.close(), page) for page in pages[4])


def test_a_drift_goes_on_through_lots_and_over_the_border_of_a_day() -> None:
    """X38: four samples of L-411 on 9 March, three of L-412 on 10 March: those of 10 March are flagged then."""
    builder = HeldBuilder()
    sampled(builder, RISING[:4])
    late = [
        builder.reading(at(f"07:{10 * n:02d}", 10), text, sample=n + 1, piece=1, lot="L-412")
        for n, text in enumerate((".3123", ".3124", ".3125"))
    ]

    first = builder.close()
    second = builder.close(date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))

    assert "X38" not in numbers_of(first)
    assert all("X38" in marks_of(second, page) for page in late)


def test_set_up_pieces_and_other_stations_are_no_part_of_a_drift() -> None:
    """X38: the fourth of seven samples is of set-up pieces, or was taken at another station: six in a row."""
    for also in ({"sample_kind": "set-up piece"}, {"station": "S13"}):
        builder = HeldBuilder()
        sampled(builder, RISING[:7])
        for row in builder.rows[6:8]:
            row.update(also)

        assert "X38" not in numbers_of(builder.close())
