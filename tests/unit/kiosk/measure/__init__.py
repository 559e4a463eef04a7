"""Values in, values out."""
