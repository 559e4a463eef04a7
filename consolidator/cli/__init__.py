"""The commands of the consolidator: each tells a room what is wanted and prints what it answers.

Owns words on the command line, exit codes and tables in the terminal. Holds no rule of the trade.
"""

from consolidator.cli.program import app, main

__all__ = ["app", "main"]
