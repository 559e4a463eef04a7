"""Sealing from the desk leaves the act as a page of the desk's own book, whatever happens in between."""

from datetime import timedelta
from pathlib import Path

import pytest

from consolidator.desk import DESK_SERIES, open_desk
from consolidator.desk.sealing import seal_day
from consolidator.errors import SealRefused
from consolidator.intake import Archive
from consolidator.ledger.folder import open_book
from kiosk.pages.desk import Seal
from kiosk.ports import SystemChance
from tests.unit.consolidator.played_plant import DAY, PlayedPlant, local, play

NEXT = DAY + timedelta(days=1)


@pytest.fixture
def played(tmp_path: Path) -> PlayedPlant:
    """A plant with one closed day."""
    plant = play(tmp_path)
    plant.measure(local(DAY, 10), 4)
    plant.carry(local(NEXT, 5))
    plant.close(DAY, local(NEXT, 6, 5))
    plant.clock.at = local(NEXT, 10)
    return plant


def _seals_held(played: PlayedPlant) -> list[Seal]:
    with Archive(played.plant) as archive:
        held = archive.held(NEXT, by_utc=played.clock.now())
    return [each.page.act for each in held.acts if isinstance(each.page.act, Seal)]


def _seal(played: PlayedPlant) -> None:
    seal_day(played.plant, (DAY, 0), ("P-106", "P-108"), clock=played.clock, chance=SystemChance())


def test_the_seal_stands_as_a_page_in_the_desk_s_book_and_is_taken_in(played: PlayedPlant) -> None:
    """The page says what was sealed, and close of day of the next day will find it."""
    _seal(played)

    (act,) = _seals_held(played)
    told = open_book(played.plant.ledger, DAY).seal_file["seal"]
    assert (act.day, act.ledger, act.word) == (DAY, told["ledger"], told["word"])


def test_power_cut_between_seal_and_page_is_mended_by_sealing_again(
    played: PlayedPlant, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The book was sealed and its page was not kept: doing it again keeps the page and leaves the seal."""

    class PowerGoneError(BaseException):
        """The power is gone."""

    def gone(*args: object, **more: object) -> None:
        raise PowerGoneError

    with monkeypatch.context() as patch:
        patch.setattr("consolidator.desk.sealing._keep", gone)
        with pytest.raises(PowerGoneError):
            _seal(played)
    before = open_book(played.plant.ledger, DAY).seal_file
    assert _seals_held(played) == []

    _seal(played)

    assert open_book(played.plant.ledger, DAY).seal_file == before
    assert len(_seals_held(played)) == 1
    with pytest.raises(SealRefused, match="sealed already"):
        _seal(played)


def test_the_desk_s_book_is_made_once_and_goes_on(played: PlayedPlant) -> None:
    """A second opening goes on in the same numbered run."""
    with open_desk(played.plant, clock=played.clock, chance=SystemChance()) as desk:
        first = desk.last_number
    with open_desk(played.plant, clock=played.clock, chance=SystemChance()) as desk:
        assert (desk.series, desk.first_number) == (DESK_SERIES, 1)
        assert desk.last_number == first + 1
