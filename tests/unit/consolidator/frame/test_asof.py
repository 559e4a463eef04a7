"""Histories looked up for many rows at once, held to a plain look through the list."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from consolidator.frame.asof import EVER, Steps

CODES = st.integers(-1, 5)
TIMES = st.one_of(st.integers(-5, 5), st.integers(-(2**44), 2**44), st.integers(-(2**60), 2**60))
STEP = st.tuples(st.integers(0, 5), st.one_of(TIMES, st.just(EVER)))


def _plain(steps: list[tuple[int, int]], code: int, ms: int) -> int:
    """Return the place of the step that stands, by looking at each: the latest not after `ms`, the later given wins."""
    best = -1
    for place, (each, at) in enumerate(steps):
        if each == code and at <= ms and (best < 0 or at >= steps[best][1]):
            best = place
    return best


@given(st.lists(STEP, max_size=12), st.lists(st.tuples(CODES, TIMES), min_size=1, max_size=12))
def test_the_step_that_stands_is_the_latest_not_after(
    steps: list[tuple[int, int]], rows: list[tuple[int, int]]
) -> None:
    """Wide clocks and equal times included: the same as a plain look through the list."""
    history = Steps.of([code for code, _ in steps], [ms for _, ms in steps])
    codes, times = (np.array([row[at] for row in rows], np.int64) for at in (0, 1))

    found = history.at(codes, times)

    assert found.tolist() == [_plain(steps, code, ms) for code, ms in rows]


@given(st.lists(STEP, max_size=12), st.tuples(CODES, TIMES, TIMES))
def test_a_state_differs_inside_a_span_where_a_plain_look_finds_another(
    steps: list[tuple[int, int]], row: tuple[int, int, int]
) -> None:
    """The span is looked at as a whole, not only at its ends."""
    code, low, high = row[0], min(row[1:]), max(row[1:])
    state = np.array([place % 2 for place in range(len(steps))], np.int64)
    history = Steps.of([each for each, _ in steps], [ms for _, ms in steps])
    moments = [low, *(ms for each, ms in steps if each == code and low < ms <= high), high]
    seen = {-1 if (place := _plain(steps, code, ms)) < 0 else int(state[place]) for ms in moments}

    differs = history.differs_between(np.array([code]), (np.array([low]), np.array([high])), state)

    # Of two steps at one moment the first never stood.
    assert differs.tolist() == [len(seen) > 1]


def test_what_comes_after_is_the_next_step_of_the_same_code() -> None:
    """By hand: steps of code 1 at 10 and 20, of code 2 at 15."""
    history = Steps.of([1, 1, 2], [10, 20, 15])

    after = history.after(np.array([1, 1, 1, 2, 3]), np.array([5, 10, 20, 15, 0]))

    assert after.tolist() == [0, 1, -1, -1, -1]
