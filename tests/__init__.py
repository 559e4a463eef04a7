"""All tests; `python3 -m tests` makes everything ready and runs them."""
