"""The fixtures of the desk."""

from tests.unit.consolidator.desk.conftest import deck, small

__all__ = ["deck", "small"]
