"""Every kind of bad input at the desk, one case each: refused with what failed, why and the next step, and kept so.

What is asked for is by hand; each case is as small as the desk allows.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from consolidator.calibration_room.bench import Bench, Procedure
from consolidator.calibration_room.calibrations import save_as_found, save_calibration
from consolidator.calibration_room.movements import Extending, extend_due
from consolidator.desk.desk import Second
from consolidator.desk.seconds import second_sign
from consolidator.desk.signatures import Seen, Signer
from consolidator.errors import DeskRefused, PinRefused
from consolidator.qc_room.declarations import declare_lost
from consolidator.qc_room.dispositions import Wanted, dispose
from consolidator.qc_room.lots import CloseConditions, close_lot
from consolidator.qc_room.proofs import record_test
from consolidator.qc_room.releases import release
from kiosk.pages import Page
from kiosk.pages.desk import PagesLost
from kiosk.pages.station import GaugeIncident, Remark, SetUpStart
from kiosk.pages.words import Choice, GaugeIncidentKind
from tests.unit.consolidator.desk.small_desk import SmallDesk

Deed = Callable[[], object]
BENCH = Bench(
    "G-220",
    Procedure("C-2 rev B", (("-0.005", "0.00005"), ("0", ""), ("0.005", "0.00005")), "66", "70", "degF", 60),
    {"-0.005": "0", "0": "0", "0.005": "0"},
    masters=("M-02",),
    room_temperature="68.0",
    soak_min=120,
)
EXTENDING = Extending("G-415", date(2026, 3, 27), "the laboratory is closed until then", "as-found good five times")
CLOSE = (("L-411", 2000), CloseConditions())


def _lost(small: SmallDesk, by: str = "P-104") -> Page:
    lost = PagesLost(series="S12-a", first=900, last=903, reason="the kiosk fell into the coolant tank")
    return declare_lost(small.desk, small.by(by), lost).page


def _signed_by_somebody_without_authority(small: SmallDesk) -> Deed:
    page = _lost(small)
    return lambda: second_sign(small.desk, page.ref, small.second("P-101", page.ref))


def _signed_by_who_proposed_it(small: SmallDesk) -> Deed:
    page = _lost(small)
    seen = Seen(small.desk.evidence(page.ref).fingerprint, True)
    return lambda: second_sign(small.desk, page.ref, Second(Signer("B-104", small.by("P-104").pin), seen))


def _signed_by_who_took_the_reading(small: SmallDesk) -> Deed:
    reading = small.read("0.31225", "P-108")
    small.to("2026-03-16 10:00")
    evidence = small.keep(GaugeIncident(gauge="G-220", what=GaugeIncidentKind.DOUBTFUL))
    told = {"readings": (reading.ref,), "evidence": (evidence.ref,), "reason": "found good in the calibration room"}
    page = release(small.desk, small.by("P-104"), told).page
    return lambda: second_sign(small.desk, page.ref, small.second("P-108", page.ref))


def _signed_twice(small: SmallDesk) -> Deed:
    page = _lost(small)
    second_sign(small.desk, page.ref, small.second("P-108", page.ref))
    return lambda: second_sign(small.desk, page.ref, small.second("P-108", page.ref))


def _signed_with_the_clock_set_back(small: SmallDesk) -> Deed:
    page = _lost(small)
    small.to("2026-03-16 08:59")
    return lambda: second_sign(small.desk, page.ref, small.second("P-108", page.ref))


def _signed_with_a_locked_pin(small: SmallDesk) -> Deed:
    page = _lost(small)
    for _ in range(3):
        with pytest.raises(PinRefused):
            second_sign(small.desk, page.ref, small.second("P-108", page.ref, pin="000111"))
    return lambda: second_sign(small.desk, page.ref, small.second("P-108", page.ref))


def _first_signed_with_a_locked_pin(small: SmallDesk) -> Deed:
    for _ in range(3):
        with pytest.raises(PinRefused):
            close_lot(small.desk, small.by("P-104", "000111"), *CLOSE)
    return lambda: close_lot(small.desk, small.by("P-104"), *CLOSE)


def _signed_although_it_changed_since(small: SmallDesk) -> Deed:
    page = _lost(small)
    second = small.second("P-108", page.ref)
    small.keep(Remark(about=page.ref, words="two of them turned up on a stick"))
    return lambda: second_sign(small.desk, page.ref, second)


def _as_found_after_as_left(small: SmallDesk) -> Deed:
    left = replace(BENCH, as_found={}, as_left=BENCH.as_found, action="adjusted")
    save_calibration(small.desk, small.by("P-105"), left)
    return lambda: save_as_found(small.desk, small.by("P-105"), BENCH)


def _due_date_typed(small: SmallDesk) -> Deed:
    return lambda: save_calibration(small.desk, small.by("P-105"), replace(BENCH, due=date(2027, 6, 30)))


def _extension_after_the_fact(small: SmallDesk) -> Deed:
    small.to("2026-03-21 00:00")
    return lambda: extend_due(small.desk, small.by("P-105"), EXTENDING)


def _extension_signed_second_after_the_fact(small: SmallDesk) -> Deed:
    page = extend_due(small.desk, small.by("P-105"), EXTENDING).page
    small.to("2026-03-21 00:00")
    return lambda: second_sign(small.desk, page.ref, small.second("P-108", page.ref))


def _proof_from_another_set_up(small: SmallDesk) -> Deed:
    for set_up in ("SU-30", "SU-31"):
        act = SetUpStart(set_up=set_up, lot="L-411", part="B-3124", revision="C", operation="80", set_by="P-107")
        small.keep(act, "P-107")
    pieces = [
        {"piece": str(n), "lot": "L-411", "set_up": set_up, "result": "130000"}
        for n, set_up in enumerate(("SU-31", "SU-30", "SU-31"), start=1)
    ]
    told: dict[str, Any] = {"number": "TR-1", "what": "fatigue", "lot": "L-411", "part": "B-3124", "unit": "cycles",
                            "characteristic": "BC10", "set_up": "SU-31", "method": "plan", "frame": "F-36"}  # fmt: skip
    return lambda: record_test(small.desk, small.by("P-104"), told | {"pieces": pieces})


def _more_pieces_than_the_lot_has(small: SmallDesk) -> Deed:
    scrap = Wanted(Choice.SCRAP, "L-411", "dinged in the tumbler", "BC5", 2001, method="sawn through", witness="P-108")
    return lambda: dispose(small.desk, small.by("P-104"), scrap)


def _lot_closed_twice(small: SmallDesk) -> Deed:
    close_lot(small.desk, small.by("P-104"), *CLOSE)
    return lambda: close_lot(small.desk, small.by("P-106"), *CLOSE)


def _calibration_with_points_missing(small: SmallDesk) -> Deed:
    return lambda: save_calibration(small.desk, small.by("P-105"), replace(BENCH, as_found={"0": "0"}))


@pytest.mark.parametrize(
    ("prepare", "why", "rule", "by"),
    [
        (_signed_by_somebody_without_authority, "P-101 is not authorised for it at that minute", "X69", "P-101"),
        (_signed_by_who_proposed_it, "P-104 entered the proposal", "X69", "P-104"),
        (_signed_by_who_took_the_reading, "P-108 took the reading", "X69", "P-108"),
        (_signed_twice, "P-108 has signed it already", "X69", "P-108"),
        (_signed_with_the_clock_set_back, "dated before what it signs", "X69", "P-108"),
        (_signed_with_a_locked_pin, "", None, "P-108"),
        (_first_signed_with_a_locked_pin, "", None, "P-104"),
        (_signed_although_it_changed_since, "The record changed since it was shown", None, "P-108"),
        (_as_found_after_as_left, "", "X80", "P-105"),
        (_due_date_typed, "2027-06-30 was typed", None, "P-105"),
        (_extension_after_the_fact, "", "X83", "P-105"),
        (_extension_signed_second_after_the_fact, "", "X83", "P-108"),
        (_proof_from_another_set_up, "piece 2 of L-411, SU-30", "X61", "P-104"),
        (_more_pieces_than_the_lot_has, "2001 pieces were counted and the lot has 2000 left", None, "P-104"),
        (_lot_closed_twice, "It is closed already", None, "P-106"),
        (_calibration_with_points_missing, "Points missing: -0.005, 0.005", None, "P-105"),
    ],
    ids=lambda each: each.__name__[1:] if callable(each) else "",
)
def test_bad_input_is_refused_with_why_and_the_next_step_and_kept_as_a_page(
    small: SmallDesk, prepare: Callable[[SmallDesk], Deed], why: str, rule: str | None, by: str
) -> None:
    """What failed, why and what to do next; the refusal is the one page kept, in the name of who asked for it."""
    deed = prepare(small)
    before = small.last_number()

    with pytest.raises(DeskRefused) as refused:
        deed()

    told = refused.value
    assert all(words.strip() and words.endswith(".") for words in (told.what, told.why, told.next_step))
    assert why in told.why
    assert told.by_rule == rule
    assert small.last_number() == before + 1
    page = small.book.page(before + 1)
    kept = small.refusals()[-1]
    assert page.act == kept
    assert page.person == by
    assert (kept.what, kept.why, kept.next_step) == (told.what, told.why, told.next_step)
    assert kept.by_rule == rule


def test_a_locked_pin_says_who_unlocks_it_and_never_what_was_keyed(small: SmallDesk) -> None:
    """Three wrong PINs: locked, and the fourth, right one is refused as locked."""
    deed = _first_signed_with_a_locked_pin(small)

    with pytest.raises(PinRefused, match="locked") as refused:
        deed()

    assert "lead" in refused.value.next_step
    assert small.by("P-104").pin not in str(refused.value)
