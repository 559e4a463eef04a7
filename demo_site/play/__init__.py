"""Plays events through the real path, as scenario files and the demo plant tell them."""
