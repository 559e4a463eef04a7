"""3.5: from fail to pass never by keyboard alone. Situations and expectations by hand, after the rule."""

from datetime import UTC, date, datetime

import pytest

from tests.unit.consolidator.held_builder import HeldBuilder, exception_of, held_lots, marks_of, numbers_of, row_of

AT = "2026-03-09T{}:00.000-04:00"
GOOD, BAD = ".31225", ".3126"


class _Case:
    """One reading .3128 of P-101 at 09:31, corrected to .3123 by P-106 at 15:10."""

    def __init__(self, *, first: str = "P-106") -> None:
        self.builder = HeldBuilder()
        self.page = self.builder.reading(AT.format("09:31"), ".3128", piece=3)
        self.correction = self.correct(AT.format("15:10"), ".3123", first)

    def correct(self, at: str, new: str, person: str = "P-106") -> str:
        act = {"kind": "correction", "of": self.page, "field": "value", "old": ".3128", "new": new,
               "reason": "keyed wrong", "words": "keyed 8 for 3"}  # fmt: skip
        return self.builder.act(at, act, person=person)

    def sign(self, person: str) -> None:
        sign = {"kind": "second signature", "of": self.correction, "meaning": "approved"}
        self.builder.act(AT.format("15:25"), sign, person=person)

    def measure_again(self, keyed: str = GOOD, clock: str = "15:40", **fields: object) -> str:
        again = {"sample_kind": "re-measure", "re_measure_of": self.page, "piece": 3, "person": "P-104",
                 "gauge": "G-118", "station": "S13", "sample": 7}  # fmt: skip
        return self.builder.reading(AT.format(clock), keyed, **(again | fields))

    def verdict(self) -> str:
        return row_of(self.builder.close(), self.page)["verdict"]


def test_two_signatures_and_a_re_measure_make_it_work() -> None:
    """O20: out, out with two signatures, then in; .3128 stays to be seen, X32 closes, the lot's hold of it ends."""
    case = _Case()
    alone = case.verdict()
    case.sign("P-108")
    signed = case.builder.close()
    again = case.measure_again()
    closed = case.builder.close()

    assert (alone, row_of(signed, case.page)["verdict"]) == ("Out of tolerance", "Out of tolerance")
    assert "stands until signatures and re-measure" in exception_of(signed, "X32")["sentence"]
    assert held_lots(signed)["L-411"] == {"X23"}
    row = row_of(closed, case.page)
    assert (row["verdict"], row["standing"], row["keyed"]) == ("In tolerance", "Counts – flagged", ".3128")
    assert row["settled_by"] == f"{case.correction};desk-a/2;{again}"
    assert (exception_of(closed, "X32")["state"], exception_of(closed, "X32")["urgency"]) == ("closed", "B")
    assert "X23" not in numbers_of(closed) and held_lots(closed) == {}


@pytest.mark.parametrize(
    ("first", "second"),
    [("P-106", "P-101"), ("P-106", "P-106"), ("P-106", "P-102"), ("P-101", "P-108"), ("P-102", "P-108")],
    ids=["taker second", "same twice", "operator second", "taker first", "operator first"],
)
def test_a_signature_that_does_not_count_leaves_it_out(first: str, second: str) -> None:
    """Neither signature is that of the person who took the reading, and each has the authority."""
    case = _Case(first=first)
    case.sign(second)
    case.measure_again()

    assert case.verdict() == "Out of tolerance"


@pytest.mark.parametrize(
    "fields",
    [{"keyed": BAD}, {"gauge": "G-999"}, {"gauge": "G-999", "keyed": BAD}, {"piece": 4}, {"lot": "L-412"},
     {"characteristic": "BC2", "keyed": ".2840"}, {"clock": "09:00"}, {"re_measure_of": "S12-a/9"}],
    ids=["out again", "unknown gauge", "unknown gauge and out", "other piece", "other lot", "other characteristic",
         "before the reading", "of another page"],
)  # fmt: skip
def test_a_re_measure_that_is_no_evidence_leaves_it_out(fields: dict[str, str]) -> None:
    """The same piece, measured again and good, with a sound gauge."""
    case = _Case()
    case.sign("P-108")
    case.measure_again(**fields)

    assert case.verdict() == "Out of tolerance"


def test_one_bad_re_measure_outweighs_a_good_one_even_when_it_is_blocked() -> None:
    """A blocked reading still accuses (3.3.5)."""
    case = _Case()
    case.sign("P-108")
    case.measure_again()
    case.measure_again(BAD, "15:50", gauge="G-999")

    assert case.verdict() == "Out of tolerance"


def test_a_later_correction_for_the_worse_undoes_it() -> None:
    """Bad news works at once, with one signature."""
    case = _Case()
    case.sign("P-108")
    case.measure_again()
    case.correct(AT.format("16:00"), ".3127")

    assert case.verdict() == "Out of tolerance"


def test_a_fresh_sample_of_twice_the_size_stands_for_a_lost_piece() -> None:
    """Five planned: nine good pieces are not enough, ten are."""
    case = _Case()
    case.sign("P-108")
    for piece in range(11, 20):
        case.measure_again(clock=f"16:{piece:02d}", piece=piece)
    nine = case.verdict()
    case.measure_again(clock="16:30", piece=20)

    assert (nine, case.verdict()) == ("Out of tolerance", "In tolerance")


def test_a_re_measure_of_the_next_day_is_judged_before_it_bears_anything_out() -> None:
    """Measured again at 09:00 on the 10th by an unknown gauge: no evidence; by a sound one: the 9th is put right."""
    found = []
    for gauge in ("G-999", "G-118"):
        case = _Case()
        case.sign("P-108")
        again = {"sample_kind": "re-measure", "re_measure_of": case.page, "piece": 3, "person": "P-104",
                 "gauge": gauge, "station": "S13", "sample": 7}  # fmt: skip
        case.builder.reading("2026-03-10T09:00:00.000-04:00", GOOD, **again)
        closed = case.builder.close(date(2026, 3, 9), datetime(2026, 3, 10, 14, tzinfo=UTC))
        found.append((row_of(closed, case.page)["verdict"], closed.totals["readings"]))

    assert found == [("Out of tolerance", 1), ("In tolerance", 1)]


def test_two_persons_who_read_the_form_settle_a_slip_of_a_paper_form() -> None:
    """X27: 7.93 written for .3122; not judged until both have signed, then in tolerance and flagged."""
    builder = HeldBuilder()
    paper = {"source": "from paper", "taken_by": "P-101", "read_back_by": "P-108", "person": "P-104",
             "paper_taken_at_ms": int(datetime(2026, 3, 9, 13, tzinfo=UTC).timestamp() * 1000)}  # fmt: skip
    page = builder.reading(AT.format("11:00"), "7.93", **paper)
    act = {"kind": "correction", "of": page, "field": "value", "old": "7.93", "new": ".3122", "reason": "read wrong",
           "words": "the form says .3122"}  # fmt: skip
    ref = builder.act(AT.format("12:00"), act)
    before = row_of(builder.close(), page)
    builder.act(AT.format("12:05"), {"kind": "second signature", "of": ref, "meaning": "approved"}, person="P-108")
    closed = builder.close()

    assert (before["verdict"], before["standing"]) == ("Not judged", "Blocked")
    assert (row_of(closed, page)["verdict"], row_of(closed, page)["standing"]) == ("In tolerance", "Counts – flagged")
    assert "X27" not in marks_of(closed, page)
