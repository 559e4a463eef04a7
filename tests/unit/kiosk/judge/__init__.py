"""One reading, judged."""
