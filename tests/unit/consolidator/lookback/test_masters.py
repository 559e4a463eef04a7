"""A master found out: what was set or calibrated with it, what was calibrated with that, and its own readings."""

from fractions import Fraction
from typing import Any

from consolidator.lookback import LookBack, Why
from tests.unit.consolidator.lookback.looked import (
    LAST_GOOD,
    Plant,
    calibrated,
    finding_of,
    lists_with,
    points,
    true_of,
)

JUNE, OCTOBER, NOVEMBER = (
    f"2025-{month}-10T09:00:00.000-0{offset}:00" for month, offset in (("06", 4), ("10", 4), ("11", 5))
)
JAN, FEB, MAR = (f"2026-0{month}-14T09:00:00.000-0{offset}:00" for month, offset in ((1, 5), (2, 5), (3, 4)))
FOUND = "2026-03-20T14:00:00.000-04:00"
LATER = "2026-03-20T16:00:00.000-04:00"
PLUG = points(("0.31225", "0.0002"), permissible="0.00002")
GOOD = points(("0.250", "0"), ("0.350", "0.0001"))


def _blocks(*calibrations: dict[str, Any]) -> Plant:
    """Return a plant where blocks M-02 were good in June and G-108 was calibrated with them in December."""
    whole = (calibrated("M-02", JUNE, ("M-00",)), calibrated("G-108", LAST_GOOD, ("M-02",)), *calibrations)
    return Plant(lists_with(*whole))


def _found_out(plant: Plant, master: str = "M-02", **told: Any) -> str:
    return plant.calibrate(FOUND, master, masters=[], laboratory="invented", points=PLUG, **told)


def _users(back: LookBack) -> dict[str, bool]:
    return {user.number: user.is_settled for user in back.users}


def test_what_was_calibrated_with_it_in_its_window_cannot_be_told() -> None:
    """G-108 was calibrated with the blocks in December: its readings since then, and none before."""
    plant = _blocks()
    before, jan = plant.blank(NOVEMBER, ".2840"), plant.blank(JAN, ".2840")
    _found_out(plant)

    back = plant.look_back("M-02")

    assert _users(back) == {"G-108": False}
    assert (finding_of(back, before), finding_of(back, jan)) == ("", "Cannot tell")
    assert back.found.told_of(0).why == "G-108 was calibrated with M-02; check it against a sound master"


def test_what_was_calibrated_with_it_outside_its_window_is_not_in_question() -> None:
    """The blocks were calibrated in October, after G-107 and before G-108; only G-108 comes of them."""
    early = calibrated("G-107", "2025-09-10T10:00:00.000-04:00", ("M-02",))
    plant = _blocks(early, calibrated("M-02", OCTOBER, ("M-00",)))
    _found_out(plant)

    assert _users(plant.look_back("M-02")) == {"G-108": False}


def test_a_gauge_found_good_against_a_sound_master_is_out_of_question_backwards() -> None:
    """Checked on the afternoon with M-03, G-108 was good; nothing it measured is in question."""
    plant = _blocks()
    jan = plant.blank(JAN, ".2840")
    _found_out(plant)
    plant.calibrate(LATER, masters=["M-03"], points=GOOD, as_found="Good", action="none")

    back = plant.look_back("M-02")

    assert _users(back) == {"G-108": True}
    assert finding_of(back, jan) == ""


def test_a_gauge_found_good_against_the_same_master_proves_nothing() -> None:
    """February's calibration was done with the blocks too: January stays in question, and so does what followed."""
    plant = _blocks()
    jan, mar = plant.blank(JAN, ".2840"), plant.blank(MAR, ".2840")
    plant.calibrate(FEB, masters=["M-02"], points=GOOD, as_found="Good", action="none")
    _found_out(plant)

    back = plant.look_back("M-02")

    assert {finding_of(back, jan), finding_of(back, mar)} == {"Cannot tell"}


def test_a_gauge_found_out_against_a_sound_master_has_a_window_back_to_its_last_sound_calibration() -> None:
    """December's calibration was done with the blocks and begins no window; June's of the gauge, with M-03, does."""
    plant = _blocks(calibrated("G-108", JUNE, ("M-03",)))
    before, old, jan = (plant.blank(at, ".2837") for at in ("2025-06-01T09:00:00.000-04:00", OCTOBER, JAN))
    _found_out(plant)
    plant.calibrate(LATER, masters=["M-03"], points=points(("0.250", "0.0003"), ("0.300", "0.0003")))

    gauge, master = plant.look_back("G-108"), plant.look_back("M-02")

    assert [finding_of(gauge, page) for page in (before, old, jan)] == ["", "Would now fail", "Would now fail"]
    assert _users(master) == {"G-108": True}


def test_the_chain_goes_on_through_a_master_that_was_calibrated_with_it() -> None:
    """Blocks M-02, bench micrometer M-01 in December, thread ring G-502 with that in January: the ring cannot tell."""
    chain = (calibrated("M-01", LAST_GOOD, ("M-02",)), calibrated("G-502", JAN, ("M-01",)))
    plant = _blocks(*chain)
    ring = plant.reading(FEB, "Accept", characteristic="BC5", gauge="G-502", keyed_as="accept/reject", lot="L-420")
    _found_out(plant)

    back = plant.look_back("M-02")

    assert sorted(_users(back)) == ["G-108", "G-502", "M-01"]
    assert finding_of(back, ring) == "Cannot tell"
    assert back.users[1].windows[0].via == "M-01"


def test_masters_calibrated_with_one_another_end_the_chain_and_not_the_program() -> None:
    """A ring of three in bad lists: each is reached once."""
    ring = (calibrated("M-01", LAST_GOOD, ("M-03",)), calibrated("M-03", LAST_GOOD, ("M-01", "M-02")))
    plant = _blocks(*ring)
    _found_out(plant)

    assert "M-03" in _users(plant.look_back("M-02"))


def test_a_value_made_from_the_master_s_size_is_judged_by_the_master_s_error() -> None:
    """The plug is certified .31225 and .0002 smaller: dial -.0001 reads .31215, truly .31195, below .3120."""
    plant = Plant(lists_with(calibrated("M-14", JUNE, ("M-00",)), calibrated("G-220", LAST_GOOD, ("M-03",))))
    plant.zero("2026-01-14T08:00:00.000-05:00", "G-220", "M-14")
    read = {"gauge": "G-220", "keyed_as": "deviation"}
    scanned = plant.reading(JAN, "-.0001", master="M-14", **read)
    linked = plant.reading("2026-01-14T09:01:00.000-05:00", ".0001", **read)
    _found_out(plant, "M-14")

    back = plant.look_back("M-14")

    assert (finding_of(back, scanned), true_of(back, scanned)) == ("Would now fail", str(Fraction(31195, 100_000)))
    assert (finding_of(back, linked), true_of(back, linked)) == ("Still inside", str(Fraction(31215, 100_000)))
    assert _users(back) == {"G-220": False}


def test_seen_from_the_gauge_that_was_set_on_it_the_findings_are_the_same() -> None:
    """Whoever asks for G-220 gets the plug's error as well, and no reading of another gauge."""
    plant = Plant(lists_with(calibrated("M-14", JUNE, ("M-00",)), calibrated("G-220", LAST_GOOD, ("M-03",))))
    plant.zero("2026-01-14T08:00:00.000-05:00", "G-220", "M-14")
    mine = plant.reading(JAN, "-.0001", gauge="G-220", keyed_as="deviation")
    other = plant.reading(JAN, "-.0001", gauge="G-221", master="M-14", keyed_as="deviation", station="S13")
    _found_out(plant, "M-14")

    gauge, master = plant.look_back("G-220"), plant.look_back("M-14")

    assert finding_of(gauge, mine) == finding_of(master, mine) == "Would now fail"
    assert (finding_of(gauge, other), finding_of(master, other)) == ("", "Would now fail")


def test_a_gauge_zeroed_on_another_sound_master_is_out_of_question_from_then_on() -> None:
    """G-108 was zeroed on the plug in January and on M-15 in February: what it read between cannot be told."""
    plant = Plant(lists_with(calibrated("M-14", JUNE, ("M-00",)), calibrated("G-108", LAST_GOOD, ("M-03",))))
    plant.zero("2026-01-14T08:00:00.000-05:00", "G-108", "M-14")
    jan = plant.blank(JAN, ".2840")
    plant.zero("2026-02-14T08:00:00.000-05:00", "G-108", "M-15")
    feb = plant.blank(FEB, ".2840")
    _found_out(plant, "M-14")

    back = plant.look_back("M-14")

    assert (finding_of(back, jan), finding_of(back, feb)) == ("Cannot tell", "")
    assert back.users[0].windows[0].why is Why.SET


def test_wires_certified_too_large_make_a_pitch_diameter_too_small_three_times_over() -> None:
    """M .3213 less three wires and .866025 / 24: .285204 with .02406 as certified, .285504 with the true .02396."""
    plant = Plant(lists_with(calibrated("W-24", JUNE, ("M-00",))))
    page = plant.reading(
        JAN, ".3213", station="S24", characteristic="BC4", gauge="G-301", master="W-24", keyed_as="over wires",
        person="P-102",
    )  # fmt: skip
    plant.calibrate(FOUND, "W-24", masters=[], laboratory="invented", points=points(("0.02406", "0.0001")))

    back = plant.look_back("W-24")
    by_hand = Fraction(3213, 10_000) - 3 * Fraction(2396, 100_000) + Fraction(866025, 1_000_000) / 24

    assert abs(Fraction(true_of(back, page)) - by_hand) < Fraction(1, 10**12)
    assert finding_of(back, page) == "Would now fail"


def test_a_check_that_names_no_master_was_made_on_the_register_s() -> None:
    """G-220 is set on M-14 by the register; a check page that leaves it out is in question as one that names it."""
    plant = Plant(lists_with(calibrated("M-14", JUNE, ("M-00",))))
    told = {"kind": "check", "check_kind": "zero check", "gauge": "G-220", "keyed": "0", "unit": "in", "error": "0",
            "limit": "0.00005", "verdict": "Good"}  # fmt: skip
    plant.act("2026-01-14T08:00:00.000-05:00", told, series="S12-a", person="P-101")
    _found_out(plant, "M-14")

    assert _users(plant.look_back("M-14")) == {"G-220": False}


def test_of_two_checks_of_one_moment_the_later_page_stands() -> None:
    """Set on the sound M-15 and in the same millisecond, one page later, on M-14: what follows is in question."""
    plant = Plant(lists_with(calibrated("M-14", JUNE, ("M-00",))))
    for master in ("M-15", "M-14"):
        plant.zero("2026-01-14T08:00:00.000-05:00", "G-220", master)
    page = plant.reading(JAN, ".3122", gauge="G-220")
    _found_out(plant, "M-14")

    assert finding_of(plant.look_back("M-14"), page) == "Cannot tell"


def test_what_was_set_on_it_is_wrong_by_its_error_until_it_is_set_again() -> None:
    """The plug went out of use at 14:00; a dial set on it at noon still shows .0002 too much at 15:00."""
    plant = Plant(lists_with(calibrated("M-14", JUNE, ("M-00",))))
    plant.zero("2026-03-20T12:00:00.000-04:00", "G-220", "M-14")
    _found_out(plant, "M-14")
    page = plant.reading("2026-03-20T15:00:00.000-04:00", "-.0001", gauge="G-220", keyed_as="deviation")
    plant.zero("2026-03-20T16:00:00.000-04:00", "G-220", "M-15")
    after = plant.reading("2026-03-20T16:05:00.000-04:00", "-.0001", gauge="G-220", keyed_as="deviation")

    back = plant.look_back("M-14")

    assert (finding_of(back, page), true_of(back, page)) == ("Would now fail", str(Fraction(31195, 100_000)))
    assert finding_of(back, after) == ""


def test_a_master_found_out_against_one_that_it_had_calibrated_hides_nothing() -> None:
    """M-02 calibrated M-01 in October, M-01 calibrated G-107 in November, and against M-01 M-02 was found out."""
    chain = (calibrated("M-01", OCTOBER, ("M-02",)), calibrated("G-107", NOVEMBER, ("M-01",)))
    plant = _blocks(*chain)
    page = plant.blank(JAN, ".2840", gauge="G-107")
    plant.calibrate(FOUND, "M-02", masters=["M-01"], points=PLUG)

    back = plant.look_back("M-02")

    assert sorted(_users(back)) == ["G-107", "G-108", "M-01", "M-02"]
    assert finding_of(back, page) == "Cannot tell"
