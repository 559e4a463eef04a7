"""Tests of the lists in plain files."""
