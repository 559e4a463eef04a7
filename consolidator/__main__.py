"""`python -m consolidator …`, also installed as the command `consolidator`."""

import sys

from consolidator.cli import main

if __name__ == "__main__":
    sys.exit(main())
