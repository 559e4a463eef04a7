"""Screw threads: from a designation to every limit its standard gives; values in, values out."""
