"""X68 and X69: badges not on the shift list, and second signatures that do not stand. Expectations by hand."""

from typing import Any

import pytest

from consolidator.close import ClosedDay
from tests.unit.consolidator.held_builder import HeldBuilder, deck, exception_of, marks_of, numbers_of, row_of


def _listed(*rows: tuple[str, int, str]) -> HeldBuilder:
    return HeldBuilder(deck(shifts=[{"day": day, "shift": shift, "person": person} for day, shift, person in rows]))


@pytest.mark.parametrize(
    ("rows", "is_off"),
    [
        ([("2026-03-09", 1, "P-101")], False),
        ([("2026-03-09", 1, "P-102")], True),
        ([("2026-03-09", 2, "P-101"), ("2026-03-09", 1, "P-102")], True),
        ([("2026-03-09", 2, "P-102")], False),
        ([], False),
    ],
    ids=["listed", "another listed", "listed for the next shift", "no list of this shift", "no lists at all"],
)
def test_a_badge_is_held_against_the_list_of_its_shift(rows: list[tuple[str, int, str]], is_off: bool) -> None:
    """X68: P-101 measures at 09:00, in the 1st shift of 9 March; flagged, C, no hold; it counts all the same."""
    builder = _listed(*rows)
    page = builder.reading("2026-03-09T09:00:00.000-04:00", ".3122")

    closed = builder.close()

    assert ("X68" in marks_of(closed, page)) is is_off
    assert row_of(closed, page)["standing"] == ("Counts – flagged" if is_off else "Counts")
    if is_off:
        told = exception_of(closed, "X68")
        assert (told["urgency"], told["cause"], told["lots"]) == ("C", "S12", "L-411")
        assert "P-101" not in told["sentence"]
        assert "shift 1 of 9 Mar" in told["sentence"]


@pytest.mark.parametrize(
    ("at", "is_off"),
    [
        ("2026-03-09T13:59:59.999-04:00", False),
        ("2026-03-09T14:00:00.000-04:00", True),
        ("2026-03-09T22:00:00.000-04:00", False),
        ("2026-03-10T05:59:59.999-04:00", False),
    ],
    ids=["last moment of the 1st", "first moment of the 2nd", "the 3rd", "the 3rd, after midnight"],
)
def test_a_shift_has_its_first_moment_and_not_its_last(at: str, is_off: bool) -> None:
    """P-101 is listed for the 1st and the 3rd shift, P-102 for the 2nd; shifts begin at 06:00, 14:00 and 22:00."""
    builder = _listed(("2026-03-09", 1, "P-101"), ("2026-03-09", 2, "P-102"), ("2026-03-09", 3, "P-101"))
    page = builder.reading(at, ".3122")

    assert ("X68" in marks_of(builder.close(), page)) is is_off


def test_on_a_paper_form_who_measured_is_looked_up_not_who_keyed_it() -> None:
    """X68: P-104 keys in the 2nd shift what P-101 measured in the 1st, for which P-101 is listed."""
    builder = _listed(("2026-03-09", 1, "P-101"), ("2026-03-09", 2, "P-102"))
    page = builder.reading(
        "2026-03-09T15:00:00.000-04:00", ".3122", person="P-104", source="from paper", taken_by="P-101",
        paper_taken_at_ms=1_773_061_200_000, read_back_by="P-108",
    )  # fmt: skip

    assert "X68" not in marks_of(builder.close(), page)


CORRECTION = {"kind": "correction", "field": "value", "old": ".3128", "new": ".3123", "reason": "keyed wrong",
              "words": "keyed 8 for 3"}  # fmt: skip


def _second(of: str) -> dict[str, Any]:
    return {"kind": "second signature", "of": of, "meaning": "approved"}


def _corrected(second: str | None, first: str = "P-106") -> ClosedDay:
    builder = HeldBuilder()
    page = builder.reading("2026-03-09T09:31:00.000-04:00", ".3128")
    correction = builder.act("2026-03-09T15:10:00.000-04:00", CORRECTION | {"of": page}, person=first)
    builder.act("2026-03-09T15:25:00.000-04:00", _second(correction), person=second)
    return builder.close()


@pytest.mark.parametrize(
    ("second", "why"),
    [
        ("P-108", ""),
        ("P-106", "whoever proposed it signed it again"),
        ("P-101", "whoever took the reading signed it"),
        ("P-103", "whoever signed it may not correct a reading"),
        (None, "whoever proposed it signed it again"),
    ],
    ids=["another with authority", "the same person", "who took it", "no authority", "nobody named"],
)
def test_a_second_signature_that_does_not_stand_is_told(second: str | None, why: str) -> None:
    """X69: same person, who took the reading, or no authority; a different, authorised person is no exception."""
    closed = _corrected(second)

    assert ("X69" in numbers_of(closed)) is bool(why)
    if why:
        told = exception_of(closed, "X69")
        assert why in told["sentence"]
        assert (told["cause"], told["urgency"], told["effect"], told["state"]) == ("desk", "B", "", "open")
        assert second is None or second not in told["sentence"]


def test_a_release_may_not_be_seconded_by_who_took_one_of_its_readings() -> None:
    """X69: P-108 took one of two readings and may sign releases; on this one the signature does not stand."""
    builder = HeldBuilder()
    pages = [
        builder.reading("2026-03-09T09:31:00.000-04:00", ".3122"),
        builder.reading("2026-03-09T09:32:00.000-04:00", ".3122", person="P-108"),
    ]
    evidence = builder.check("2026-03-09T13:00:00.000-04:00")
    release = builder.act(
        "2026-03-09T15:10:00.000-04:00",
        {"kind": "release", "readings": pages, "evidence": [evidence], "reason": "found good"},
    )
    builder.act("2026-03-09T15:25:00.000-04:00", _second(release), person="P-108")

    assert "whoever took the reading" in exception_of(builder.close(), "X69")["sentence"]


def test_a_second_signature_that_was_refused_is_told_with_the_words_of_the_refusal() -> None:
    """X69: what desk or kiosk refused as X69 is kept as a page and stands on the list; other refusals do not."""
    builder = HeldBuilder()
    told = {"kind": "refusal", "why": "P-101 took the reading.", "next_step": "Let a different person sign."}
    refused = "Second signature not set, to correct a reading (X69)."
    builder.act("2026-03-09T15:15:00.000-04:00", told | {"what": refused, "by_rule": "X69"}, person="P-101")
    builder.act("2026-03-09T15:20:00.000-04:00", told | {"what": "Lot L-411 not closed."}, person="P-101")

    exception = exception_of(builder.close(), "X69")

    assert exception["sentence"].startswith("Second signature not set, to correct a reading (X69)")
    assert "P-101" not in exception["sentence"]


def test_a_page_signed_on_another_day_is_told_on_its_own_day_only() -> None:
    """X69 belongs to the day of the second signature: the 10th, not the 9th of what it signs."""
    builder = HeldBuilder()
    page = builder.reading("2026-03-09T09:31:00.000-04:00", ".3128")
    correction = builder.act("2026-03-09T15:10:00.000-04:00", CORRECTION | {"of": page})
    builder.act("2026-03-10T08:00:00.000-04:00", _second(correction), person="P-106")

    assert "X69" not in numbers_of(builder.close())
