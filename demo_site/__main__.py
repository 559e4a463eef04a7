"""`python3 -m demo_site`: makes everything ready on a bare machine and shows the whole job on an invented plant.

Standard library only until the environment stands; what is shown is in `demo_site/show.py`.
"""

import sys

from demo_site.ready import NotReady, run_ready


def main() -> int:
    """Make ready and show; return 0 when what was planted was found and nothing else, 1 when not, 2 not ready."""
    try:
        return run_ready("demo_site.show", sys.argv[1:])
    except NotReady as told:
        print(told, file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main())
