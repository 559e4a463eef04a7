"""Close of day and the oracle say the same of random small plants: verdict, standing, exceptions, and all the rest."""

from pathlib import Path

import pytest

from consolidator.rules import JUDGED as JUDGED_AT_CLOSE
from tests.oracle.compare import Compared, compare
from tests.oracle.judge import JUDGED
from tests.oracle.plants import make_plant

_SEEDS = [int(line) for line in (Path(__file__).parent / "seeds.txt").read_text().split() if line.isdigit()]
_PLANTS = 300
"""Random plants a run, beside the seeds that are kept; always the same, `python -m tests.oracle` draws fresh ones."""
_BATCH = 50


def _told(seen: list[Compared]) -> str:
    return "\n".join(f"seed {each.seed}: {line}" for each in seen for line in each.differences[:5])


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(_PLANTS // _BATCH))
def test_plants_are_judged_alike(batch: int) -> None:
    """Zero differences; a seed that shows one is printed, and goes into seeds.txt with its repair."""
    seen = [compare(make_plant(batch * _BATCH + place)) for place in range(_BATCH)]

    assert _told([each for each in seen if each.differences]) == ""


@pytest.mark.slow
def test_kept_seeds_are_judged_alike_and_meet_every_kind() -> None:
    """Seeds that once showed a difference stay; together they meet every kind that both look for."""
    seen = [compare(make_plant(seed)) for seed in _SEEDS]

    assert _told([each for each in seen if each.differences]) == ""
    met = {kind.removesuffix(" tag") for each in seen for kind in each.kinds}
    assert sorted((JUDGED & JUDGED_AT_CLOSE) - met) == []


def test_the_same_seed_makes_the_same_plant() -> None:
    """A seed that is printed can be looked at again."""
    one, other = make_plant(7), make_plant(7)

    assert one.held.readings.equals(other.held.readings)
    assert (one.held.acts, one.lists, one.at_utc) == (other.held.acts, other.lists, other.at_utc)
