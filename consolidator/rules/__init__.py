"""One function for each exception kind, over whole frames of readings, in one module for each family.

Owns what is an exception and in which words it is said. Must not know holds, lines or ledgers.
"""

from typing import Final

from consolidator.rules import book, fit, gauge, lots, people, readings, sampling, setups, slips
from consolidator.rules.found import Found, LastRule, LateRule, OpenSpan, Rule, Story
from consolidator.rules.kinds import KINDS, Effect, Family, Hold, Kind

RULES: Final[tuple[Rule, ...]] = (
    *gauge.RULES,
    *fit.RULES,
    *readings.RULES,
    *slips.RULES,
    *lots.RULES,
    *setups.RULES,
    *people.RULES,
    *book.RULES,
)
"""Rules that look at readings one way or another, in a fixed order; none depends on another's outcome."""

LATE_RULES: Final[tuple[LateRule, ...]] = sampling.LATE_RULES
"""Rules that need to know which readings count."""

LAST_RULES: Final[tuple[LastRule, ...]] = lots.LAST_RULES
"""Rules that need to know which exceptions stand open."""

JUDGED: Final = (
    frozenset(rule.number for rule in RULES)
    | frozenset(rule.number for rule in LATE_RULES)
    | frozenset(rule.number for rule in LAST_RULES)
)
"""The exception kinds that close of day looks for."""

__all__ = [
    "JUDGED",
    "KINDS",
    "LAST_RULES",
    "LATE_RULES",
    "RULES",
    "Effect",
    "Family",
    "Found",
    "Hold",
    "Kind",
    "LastRule",
    "LateRule",
    "OpenSpan",
    "Rule",
    "Story",
]
