"""A study collected blind at a kiosk comes out as the study it was; what does not fit is told."""

from pathlib import Path

import pytest

from consolidator.errors import NotComputed
from consolidator.studies import collect, outcome_of, reading_table
from kiosk.pages import Page
from kiosk.pages.studies import GaugeStudyReading
from tests.published import agrees
from tests.unit.carried import make_plant
from tests.unit.consolidator.studies.played_study import PIECES, PlayedStudy


@pytest.fixture
def played(tmp_path: Path) -> PlayedStudy:
    """A study that was ordered, and nothing measured yet."""
    return PlayedStudy(make_plant(tmp_path / "plant"))


def test_a_study_played_blind_gives_the_published_figures(played: PlayedStudy) -> None:
    """EV .2019, AV .2297, GRR .3058, PV 1.1046, 26.7 %, 5 categories; pooled GRR 27.9 % (AIAG MSA, read in copies)."""
    played.measure()
    played.end()

    found = collect(played.pages, "GS-1")
    outcome = outcome_of(found.readings)

    shares = outcome.ranges
    assert agrees(shares.repeatability, "0.2019")
    assert agrees(shares.gauge, "0.3058")
    assert agrees(shares.parts, "1.1046")
    assert (agrees(shares.percent_of_total(shares.gauge), "26.7"), shares.categories) == (True, 5)
    pooled = outcome.variance.shares
    assert agrees(pooled.percent_of_total(pooled.gauge), "27.9")
    assert (found.leader, found.notes, len(found.taken)) == ("P-104", (), 90)


def test_the_readings_stand_as_keyed_by_piece_and_round(played: PlayedStudy) -> None:
    """Piece 1, appraiser A: 0.29, 0.41, 0.64 (the published data)."""
    played.measure()

    title, rows = reading_table(collect(played.pages, "GS-1"))

    assert title == "Readings as keyed, in"
    assert rows[0][1] == "P-101 round 1"
    assert rows[1][:4] == (PIECES[0], "0.29", "0.41", "0.64")
    assert len(rows) == 11


def test_the_later_keying_of_a_turn_stands_and_the_earlier_is_named(played: PlayedStudy) -> None:
    """Both pages stay in the book."""
    played.measure(count=1)
    last = played.work.key_study("GS-1", "7.77", gauge="G-108", anew=True)

    (taken,) = collect(played.pages, "GS-1").taken

    assert (taken.keyed, taken.page) == ("7.77", last.page.ref)
    assert taken.earlier == (f"S12-a/{last.page.number - 1}",)


def test_what_is_missing_or_ended_short_is_told_and_nothing_is_filled_in(played: PlayedStudy) -> None:
    """A study of 40 of 90 readings has no figures."""
    played.measure(count=40)
    open_yet = collect(played.pages, "GS-1")
    played.end("the gauge was knocked")

    found = collect(played.pages, "GS-1")

    assert "its leader has not ended it, as far as pages were carried" in open_yet.notes
    assert found.notes == ("50 of 90 readings are not held", "ended short: the gauge was knocked")
    with pytest.raises(NotComputed, match="was not computed"):
        outcome_of(found.readings)


def test_a_reading_that_does_not_fit_the_order_is_left_out_and_told(played: PlayedStudy) -> None:
    """Keyed under another name than the order asked, it is no evidence about anybody."""
    played.measure(count=2)
    pages = played.pages
    spoilt = next(page for page in reversed(pages) if isinstance(page.act, GaugeStudyReading))
    other = spoilt.model_copy(update={"person": "P-199"})

    found = collect([other if page is spoilt else page for page in pages], "GS-1")

    assert len(found.taken) == 1
    assert f"{spoilt.ref} does not fit the order of this study and is left out" in found.notes


def test_of_two_studies_with_one_number_the_later_is_meant(played: PlayedStudy) -> None:
    """The other is named."""
    played.measure(count=1)
    played.end("begun anew")
    first = collect(played.pages, "GS-1").page
    order = next(page.act for page in played.pages if page.ref == first)
    again: Page = played.book.keep(order).model_copy(update={"kiosk_time": "2100-01-01T00:00:00.000-05:00"})

    found = collect([*played.pages[:-1], again], "GS-1")

    assert (found.page, len(found.taken)) == (again.ref, 0)
    assert f"{first} orders a study of this number too; it is not this one" in found.notes


def test_a_study_nobody_ordered_is_refused(played: PlayedStudy) -> None:
    """With what to do."""
    with pytest.raises(NotComputed, match="No gauge study GS-9 is held"):
        collect(played.pages, "GS-9")
