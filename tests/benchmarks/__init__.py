"""Measurements run by hand; each prints its figures and judges nothing."""
