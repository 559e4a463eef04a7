"""Gauges on the move, out of use and back; extensions that work once, with two persons, and never late."""

from dataclasses import replace
from datetime import date

import pytest

from consolidator.calibration_room.movements import (
    Extending,
    change_state,
    extend_due,
    keep_roll_call,
    move_gauge,
    narrow_window,
)
from consolidator.calibration_room.standing import standing_of
from consolidator.desk.seconds import second_sign
from consolidator.errors import DeskRefused
from kiosk.pages import Page
from kiosk.pages.desk import Calibration, CalibrationPoint, Extension, GaugeStateChange, LookBackWindow, SecondSignature
from kiosk.pages.station import GaugeIncident, GaugeMovement
from kiosk.pages.words import GaugeIncidentKind, Meaning
from tests.unit.consolidator.desk.small_desk import SmallDesk

ASKED = Extending(
    "G-415", date(2026, 3, 27), "the laboratory is closed until 25 March", "as-found good five times in a row"
)


def _due(small: SmallDesk, gauge: str = "G-415") -> date | None:
    standing = standing_of(gauge, small.desk.lists, small.desk.acts(), small.desk.now())
    assert standing is not None
    return standing.due


def _state(small: SmallDesk, gauge: str) -> str:
    standing = standing_of(gauge, small.desk.lists, small.desk.acts(), small.desk.now())
    assert standing is not None
    return standing.state


def _calibrated(small: SmallDesk, as_found: str, as_left: str, gauge: str = "G-220") -> Page:
    act = Calibration(
        gauge=gauge, done_at=small.desk.now().isoformat(timespec="milliseconds"), masters=("M-02",), procedure="C-2",
        unit="in", points=(CalibrationPoint(at="0", permissible="0.00005", as_found="0", as_left="0"),),
        as_found=as_found, as_left=as_left,
    )  # fmt: skip
    return small.desk.keep(act, "P-105")


def test_extension_works_from_its_second_signature_only(small: SmallDesk) -> None:
    """G-415 is due 20 March; one signature changes nothing."""
    page = extend_due(small.desk, small.by("P-105"), ASKED).page
    assert _due(small) == date(2026, 3, 20)
    small.to("2026-03-20 23:59")

    second_sign(small.desk, page.ref, small.second("P-108", page.ref))

    assert _due(small) == date(2026, 3, 27)
    act = page.act
    assert isinstance(act, Extension) and act.old_due == date(2026, 3, 20)


def test_extension_after_the_due_date_is_x83_for_the_first_and_for_the_second_signature(small: SmallDesk) -> None:
    """Due 20 March is good until 24:00; at 00:00 of the 21st it is too late for both."""
    page = extend_due(small.desk, small.by("P-105"), ASKED).page
    small.to("2026-03-21 00:00")

    with pytest.raises(DeskRefused, match="X83") as second:
        second_sign(small.desk, page.ref, small.second("P-108", page.ref))
    with pytest.raises(DeskRefused, match="X83") as first:
        extend_due(small.desk, small.by("P-105"), ASKED)

    assert first.value.by_rule == second.value.by_rule == "X83"
    assert [refusal.by_rule for refusal in small.refusals()] == ["X83", "X83"]
    assert _due(small) == date(2026, 3, 20)


def test_second_signature_in_the_book_but_late_does_not_work(small: SmallDesk) -> None:
    """Whatever keeps such a page, the due date stays: the lookup holds to the same rule as the refusal."""
    page = extend_due(small.desk, small.by("P-105"), ASKED).page
    small.to("2026-03-21 00:00")
    small.desk.keep(SecondSignature(of=page.ref, meaning=Meaning.APPROVED), "P-108")

    assert _due(small) == date(2026, 3, 20)


def test_a_due_date_is_put_back_once_until_the_next_calibration(small: SmallDesk) -> None:
    """Max one, also while the first waits for its second signature."""
    page = extend_due(small.desk, small.by("P-105"), ASKED).page
    with pytest.raises(DeskRefused, match="put back once"):
        extend_due(small.desk, small.by("P-106"), ASKED)
    second_sign(small.desk, page.ref, small.second("P-108", page.ref))
    with pytest.raises(DeskRefused, match="put back once"):
        extend_due(small.desk, small.by("P-105"), replace(ASKED, new_due=date(2026, 4, 3)))
    small.to("2026-03-18 09:00")
    _calibrated(small, "Good", "Good", "G-415")
    small.to("2026-03-19 09:00")

    extend_due(small.desk, small.by("P-105"), replace(ASKED, new_due=date(2026, 4, 3)))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"new_due": date(2026, 3, 20)}, "is not after"),
        ({"reason": "busy"}, "says nothing"),
        ({"evidence": ""}, "evidence is missing"),
        ({"gauge": "G-999"}, "not in the register"),
    ],
)
def test_extension_without_reason_evidence_or_a_later_date_is_refused(
    small: SmallDesk, change: dict[str, object], says: str
) -> None:
    """Reason and history must bear it out."""
    with pytest.raises(DeskRefused, match=says):
        extend_due(small.desk, small.by("P-105"), replace(ASKED, **change))  # type: ignore[arg-type]


def test_stopped_gauge_stays_stopped_until_somebody_puts_it_back(small: SmallDesk) -> None:
    """Bad news may reach back, a stop by hand is not lifted by a good calibration, and back works from now only."""
    since = "2026-03-15T22:00:00.000-04:00"
    stop = GaugeStateChange(gauge="G-220", state="Stopped", since=since, words="sticks at the low end")
    change_state(small.desk, small.by("P-104"), stop)
    assert _state(small, "G-220") == "Stopped"
    small.to("2026-03-16 10:00")
    _calibrated(small, "Good", "Good")
    assert _state(small, "G-220") == "Stopped"

    back = GaugeStateChange(gauge="G-220", state="In use", words="cleaned and checked good")
    with pytest.raises(DeskRefused, match="may not put a gauge back"):
        change_state(small.desk, small.by("P-104"), back)
    with pytest.raises(DeskRefused, match="from now on only"):
        change_state(small.desk, small.by("P-105"), back.model_copy(update={"since": since}))
    change_state(small.desk, small.by("P-105"), back)

    assert _state(small, "G-220") == "In use"
    with pytest.raises(DeskRefused, match="already"):
        change_state(small.desk, small.by("P-105"), back)


def test_gauge_left_out_past_due_or_dropped_is_not_put_back_to_use(small: SmallDesk) -> None:
    """Only a gauge that is fit is used again."""
    back = GaugeStateChange(gauge="G-220", state="In use", words="needed at the station")
    _calibrated(small, "Out", "Out")
    assert _state(small, "G-220") == "Found out at calibration"
    with pytest.raises(DeskRefused, match="found or left out"):
        change_state(small.desk, small.by("P-105"), back)

    small.to("2026-03-16 11:00")
    _calibrated(small, "Out", "Good")
    assert _state(small, "G-220") == "In use"
    for gauge, says in (("G-107", "was due"), ("G-221", "dropped or knocked")):
        small.desk.keep(GaugeStateChange(gauge=gauge, state="Stopped", words="looked at"), "P-105")
        small.keep(GaugeIncident(gauge="G-221", what=GaugeIncidentKind.DROPPED))
        with pytest.raises(DeskRefused, match=says):
            change_state(small.desk, small.by("P-105"), back.model_copy(update={"gauge": gauge}))


def test_state_from_a_time_ahead_or_without_words_is_refused(small: SmallDesk) -> None:
    """Nobody stops a gauge tomorrow, and the next reader must know why."""
    for change in (
        GaugeStateChange(
            gauge="G-220", state="Stopped", since="2026-03-17T09:00:00.000-04:00", words="sticks at times"
        ),
        GaugeStateChange(gauge="G-220", state="Lost", words="gone"),
    ):
        with pytest.raises(DeskRefused):
            change_state(small.desk, small.by("P-104"), change)

    lost = GaugeStateChange(gauge="G-220", state="Lost", words="not found at two roll calls")
    assert "cannot tell" in change_state(small.desk, small.by("P-104"), lost).notes[0]


def test_movement_says_where_the_gauge_went(small: SmallDesk) -> None:
    """Issued and borrowed need a station or a person; an unknown station is none."""
    for movement in (
        GaugeMovement(gauge="G-220", movement="issued"),
        GaugeMovement(gauge="G-220", movement="issued", to_station="S99"),
        GaugeMovement(gauge="G-999", movement="returned"),
    ):
        with pytest.raises(DeskRefused):
            move_gauge(small.desk, "P-105", movement)

    move_gauge(small.desk, "P-105", GaugeMovement(gauge="G-220", movement="issued", to_station="S13"))
    move_gauge(small.desk, "P-105", GaugeMovement(gauge="G-220", movement="returned"))


def test_roll_call_keeps_a_page_a_gauge_or_nothing(small: SmallDesk) -> None:
    """A number that is in no register, or in both lists, spoils the whole call."""
    for seen, gone in ((["G-220", "G-999"], []), (["G-220"], ["G-220"]), ([], [])):
        with pytest.raises(DeskRefused):
            keep_roll_call(small.desk, "P-105", seen, gone)
    assert small.desk.acts_of(GaugeMovement) == []

    done = keep_roll_call(small.desk, "P-105", ["G-220", "G-221"], ["G-107"])

    assert [act.movement for _, act in small.desk.acts_of(GaugeMovement)] == ["found", "found", "not found"]
    assert "G-107" in done.notes[0]


def test_look_back_window_is_narrowed_by_two_persons(small: SmallDesk) -> None:
    """It needs a reason, an end after its beginning, and a second signature."""
    told = {
        "gauge": "G-220", "begins_at": "2026-03-15T08:05:00.000-04:00", "ends_at": "2026-03-16T08:05:00.000-04:00",
        "reason": "zero checks good at both ends of the range",
    }  # fmt: skip
    window = LookBackWindow.model_validate(told)
    with pytest.raises(DeskRefused, match="ends before"):
        narrow_window(small.desk, small.by("P-105"), window.model_copy(update={"ends_at": window.begins_at}))

    page = narrow_window(small.desk, small.by("P-105"), window).page

    second_sign(small.desk, page.ref, small.second("P-106", page.ref))
