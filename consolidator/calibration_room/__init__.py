"""The calibration room: calibrations, extensions, movements and states of gauges, and what is due.

Must not know a screen.
"""
