"""A desk on a real plant finds pages in the intake and in its own book, and its acts reach close of day."""

from datetime import timedelta
from pathlib import Path

import pytest

from consolidator.desk import Desk, Second, Seen, Signer, desk_of, open_desk, second_sign, set_pin, take_in_desk
from consolidator.errors import DeskRefused
from consolidator.intake import Archive, Intake
from consolidator.qc_room.corrections import Wanted, correct, state_of
from consolidator.qc_room.declarations import declare_lost
from kiosk.pages.desk import PagesLost
from kiosk.pages.readings import Correction
from kiosk.pages.words import SampleKind
from kiosk.ports import SystemChance
from tests.unit.carried import reading
from tests.unit.consolidator.played_plant import DAY, PlayedPlant, local, play

PINS = {"P-106": "481516", "P-108": "271828"}


@pytest.fixture
def played(tmp_path: Path) -> PlayedPlant:
    """A plant with four readings carried, the fifth .3128, and piece 3 measured again."""
    plant = play(tmp_path)
    plant.measure(local(DAY, 10), 2)
    plant.book.keep(reading("0.3128", piece=3, gauge="G-108"), local(DAY, 10, 1))
    again = reading("0.31225", piece=3, sample_kind=SampleKind.RE_MEASURE, re_measure_of="S12-a/3")
    plant.book.keep(again, local(DAY, 11), person="P-104")
    plant.carry(local(DAY, 12))
    return plant


def _signed_correction(desk: Desk) -> str:
    set_pin(desk, "P-106", PINS["P-106"], Signer("P-106", ""))
    set_pin(desk, "P-108", PINS["P-108"], Signer("P-106", PINS["P-106"]))
    wanted = Wanted("S12-a/3", "value", "0.3123", "keyed wrong", "keyed 8 for 3")
    page = correct(desk, Signer("B-106", PINS["P-106"]), wanted).page
    seen = Seen(desk.evidence(page.ref).fingerprint, True)
    second_sign(desk, page.ref, Second(Signer("B-108", PINS["P-108"]), seen))
    return page.ref


def test_correction_on_a_real_plant_finds_its_reading_and_its_re_measure(played: PlayedPlant) -> None:
    """O20 over the whole path: packets, intake, desk's book, PINs by argon2id at full strength."""
    with (
        open_desk(played.plant, clock=played.clock, chance=SystemChance()) as book,
        Intake(played.plant, now=played.clock.now) as intake,
    ):
        desk = desk_of(played.plant, book, intake, played.clock)
        ref = _signed_correction(desk)
        state = state_of(desk, ref)
        take_in_desk(played.plant, book, intake)

        assert state.is_effective and state.re_measured_by == ("S12-a/4",)
        assert state_of(desk_of(played.plant, book, intake, played.clock), ref) == state
        assert desk.page("S12-a/99") is None and desk.page("desk-a/999") is None

    with Archive(played.plant) as archive:
        held = archive.held(DAY, by_utc=local(DAY + timedelta(days=1), 6))
    assert [act.page.ref for act in held.acts if isinstance(act.page.act, Correction)] == [ref]


def test_pages_of_a_real_intake_that_are_here_are_not_declared_lost(played: PlayedPlant) -> None:
    """The runs of the intake say what is here."""
    with (
        open_desk(played.plant, clock=played.clock, chance=SystemChance()) as book,
        Intake(played.plant, now=played.clock.now) as intake,
    ):
        desk = desk_of(played.plant, book, intake, played.clock)
        set_pin(desk, "P-106", PINS["P-106"], Signer("P-106", ""))
        signer = Signer("P-106", PINS["P-106"])
        with pytest.raises(DeskRefused, match="3–4"):
            declare_lost(desk, signer, PagesLost(series="S12-a", first=3, last=7, reason="the panel burnt out"))

        done = declare_lost(desk, signer, PagesLost(series="S12-a", first=5, last=7, reason="the panel burnt out"))

    assert done.page.person == "P-106"
