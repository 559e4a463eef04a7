"""`python -m kiosk …`, also installed as the command `kiosk`."""

import sys

from kiosk.cli import main

if __name__ == "__main__":
    sys.exit(main())
