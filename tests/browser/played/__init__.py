"""Scenario files played through the screens: each act at a station touched, keyed and scanned as a person does it."""
