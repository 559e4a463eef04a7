"""Tests of the consolidator's commands."""
