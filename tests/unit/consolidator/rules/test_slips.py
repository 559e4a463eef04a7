"""X26 to X32: slips of hand and eye, and keying anew. Window of BC1 by hand: .3105 to .3140."""

import pytest

from tests.unit.consolidator.held_builder import HeldBuilder, exception_of, held_lots, marks_of, numbers_of, row_of

NINE = "2026-03-09T09:00:00.000-04:00"


@pytest.mark.parametrize(
    ("keyed", "expected"),
    [
        (".3105", {"X23"}),
        (".3140", {"X23"}),
        ("3.122", {"X26", "X17"}),
        (".03122", {"X26"}),
        ("7.93", {"X27", "X17"}),
        (".3142", {"X28"}),
        (".35", {"X30"}),
    ],
    ids=["lower end of the window", "upper end", "point too far right", "too far left", "mm", "swapped", "no pattern"],
)
def test_a_value_outside_the_window_is_not_judged_and_every_fitting_slip_is_named(
    keyed: str, expected: set[str]
) -> None:
    """X26-X28, X30: 3.122 and .03122 / 10 or x 10, 7.93 / 25.4 = .3122, .3142 swapped = .3124, .35 fits nothing."""
    builder = HeldBuilder()
    page = builder.reading(NINE, keyed)

    closed = builder.close()

    marks = marks_of(closed, page) - {"X20"}
    assert marks == expected
    is_judged = expected == {"X23"}
    assert (row_of(closed, page)["verdict"] == "Not judged") is not is_judged
    assert (row_of(closed, page)["standing"] == "Blocked") is not is_judged
    assert "L-411" in held_lots(closed)


def test_a_mirrored_deviation_never_asked_about_is_judged_as_it_stands() -> None:
    """X29: .31225 with .00040 either way is out: no tag; .31240 + .0002 is out and .31240 - .0002 in: a tag."""
    builder = HeldBuilder()
    builder.check("2026-03-09T08:00:00.000-04:00")
    both_out = builder.reading(NINE, "+.00040", gauge="G-220", keyed_as="deviation", piece=1)
    masters = [m.model_copy(update={"size": "0.31240"}) if m.number == "M-14" else m for m in builder.lists.masters]
    other = HeldBuilder(builder.lists.model_copy(update={"masters": tuple(masters)}))
    other.check("2026-03-09T08:00:00.000-04:00")
    mirrored = other.reading(NINE, "+.00020", gauge="G-220", keyed_as="deviation", piece=1)

    assert "X29 tag" not in marks_of(builder.close(), both_out)
    closed = other.close()
    assert marks_of(closed, mirrored) == {"X23", "X29 tag"}
    assert row_of(closed, mirrored)["standing"] == "Counts"


def test_a_deviation_asked_about_and_keyed_with_the_other_sign_is_flagged() -> None:
    """X29 asked: the value keyed anew is judged and flagged; keyed again the same it is a tag."""
    builder = HeldBuilder()
    builder.check("2026-03-09T08:00:00.000-04:00")
    usual = {"gauge": "G-220", "keyed_as": "deviation", "earlier": '[{"asked":["X29"],"text":"+.0003"}]'}
    anew = builder.reading(NINE, "-.0002", piece=1, **usual)
    same = builder.reading("2026-03-09T09:01:00.000-04:00", "+.0003", piece=2, **usual)

    closed = builder.close()

    assert (row_of(closed, anew)["standing"], marks_of(closed, anew)) == ("Counts – flagged", {"X29"})
    assert marks_of(closed, same) == {"X23", "X29 tag"}


def test_a_fail_wiped_unasked_and_keyed_as_a_pass_is_flagged() -> None:
    """X31: .3126 out, wiped without being asked, then .3124 in; a believable pass before is nothing."""
    builder = HeldBuilder()
    fail = builder.reading(NINE, ".3124", piece=1, earlier='[{"asked":[],"text":".3126"}]')
    passed = builder.reading("2026-03-09T09:01:00.000-04:00", ".3124", piece=2, earlier='[{"asked":[],"text":".3123"}]')

    closed = builder.close()

    assert "X31" in marks_of(closed, fail)
    assert "X31" not in marks_of(closed, passed)


def test_a_page_that_takes_another_s_place_in_its_sample_is_the_one_reading() -> None:
    """X31, 3.5: the first page .3126 is kept as re-keyed, the second .3124 is flagged; no X23, no second reading."""
    builder = HeldBuilder()
    builder.reading(NINE, ".3126", piece=1)
    second = builder.reading("2026-03-09T09:00:20.000-04:00", ".3124", piece=1, replaces=1)

    closed = builder.close()

    assert row_of(closed, second)["keyed"] == ".3126 → .3124"
    assert marks_of(closed, second) == {"X31"}
    assert "X23" not in numbers_of(closed)
    assert [row["section"] for row in closed.acts.to_pylist()] == ["re-keyed"]
    assert (closed.totals["readings"], closed.totals["re_keyed"], closed.totals["pages"]) == (1, 1, 2)


def test_a_page_cannot_take_another_s_place_after_the_sample_ended() -> None:
    """3.5: after the sample's end only a correction page may speak; both readings stand and the fail stays a fail."""
    builder = HeldBuilder()
    fail = builder.reading(NINE, ".3126", piece=1)
    end = {"kind": "sample end", "lot": "L-411", "operation": "60", "characteristic": "BC1", "sample": 1, "planned": 5,
           "got": 1}  # fmt: skip
    builder.act("2026-03-09T09:00:10.000-04:00", end, series="S12-a")
    builder.reading("2026-03-09T09:00:20.000-04:00", ".3124", piece=1, replaces=1)

    closed = builder.close()

    assert "X23" in marks_of(closed, fail)
    assert closed.totals["re_keyed"] == 0


@pytest.mark.parametrize(
    ("old", "new", "verdict", "urgency"),
    [
        (".3128", ".3123", "Out of tolerance", "B"),
        (".3123", ".3128", "Out of tolerance", "B"),
        (".3123", ".3124", "In tolerance", "C"),
    ],
    ids=["fail to pass waits", "pass to fail works at once", "same verdict"],
)
def test_a_correction_never_makes_a_pass_by_itself(old: str, new: str, verdict: str, urgency: str) -> None:
    """X32: fail to pass needs two signatures and a re-measure; pass to fail works with one signature, at once."""
    builder = HeldBuilder()
    page = builder.reading(NINE, old)
    correction = {"kind": "correction", "of": page, "field": "value", "old": old, "new": new, "reason": "keyed wrong",
                  "words": ""}  # fmt: skip
    builder.act("2026-03-09T15:10:00.000-04:00", correction)

    closed = builder.close()

    row = row_of(closed, page)
    assert (row["verdict"], row["settled_by"]) == (verdict, "desk-a/1")
    assert exception_of(closed, "X32")["urgency"] == urgency
    assert ("L-411" in held_lots(closed)) is (verdict == "Out of tolerance")


def test_what_is_no_figure_is_not_judged_and_blocked() -> None:
    """X30: a text that is no plain number cannot be judged, and nothing without a verdict counts."""
    builder = HeldBuilder()
    page = builder.reading(NINE, "1.2.3")

    closed = builder.close()

    row = row_of(closed, page)
    assert (row["verdict"], row["standing"], row["value"]) == ("Not judged", "Blocked", "")


def test_a_fail_keyed_away_in_two_steps_is_flagged_all_the_same() -> None:
    """X31: .3126 out, then a figure that is no figure, then .3124 in: the fail is still behind the pass."""
    builder = HeldBuilder()
    builder.reading(NINE, ".3126", piece=1)
    builder.reading("2026-03-09T09:00:10.000-04:00", "..", piece=1, replaces=1)
    last = builder.reading("2026-03-09T09:00:20.000-04:00", ".3124", piece=1, replaces=2)

    assert marks_of(builder.close(), last) == {"X31"}
