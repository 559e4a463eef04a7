"""Calibrations: as-found first, all points, fit masters, verdict and due date computed and never typed."""

from dataclasses import replace
from datetime import date

import pytest

from consolidator.calibration_room.bench import Bench, Procedure, verdict_at
from consolidator.calibration_room.calibrations import save_as_found, save_as_left, save_calibration
from consolidator.errors import DeskRefused, PinRefused
from kiosk.lists import Lists
from kiosk.pages import is_bound
from kiosk.pages.desk import Calibration, CalibrationPoint, GaugeStateChange
from kiosk.pages.station import GaugeIncident, GaugeScan
from kiosk.pages.words import GaugeIncidentKind
from tests.unit.consolidator.desk.small_desk import SmallDesk

SNAP = Procedure("C-2 rev B", (("-0.005", "0.00005"), ("0", ""), ("0.005", "0.00005")), "66", "70", "degF", 60)
ZEROES = {"-0.005": "0.00000", "0": ".00005", "0.005": "-.00005"}
BENCH = Bench("G-220", SNAP, ZEROES, masters=("M-02",), room_temperature="68.0", soak_min=120)


def _page(small: SmallDesk, do: object, bench: Bench) -> Calibration:
    act = do(small.desk, small.by("P-105"), bench).page.act  # type: ignore[operator]
    assert isinstance(act, Calibration)
    return act


@pytest.mark.parametrize(
    ("error", "permissible", "verdict"),
    # The error as a decimal against its limit: equal is good; one more in the last place is out.
    [
        ("0.00005", "0.00005", "Good"),
        ("-0.00005", "0.00005", "Good"),
        ("0.000050000000001", "0.00005", "Out"),
        ("-0.00006", "0.00005", "Out"),
        ("0.1", "0.1", "Good"),
        ("0.3", "0.30", "Good"),
        ("0", "0", "Good"),
    ],
)
def test_error_equal_to_the_permissible_one_is_good(error: str, permissible: str, verdict: str) -> None:
    """Exact decimals: what is equal on paper is equal here."""
    point = CalibrationPoint(at="0", permissible=permissible, as_found=error)

    assert verdict_at((point,), "as_found") == verdict
    assert verdict_at((point,), "as_left") == "Not taken"


def test_whole_calibration_good_keeps_the_due_date_where_there_is_no_interval(small: SmallDesk) -> None:
    """O19 by hand: good as-found at 13:00, nothing touched; G-220 stays due 2026-06-30, as the register says."""
    small.to("2026-03-16 13:00")

    done = save_calibration(small.desk, small.by("P-105"), BENCH)

    act = done.page.act
    assert isinstance(act, Calibration) and act.signature is not None
    assert (act.as_found, act.as_left, act.due, act.action) == ("Good", "Good", date(2026, 6, 30), "none")
    assert [(p.at, p.permissible, p.as_found) for p in act.points] == [
        ("-0.005", "0.00005", "0.00000"), ("0", "0.00005", "0.00005"), ("0.005", "0.00005", "-0.00005"),
    ]  # fmt: skip
    assert act.done_at == "2026-03-16T13:00:00.000-04:00"
    assert is_bound(act.signature, small.content(done.page))
    assert done.notes == ("Due 2026-06-30, to the end of that day.",)


def _with_interval(small: SmallDesk, deck: Lists, days: int) -> None:
    told = {name: getattr(deck, name) for name in Lists.model_fields}
    gauges = tuple(g.model_copy(update={"interval_days": days}) if g.number == "G-220" else g for g in deck.gauges)
    object.__setattr__(small.desk, "lists", Lists.model_validate(told | {"gauges": gauges}))


@pytest.mark.parametrize(
    ("at", "days", "due"),
    # By calendar: 16 March + 182 days = 14 September 2026 (15 + 30 + 31 + 30 + 31 + 31 + 14);
    # 23:30 −04:00 is the 17th in UTC, but the date is the plant's: 16 March + 1 = 17 March.
    [
        ("2026-03-16 13:00", 182, date(2026, 9, 14)),
        ("2026-03-16 23:30", 1, date(2026, 3, 17)),
    ],
)
def test_due_date_is_the_date_of_calibration_and_the_interval(
    small: SmallDesk, deck: Lists, at: str, days: int, due: date
) -> None:
    """Computed in plant time, from the interval in the register."""
    _with_interval(small, deck, days)
    small.to(at)

    assert _page(small, save_calibration, BENCH).due == due


def test_due_date_typed_by_hand_is_refused_unless_it_is_the_computed_one(small: SmallDesk) -> None:
    """A typed date is what makes a gauge good for longer than it is."""
    with pytest.raises(DeskRefused, match="2027-06-30 was typed"):
        save_calibration(small.desk, small.by("P-105"), replace(BENCH, due=date(2027, 6, 30)))
    assert "was typed" in small.refusals()[-1].why

    assert _page(small, save_calibration, replace(BENCH, due=date(2026, 6, 30))).due == date(2026, 6, 30)


def test_gauge_past_due_without_an_interval_gets_no_due_date_from_nowhere(small: SmallDesk) -> None:
    """Without an interval there is nothing to compute the next date from."""
    small.to("2026-07-01 08:00")

    with pytest.raises(DeskRefused, match="no interval"):
        save_calibration(small.desk, small.by("P-105"), BENCH)


def test_as_found_out_is_saved_before_the_touch_so_that_a_look_back_can_start(small: SmallDesk) -> None:
    """O18 in small: .0003 high at every point against ±.0001 is out; adjusted, left good; one event in two pages."""
    points = tuple((at, "0.0001") for at in ("0.2835", "0.284", "0.2845"))
    bench = Bench(
        "G-108", Procedure("C-1 rev A", points), dict.fromkeys((at for at, _ in points), "0.0003"), masters=("M-02",)
    )
    small.to("2026-03-20 14:00")

    first = save_as_found(small.desk, small.by("P-105"), bench)
    found = first.page.act
    assert isinstance(found, Calibration)
    assert (found.stage, found.as_found, found.due) == ("as-found", "Out", None)
    assert any("look-back" in note for note in first.notes)

    small.to("2026-03-20 14:30")
    with pytest.raises(DeskRefused, match="as-left is not yet in"):
        save_as_found(small.desk, small.by("P-105"), bench)
    left = replace(bench, as_found={}, as_left=dict.fromkeys(bench.as_found, "0.00005"), action="adjusted", masters=())
    act = _page(small, save_as_left, left)

    assert (act.stage, act.as_found, act.as_left, act.masters) == ("as-left", "Out", "Good", ("M-02",))
    assert act.due == date(2026, 8, 31)
    assert {(p.as_found, p.as_left) for p in act.points} == {("0.0003", "0.00005")}


def test_as_found_entered_after_the_as_left_is_refused(small: SmallDesk) -> None:
    """What was touched can no longer be found; the refusal is a page and X80 stands."""
    left = replace(BENCH, as_found={}, as_left=ZEROES, action="adjusted")
    done = save_calibration(small.desk, small.by("P-105"), left)
    assert done.notes[0].startswith("X80")
    small.to("2026-03-16 09:20")

    for do in (save_as_found, save_calibration):
        with pytest.raises(DeskRefused, match="touched already") as refused:
            do(small.desk, small.by("P-105"), BENCH)

        assert refused.value.by_rule == "X80"
    assert [r.by_rule for r in small.refusals()] == ["X80", "X80"]
    act = done.page.act
    assert isinstance(act, Calibration) and act.as_found == "Not taken"


def test_as_found_with_a_time_before_the_as_left_is_refused(small: SmallDesk) -> None:
    """Back-dating does not make it taken before."""
    save_calibration(small.desk, small.by("P-105"), replace(BENCH, as_found={}, as_left=ZEROES, action="adjusted"))
    small.to("2026-03-18 09:00")

    with pytest.raises(DeskRefused, match="later one"):
        save_as_found(small.desk, small.by("P-105"), replace(BENCH, done_at="2026-03-16T08:59:00.000-04:00"))


@pytest.mark.parametrize("use", ["scan", "incident", "two days"])
def test_as_found_of_the_next_visit_is_taken(small: SmallDesk, use: str) -> None:
    """After any use, or after a day, what is found tells of the gauge as it came in."""
    save_calibration(small.desk, small.by("P-105"), replace(BENCH, as_found={}, as_left=ZEROES, action="cleaned"))
    small.to("2026-03-16 10:12")
    if use == "scan":
        small.keep(GaugeScan(gauge="G-220"))
    elif use == "incident":
        small.keep(GaugeIncident(gauge="G-220", what=GaugeIncidentKind.DROPPED))
    else:
        small.to("2026-03-18 10:12")

    assert _page(small, save_calibration, BENCH).as_found == "Good"


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"as_found": {"0": "0"}}, "Points missing: -0[.]005, 0[.]005"),
        ({"as_found": {**ZEROES, "0.010": "0"}}, "does not have: 0[.]010"),
        ({"as_found": {**ZEROES, "0": "0.0.1"}}, "Look again"),
        ({"as_found": {}, "as_left": {}}, "Points missing"),
        ({"action": "adjusted"}, "Points missing"),
        ({"as_left": {"0": "0"}}, "Points missing"),
        ({"masters": ()}, "No master"),
        ({"masters": ("M-99",)}, "not in the register"),
        ({"masters": ("G-220",)}, "its own master"),
        ({"masters": ("G-107",)}, "was due 2026-03-10"),
        ({"room_temperature": None}, "room's temperature"),
        ({"soak_min": None}, "soak time"),
        ({"gauge": "G-999"}, "not in the register"),
        ({"done_at": "2026-03-17T09:00:00.000-04:00"}, "lies ahead"),
        ({"done_at": "yesterday"}, "is no time"),
        ({"laboratory": "Lab 9 (invented)", "certificate": "K-17"}, "certificate itself"),
        ({"procedure": Procedure("C-9")}, "names no points"),
        ({"procedure": Procedure("C-9", (("0", "-0.1"),)), "as_found": {"0": "0"}}, "negative"),
        ({"action": "polished", "as_left": ZEROES}, "action"),
    ],
)
def test_calibration_with_something_missing_or_unfit_is_refused_and_kept_as_a_refusal(
    small: SmallDesk, change: dict[str, object], says: str
) -> None:
    """Nothing is kept of it but the refusal, with the next step."""
    with pytest.raises(DeskRefused, match=says):
        save_calibration(small.desk, small.by("P-105"), replace(BENCH, **change))  # type: ignore[arg-type]

    (refusal,) = small.refusals()
    assert refusal.next_step
    assert small.desk.acts_of(Calibration) == []


def test_master_stopped_on_a_page_is_unfit_from_then_on(small: SmallDesk) -> None:
    """The register may not say so yet; the page does (X09)."""
    small.desk.keep(GaugeStateChange(gauge="M-02", state="Stopped", words="chipped corner"), "P-105")

    with pytest.raises(DeskRefused, match="X09") as refused:
        save_calibration(small.desk, small.by("P-105"), BENCH)

    assert refused.value.by_rule == "X09"


def test_room_and_soak_outside_the_procedure_are_told_as_x81(small: SmallDesk) -> None:
    """The calibration is kept, flagged, and to be repeated; the ends of the range are inside."""
    assert _page(small, save_calibration, replace(BENCH, room_temperature="70")).as_found == "Good"
    small.to("2026-03-18 09:00")

    done = save_calibration(small.desk, small.by("P-105"), replace(BENCH, room_temperature="70.1", soak_min=59))

    assert [note[:4] for note in done.notes[:2]] == ["X81:", "X81:"]


def test_outside_laboratory_needs_its_certificate_and_no_master(small: SmallDesk) -> None:
    """A certificate without numbers is none: the points are entered all the same."""
    lab = replace(BENCH, masters=(), laboratory="Lab 9 (invented)", certificate="K-17", certificate_file="ab" * 32)

    act = _page(small, save_calibration, lab)

    assert (act.certificate, act.certificate_file, act.masters) == ("K-17", "ab" * 32, ())


def test_points_of_the_last_calibration_are_needed_again(small: SmallDesk) -> None:
    """A calibration cannot grow shorter from time to time."""
    _page(small, save_calibration, BENCH)
    small.to("2026-03-18 09:00")

    with pytest.raises(DeskRefused, match="Points missing"):
        save_calibration(
            small.desk, small.by("P-105"),
            replace(BENCH, procedure=Procedure("C-2 rev C"), as_found={"0.005": "0"}, room_temperature=None),
        )  # fmt: skip


def test_only_a_calibrator_with_his_pin_calibrates(small: SmallDesk) -> None:
    """Badge alone records readings, nothing else."""
    with pytest.raises(DeskRefused, match="may not enter a calibration"):
        save_calibration(small.desk, small.by("P-106"), BENCH)
    with pytest.raises(PinRefused):
        save_calibration(small.desk, small.by("P-105", "000111"), BENCH)
