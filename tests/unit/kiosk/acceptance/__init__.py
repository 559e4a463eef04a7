"""Tests of kiosk.acceptance."""
