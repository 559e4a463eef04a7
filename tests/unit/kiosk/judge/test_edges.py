"""Edges of judging that are settled in decision 0019: units, masters, missing facts, other kinds of characteristic."""

import pytest

from kiosk.judge import Around, Judged, due_ends_utc, judge
from kiosk.lists import Characteristic, Lists
from kiosk.lists.words import CharacteristicKind, GaugeKind
from kiosk.pages.readings import Keying
from kiosk.pages.words import KeyedAs, Standing, Verdict
from tests.unit.kiosk import plant
from tests.unit.kiosk.judge.test_judge import NINE, judged, reading


def gauges_with(number: str, **changes: object) -> Lists:
    """The plant's lists with one gauge changed."""
    rows = [g.model_copy(update=changes) if g.number == number else g for g in plant.LISTS.gauges]
    return plant.lists_with(gauges=rows)


def masters_with(number: str, **changes: object) -> Lists:
    """The plant's lists with one master changed."""
    rows = [m.model_copy(update=changes) if m.number == number else m for m in plant.LISTS.masters]
    return plant.lists_with(masters=rows)


@pytest.mark.parametrize(
    ("keyed", "verdict", "reasons"),
    [("7.9375", Verdict.IN, ()), ("7.9376", Verdict.OUT, ("X23",)), ("7.9248", Verdict.IN, ())],
)
def test_a_millimetre_gauge_on_an_inch_drawing_is_judged_exactly(
    keyed: str, verdict: Verdict, reasons: tuple[str, ...]
) -> None:
    """.3125 in is 7.9375 mm and .3120 in is 7.9248 mm, exactly; nothing is a unit slip when the unit is said."""
    lists = gauges_with("G-108", unit="mm", range_low="0", range_high="25", least_count="0.0001")

    told = judged(reading(plant.SHANK, keyed, unit="mm"), lists=lists)

    assert (told.verdict, told.reasons, told.value, told.shown) == (verdict, reasons, keyed, keyed)


def test_a_master_in_millimetres_serves_an_inch_deviation() -> None:
    """7.93115 mm / 25.4 = .31225 in; with a deviation of .00025 the limit itself. Hand calculation."""
    lists = masters_with("M-14", size="7.93115", unit="mm")

    told = judged(reading(plant.SHANK, ".00025", "G-220", keyed_as=KeyedAs.DEVIATION), lists=lists)

    assert (told.value, told.verdict) == ("0.312500000", Verdict.IN)


@pytest.mark.parametrize("changes", [{"size": None}, {"size": "45.2", "unit": "HRC"}])
def test_a_master_without_a_usable_size_gives_no_verdict(changes: dict[str, str | None]) -> None:
    """No certified size, or one of another kind: nothing to add the deviation to."""
    lists = masters_with("M-14", **changes)

    told = judged(reading(plant.SHANK, ".00025", "G-220", keyed_as=KeyedAs.DEVIATION), lists=lists)

    assert (told.verdict, told.standing, told.reasons) == (Verdict.NOT_JUDGED, Standing.BLOCKED, ("X30",))


def test_a_comparator_without_a_master_gives_no_verdict_and_an_indicator_fixture_reads_from_nothing() -> None:
    """A snap gauge is zeroed on a master; a runout fixture needs none."""
    snap = judged(
        reading(plant.SHANK, ".0001", "G-220", keyed_as=KeyedAs.DEVIATION), lists=gauges_with("G-220", master=None)
    )
    runout = judged(reading(plant.RUNOUT, "28", "G-415", keyed_as=KeyedAs.DIVISIONS))
    unknown = judged(reading(plant.SHANK, "5", "G-999", keyed_as=KeyedAs.DIVISIONS))

    assert (snap.verdict, snap.reasons) == (Verdict.NOT_JUDGED, ("X30",))
    assert (runout.value, runout.verdict) == ("0.0028", Verdict.IN)
    assert (unknown.verdict, unknown.reasons) == (Verdict.NOT_JUDGED, ("X03", "X30"))


def over_metric_wires(wires_pitch: str | None, unit: str = "mm") -> Judged:
    """8.000 mm over wires of .6 mm on a 1 mm pitch: 8 - 1.8 + .866025 = 7.066025."""
    pitch = plant.PITCH.model_copy(
        update={"threads_per_inch": None, "pitch_mm": "1", "unit": "mm", "lower": "7.0", "upper": "7.1"}
    )
    rows = {"size": "0.6", "unit": "mm", "threads_per_inch": None, "pitch_mm": wires_pitch}
    given = reading(pitch, "8.000", "G-301", master="W-24", keyed_as=KeyedAs.OVER_WIRES).model_copy(
        update={"unit": unit}
    )
    return judged(given, lists=masters_with("W-24", **rows))


def test_metric_wires_give_a_metric_pitch_diameter() -> None:
    """Hand calculation; written pitch for written pitch, 1 is 1.0."""
    told = over_metric_wires("1.0")

    assert (told.value, told.verdict) == ("7.066025000", Verdict.IN)
    assert told.computed_from is not None and "pitch 1 mm" in told.computed_from
    assert "X19" in over_metric_wires("1.25").reasons
    assert over_metric_wires(None).verdict is Verdict.NOT_JUDGED
    assert over_metric_wires("1.0", unit="lbf").verdict is Verdict.NOT_JUDGED


def test_a_plan_over_wires_without_a_pitch_gives_no_verdict() -> None:
    """Nothing is assumed of the thread."""
    bare = plant.PITCH.model_copy(update={"threads_per_inch": None})

    told = judged(reading(bare, ".3198", "G-301", master="W-24", keyed_as=KeyedAs.OVER_WIRES))

    assert (told.verdict, told.reasons) == (Verdict.NOT_JUDGED, ("X30",))


def test_wires_with_an_unknown_gauge_are_still_looked_at() -> None:
    """Both are named."""
    given = reading(plant.PITCH, ".3198", "G-999", master="W-28", keyed_as=KeyedAs.OVER_WIRES)

    assert judged(given).reasons == ("X03", "X19")


def a_kind(kind: CharacteristicKind, **changes: object) -> Characteristic:
    """A characteristic of another kind, without a gauge."""
    return plant.SHANK.model_copy(
        update={"kind": kind, "unit": "pieces", "lower": None, "upper": None, "gauge_kinds": (), **changes}
    )


@pytest.mark.parametrize(
    ("characteristic", "keyed", "way", "verdict"),
    [
        (a_kind(CharacteristicKind.COUNT, upper="2"), "2", KeyedAs.VALUE, Verdict.IN),
        (a_kind(CharacteristicKind.COUNT, upper="2"), "3", KeyedAs.VALUE, Verdict.OUT),
        (a_kind(CharacteristicKind.COUNT), "3", KeyedAs.VALUE, Verdict.NOT_JUDGED),
        (a_kind(CharacteristicKind.VISUAL), "Reject", KeyedAs.ACCEPT_REJECT, Verdict.REJECT),
        (a_kind(CharacteristicKind.TURNS, turns_allowed="3"), "Reject", KeyedAs.ACCEPT_REJECT, Verdict.REJECT),
        (a_kind(CharacteristicKind.TURNS), "2", KeyedAs.TURNS, Verdict.NOT_JUDGED),
        (a_kind(CharacteristicKind.TURNS, turns_allowed="3"), "-1", KeyedAs.TURNS, Verdict.NOT_JUDGED),
        (a_kind(CharacteristicKind.LOWER, lower="12800"), "12800", KeyedAs.VALUE, Verdict.IN),
        (a_kind(CharacteristicKind.LOWER, lower="12800"), "12799", KeyedAs.VALUE, Verdict.OUT),
        (a_kind(CharacteristicKind.TWO_SIDED, lower="1"), "2", KeyedAs.VALUE, Verdict.NOT_JUDGED),
    ],
)
def test_every_kind_of_characteristic_has_its_verdict(
    characteristic: Characteristic, keyed: str, way: KeyedAs, verdict: Verdict
) -> None:
    """Counts, visual and turns by their rule; half a pair of limits judges nothing."""
    told = judged(reading(characteristic, keyed, None, keyed_as=way))

    assert told.verdict is verdict
    assert (told.standing is Standing.BLOCKED) is (verdict is Verdict.NOT_JUDGED)


def test_the_shops_own_limit_of_a_lower_limit_lies_above_it() -> None:
    """At least 12 800, the shop wants 13 000: 12 900 is in and flagged."""
    shop = plant.LOAD.model_copy(update={"shop_limit": "13000"})

    assert judged(reading(shop, "12900", "G-700")).reasons == ("X24",)
    assert judged(reading(shop, "13000", "G-700")).reasons == ()


def test_a_gauge_without_a_due_date_or_with_other_units_is_held_against_what_can_be_compared() -> None:
    """Cycles counted on a frame that reads pounds: no share, no range, no division applies."""
    cycles = plant.LOAD.model_copy(update={"unit": "cycles", "lower": "45000"})
    lists = gauges_with("G-700", due=None)

    assert judged(reading(cycles, "45000", "G-700"), lists=lists).reasons == ()


def test_a_least_count_in_a_unit_apart_has_no_share() -> None:
    """A hardness tester on a runout: the wrong kind, and nothing can be said of its divisions."""
    told = judged(reading(plant.RUNOUT, ".0010", "G-610"), around=Around(station="S05"))

    assert told.reasons == ("X18",)


@pytest.mark.parametrize(("at", "reasons"), [("2026-03-09 09:20:00", ("X58",)), ("2026-03-09 09:31:00", ())])
def test_a_cool_part_without_the_gauges_temperature_leaves_the_rest_to_the_clock(
    at: str, reasons: tuple[str, ...]
) -> None:
    """70 degF keyed, the gauge's not: out of heat at 09:00, too soon at 09:20."""
    heat = {"part": "70", "out_at": plant.local("2026-03-09 09:00:00")}
    given = reading(plant.PITCH, ".3198", "G-301", master="W-24", keyed_as=KeyedAs.OVER_WIRES, heat=heat)

    assert judged(given, at, around=Around(station="S24", is_set_up_hot=True)).reasons == reasons


def test_a_due_date_may_be_set_to_end_at_another_hour() -> None:
    """N1 = 24 ends at midnight, N1 = 30 at 06:00 of the next day; set on the due date it moves later ones only."""
    gauge = next(g for g in plant.LISTS.gauges if g.number == "G-107")
    late = {"number": "N1", "value": "30"}
    changes: list[list[dict[str, str]]] = [[], [late], [late | {"in_force_from": "2026-03-10T09:00:00.000-04:00"}]]

    ends = [
        due_ends_utc(gauge, Lists.model_validate(plant.LISTS.model_dump() | {"plant_numbers": rows}), plant.ZONE)
        for rows in changes
    ]

    midnight = plant.local("2026-03-11 00:00:00")
    assert ends == [midnight, plant.local("2026-03-11 06:00:00"), midnight]


@pytest.mark.parametrize(
    ("made_for", "is_right"),
    [(".3125-24  UNJF-3A", True), ("house thread 7", False), (None, False)],
)
def test_a_thread_gauge_is_held_against_the_parts_thread(made_for: str | None, is_right: bool) -> None:
    """Spaces do not matter; what cannot be read as a designation must be written the same."""
    told = judged(
        reading(plant.GO_RING, "Accept", "G-502", keyed_as=KeyedAs.ACCEPT_REJECT),
        lists=gauges_with("G-502", thread=made_for),
    )

    assert told.reasons == (() if is_right else ("X19",))


def test_a_thread_of_the_plants_own_is_the_same_when_written_the_same() -> None:
    """Designations that no standard knows are compared by their words."""
    own = plant.GO_RING.model_copy(update={"thread": "house thread 7"})
    given = reading(own, "Accept", "G-502", keyed_as=KeyedAs.ACCEPT_REJECT)

    assert judged(given, lists=gauges_with("G-502", thread="house thread 7")).reasons == ()


def test_an_indicating_thread_gauge_is_held_against_the_thread_too() -> None:
    """Wrong rolls on the fixture."""
    lists = gauges_with("G-220", kind=GaugeKind.INDICATING_THREAD, thread=".3125-24 UNF-2A")
    any_kind = plant.SHANK.model_copy(update={"gauge_kinds": ()})

    assert judged(reading(any_kind, "0", "G-220", keyed_as=KeyedAs.DEVIATION), lists=lists).reasons == ("X19",)


def test_a_word_keyed_in_answer_to_a_question_is_no_same_figure() -> None:
    """A question about a figure, answered with Accept on a gauge that takes words."""
    given = reading(
        plant.NOT_GO_RING, "Accept", "G-503", keyed_as=KeyedAs.ACCEPT_REJECT,
        earlier=(Keying(text="33", asked=("X29",)),),
    )  # fmt: skip

    told = judge(given, plant.LISTS, Around(station="S24"), moment=plant.local(NINE), zone=plant.ZONE)

    assert (told.verdict, told.standing, told.reasons) == (Verdict.ACCEPT, Standing.FLAGGED, ("X29",))


def test_a_computed_figure_at_the_very_limit_is_shown_whole() -> None:
    """.319795626 - .07218 + .036084375 = .283700001 against .2837: only the ninth decimal says out. By hand."""
    tight = plant.PITCH.model_copy(update={"upper": "0.2837"})

    told = judged(reading(tight, ".319795626", "G-301", master="W-24", keyed_as=KeyedAs.OVER_WIRES))

    assert (told.verdict, told.shown) == (Verdict.OUT, ".283700001")


def test_a_swap_that_makes_no_figure_is_no_swap() -> None:
    """Ten digits with a nought in front are nine; with the first two swapped they are ten, and no figure."""
    assert "X30" in judged(reading(plant.SHANK, "0123456789")).reasons


@pytest.mark.parametrize(
    ("known", "reason", "standing"),
    [
        ("is_gauge_in_doubt", "X05", Standing.BLOCKED),
        ("is_zero_check_missing", "X10", Standing.BLOCKED),
        ("is_zero_check_late", "X11", Standing.FLAGGED),
        ("is_zero_check_failed", "X12", Standing.BLOCKED),
        ("is_day_check_missing", "X60", Standing.BLOCKED),
        ("is_first_piece_missing", "X53", Standing.BLOCKED),
        ("is_double_tap", "X33", Standing.BLOCKED),
    ],
)
def test_what_the_station_knows_weighs_as_its_rule_says(known: str, reason: str, standing: Standing) -> None:
    """One fact, one reason, its standing; the verdict is untouched."""
    around = Around.model_validate({"station": "S12", known: True})

    told = judged(reading(plant.SHANK, ".3122"), around=around)

    assert (told.verdict, told.reasons, told.standing) == (Verdict.IN, (reason,), standing)


def test_a_negative_deviation_value_is_shown_in_the_drawings_style() -> None:
    """Inch figures have no nought before the point, with and without a minus."""
    loose = a_kind(CharacteristicKind.TWO_SIDED, unit="in", lower="-0.0050", upper="0.0050")

    assert judged(reading(loose, "-0.0020", None)).shown == "-.0020"
    assert judged(reading(loose, "0", None)).shown == "0"
