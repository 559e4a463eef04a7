"""Unit tests; they mirror the packages file by file."""
