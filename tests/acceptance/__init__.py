"""The whole program as a person meets it."""
