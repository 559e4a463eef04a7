"""The day's ledger: on disk, on its front sheet, sealed, checked and exported.

Takes closed days as `consolidator.close` makes them, and judges nothing itself.
"""
