"""Who was qualified as what at a minute, and whose second signature counts (job titles as the lists call them)."""

from collections.abc import Iterable

from kiosk.lists import Qualification
from kiosk.lists.words import Level
from kiosk.pages.desk import SecondSignature
from tests.oracle.night import ActAt, Night
from tests.oracle.times import text_ms

QUALITY = frozenset({Level.DISPOSITION, Level.QUALITY_MANAGER})
CALIBRATION = frozenset({Level.CALIBRATOR, Level.QUALITY_MANAGER})
MEASURING = frozenset({Level.OPERATOR, Level.TRAINER, Level.INSPECTOR, Level.FIRST_PIECE, Level.CALIBRATOR})
"""Levels that may take readings alone; a trainee needs a countersign."""


def has_level(night: Night, person: str | None, levels: Iterable[Level], ms: int, operation: str | None = None) -> bool:
    """True when a person of the plant held one of the levels at a moment; for an operation, or for whichever."""
    wanted = set(levels)
    known = None if person is None else night.lists.person(person)
    if known is None or (known.left_at is not None and text_ms(known.left_at) <= ms):
        return False
    return any(
        row.person == person
        and row.level in wanted
        and (operation is None or row.operation in ("*", operation))
        and begins(night, row, ms)
        and not has_lapsed(night, row, ms)
        for row in night.lists.qualifications
    )


def begins(night: Night, row: Qualification, ms: int) -> bool:
    """True when a row of the list stands at a moment, lapsed or not."""
    is_known = row.in_force_from is None or text_ms(row.in_force_from) <= ms
    return is_known and row.valid_from <= night.local_date(ms)


def has_lapsed(night: Night, row: Qualification, ms: int) -> bool:
    """True from the day after the until-date on."""
    return row.valid_until is not None and night.local_date(ms) > row.valid_until


def second_of(
    night: Night, first: ActAt, levels: tuple[frozenset[Level], frozenset[Level]], barred: frozenset[str] = frozenset()
) -> ActAt | None:
    """Return the second signature that makes an act work: another person with authority, not before the first."""
    if first.signer in barred or not has_level(night, first.signer, levels[0], first.ms):
        return None
    for act in seconds_of(night, first):
        is_other = act.signer != first.signer and act.signer not in barred
        if is_other and act.ms >= first.ms and has_level(night, act.signer, levels[1], act.ms):
            return act
    return None


def seconds_of(night: Night, first: ActAt) -> list[ActAt]:
    """Return every second signature under an act, whoever signed it, oldest first."""
    return [act for act, second in night.of(SecondSignature) if second.of == first.page.ref]
