"""The house's own rules: types, style, import directions, documents that are made by commands."""
