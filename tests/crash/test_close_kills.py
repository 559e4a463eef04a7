"""kill -9 while a day's ledger is written or sealed, at any moment."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
KILLS = 30


@pytest.mark.crash
@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_killed_anywhere_every_day_stands_whole_and_sealed_days_never_change(tmp_path: Path, seed: int) -> None:
    """90 real kills: a reader always finds one whole book, never an older one, and sealed days byte for byte."""
    command = [sys.executable, "-m", "tests.crash.close_kills", str(tmp_path), str(seed), str(KILLS)]

    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, timeout=110)

    assert done.returncode == 0, done.stdout[-2_000:] + done.stderr[-4_000:]
    told = json.loads(done.stdout.splitlines()[-1])
    assert told["kills"] >= KILLS
    assert min(told["seals"], told["torn"], told["new"]) >= 1
