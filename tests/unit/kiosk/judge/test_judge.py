"""Verdict and standing of one reading; the worked figures are hand calculations on an invented plant."""

from datetime import datetime
from decimal import Decimal

import pytest
from hypothesis import given as every
from hypothesis import strategies as st

from kiosk.judge import Around, Given, Judged, judge, question
from kiosk.lists import Characteristic, Lists
from kiosk.lists.words import GaugeKind, GaugeState
from kiosk.measure.decimals import to_nano
from kiosk.pages.readings import Keying
from kiosk.pages.words import KeyedAs, SampleKind, Source, Standing, Verdict
from tests.unit.kiosk import plant

NINE = "2026-03-09 09:00:00"


def reading(characteristic: Characteristic, keyed: str, gauge: str | None = "G-108", **more: object) -> Given:
    """One reading as keyed, before it is judged."""
    unit = characteristic.unit
    return Given.model_validate(
        {
            "lot": "L-500" if characteristic.part == "N-2208" else "L-411",
            "part": characteristic.part,
            "operation": characteristic.operation,
            "characteristic": characteristic,
            "keyed": keyed,
            "keyed_as": KeyedAs.VALUE,
            "unit": unit,
            "gauge": gauge,
            **more,
        }
    )


def judged(given: Given, at: str = NINE, *, lists: Lists = plant.LISTS, around: Around | None = None) -> Judged:
    """The kiosk's word on a reading at a local time."""
    home = {"40": "S05", "60": "S12", "80": "S24", "30": "S31", "95": "S38"}[given.operation]
    return judge(given, lists, around or Around(station=home), moment=plant.local(at), zone=plant.ZONE)


@pytest.mark.parametrize(
    ("deviation", "value", "verdict"),
    [
        ("+.00025", "0.31250", Verdict.IN),
        ("+.00030", "0.31255", Verdict.OUT),
        ("-.00025", "0.31200", Verdict.IN),
        ("-.00030", "0.31195", Verdict.OUT),
        (".00005", "0.31230", Verdict.IN),
    ],
)
def test_a_value_equal_to_a_limit_is_in(deviation: str, value: str, verdict: Verdict) -> None:
    """Master .31225 and a deviation against .3120-.3125; hand calculation."""
    told = judged(reading(plant.SHANK, deviation, "G-220", keyed_as=KeyedAs.DEVIATION))

    assert (told.value, told.verdict, told.standing) == (value, verdict, Standing.COUNTS)
    assert told.reasons == (("X23",) if verdict is Verdict.OUT else ())
    assert told.shown == value.removeprefix("0")


@pytest.mark.parametrize(
    ("over_wires", "value", "shows", "verdict"),
    [
        (".3198", "0.283704375", ".28370", Verdict.IN),
        (".3187", "0.282604375", ".28260", Verdict.OUT),
        (".31885", "0.282754375", ".28275", Verdict.IN),
    ],
)
def test_a_reading_over_wires_is_judged_as_pitch_diameter(
    over_wires: str, value: str, shows: str, verdict: Verdict
) -> None:
    """M - 3 x .02406 + .866025 / 24 against .2827-.2854; hand calculation."""
    told = judged(reading(plant.PITCH, over_wires, "G-301", master="W-24", keyed_as=KeyedAs.OVER_WIRES))

    assert (told.value, told.shown, told.verdict, told.standing) == (value, shows, verdict, Standing.COUNTS)
    assert told.computed_from is not None and "W-24" in told.computed_from


def test_a_shown_figure_never_contradicts_the_verdict() -> None:
    """Upper limit .28370 and pitch diameter .283704375: out, so the digit that says so is shown. Hand calculation."""
    tight = plant.PITCH.model_copy(update={"upper": "0.28370"})

    told = judged(reading(tight, ".3198", "G-301", master="W-24", keyed_as=KeyedAs.OVER_WIRES))

    assert told.verdict is Verdict.OUT
    assert told.shown == ".283704"


def test_wires_for_another_pitch_are_blocked() -> None:
    """Wires of 28 threads an inch on a 24-thread part touch the flanks elsewhere: no pitch diameter, no verdict."""
    told = judged(reading(plant.PITCH, ".3198", "G-301", master="W-28", keyed_as=KeyedAs.OVER_WIRES))

    assert (told.value, told.verdict, told.standing) == (None, Verdict.NOT_JUDGED, Standing.BLOCKED)
    assert told.reasons == ("X19",)


def test_wires_nobody_named_give_no_figure_and_no_verdict() -> None:
    """Without a certified wire size there is no pitch diameter to judge."""
    told = judged(reading(plant.PITCH, ".3198", "G-301", keyed_as=KeyedAs.OVER_WIRES))

    assert (told.value, told.verdict, told.standing) == (None, Verdict.NOT_JUDGED, Standing.BLOCKED)
    assert told.reasons == ("X19",)


@pytest.mark.parametrize(
    ("keyed", "verdict", "reasons"),
    [
        (".0028", Verdict.IN, ()),
        (".0031", Verdict.IN, ("X24",)),
        (".0050", Verdict.IN, ("X24",)),
        (".0051", Verdict.OUT, ("X23",)),
    ],
)
def test_the_shops_own_limit_flags_and_the_drawing_decides(
    keyed: str, verdict: Verdict, reasons: tuple[str, ...]
) -> None:
    """Allowed .005, shop's own limit .003; hand calculation."""
    told = judged(reading(plant.RUNOUT, keyed, "G-415"))

    assert (told.verdict, told.reasons) == (verdict, reasons)


def test_a_gauge_goes_out_at_midnight_of_its_due_date() -> None:
    """Due 10 March: 23:58:30 counts and is told, 00:02:10 is in tolerance and blocked, in the same shift."""
    before = judged(reading(plant.BLANK, ".2841", "G-107"), "2026-03-10 23:58:30")
    at_midnight = judged(reading(plant.BLANK, ".2841", "G-107"), "2026-03-11 00:00:00")
    after = judged(reading(plant.BLANK, ".2840", "G-107"), "2026-03-11 00:02:10")

    assert (before.standing, before.reasons) == (Standing.COUNTS, ("X02",))
    assert (after.verdict, after.standing, after.reasons) == (Verdict.IN, Standing.BLOCKED, ("X01",))
    assert at_midnight.reasons == ("X01",)


def test_a_gauge_due_later_than_this_shift_is_not_mentioned() -> None:
    """At 21:59 on the due date the second shift ends before the gauge goes out."""
    assert judged(reading(plant.BLANK, ".2841", "G-107"), "2026-03-10 21:59:59").reasons == ()


def test_a_blocked_reading_still_accuses() -> None:
    """Past due and out of tolerance: both are named, neither hides the other."""
    told = judged(reading(plant.BLANK, ".2849", "G-107"), "2026-03-12 09:15:00")

    assert (told.verdict, told.standing, told.reasons) == (Verdict.OUT, Standing.BLOCKED, ("X01", "X23"))


@pytest.mark.parametrize(
    ("gauge", "keyed", "reasons", "standing"),
    [
        ("G-107", ".3123", ("X15",), Standing.FLAGGED),
        ("G-120", ".3125", ("X16",), Standing.BLOCKED),
        ("G-109", ".3122", ("X15", "X17"), Standing.BLOCKED),
    ],
)
def test_least_count_and_range_are_held_against_the_tolerance(
    gauge: str, keyed: str, reasons: tuple[str, ...], standing: Standing
) -> None:
    """Tolerance .0005: a least count of .0001 is 20 %, of .0005 is 100 %; .3122 lies below a 1-2 in frame."""
    kinds = (*plant.GROUND, GaugeKind.CALIPER)

    told = judged(reading(plant.SHANK.model_copy(update={"gauge_kinds": kinds}), keyed, gauge))

    assert (told.reasons, told.standing) == (reasons, standing)


def test_least_count_has_no_share_of_a_lower_limit_only() -> None:
    """N4 is not applied to a lower limit: a frame that reads whole pounds serves 12 800 lbf."""
    assert judged(reading(plant.LOAD, "12800", "G-700")).reasons == ()


def test_an_upper_limit_only_is_itself_the_tolerance() -> None:
    """.0001 of .005 is 2 %; of .0009 it is 11.1 %, coarse; hand calculation."""
    coarse = plant.RUNOUT.model_copy(update={"upper": "0.0009", "shop_limit": None})

    assert judged(reading(coarse, ".0005", "G-415")).reasons == ("X15",)


def test_a_kind_of_gauge_the_plan_does_not_allow_is_blocked() -> None:
    """A caliper on a ground diameter."""
    assert judged(reading(plant.SHANK, ".3125", "G-120")).reasons == ("X16", "X18")


@pytest.mark.parametrize(("gauge", "reasons"), [("G-502", ()), ("G-503", ("X19",)), ("G-505", ("X13", "X19"))])
def test_a_ring_of_another_class_or_member_is_blocked(gauge: str, reasons: tuple[str, ...]) -> None:
    """A 2A ring on a 3A part, and a NOT GO ring in the place of the GO ring."""
    told = judged(reading(plant.GO_RING, "Accept", gauge, keyed_as=KeyedAs.ACCEPT_REJECT))

    assert (told.verdict, told.reasons) == (Verdict.ACCEPT, reasons)


@pytest.mark.parametrize(("turns", "verdict"), [("3", Verdict.ACCEPT), ("3.25", Verdict.REJECT), ("0", Verdict.ACCEPT)])
def test_not_go_turns_are_judged_by_the_plans_rule(turns: str, verdict: Verdict) -> None:
    """ASME B1.2: entry of not more than three complete turns is acceptable (figure from memory of the standard)."""
    assert judged(reading(plant.NOT_GO_RING, turns, "G-503", keyed_as=KeyedAs.TURNS)).verdict is verdict


def test_a_gauge_the_register_does_not_know_is_blocked() -> None:
    """No identity, no evidence; the figure is judged all the same."""
    told = judged(reading(plant.SHANK, ".3126", "G-999"))

    assert (told.verdict, told.standing, told.reasons) == (Verdict.OUT, Standing.BLOCKED, ("X03", "X23"))


def test_a_gauge_out_of_use_is_blocked_and_one_away_from_home_is_flagged() -> None:
    """State and custody at the moment of the reading."""
    rows = tuple(
        g.model_copy(update={"state": GaugeState.STOPPED}) if g.number == "G-108" else g for g in plant.LISTS.gauges
    )
    stopped = judged(reading(plant.SHANK, ".3122"), lists=plant.lists_with(gauges=rows))
    away = judged(reading(plant.SHANK, ".3122"), around=Around(station="S13"))
    issued = judged(reading(plant.SHANK, ".3122"), around=Around(station="S13", is_gauge_issued_here=True))

    assert (stopped.standing, stopped.reasons) == (Standing.BLOCKED, ("X04",))
    assert (away.standing, away.reasons) == (Standing.FLAGGED, ("X13",))
    assert issued.reasons == ()


def test_a_figure_between_two_divisions_is_flagged() -> None:
    """.28405 on a micrometer that reads .0001; half a division is fine where the gauge allows it."""
    half = tuple(g.model_copy(update={"half_division": True}) for g in plant.LISTS.gauges)

    assert judged(reading(plant.BLANK, ".28405", "G-107")).reasons == ("X20",)
    assert judged(reading(plant.BLANK, ".28405", "G-107"), lists=plant.lists_with(gauges=half)).reasons == ()


def test_the_guard_band_flags_what_is_nearer_than_itself() -> None:
    """Guard band .0001 on .2835-.2845: .28445 is close, .2844 stands on the edge and is not."""
    banded = plant.BLANK.model_copy(update={"guard_band": "0.0001"})

    assert judged(reading(banded, ".28445")).reasons == ("X25",)
    assert judged(reading(banded, ".2844")).reasons == ()
    assert judged(reading(banded, ".28455")).reasons == ("X23",)


def ask(given: Given) -> tuple[str, ...]:
    """What the kiosk would ask about."""
    return question(given, plant.LISTS, Around(station="S12"), moment=plant.local(NINE), zone=plant.ZONE)


@pytest.mark.parametrize(
    ("keyed", "slips"),
    [
        ("3.122", ("X26",)),
        ("7.93", ("X27",)),
        (".3142", ("X28",)),
        ("9.9", ("X30",)),
        ("0", ("X30",)),
        (".3122", ()),
        (".3126", ()),
        (".3140", ()),
        (".31405", ("X30",)),
    ],
)
def test_only_an_unbelievable_figure_is_asked_about(keyed: str, slips: tuple[str, ...]) -> None:
    """Window .3105-.3140 (limits and three tolerances each side, ends included); hand calculation."""
    assert ask(reading(plant.SHANK, keyed)) == slips


def test_a_slip_that_was_asked_about_is_a_tag_and_the_second_figure_is_judged() -> None:
    """3.122, asked, then .3122: one reading, in, counts."""
    given = reading(plant.SHANK, ".3122", earlier=(Keying(text="3.122", asked=("X26",)),))

    told = judged(given)

    assert ask(given) == ()
    assert (told.verdict, told.standing, told.reasons) == (Verdict.IN, Standing.COUNTS, ("X26",))


def test_the_same_figure_keyed_again_is_believed() -> None:
    """.3142, asked, .3142 again: out, counts as a reject, and the question stays as a tag."""
    told = judged(reading(plant.SHANK, ".3142", earlier=(Keying(text=".3142", asked=("X28",)),)))

    assert (told.verdict, told.standing, told.reasons) == (Verdict.OUT, Standing.COUNTS, ("X23", "X28"))


def test_a_slip_nobody_was_asked_about_is_not_judged_and_blocked() -> None:
    """7.93 on a paper form: no verdict, no reject, and nowhere the figure it may have meant."""
    given = reading(plant.SHANK, "7.93", source=Source.PAPER)

    told = judged(given)

    assert ask(given) == ()
    assert (told.verdict, told.standing, told.reasons) == (Verdict.NOT_JUDGED, Standing.BLOCKED, ("X17", "X27", "X78"))
    assert told.value == "7.93"


def test_several_slips_that_fit_are_all_named() -> None:
    """Limits 4.95-5.05 mm give a window 4.65-5.35: 0.50 fits a decimal slip, and swapped to 5.00 it is in tolerance."""
    wide = plant.SHANK.model_copy(update={"unit": "mm", "lower": "4.95", "upper": "5.05"})

    assert ask(reading(wide, "0.50")) == ("X26", "X28")


def test_a_mirrored_deviation_is_asked_about_and_flagged_when_keyed_anew() -> None:
    """Master .28450 is the upper limit: +.0005 is out, -.0005 in."""
    wrong = reading(plant.BLANK, "+.0005", "G-222", keyed_as=KeyedAs.DEVIATION)
    asked = (Keying(text="+.0005", asked=("X29",)),)
    mended = wrong.model_copy(update={"keyed": "-.0005", "earlier": asked})
    stood_by = wrong.model_copy(update={"earlier": asked})
    never = wrong.model_copy(update={"source": Source.PAPER})

    assert ask(wrong) == ("X29",)
    assert (judged(mended).standing, judged(mended).reasons) == (Standing.FLAGGED, ("X29",))
    assert (judged(stood_by).standing, judged(stood_by).reasons) == (Standing.COUNTS, ("X23", "X29"))
    assert (judged(never).verdict, judged(never).reasons) == (Verdict.OUT, ("X23", "X29", "X78"))


def test_a_fail_keyed_anew_unasked_into_a_pass_is_flagged() -> None:
    """Out first, in second, and the kiosk never asked."""
    replaced = judged(reading(plant.SHANK, ".3124", replaced_verdict=Verdict.OUT))
    wiped = judged(reading(plant.SHANK, ".3124", earlier=(Keying(text=".3128"),)))
    still_out = judged(reading(plant.SHANK, ".3127", replaced_verdict=Verdict.OUT))
    half_keyed = judged(reading(plant.SHANK, ".3124", earlier=(Keying(text=".3"), Keying(text="."))))

    assert (replaced.standing, replaced.reasons) == (Standing.FLAGGED, ("X31",))
    assert wiped.reasons == ("X31",)
    assert still_out.reasons == ("X23",)
    assert half_keyed.reasons == ()


def test_a_reading_without_a_verdict_never_counts() -> None:
    """A load keyed for a length, a word that is no verdict, a runout below nothing: named and blocked, asked or not."""
    apart = judged(reading(plant.SHANK, ".3122", unit="lbf"))
    word = judged(reading(plant.GO_RING, "perhaps", "G-502", keyed_as=KeyedAs.ACCEPT_REJECT))
    asked = (Keying(text="-.0020", asked=("X30",)),)
    below = judged(reading(plant.RUNOUT, "-.0020", "G-415", earlier=asked))

    assert (apart.verdict, apart.standing, apart.reasons) == (Verdict.NOT_JUDGED, Standing.BLOCKED, ("X27",))
    assert (word.verdict, word.standing, word.reasons) == (Verdict.NOT_JUDGED, Standing.BLOCKED, ("X30",))
    assert (below.verdict, below.standing, below.reasons) == (Verdict.NOT_JUDGED, Standing.BLOCKED, ("X30",))


def test_an_unknown_lot_and_a_lot_of_another_part_are_blocked() -> None:
    """The figure is judged, the identity behind it is missing."""
    unknown = reading(plant.SHANK, ".3122").model_copy(update={"lot": "L-999"})
    other = reading(plant.SHANK, ".3122").model_copy(update={"lot": "L-500"})

    assert judged(unknown).reasons == ("X44",)
    assert judged(other).reasons == ("X45",)


def test_a_rolled_thread_checked_after_rework_is_blocked() -> None:
    """Nobody reworks a rolled external thread."""
    told = judged(
        reading(plant.GO_RING, "Accept", "G-502", keyed_as=KeyedAs.ACCEPT_REJECT, sample_kind=SampleKind.RE_WORK)
    )

    assert told.reasons == ("X62",)


@pytest.mark.parametrize(
    ("person", "countersigned_by", "kind", "reasons", "standing"),
    [
        ("P-101", None, SampleKind.RUN, (), Standing.COUNTS),
        ("P-103", None, SampleKind.RUN, ("X65",), Standing.BLOCKED),
        ("P-103", "P-102", SampleKind.RUN, (), Standing.COUNTS),
        ("P-108", None, SampleKind.RUN, ("X66",), Standing.FLAGGED),
        ("P-108", None, SampleKind.FIRST, ("X66",), Standing.BLOCKED),
    ],
)
def test_who_may_measure_is_settled_at_the_minute_of_the_reading(
    person: str, countersigned_by: str | None, kind: SampleKind, reasons: tuple[str, ...], standing: Standing
) -> None:
    """P-108's qualification ended 8 days before; N11 tolerates 14 in process and none for a first piece."""
    told = judged(reading(plant.SHANK, ".3122", person=person, countersigned_by=countersigned_by, sample_kind=kind))

    assert (told.reasons, told.standing) == (reasons, standing)


@pytest.mark.parametrize(
    ("out_at", "part", "gauge", "at", "reasons"),
    [
        ("2026-03-09 10:05:00", None, None, "2026-03-09 10:20:00", ("X58",)),
        ("2026-03-09 10:05:00", None, None, "2026-03-09 10:36:00", ()),
        ("2026-03-09 10:05:00", "76", "72", "2026-03-09 10:20:00", ()),
        ("2026-03-09 10:05:00", "95", None, "2026-03-09 10:50:00", ("X58",)),
        ("2026-03-09 10:05:00", "79", "68", "2026-03-09 10:50:00", ("X58",)),
        (None, None, None, "2026-03-09 10:50:00", ("X59",)),
    ],
)
def test_a_thermometer_outranks_the_clock_both_ways(
    out_at: str | None, part: str | None, gauge: str | None, at: str, reasons: tuple[str, ...]
) -> None:
    """30 min by the clock, or part not over 80 degF and within 10 degF of the gauge; hand calculation."""
    heat = {"out_at": None if out_at is None else plant.local(out_at), "part": part, "gauge": gauge}
    given = reading(plant.PITCH, ".3198", "G-301", master="W-24", keyed_as=KeyedAs.OVER_WIRES, heat=heat)

    assert judged(given, at, around=Around(station="S24", is_set_up_hot=True)).reasons == reasons


@pytest.mark.parametrize(("part", "reasons"), [("26.6", ()), ("26.7", ("X58",))])
def test_a_temperature_in_celsius_is_held_against_the_fahrenheit_number_exactly(
    part: str, reasons: tuple[str, ...]
) -> None:
    """26.6 degC are 79.88 degF, 26.7 degC are 80.06 degF; hand calculation with 80 degF as the number."""
    heat = {"part": part, "gauge": "25.0", "unit": "degC"}
    given = reading(plant.PITCH, ".3198", "G-301", master="W-24", keyed_as=KeyedAs.OVER_WIRES, heat=heat)

    assert judged(given, around=Around(station="S24", is_set_up_hot=True)).reasons == reasons


def test_lists_older_than_three_days_are_flagged() -> None:
    """72 h is fine, a second more is not."""
    taken = plant.local("2026-03-06 09:00:00")
    at_the_hour = judged(reading(plant.SHANK, ".3122"), around=Around(station="S12", lists_taken_at=taken))
    later = judged(
        reading(plant.SHANK, ".3122"), "2026-03-09 10:00:01", around=Around(station="S12", lists_taken_at=taken)
    )

    assert at_the_hour.reasons == ()
    assert later.reasons == ("X75",)


FIGURE = st.integers(min_value=0, max_value=10**9).map(lambda n: f"0.{n:09d}" if n < 10**9 else "1.000000000")


@every(FIGURE, FIGURE, FIGURE)
def test_a_verdict_equals_that_of_scaled_integers(value: str, one: str, other: str) -> None:
    """A second way of judging, in whole billionths, gives the same verdict; a limit itself is in."""
    lower, upper = sorted((one, other), key=Decimal)
    characteristic = plant.SHANK.model_copy(update={"lower": lower, "upper": upper, "gauge_kinds": ()})
    nano = [to_nano(Decimal(text)) for text in (lower, value, upper)]

    told = judged(reading(characteristic, value, None, earlier=(Keying(text="1", asked=("X30",)),)).model_copy())

    assert (told.verdict is Verdict.IN) is (nano[0] <= nano[1] <= nano[2])
    for limit in (lower, upper):
        assert judged(reading(characteristic, limit, None)).verdict is Verdict.IN


def test_a_moment_may_bear_any_offset() -> None:
    """The same instant written in UTC gives the same word: due dates follow plant time."""
    moment = datetime.fromisoformat("2026-03-11T04:02:10+00:00")
    told = judge(
        reading(plant.BLANK, ".2840", "G-107"), plant.LISTS, Around(station="S12"), moment=moment, zone=plant.ZONE
    )

    assert told.reasons == ("X01",)
