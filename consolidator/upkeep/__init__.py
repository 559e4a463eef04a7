"""How gauges are kept fit, and what follows for readings when they are not.

Owns zero and day checks, the masters they are made on, how far back a failed check or a drop reaches, wear checks,
the room of a calibration and the due list. Tells which readings match and why; knows no exception kinds.
"""
