"""Lots: closed when nothing is open, once, by two where a kiosk is silent; shipped, held, lifted, signed off."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from consolidator.desk.desk import Second
from consolidator.desk.signatures import Seen
from consolidator.errors import DeskRefused, PinRefused
from consolidator.qc_room.dispositions import Wanted, dispose
from consolidator.qc_room.lots import (
    CloseConditions,
    OpenException,
    close_lot,
    hold_lot,
    is_closed,
    lift_hold,
    reopen_lot,
    ship_lot,
    sign_off,
)
from kiosk.pages.desk import LotClose, LotShip, OperationSignOff, SecondSignature
from kiosk.pages.words import Choice
from tests.unit.consolidator.desk.small_desk import SmallDesk

CLEAR = CloseConditions()
WHOLE = ("L-411", 2000)
SILENT = CloseConditions(silent_kiosks=("S13-a",), exceptions=(OpenException("X70:S13-a:2026-03-15", "X70", "B"),))


def _ship(quantity: int, lot: str = "L-411") -> LotShip:
    return LotShip(lot=lot, quantity=quantity, customer="CU-1", order="O-9004")


def test_lot_with_nothing_open_is_closed_by_one_signature(small: SmallDesk) -> None:
    """The signature says what was closed."""
    done = close_lot(small.desk, small.by("P-104"), WHOLE, CLEAR)

    act = done.page.act
    assert isinstance(act, LotClose) and act.signature is not None
    assert act.signature.sentence == "I close lot L-411 with 2000 pieces."
    assert is_closed(small.desk, "L-411") and not is_closed(small.desk, "L-412")


def test_everything_that_stands_against_a_close_is_named(small: SmallDesk) -> None:
    """Before the proof passed, closing is refused naming X55; C and D do not stop it."""
    against = CloseConditions(
        exceptions=(
            OpenException("X23:L-411:2026-03-12", "X23", "B", "1 reading out"),
            OpenException("X73:S12-a:2026-03-12", "X73", "C"),
        ),
        holds=("X23 since 12 March",),
        unproven_set_ups=("SU-31",),
        missing=("BC9: 2 of 3 pieces (X43)",),
    )

    with pytest.raises(DeskRefused) as refused:
        close_lot(small.desk, small.by("P-104"), WHOLE, against)

    for told in ("X23", "on hold", "SU-31", "X55", "X43"):
        assert told in refused.value.why
    assert "X73" not in refused.value.why
    assert small.refusals()[-1].why == refused.value.why
    assert not is_closed(small.desk, "L-411")


def test_lot_closed_twice_is_refused_until_it_was_opened_again(small: SmallDesk) -> None:
    """A closed lot is opened by a signature, then closed again."""
    close_lot(small.desk, small.by("P-104"), WHOLE, CLEAR)
    with pytest.raises(DeskRefused, match="closed already"):
        close_lot(small.desk, small.by("P-106"), WHOLE, CLEAR)

    reopen_lot(small.desk, small.by("P-106"), "L-411", "pages of S13 came by stick")
    assert not is_closed(small.desk, "L-411")
    close_lot(small.desk, small.by("P-104"), WHOLE, CLEAR)

    with pytest.raises(DeskRefused, match="not closed"):
        reopen_lot(small.desk, small.by("P-106"), "L-412", "pages of S13 came by stick")


def test_silent_kiosk_takes_a_second_person_who_saw_what_is_missing(small: SmallDesk) -> None:
    """X70: one signature is not enough, nor is the same person twice, nor an old list of what is open."""
    with pytest.raises(DeskRefused) as refused:
        close_lot(small.desk, small.by("P-104"), WHOLE, SILENT)
    assert refused.value.by_rule == "X70"
    for second, says in (
        (Second(small.by("P-104"), Seen(SILENT.fingerprint, True)), "X69"),
        (Second(small.by("P-102"), Seen(SILENT.fingerprint, True)), "not authorised"),
        (Second(small.by("P-108"), Seen(CLEAR.fingerprint, True)), "changed since it was shown"),
        (Second(small.by("P-108"), Seen(SILENT.fingerprint, False)), "to its end"),
    ):
        with pytest.raises(DeskRefused, match=says):
            close_lot(small.desk, small.by("P-104"), WHOLE, SILENT, second)
    assert small.desk.acts_of(LotClose) == []

    done = close_lot(
        small.desk, small.by("P-104"), WHOLE, SILENT, Second(small.by("P-108"), Seen(SILENT.fingerprint, True))
    )

    assert [page.person for page in done.pages] == ["P-104", "P-108"]
    assert isinstance(done.pages[1].act, SecondSignature) and done.pages[1].act.of == done.page.ref


def test_close_with_a_wrong_pin_keeps_nothing_of_it(small: SmallDesk) -> None:
    """Badge alone closes no lot."""
    with pytest.raises(PinRefused):
        close_lot(small.desk, small.by("P-104", "000111"), WHOLE, CLEAR)

    assert small.desk.acts_of(LotClose) == []


def test_quantity_is_held_against_what_is_left(small: SmallDesk) -> None:
    """35 scrapped of 2 000: 2 000 cannot be closed, 1 960 can and five are told as not accounted for."""
    scrap = Wanted(Choice.SCRAP, "L-411", "dinged in the tumbler", "BC5", 35, method="sawn through", witness="P-108")
    dispose(small.desk, small.by("P-104"), scrap)
    with pytest.raises(DeskRefused, match="1965 are left"):
        close_lot(small.desk, small.by("P-104"), WHOLE, CLEAR)
    with pytest.raises(DeskRefused):
        close_lot(small.desk, small.by("P-104"), ("L-411", 0), CLEAR)

    done = close_lot(small.desk, small.by("P-104"), ("L-411", 1960), CLEAR)

    assert done.notes == ("5 of 1965 pieces left are not in it (X42).",)


def test_shipment_is_a_fact_and_says_what_is_still_open(small: SmallDesk) -> None:
    """X84 is told, not refused; more pieces than the lot has are refused, over all shipments together."""
    open_a = replace(CLEAR, exceptions=(OpenException("X23:L-411:2026-03-12", "X23", "A"),))

    done = ship_lot(small.desk, "P-104", _ship(1500), open_a)

    assert "not closed" in done.notes[0] and "X84" in done.notes[1]
    with pytest.raises(DeskRefused, match="500 are left"):
        ship_lot(small.desk, "P-104", _ship(501))
    assert ship_lot(small.desk, "P-104", _ship(500)).page.person == "P-104"


def test_anybody_holds_a_lot_and_only_authority_lifts_it(small: SmallDesk) -> None:
    """Stopping is everybody's, letting go is not; an A hold waits for a second person."""
    assert hold_lot(small.desk, "B-102", "L-411", "threads look torn").page.person == "P-102"
    with pytest.raises(DeskRefused, match="may not lift"):
        lift_hold(small.desk, small.by("P-102"), "L-411", "looked at them again")

    plain = lift_hold(small.desk, small.by("P-104"), "L-411", "sorted, all good", [("X39", "B")])
    weighty = lift_hold(small.desk, small.by("P-104"), "L-411", "sorted, all good", [("X39", "B"), ("X50", "A")])

    assert plain.notes == ()
    assert "second person" in weighty.notes[0]


def test_operation_is_signed_off_once_and_in_order(small: SmallDesk) -> None:
    """Thread rolling (80) may not be accepted before heat treat (40) is, by the deck's route."""
    with pytest.raises(DeskRefused) as refused:
        sign_off(small.desk, small.by("P-104"), "L-411", "80")
    assert refused.value.by_rule == "X48"

    sign_off(small.desk, small.by("P-104"), "L-411", "40", "hardness 45 to 47 HRC, chart 12")
    with pytest.raises(DeskRefused, match="already"):
        sign_off(small.desk, small.by("P-104"), "L-411", "40")
    sign_off(small.desk, small.by("P-104"), "L-411", "80")

    assert [act.operation for _, act in small.desk.acts_of(OperationSignOff)] == ["40", "80"]


def test_unknown_lot_and_unknown_operation_are_refused(small: SmallDesk) -> None:
    """Nothing is signed about what is not in the register."""
    tries: tuple[Callable[[], object], ...] = (
        lambda: close_lot(small.desk, small.by("P-104"), ("L-999", 1), CLEAR),
        lambda: ship_lot(small.desk, "P-104", _ship(1, "L-999")),
        lambda: hold_lot(small.desk, "P-104", "L-999", "threads look torn"),
        lambda: sign_off(small.desk, small.by("P-106"), "L-411", "99"),
    )
    for do in tries:
        with pytest.raises(DeskRefused):
            do()

    assert len(small.refusals()) == 4
