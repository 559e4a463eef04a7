"""The program at a station: it records readings and must be able to work quite alone."""

from typing import Final

VERSION: Final = "0.1.0"
"""Version of this program, kept in each power-on page."""
