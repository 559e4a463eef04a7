"""Figures from many readings: conformity, charts, capability, gauge studies, sampling plans, gauges and intervals."""
