"""Tests of the book on disk."""
