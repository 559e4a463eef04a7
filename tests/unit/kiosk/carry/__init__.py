"""Tests of carry."""
