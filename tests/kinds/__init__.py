"""The table of all exception kinds: what each is called, which function finds it, and what shows that it does.

Everything is read from the code and the files; nothing in the table is typed by hand.
"""
