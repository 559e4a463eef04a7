"""Tests that tear writes and kill processes."""
