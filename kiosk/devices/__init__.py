"""What is plugged into a kiosk: scanner and number pad as key strokes.

Owns telling a scanner's burst from a person's keys. Must not know what a code or a figure means.
"""

from kiosk.devices.keystrokes import CutShort, Found, Pressed, Scanned, Stroke, Strokes, read_burst

__all__ = ["CutShort", "Found", "Pressed", "Scanned", "Stroke", "Strokes", "read_burst"]
