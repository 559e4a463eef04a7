"""The table of exception kinds as data."""

import pytest

from consolidator.rules import JUDGED, KINDS, LATE_RULES, RULES
from consolidator.rules.kinds import Effect, Hold

THIS_VERSION = (
    [f"X{n:02d}" for n in (1, 2, 3, 4, 13, 14, 15, 16, 17, 18, 19, 20, 22)]
    + [f"X{n}" for n in (23, 24, 25, 26, 27, 28, 29, 30, 31, 32, 33, 34, 35, 37, 40, 41, 44, 45, 46, 47, 49, 50, 51)]
    + [f"X{n}" for n in range(70, 79)]
)


def test_all_84_kinds_stand_in_the_table_in_order() -> None:
    """X01 to X84, none missing."""
    assert list(KINDS) == [f"X{n:02d}" for n in range(1, 85)]


def test_every_kind_of_this_version_has_a_function() -> None:
    """What the reference says is looked for is looked for."""
    assert set(THIS_VERSION) <= JUDGED


def test_every_rule_declares_what_it_must_see_whole() -> None:
    """A night may be cut along anything a rule does not need undivided."""
    allowed = {"gauge", "lot", "set-up", "person", "kiosk", "station", "reading", "master"}
    assert {rule.partition for rule in RULES} | {KINDS[rule.number].partition for rule in LATE_RULES} <= allowed


@pytest.mark.parametrize("number", ["X01", "X03", "X16", "X33", "X44", "X53", "X76"])
def test_kinds_that_take_the_evidence_away_block(number: str) -> None:
    """3.3.1: identity, soundness, fitness or authority is missing."""
    assert KINDS[number].effect is Effect.BLOCKED


def test_a_tag_or_a_kind_for_the_record_holds_nothing() -> None:
    """Urgency D never holds a lot."""
    assert all(kind.hold is Hold.NO for kind in KINDS.values() if kind.urgency == "D")
