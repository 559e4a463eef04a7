"""Unit tests of charts, capability, gauge studies, sampling, gauges and intervals."""
