"""Code letters, plans, arrows and switching are those of the standards."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from consolidator.errors import NotComputed
from consolidator.study import operating_curves, sampling
from consolidator.study.sampling import AQLS, LETTERS, Level, Plan, Severity, Standing
from tests.published import rows, same

# ISO 2859-1:1999 Table 2-C, letter K, n = 50 (from memory; the Re - Ac gap of MIL-STD-105E is gone).
REDUCED_K = {"0.10": 0, "0.65": 1, "1.0": 2, "1.5": 3, "2.5": 5, "4.0": 6, "6.5": 8, "10": 10}


def _plan(n: int = 50, c: int = 0, severity: Severity = Severity.NORMAL, aql: str = "1.0") -> Plan:
    return Plan(sample_size=n, acceptance_number=c, code_letter="H", severity=severity, aql=Decimal(aql))


@pytest.mark.parametrize("row", rows("t07_code_letters"), ids=lambda row: row["check_id"])
def test_a_lot_gets_the_code_letter_of_the_table(row: dict[str, str]) -> None:
    """ISO 2859-1 Table 1, at both ends of each band of lot sizes (two sources agree, in the row)."""
    level = Level(row["inspection_level"])
    ends = row["lot_size"].removesuffix("+").split("-")

    assert all(same(sampling.code_letter(int(end), level), row["code_letter"]) for end in ends)


@pytest.mark.parametrize(
    ("row", "severity"),
    [(row, Severity.NORMAL) for row in rows("t07_single_normal_plans")]
    + [(row, Severity.TIGHTENED) for row in rows("t07_single_tightened_plans")],
    ids=lambda each: each["check_id"] if isinstance(each, dict) else each,
)
def test_a_cell_of_the_master_tables_holds_its_plan(row: dict[str, str], severity: Severity) -> None:
    """Single plans of MIL-STD-105E Tables II-A and II-B; outside AQL .65 to 15 from memory (status in the row)."""
    plan = sampling.plan_for_letter(row["code_letter"], Decimal(row["AQL"]), severity)

    assert plan.code_letter == row["code_letter"]
    assert same(plan.sample_size, row["n"])
    assert same(plan.acceptance_number, row["Ac"])
    assert same(plan.rejection_number, row["Re"])


@pytest.mark.parametrize(("aql", "allowed"), REDUCED_K.items())
def test_reduced_inspection_of_letter_k(aql: str, allowed: int) -> None:
    """ISO 2859-1 Table 2-C row K, from memory."""
    assert sampling.plan_for_letter("K", Decimal(aql), Severity.REDUCED).sample_size == 50
    assert sampling.acceptance_number("K", Decimal(aql), Severity.REDUCED) == allowed


@pytest.mark.parametrize(
    ("letter", "aql", "severity", "leads_to"),
    [
        ("A", "1.0", Severity.NORMAL, ("E", 13, 0)),
        ("F", "1.0", Severity.NORMAL, ("E", 13, 0)),
        ("G", "1.0", Severity.NORMAL, ("H", 50, 1)),
        ("Q", "10", Severity.NORMAL, ("K", 125, 21)),
        ("R", "0.010", Severity.NORMAL, ("Q", 1250, 0)),
        ("R", "0.015", Severity.NORMAL, ("P", 800, 0)),
        ("R", "0.025", Severity.TIGHTENED, ("S", 3150, 1)),
        ("A", "10", Severity.NORMAL, ("C", 5, 1)),
        ("H", "0.65", Severity.TIGHTENED, ("G", 32, 0)),
        ("B", "15", Severity.REDUCED, ("C", 2, 1)),
        ("B", "25", Severity.REDUCED, ("B", 2, 1)),
    ],
)
def test_an_arrow_leads_to_the_plan_it_points_at(
    letter: str, aql: str, severity: Severity, leads_to: tuple[str, int, int]
) -> None:
    """Down to the first plan below, up to the first above, and the sample of that plan is taken (Tables 2-A to 2-C)."""
    plan = sampling.plan_for_letter(letter, Decimal(aql), severity)

    assert (plan.code_letter, plan.sample_size, plan.acceptance_number) == leads_to


def test_a_lot_of_2000_at_level_ii_and_aql_one_takes_125_and_allows_3() -> None:
    """Letter K, 125 pieces, 3 may fail (the commonest worked example of the tables)."""
    plan = sampling.plan_for_lot(2000, Decimal("1.0"))

    assert (plan.code_letter, plan.sample_size, plan.acceptance_number) == ("K", 125, 3)
    assert not plan.is_every_piece


def test_a_sample_as_large_as_the_lot_means_every_piece() -> None:
    """A lot of 10 at AQL 0.65 would take 20 pieces: all ten are inspected."""
    plan = sampling.plan_for_lot(10, Decimal("0.65"))

    assert plan.is_every_piece and plan.sample_size == 10


@given(letter=st.sampled_from(LETTERS), aql=st.sampled_from(AQLS), severity=st.sampled_from(list(Severity)[:3]))
def test_plans_are_monotone(letter: str, aql: Decimal, severity: Severity) -> None:
    """Along one letter a laxer AQL never allows fewer failures in a sample of the same size."""
    here = sampling.plan_for_letter(letter, aql, severity)
    laxer = AQLS[min(AQLS.index(aql) + 1, len(AQLS) - 1)]
    there = sampling.plan_for_letter(letter, laxer, severity)

    if here.sample_size == there.sample_size:
        assert here.acceptance_number <= there.acceptance_number
    assert here.acceptance_number >= 0 and here.rejection_number == here.acceptance_number + 1


@given(letter=st.sampled_from(LETTERS[2:]), aql=st.sampled_from(AQLS[:14]))
def test_tightened_inspection_is_the_stricter_one(letter: str, aql: Decimal) -> None:
    """At the AQL itself the tightened plan accepts no more than the normal one, and allows no more in a like sample.

    At far worse quality the curves may cross, where arrows lead to samples of different sizes.
    """
    normal, tightened = (sampling.plan_for_letter(letter, aql, s) for s in (Severity.NORMAL, Severity.TIGHTENED))
    chances = [
        operating_curves.acceptance(p.sample_size, p.acceptance_number, float(aql) / 100) for p in (normal, tightened)
    ]

    assert chances[1] <= chances[0]
    if normal.sample_size == tightened.sample_size:
        assert tightened.acceptance_number <= normal.acceptance_number


@given(lot=st.integers(2, 600_000), level=st.sampled_from(list(Level)))
def test_a_larger_lot_never_gets_an_earlier_letter(lot: int, level: Level) -> None:
    """Letters only rise with the lot, and each level from S-1 to III takes at least the one before."""
    assert sampling.code_letter(lot, level) <= sampling.code_letter(lot + 1, level)
    order = list(Level)
    if level is not Level.III and level is not Level.S4:
        assert sampling.code_letter(lot, level) <= sampling.code_letter(lot, order[order.index(level) + 1])


@pytest.mark.parametrize("row", rows("t07_c0_milstd1916_memory"), ids=lambda row: row["check_id"])
def test_a_zero_acceptance_plan_is_that_of_mil_std_1916(row: dict[str, str]) -> None:
    """MIL-STD-1916 Table II, attributes; from memory, as its status says."""
    assert same(sampling.zero_acceptance_size(row["code_letter"], row["verification_level"]), row["n"])
    assert row["Ac"] == "0"


@pytest.mark.parametrize(
    ("lot", "letters"), [(170, "AAAAAAA"), (171, "AAAAAAB"), (1000, "AAABCDE"), (5441, "BCDEEEE"), (30721, "EEEEEEE")]
)
def test_zero_acceptance_letters_rise_with_lot_and_level(lot: int, letters: str) -> None:
    """MIL-STD-1916 Table I for levels VII down to I, from memory."""
    levels = ["VII", "VI", "V", "IV", "III", "II", "I"]

    assert "".join(sampling.zero_acceptance_letter(lot, level) for level in levels) == letters


def test_a_zero_acceptance_plan_for_a_lot_follows_its_severity() -> None:
    """Level IV, lot 1000, letter B: 96 pieces; tightened is level V with 256, reduced level III with 40."""
    sizes = [sampling.zero_acceptance_plan(1000, "IV", s).sample_size for s in list(Severity)[:3]]

    assert sampling.zero_acceptance_letter(1000, "IV") == "B"
    assert sizes == [96, 256, 40]
    assert sampling.zero_acceptance_plan(1000, "VII", Severity.TIGHTENED).is_every_piece


def test_two_bad_lots_of_five_tighten_and_five_good_ones_loosen() -> None:
    """ISO 2859-1:1999 9.3.1 and 9.3.2."""
    standing = Standing()
    for failing in (1, 0, 0, 1):
        standing = sampling.after_lot(standing, _plan(), failing)
    assert standing.severity is Severity.TIGHTENED and "2 of 5" in standing.note

    for _ in range(4):
        standing = sampling.after_lot(standing, _plan(severity=Severity.TIGHTENED), 0)
        assert standing.severity is Severity.TIGHTENED
    assert sampling.after_lot(standing, _plan(severity=Severity.TIGHTENED), 0).severity is Severity.NORMAL


def test_two_bad_lots_six_apart_do_not_tighten() -> None:
    """The rule looks at five lots in a row, no more."""
    standing = Standing()
    for failing in (1, 0, 0, 0, 0, 1):
        standing = sampling.after_lot(standing, _plan(), failing)

    assert standing.severity is Severity.NORMAL


def test_five_bad_lots_under_tightened_inspection_stop_it() -> None:
    """ISO 2859-1:1999 9.4: cumulative, good lots between them do not save it; then it begins again as tightened."""
    standing = Standing(severity=Severity.TIGHTENED)
    for failing in (1, 0, 1, 0, 0, 1, 1, 0, 1):
        standing = sampling.after_lot(standing, _plan(severity=Severity.TIGHTENED), failing)

    assert standing.severity is Severity.STOPPED
    with pytest.raises(NotComputed, match="stopped"):
        sampling.after_lot(standing, _plan(), 0)
    with pytest.raises(NotComputed, match="stopped"):
        sampling.plan_for_letter("K", Decimal("1.0"), Severity.STOPPED)
    assert sampling.restart(standing).severity is Severity.TIGHTENED


def test_fifteen_clean_lots_with_zero_or_one_allowed_reduce() -> None:
    """Each adds 2 to the switching score; 30 is reached at the fifteenth, if production is steady (9.3.3)."""
    standing = Standing()
    for _ in range(14):
        standing = sampling.after_lot(standing, _plan(), 0)
    assert (standing.severity, standing.score) == (Severity.NORMAL, 28)

    assert sampling.after_lot(standing, _plan(), 0, is_steady=False).severity is Severity.NORMAL
    assert sampling.after_lot(standing, _plan(), 0).severity is Severity.REDUCED


def test_a_lot_that_would_fail_one_step_tighter_sets_the_score_to_zero() -> None:
    """Letter K, AQL 1.0, 3 allowed; at AQL .65 only 2 are: 2 failing adds 3, 3 failing sets it to zero (9.3.3.2)."""
    plan = sampling.plan_for_letter("K", Decimal("1.0"))
    standing = Standing(score=9)

    assert sampling.after_lot(standing, plan, 2).score == 12
    assert sampling.after_lot(standing, plan, 3).score == 0
    assert sampling.after_lot(standing, plan, 3).severity is Severity.NORMAL
    at_the_end = Plan(sample_size=1250, acceptance_number=2, code_letter="Q", severity=Severity.NORMAL, aql=AQLS[0])
    assert sampling.after_lot(standing, at_the_end, 0).score == 0


def test_reduced_inspection_ends_with_a_bad_lot_or_an_unsteady_process() -> None:
    """ISO 2859-1:1999 9.3.4."""
    reduced = Standing(severity=Severity.REDUCED)
    plan = _plan(20, 0, Severity.REDUCED)

    assert sampling.after_lot(reduced, plan, 0).severity is Severity.REDUCED
    assert sampling.after_lot(reduced, plan, 1).severity is Severity.NORMAL
    assert sampling.after_lot(reduced, plan, 0, is_steady=False).severity is Severity.NORMAL


def test_what_the_standards_do_not_have_is_refused() -> None:
    """A lot of one, a letter I, an AQL of 0.5 and a level VIII do not exist."""
    with pytest.raises(NotComputed, match="lots of 2"):
        sampling.code_letter(1)
    with pytest.raises(NotComputed, match="no code letter 'I'"):
        sampling.plan_for_letter("I", Decimal("1.0"))
    with pytest.raises(NotComputed, match="not a preferred AQL"):
        sampling.plan_for_lot(100, Decimal("0.5"))
    with pytest.raises(NotComputed, match="level VIII"):
        sampling.zero_acceptance_letter(100, "VIII")
    with pytest.raises(NotComputed, match="Letter F"):
        sampling.zero_acceptance_size("F", "IV")
