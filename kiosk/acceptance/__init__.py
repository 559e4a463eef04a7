"""The acceptance run: ten readings on a training lot show that a kiosk answers as it should before it is used.

Owns what the ten are, what must come out, and the screen that guides through them.
It stands beside the screens of the work, which are the ones used every day; it keeps nothing of its own but where it
begins and who signs.
"""

from kiosk.acceptance.guide import offer
from kiosk.acceptance.kit import Here, Kit, find_kit
from kiosk.acceptance.run import Task
from kiosk.acceptance.under_way import Run

__all__ = ["Here", "Kit", "Run", "Task", "find_kit", "offer"]
