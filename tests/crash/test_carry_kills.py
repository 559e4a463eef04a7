"""kill -9 of a carrying kiosk and of the intake it carries to, at any moment."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
KILLS = 25


@pytest.mark.crash
@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_killed_anywhere_nothing_acknowledged_is_lost_and_nothing_doubled(tmp_path: Path, seed: int) -> None:
    """75 real kills of both sides; what is acknowledged is held, every page is held once, as it was kept."""
    often = {"CONSOLIDATOR_INTAKE_SCREEN_EVERY_S": "0.02"}
    command = [sys.executable, "-m", "tests.crash.carry_kills", str(tmp_path), str(seed), str(KILLS)]

    done = subprocess.run(
        command, cwd=ROOT, env={**os.environ, **often}, capture_output=True, text=True, check=False, timeout=110
    )

    assert done.returncode == 0, done.stdout[-2_000:] + done.stderr[-4_000:]
    killed = json.loads(done.stdout.splitlines()[-1])
    assert killed["server"] + killed["kiosk"] >= KILLS
    assert min(killed.values()) >= 1, "one side was never killed at work"
