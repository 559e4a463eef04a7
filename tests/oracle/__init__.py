"""A third judge of a whole production day: slow, plain Python, written from the rules alone.

It looks at one reading at a time, in exact fractions, with no frames and no tables, and shares nothing with the
stations' judge nor with the rooms of close of day: only pages, lists and times.
Where it and close of day differ, one of them is wrong; `tests/oracle/found` keeps what was found.
"""
