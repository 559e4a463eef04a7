"""The work at a station, without a screen."""
