"""The QC room: dispositions, releases, corrections, lots and exceptions, each act a page of the desk's book.

Must not know a screen.
"""
