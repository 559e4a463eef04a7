"""Which sample a lot needs and what it may show: ISO 2859-1 single plans with switching, and zero-acceptance plans.

Owns code letters, the three master tables with their arrows, the switching rules (ISO 2859-1:1999 clauses 9 and 10),
and the zero-acceptance table of MIL-STD-1916.
The tables are kept as the diagonals they are built on: one letter down and one AQL left holds the same number.
Normal and tightened inspection were compared with print for AQL 0.65 to 15; the reduced table, the ends of the
diagonals and MIL-STD-1916 are from memory: check them against the plant's own copies.
How good a plan is, is `operating_curves`.
"""

from collections.abc import Sequence
from decimal import Decimal
from enum import StrEnum

from pydantic import BaseModel, Field

from consolidator.errors import NotComputed

_AQL_TEXT = """
    0.010 0.015 0.025 0.040 0.065 0.10 0.15 0.25 0.40 0.65 1.0 1.5 2.5
    4.0 6.5 10 15 25 40 65 100 150 250 400 650 1000
"""
AQLS = tuple(Decimal(text) for text in _AQL_TEXT.split())
"""Preferred AQLs in percent nonconforming, above 10 in nonconformities per 100 items (ISO 2859-1 Table 2)."""

LETTERS = "ABCDEFGHJKLMNPQR"
NORMAL_SIZES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000)
REDUCED_SIZES = (2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800)
EXTRA_TIGHTENED = ("S", Decimal("0.025"), 3150, 1)
"""Code letter S, kept for one tightened plan only: letter, AQL, sample size, acceptance number."""


class Level(StrEnum):
    """Inspection levels of ISO 2859-1 Table 1; II unless agreed otherwise."""

    S1 = "S-1"
    S2 = "S-2"
    S3 = "S-3"
    S4 = "S-4"
    I = "I"  # noqa: E741 - the standard's own name
    II = "II"
    III = "III"


class Severity(StrEnum):
    """Normal, tightened or reduced inspection, or inspection stopped until the process is put right."""

    NORMAL = "normal"
    TIGHTENED = "tightened"
    REDUCED = "reduced"
    STOPPED = "stopped"


class Plan(BaseModel, frozen=True):
    """A single sampling plan: how many pieces, and how many of them may fail."""

    sample_size: int = Field(ge=1)
    acceptance_number: int = Field(ge=0)
    code_letter: str
    severity: Severity
    aql: Decimal | None = None
    is_every_piece: bool = False
    """The sample is the whole lot."""
    source: str = "ISO 2859-1"

    @property
    def rejection_number(self) -> int:
        """The lot is not accepted at this number of failing pieces."""
        return self.acceptance_number + 1


class Standing(BaseModel, frozen=True):
    """Where the switching rules stand after the lots so far."""

    severity: Severity = Severity.NORMAL
    recent: tuple[bool, ...] = ()
    """The last lots at this severity, original inspection only, True = accepted; at most five."""
    score: int = 0
    """Switching score, normal inspection only."""
    tightened_failures: int = 0
    """Lots not accepted since tightened inspection began."""
    note: str = ""
    """What changed with the last lot, and why; empty when nothing did."""


_LOT_ENDS = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10000, 35000, 150000, 500000)
_LETTERS_BY_LEVEL = {
    Level.S1: "AAAABBBBCCCCDDD",
    Level.S2: "AAABBBCCCDDDEEE",
    Level.S3: "AABBCCDDEEFFGGH",
    Level.S4: "AABCCDEEFGGHJJK",
    Level.I: "AABCCDEFGHJKLMN",
    Level.II: "ABCDEFGHJKLMNPQ",
    Level.III: "BCDEFGHJKLMNPQR",
}
_ZERO_AT = {Severity.NORMAL: 14, Severity.TIGHTENED: 15, Severity.REDUCED: 14}
"""Letter number + AQL number at which the acceptance number is 0."""
_LADDERS = {
    Severity.NORMAL: (0, None, None, 1, 2, 3, 5, 7, 10, 14, 21, 30, 44),
    Severity.TIGHTENED: (0, None, None, 1, 2, 3, 5, 8, 12, 18, 27, 41),
    Severity.REDUCED: (0, None, None, None, 1, 2, 3, 5, 6, 8, 10, 14, 21),
}
"""Acceptance numbers along the diagonals from there; None is an arrow. The last two hold for letters A to E only."""

_1916_LEVELS = ("T", "VII", "VI", "V", "IV", "III", "II", "I", "R")
_1916_SIZES = {
    "A": (3072, 1280, 512, 192, 80, 32, 12, 5, 3),
    "B": (4096, 1536, 640, 256, 96, 40, 16, 6, 3),
    "C": (5120, 2048, 768, 320, 128, 48, 20, 8, 3),
    "D": (6144, 2560, 1024, 384, 160, 64, 24, 10, 4),
    "E": (8192, 3072, 1280, 512, 192, 80, 32, 12, 5),
}
_1916_LOT_ENDS = (170, 288, 544, 960, 1632, 3072, 5440, 9216, 17408, 30720)


def code_letter(lot_size: int, level: Level = Level.II) -> str:
    """Sample size code letter for a lot (ISO 2859-1 Table 1).

    Raises: NotComputed for a lot of fewer than 2 pieces.
    """
    if lot_size < 2:
        raise NotComputed(
            "No sampling plan was chosen.",
            why=f"A lot of {lot_size} was given; sampling begins with lots of 2.",
            next_step="Inspect the single piece, or give the lot's size.",
        )
    row = sum(lot_size > end for end in _LOT_ENDS)
    return _LETTERS_BY_LEVEL[level][row]


def acceptance_number(letter: str, aql: Decimal, severity: Severity) -> int | None:
    """The number printed in one cell of a master table; None where the cell holds an arrow."""
    row, column = _row(letter), _column(aql)
    # Reduced letters A and B both take two pieces from AQL 25 up, so they share the numbers of normal letter A.
    takes_two = severity is Severity.REDUCED and (row == 0 or (row == 1 and aql >= 25))
    if takes_two:
        row, severity = 0, Severity.NORMAL
    ladder = _LADDERS[severity]
    step = row + column - _ZERO_AT[severity]
    if step < 0 or step >= len(ladder) - (0 if row <= 4 else 2):
        return None
    return ladder[step]


def plan_for_letter(letter: str, aql: Decimal, severity: Severity = Severity.NORMAL) -> Plan:
    """The plan of a code letter and AQL, arrows followed: the sample size is that of the plan the arrow leads to.

    Raises: NotComputed for a letter or AQL the standard does not have, or when inspection is stopped.
    """
    if severity is Severity.STOPPED:
        raise NotComputed(
            "No sampling plan was chosen.",
            why="Inspection is stopped: five lots were not accepted under tightened inspection.",
            next_step="Put the process right; inspection then begins again as tightened.",
        )
    row = _row(letter)
    for at in _path(row, _column(aql), severity):
        if at == len(LETTERS):
            letter, _, size, allowed = EXTRA_TIGHTENED
            return Plan(sample_size=size, acceptance_number=allowed, code_letter=letter, severity=severity, aql=aql)
        found = acceptance_number(LETTERS[at], aql, severity)
        if found is not None:
            sizes = REDUCED_SIZES if severity is Severity.REDUCED else NORMAL_SIZES
            return Plan(
                sample_size=sizes[at], acceptance_number=found, code_letter=LETTERS[at], severity=severity, aql=aql
            )
    raise AssertionError(f"no plan at all for {aql} {severity}")  # pragma: no cover - every column holds a plan


def plan_for_lot(lot_size: int, aql: Decimal, level: Level = Level.II, severity: Severity = Severity.NORMAL) -> Plan:
    """The plan a lot needs by ISO 2859-1; where the sample would be the lot or more, every piece is inspected."""
    return _within_lot(plan_for_letter(code_letter(lot_size, level), aql, severity), lot_size)


def zero_acceptance_letter(lot_size: int, level: str) -> str:
    """Code letter A to E of MIL-STD-1916 Table I for a lot and a verification level I to VII."""
    columns = ("VII", "VI", "V", "IV", "III", "II", "I")
    if level not in columns or lot_size < 2:
        raise NotComputed(
            "No zero-acceptance plan was chosen.",
            why=f"Verification level {level} and a lot of {lot_size} were given.",
            next_step="Give a level from I (loosest) to VII (strictest) and a lot of 2 or more.",
        )
    row = sum(lot_size > end for end in _1916_LOT_ENDS)
    # Letters rise from the second row for level I, and one row later for each stricter level.
    return "ABCDE"[min(4, max(0, row - 6 + columns.index(level)))]


def zero_acceptance_size(letter: str, level: str) -> int:
    """Sample size of MIL-STD-1916 Table II; level T is tightened above VII, level R reduced below I."""
    if letter not in _1916_SIZES or level not in _1916_LEVELS:
        raise NotComputed(
            "No zero-acceptance plan was chosen.",
            why=f"Letter {letter} and level {level} were given.",
            next_step="Give a letter from A to E and a level of T, VII to I, or R.",
        )
    return _1916_SIZES[letter][_1916_LEVELS.index(level)]


def zero_acceptance_plan(lot_size: int, level: str, severity: Severity = Severity.NORMAL) -> Plan:
    """The zero-acceptance plan a lot needs by MIL-STD-1916; tightened is one level stricter, reduced one looser."""
    letter = zero_acceptance_letter(lot_size, level)
    shift = {Severity.TIGHTENED: -1, Severity.REDUCED: 1}.get(severity, 0)
    size = zero_acceptance_size(letter, _1916_LEVELS[_1916_LEVELS.index(level) + shift])
    plan = Plan(
        sample_size=size, acceptance_number=0, code_letter=letter, severity=severity, source="MIL-STD-1916 Table II"
    )
    return _within_lot(plan, lot_size)


def after_lot(standing: Standing, plan: Plan, failing: int, *, is_steady: bool = True) -> Standing:
    """The standing after one lot of original inspection (ISO 2859-1:1999 9.3, 9.4); resubmitted lots do not count.

    is_steady says that production is steady and the responsible authority agrees to reduced inspection.
    The change itself is proposed by this; QC sets it.
    Raises: NotComputed when inspection is stopped.
    """
    if standing.severity is Severity.STOPPED:
        raise NotComputed(
            "The lot was not counted.",
            why="Inspection is stopped: five lots were not accepted under tightened inspection.",
            next_step="Put the process right, then begin again as tightened.",
        )
    is_accepted = failing <= plan.acceptance_number
    recent = (*standing.recent, is_accepted)[-5:]
    if standing.severity is Severity.NORMAL:
        return _after_normal(standing, plan, failing, recent, is_steady)
    if standing.severity is Severity.TIGHTENED:
        return _after_tightened(standing, recent)
    if not is_accepted:
        return Standing(note="back to normal: a lot was not accepted under reduced inspection")
    if not is_steady:
        return Standing(note="back to normal: production is not steady")
    return Standing(severity=Severity.REDUCED, recent=recent)


def restart(standing: Standing) -> Standing:
    """Begin again after a stop, with tightened inspection (ISO 2859-1 9.4)."""
    return Standing(severity=Severity.TIGHTENED, note="inspection begins again as tightened")


def _after_normal(standing: Standing, plan: Plan, failing: int, recent: tuple[bool, ...], is_steady: bool) -> Standing:
    if recent.count(False) >= 2:
        return Standing(severity=Severity.TIGHTENED, note="to tightened: 2 of 5 or fewer lots were not accepted")
    score = standing.score + _score(plan, failing)
    if not _score(plan, failing):
        score = 0
    if score >= 30 and is_steady:
        return Standing(severity=Severity.REDUCED, note="to reduced: the switching score reached 30")
    return Standing(severity=Severity.NORMAL, recent=recent, score=score)


def _after_tightened(standing: Standing, recent: tuple[bool, ...]) -> Standing:
    failures = standing.tightened_failures + (0 if recent[-1] else 1)
    if failures >= 5:
        return Standing(severity=Severity.STOPPED, note="stopped: 5 lots were not accepted under tightened inspection")
    if len(recent) == 5 and all(recent):
        return Standing(note="back to normal: 5 lots in a row were accepted")
    return Standing(severity=Severity.TIGHTENED, recent=recent, tightened_failures=failures)


def _score(plan: Plan, failing: int) -> int:
    """Points of one lot: 2 where none or one may fail, 3 where the lot would pass one AQL step tighter, else none."""
    if plan.acceptance_number <= 1:
        return 2 if failing <= plan.acceptance_number else 0
    if plan.aql is None or _column(plan.aql) == 0:
        return 0
    stricter = plan_for_letter(plan.code_letter, AQLS[_column(plan.aql) - 1], Severity.NORMAL)
    return 3 if failing <= stricter.acceptance_number else 0


def _path(row: int, column: int, severity: Severity) -> Sequence[int]:
    """Rows to try in turn: the arrow's own direction first, then the other way where the table has no more rows."""
    rows = len(LETTERS) + (1 if severity is Severity.TIGHTENED and AQLS[column] == EXTRA_TIGHTENED[1] else 0)
    down, up = range(row, rows), range(row, -1, -1)
    step = row + column - _ZERO_AT[severity]
    points_up = step == 1 or step >= 10
    return [*up, *down] if points_up else [*down, *up]


def _within_lot(plan: Plan, lot_size: int) -> Plan:
    if plan.sample_size < lot_size:
        return plan
    return plan.model_copy(update={"sample_size": lot_size, "is_every_piece": True})


def _row(letter: str) -> int:
    if len(letter) != 1 or letter not in LETTERS:
        raise NotComputed(
            "No sampling plan was chosen.",
            why=f"There is no code letter {letter!r} in ISO 2859-1.",
            next_step="Give one of A to R (without I and O).",
        )
    return LETTERS.index(letter)


def _column(aql: Decimal) -> int:
    if aql not in AQLS:
        raise NotComputed(
            "No sampling plan was chosen.",
            why=f"{aql} is not a preferred AQL of ISO 2859-1.",
            next_step="Give one of 0.010, 0.015, 0.025, 0.040, 0.065, 0.10 and so on up to 1000.",
        )
    return AQLS.index(aql)
