"""Unit tests of the kiosk."""
