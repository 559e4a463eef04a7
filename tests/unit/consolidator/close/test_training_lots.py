"""Training lots never stand in a production ledger: their pages are kept, counted beside it, and judged nowhere."""

from dataclasses import replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from consolidator.close import close_day
from consolidator.ledger.front_sheet import make_sheet
from tests.unit.consolidator.held_builder import AT, DAY, HeldBuilder, deck, held_lots, numbers_of

TABLES = ("readings", "acts", "exceptions", "touched", "holds", "lots", "lines", "late")
ROW = st.fixed_dictionaries(
    {
        "keyed": st.sampled_from([".3122", ".3126", "3.122", "7.93"]),
        "gauge": st.sampled_from(["G-107", "G-108", "G-999"]),
        "lot": st.sampled_from(["L-411", "T-1"]),
        "sample_kind": st.sampled_from(["run", "set-up piece"]),
        "person": st.sampled_from(["P-101", "P-103"]),
    }
)


def with_training(rows: list[dict[str, Any]], *, leave_out: bool) -> HeldBuilder:
    """Return a day of production and training; or the same pages where those on the training lot never came."""
    lists = deck()
    training = lists.lots[0].model_copy(update={"number": "T-1", "is_training": True})
    builder = HeldBuilder(lists.model_copy(update={"lots": (*lists.lots, training)}))
    for at, row in enumerate(rows):
        fields = {name: value for name, value in row.items() if name != "keyed"}
        builder.reading(f"2026-03-09T09:{at:02d}:00.000-04:00", row["keyed"], piece=at % 5 + 1, number=at + 1, **fields)
    if leave_out:
        builder.rows = [row for row in builder.rows if row["lot"] != "T-1"]
    return builder


@settings(max_examples=40, deadline=None)
@given(st.lists(ROW, max_size=20))
def test_a_ledger_is_the_same_with_and_without_what_was_done_on_training_lots(rows: list[dict[str, Any]]) -> None:
    """Nothing on a training lot changes a verdict, an exception, a hold, a line or a count of production."""
    mixed = with_training(rows, leave_out=False)
    held = mixed.held()
    alone = replace(held, readings=with_training(rows, leave_out=True).held().readings)

    closed, wanted = (close_day(each, mixed.lists, day=DAY, at_utc=AT) for each in (held, alone))

    for name in TABLES:
        assert getattr(closed, name).to_pylist() == getattr(wanted, name).to_pylist(), name
    count = sum(row["lot"] == "T-1" for row in rows)
    assert closed.totals == {**wanted.totals, **({"on_training_lots": count} if count else {})}


def test_acts_on_a_training_lot_are_left_out_and_those_on_a_gauge_stay() -> None:
    """A job opened, a set-up and its end, a correction of a training reading: none is production; a drop is a drop."""
    builder = with_training([], leave_out=False)
    job = {"lot": "T-1", "operation": "60", "part": "B-3124", "revision": "C", "plan_version": "C1"}
    builder.act("2026-03-09T08:00:00.000-04:00", {"kind": "job open", **job}, series="S12-a", person="P-101")
    page = builder.reading("2026-03-09T09:00:00.000-04:00", ".3130", lot="T-1")
    told = {"of": page, "field": "value", "new": ".3122", "old": ".3130", "reason": "keyed wrong", "words": "slip"}
    builder.act("2026-03-09T10:00:00.000-04:00", {"kind": "correction", **told})
    dropped = {"kind": "gauge incident", "gauge": "G-108", "what": "dropped"}
    builder.act("2026-03-09T11:00:00.000-04:00", dropped, series="S12-a", person="P-101")

    closed = builder.close()

    assert [row["kind"] for row in closed.acts.to_pylist()] == ["gauge incident"]
    assert closed.readings.num_rows == 0
    assert closed.totals["on_training_lots"] == 3
    assert "T-1" not in held_lots(closed)


def test_what_is_signed_about_a_training_page_goes_with_it() -> None:
    """A release that names its readings, and a second signature under an act on the lot, are no production either."""
    builder = with_training([], leave_out=False)
    page = builder.reading("2026-03-09T09:00:00.000-04:00", ".3130", lot="T-1", gauge="G-999")
    evidence = builder.act("2026-03-09T09:30:00.000-04:00", {"kind": "remark", "words": "looked at it"})
    release = {"kind": "release", "readings": (page,), "reason": "tried", "evidence": (evidence,)}
    held = builder.act("2026-03-09T10:00:00.000-04:00", {"kind": "hold", "lot": "T-1", "reason": "tried"})
    released = builder.act("2026-03-09T10:30:00.000-04:00", release)
    for ref in (held, released):
        second = {"kind": "second signature", "of": ref, "meaning": "approved"}
        builder.act("2026-03-09T11:00:00.000-04:00", second, person="P-104")

    closed = builder.close()

    assert [row["kind"] for row in closed.acts.to_pylist()] == ["remark"]
    assert closed.totals["on_training_lots"] == 5


def test_a_set_up_that_only_bears_the_name_of_a_training_lot_is_production() -> None:
    """Lots, set-ups and pages are told apart."""
    builder = with_training([], leave_out=False)
    start = {"set_up": "T-1", "lot": "L-411", "part": "B-3124", "operation": "60", "revision": "C", "set_by": "P-101"}
    builder.act("2026-03-09T08:00:00.000-04:00", {"kind": "set-up start", **start}, series="S12-a", person="P-101")

    closed = builder.close()

    assert [row["kind"] for row in closed.acts.to_pylist()] == ["set-up start"]
    assert "on_training_lots" not in closed.totals


def test_the_front_sheet_says_how_many_pages_were_left_out() -> None:
    """Nothing is left out in silence; without training lots nothing is said."""
    one = {"keyed": ".3126", "gauge": "G-108", "sample_kind": "run", "person": "P-101"}
    closed = with_training([{**one, "lot": "T-1"}, {**one, "lot": "T-1"}, {**one, "lot": "L-411"}], leave_out=False)
    quiet = with_training([{**one, "lot": "L-411"}], leave_out=False)
    sheets = []
    for builder in (closed, quiet):
        day = builder.close()
        tables = {name: getattr(day, name) for name in (*TABLES, "kiosks")}
        sheets.append(make_sheet(tables, day.totals, builder.lists, AT, judged=()))

    assert sheets[0]["sum"] == "1 page = 1 counting; 2 pages on training lots are kept and are not in this ledger"
    assert "training" not in sheets[1]["sum"]
    assert numbers_of(closed.close()) == numbers_of(quiet.close())
