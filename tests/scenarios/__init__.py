"""Scenarios: readable files played through the real path; docs/reference/scenario-files.md tells their form."""
