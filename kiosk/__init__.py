"""The program at a station: it records readings and must be able to work quite alone."""
