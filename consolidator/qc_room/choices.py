"""What may be done with pieces that do not conform or readings in doubt: only the legal choices, by what is wrong.

Owns the table, pure. Nothing outside it is ever offered or accepted, whatever sends it.
For an external rolled thread it names no way back: chased, re-rolled or filed pieces are never made good.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from consolidator.rules import KINDS
from kiosk.lists import Characteristic
from kiosk.lists.words import Feature
from kiosk.pages.words import Choice

TRIED_ON_THREAD: Final = (Choice.REWORK, Choice.RE_TAP, Choice.RETURN)
"""Choices whose trying on an external rolled thread is X62."""


@dataclass(frozen=True)
class PlanAllows:
    """What the plan says of pieces out of tolerance; the lists cannot say it yet, so the caller tells it."""

    by_rework: bool = False
    """Re-grind, re-face or re-roll the fillet, as the plan words it for this characteristic."""
    sort_by_tester: bool = False
    """Every piece may be put under the hardness tester."""
    engineering_instruction: str = ""
    """Number of the engineering instruction without which hardness is never touched."""
    retest_rule: str = ""
    """The specification's own rule for a re-test, by its clause."""


@dataclass(frozen=True)
class Problem:
    """What is wrong: the exceptions that touch the readings, and what is known of the pieces."""

    exceptions: tuple[str, ...] = ()
    re_taps_so_far: int = 0
    are_pieces_bad: bool = False
    """True when the pieces at hand are known to be bad, so that sorting or measuring them again ends nothing."""
    is_oversize: bool | None = None
    """For a ground diameter: over or under its limits; none when it is not told."""
    is_before_rolling: bool = False
    """True while neither fillet nor thread of these pieces was rolled."""
    is_asked_by_manager: bool = False
    """True when the quality manager asks, who alone may turn to the design organisation."""


@dataclass(frozen=True)
class Offer:
    """One legal choice, with what must be told beside it."""

    choice: Choice
    note: str = ""
    cautions: tuple[int, ...] = ()
    needs_two: bool = False


def choices_for(
    characteristic: Characteristic | None, problem: Problem, plan: PlanAllows | None = None, *, re_taps_allowed: int = 1
) -> tuple[Offer, ...]:
    """Return the legal choices, most certain first; none of them is advice.

    Readings with nothing but evidence problems may be measured again or released by two; pieces are not touched.
    """
    allowed = plan or PlanAllows()
    if is_evidence_only(problem.exceptions):
        return _for_evidence(problem)
    feature = Feature.OTHER if characteristic is None else characteristic.feature
    offers = list(_BY_FEATURE[feature](problem, allowed, re_taps_allowed))
    if problem.are_pieces_bad:
        offers = [offer for offer in offers if offer.choice not in (Choice.SORT, Choice.RE_MEASURE)]
    if "X71" in problem.exceptions:
        offers.append(Offer(Choice.ACCEPT_LATE))
    if problem.is_asked_by_manager:
        offers.append(Offer(Choice.USE_AS_IS, "a request to the design organisation, off the kiosk", (16,), True))
    return tuple(offers)


def is_evidence_only(exceptions: Iterable[str]) -> bool:
    """True when all exceptions are evidence problems (X01–X22, X53–X54, X58–X61, X65–X67, X74), and there is one."""
    told = tuple(exceptions)
    return bool(told) and all(number in KINDS and KINDS[number].may_be_released for number in told)


def _for_evidence(problem: Problem) -> tuple[Offer, ...]:
    offers = [
        Offer(Choice.RE_MEASURE, "the old value is not shown"),
        Offer(Choice.RELEASE, "on fresh evidence", (6,), needs_two=True),
    ]
    if {"X53", "X54"} & set(problem.exceptions):
        offers.append(Offer(Choice.VOID_APPROVAL))
    return tuple(offers)


def _scrap(*more: int, note: str = "", needs_two: bool = False) -> Offer:
    return Offer(Choice.SCRAP, note or "count, method and witness", (*more, 8), needs_two)


def _look_again() -> list[Offer]:
    return [Offer(Choice.SORT), Offer(Choice.RE_MEASURE, "the old value is not shown")]


def _external_thread(problem: Problem, plan: PlanAllows, re_taps: int) -> list[Offer]:
    return [_scrap(7), *_look_again()]


def _fillet(problem: Problem, plan: PlanAllows, re_taps: int) -> list[Offer]:
    rolled = [Offer(Choice.REWORK, "roll the fillet again as the plan says; never cut it again")]
    return [_scrap(), *(rolled if plan.by_rework else []), *_look_again()]


def _ground_diameter(problem: Problem, plan: PlanAllows, re_taps: int) -> list[Offer]:
    # Undersize cannot be put back, and after rolling the blank must not be ground again.
    may_grind = plan.by_rework and problem.is_oversize is True and problem.is_before_rolling
    ground = [Offer(Choice.REWORK, "grind again as the plan says, before any rolling")] if may_grind else []
    return [_scrap(), *ground, *_look_again()]


def _hardness(problem: Problem, plan: PlanAllows, re_taps: int) -> list[Offer]:
    offers = [_scrap(14)]
    if plan.engineering_instruction:
        note = f"only by engineering instruction {plan.engineering_instruction}"
        offers.append(Offer(Choice.REWORK, note, (14,)))
    if plan.sort_by_tester:
        offers.append(Offer(Choice.SORT, "by tester, as the plan says"))
    return [*offers, Offer(Choice.RE_MEASURE, "the old value is not shown")]


def _tapped_thread(problem: Problem, plan: PlanAllows, re_taps: int) -> list[Offer]:
    tapped = [Offer(Choice.RE_TAP, "then every piece: GO, NOT GO and face runout", (9,))]
    return [_scrap(), *(tapped if problem.re_taps_so_far < re_taps else []), *_look_again()]


def _face_runout(problem: Problem, plan: PlanAllows, re_taps: int) -> list[Offer]:
    faced = [Offer(Choice.REWORK, "face again as the plan says")] if plan.by_rework else []
    return [_scrap(), *faced, *_look_again()]


def _strength(problem: Problem, plan: PlanAllows, re_taps: int) -> list[Offer]:
    offers = [_scrap(note="lot decision of quality manager and engineering", needs_two=True)]
    if plan.retest_rule:
        note = f"only by {plan.retest_rule}; never until it passes"
        offers.append(Offer(Choice.RE_MEASURE, note, needs_two=True))
    return offers


def _other(problem: Problem, plan: PlanAllows, re_taps: int) -> list[Offer]:
    again = [Offer(Choice.REWORK, "to the drawing, as the plan says")] if plan.by_rework else []
    return [_scrap(), *again, *_look_again(), Offer(Choice.RETURN)]


_BY_FEATURE: Final = {
    Feature.EXTERNAL_ROLLED_THREAD: _external_thread,
    Feature.FILLET: _fillet,
    Feature.GROUND_DIAMETER: _ground_diameter,
    Feature.HARDNESS: _hardness,
    Feature.TAPPED_THREAD: _tapped_thread,
    Feature.FACE_RUNOUT: _face_runout,
    Feature.STRENGTH: _strength,
    Feature.OTHER: _other,
}
