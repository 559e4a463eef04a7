"""The blind, mixed order in which a kiosk asks for the pieces of a gauge study.

Owns the rule of the order alone (AIAG MSA 4th edition, III; decision 0064).
Knows no page, no screen and no figure; what the readings come to is the consolidator's.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from kiosk.errors import StudyRefused


@dataclass(frozen=True)
class Turn:
    """One measurement asked for at the kiosk. The appraiser is shown the place in the tray and nothing else."""

    number: int
    trial: int
    appraiser: str
    place: int
    """Numbered place in the tray of this round; pieces change places between rounds, so nobody knows one again."""
    part: str
    """For the study's leader, who lays the tray; never shown to the appraiser."""


def collection_order(parts: Sequence[str], appraisers: Sequence[str], trials: int, seed: str) -> tuple[Turn, ...]:
    """Blind, mixed order for a study: every appraiser measures every part once in each round.

    In each round the pieces lie at other places of the tray, and each appraiser takes the places in an own order,
    never beginning a round with the piece that ended the round before.
    The same seed gives the same order on any machine; draw it once and keep it with the study.

    Raises:
        StudyRefused: fewer than 2 parts, 1 appraiser or 1 trial, or a name twice.
    """
    has_twins = len(set(parts)) < len(parts) or len(set(appraisers)) < len(appraisers)
    if has_twins or len(parts) < 2 or len(appraisers) < 1 or trials < 1:
        raise StudyRefused(
            "No order of collection was made.",
            why=f"{len(parts)} parts, {len(appraisers)} appraisers and {trials} trials were given.",
            next_step="Give at least 2 parts, 1 appraiser and 1 trial, each name once.",
        )
    turns: list[Turn] = []
    last: dict[str, str] = {}
    for trial in range(1, trials + 1):
        places = {part: place for place, part in enumerate(_mixed(parts, f"{seed}/tray/{trial}"), start=1)}
        for appraiser in _mixed(appraisers, f"{seed}/people/{trial}"):
            order = _mixed(parts, f"{seed}/{trial}/{appraiser}")
            if order[0] == last.get(appraiser):
                order = [*order[1:], order[0]]
            last[appraiser] = order[-1]
            for part in order:
                turns.append(
                    Turn(number=len(turns) + 1, trial=trial, appraiser=appraiser, place=places[part], part=part)
                )
    return tuple(turns)


def _mixed(names: Sequence[str], seed: str) -> list[str]:
    """Names in an order that looks random and depends on the seed alone, on any machine and version."""
    return sorted(names, key=lambda name: hashlib.sha256(f"{seed}/{name}".encode()).digest())
