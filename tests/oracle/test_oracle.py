"""Close of day and the oracle say the same of random small plants: verdict, standing, exceptions, and all the rest."""

from pathlib import Path

import pytest

from consolidator.lookback import FINDINGS
from tests.oracle.compare import BOTH, Compared, compare
from tests.oracle.plants import Plant, make_plant

_LINES = (Path(__file__).parent / "seeds.txt").read_text().splitlines()
_KEPT = [line for line in _LINES if not line.startswith("#")]
_PLANTS = 300
"""Random plants a run, beside the seeds that are kept; always the same, `python -m tests.oracle` draws fresh ones."""
_BATCH = 50


def _told(seen: list[Compared]) -> str:
    return "\n".join(f"plant {each.plant}: {line}" for each in seen for line in each.differences[:5])


@pytest.mark.slow
@pytest.mark.parametrize("batch", range(_PLANTS // _BATCH))
def test_plants_are_judged_alike(batch: int) -> None:
    """Zero differences; a plant that shows one is printed, and goes into seeds.txt with its repair."""
    seeds = range(batch * _BATCH, (batch + 1) * _BATCH)
    seen = [compare(make_plant(seed, is_troubled=seed % 2 == 1)) for seed in seeds]

    assert _told([each for each in seen if each.differences]) == ""


@pytest.mark.slow
def test_kept_plants_are_judged_alike_and_meet_every_kind_and_finding() -> None:
    """Plants that once showed a difference stay; together they meet every kind that both look for."""
    seen = [compare(Plant.named(name)) for name in _KEPT]

    assert _told([each for each in seen if each.differences]) == ""
    met = {kind.removesuffix(" tag") for each in seen for kind in each.kinds}
    assert sorted(BOTH - met) == []
    assert {finding for each in seen for finding in each.findings} == {str(finding) for finding in FINDINGS}


@pytest.mark.parametrize("name", ["7", "7t"])
def test_the_same_name_makes_the_same_plant(name: str) -> None:
    """A plant that is printed can be looked at again."""
    one, other = Plant.named(name), Plant.named(name)

    assert one.held.readings.equals(other.held.readings)
    assert (one.held.acts, one.lists, one.at_utc) == (other.held.acts, other.lists, other.at_utc)
