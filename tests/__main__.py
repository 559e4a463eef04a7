"""`python3 -m tests [pytest arguments]`: makes everything ready on a bare machine and runs the tests.

Standard library only until the environment stands.
Without arguments all tests run, those in a browser last and among themselves.
Arguments are handed to pytest as they are.
"""

import os
import shutil
import subprocess
import sys

from demo_site.ready import NotReady, run_ready

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
EVERYTHING = (
    # A file at a time to each core; more than four processes only cost memory.
    ["-n", "auto", "--maxprocesses", "4", "--dist", "loadfile", "-m", "not browser"],
    # Two browsers at once: one waits for its screen while the other draws.
    ["-n", "2", "--dist", "load", "-m", "browser"],
)


def main() -> int:
    """Make ready and run; return pytest's exit code, the worse of two, or 2 when the machine cannot be made ready."""
    arguments = sys.argv[1:]
    if not arguments:
        _find_browser()
    try:
        return max(run_ready("pytest", run, extra="tests") for run in ([arguments] if arguments else EVERYTHING))
    except NotReady as told:
        print(told, file=sys.stderr)
        return 2


def _find_browser() -> None:
    """See that the system's Chromium is there; install it where this may be done, else say what to install."""
    if any(shutil.which(name) for name in BROWSERS):
        return
    may_install = hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get") is not None
    if may_install:
        print("Making ready: the system's Chromium …", flush=True)
        quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        for command in (["apt-get", "update", "-qq"], ["apt-get", "install", "-y", "-qq", "chromium"]):
            subprocess.run(
                command,
                env=quiet,
                check=False,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )
        if any(shutil.which(name) for name in BROWSERS):
            return
    print("No Chromium here: tests in a browser are left out. Install the package 'chromium' to run them too.")


if __name__ == "__main__":
    sys.exit(main())
