"""The acceptance run: ten readings on a training lot show that a kiosk answers as it should before it is used.

Owns what the ten are, what must come out, and the screen that guides through them.
It stands beside the screens of the work, which are the ones used every day; it keeps nothing of its own but two pages.
"""

from kiosk.acceptance.guide import AcceptanceScreen, Run
from kiosk.acceptance.kit import Here, Kit, find_kit
from kiosk.acceptance.run import Result, Task, results

__all__ = ["AcceptanceScreen", "Here", "Kit", "Result", "Run", "Task", "find_kit", "results"]
