"""X15 to X20: whether a gauge fits what it measured. Situations and expectations by hand."""

import pytest

from tests.unit.consolidator.held_builder import HeldBuilder, deck, marks_of, row_of

NINE = "2026-03-09T09:00:00.000-04:00"


@pytest.mark.parametrize(
    ("least_count", "expected"),
    [("0.00005", None), ("0.000051", "X15"), ("0.0001", "X15"), ("0.000101", "X16")],
    ids=["10 % is fine", "over 10 % is coarse", "20 % is coarse", "over 20 % is too coarse"],
)
def test_the_least_count_is_held_against_the_tolerance(least_count: str, expected: str | None) -> None:
    """X15, X16: tolerance .3125 - .3120 = .0005; N4 says at most 10 %, to 20 % included, above."""
    lists = deck()
    gauges = tuple(g.model_copy(update={"least_count": least_count}) for g in lists.gauges)
    builder = HeldBuilder(lists.model_copy(update={"gauges": gauges}))
    page = builder.reading(NINE, ".312")

    marks = marks_of(builder.close(), page) & {"X15", "X16"}

    assert marks == ({expected} if expected else set())


@pytest.mark.parametrize(
    ("keyed", "outside"), [("+.005", False), ("+.00505", True), ("-.005", False), ("-.00505", True)]
)
def test_a_comparator_s_range_is_held_against_its_deviation(keyed: str, outside: bool) -> None:
    """X17: a snap gauge of plus and minus .005, ends included; a figure outside is blocked and may still accuse."""
    builder = HeldBuilder()
    page = builder.reading(NINE, keyed, gauge="G-220", keyed_as="deviation")

    assert ("X17" in marks_of(builder.close(), page)) is outside


def test_a_kind_the_plan_does_not_allow_blocks() -> None:
    """X18: BC1 allows snap gauge and micrometer, not a caliper."""
    builder = HeldBuilder()
    page = builder.reading(NINE, ".3120", gauge="G-120")

    closed = builder.close()

    assert "X18" in marks_of(closed, page)
    assert row_of(closed, page)["standing"] == "Blocked"


@pytest.mark.parametrize(
    ("characteristic", "gauge", "keyed", "keyed_as", "wrong"),
    [
        ("BC5", "G-502", "Accept", "accept/reject", False),
        ("BC5", "G-505", "Accept", "accept/reject", True),
        ("BC5", "G-503", "Accept", "accept/reject", True),
        ("BC6", "G-503", "2.5", "turns", False),
        ("BC6", "G-502", "2.5", "turns", True),
    ],
    ids=["right ring", "UNF-2A ring on a UNJF-3A part", "NOT GO used as GO", "right NOT GO", "GO used as NOT GO"],
)
def test_a_thread_gauge_must_be_made_for_the_part(
    characteristic: str, gauge: str, keyed: str, keyed_as: str, wrong: bool
) -> None:
    """X19: designation, form, class and member must fit .3125-24 UNJF-3A."""
    builder = HeldBuilder()
    usual = {"station": "S24", "person": "P-102", "unit": "turns"}
    page = builder.reading(NINE, keyed, characteristic=characteristic, gauge=gauge, keyed_as=keyed_as, **usual)

    assert ("X19" in marks_of(builder.close(), page)) is wrong


@pytest.mark.parametrize(("wires", "wrong"), [("W-24", False), ("W-28", True), (None, True), ("M-14", True)])
def test_wires_must_be_scanned_and_made_for_the_pitch(wires: str | None, wrong: bool) -> None:
    """X19: 24 threads an inch need wires for 24; none scanned, another pitch or no wire set at all is wrong."""
    builder = HeldBuilder()
    usual = {"station": "S24", "characteristic": "BC4", "gauge": "G-301", "keyed_as": "over wires", "person": "P-102"}
    page = builder.reading(NINE, ".3198", master=wires, **usual)

    assert ("X19" in marks_of(builder.close(), page)) is wrong


@pytest.mark.parametrize(
    ("half", "keyed", "finer"), [(False, ".31225", False), (False, ".312225", True), (True, ".312225", False)]
)
def test_a_value_between_the_divisions_is_finer_than_the_gauge(half: bool, keyed: str, finer: bool) -> None:
    """X20: a least count of .00005 reads .31225, and .312225 only where halves are allowed."""
    lists = deck()
    gauges = tuple(g.model_copy(update={"half_division": half}) for g in lists.gauges)
    builder = HeldBuilder(lists.model_copy(update={"gauges": gauges}))
    page = builder.reading(NINE, keyed)

    assert ("X20" in marks_of(builder.close(), page)) is finer
