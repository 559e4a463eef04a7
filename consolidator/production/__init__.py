"""What was done on the floor with set-ups and lots: set-ups and their proofs, pieces worked on again, counts.

Owns the lives of set-ups and lots as their pages tell them. Tells which readings match and why; knows no exception
kinds.
"""
