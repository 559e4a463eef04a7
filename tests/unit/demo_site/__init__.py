"""The demo plant: its lists, its ordinary days and its planted faults, before anything is played."""
