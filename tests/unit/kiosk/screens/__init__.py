"""Tests of the kiosk's screens without a browser."""
