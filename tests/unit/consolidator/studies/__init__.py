"""Unit tests of gauge studies put together from kiosk pages and printed."""
