"""What comes in from the kiosks: packets checked, each page counted once, original bytes kept for ever.

Owns the plant's `intake/` folder.
Must not know how a reading is judged.
"""
