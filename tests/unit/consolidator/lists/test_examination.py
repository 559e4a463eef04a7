"""A folder as a whole: the standard deck, every fault at once, and lists written out and read back."""

import tempfile
from datetime import date, datetime
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from consolidator.lists import check_lists, write_csv
from kiosk.lists import (
    CalibrationRecord,
    Characteristic,
    Gauge,
    Lists,
    Lot,
    Master,
    Part,
    Person,
    Plan,
    PlantNumber,
    Qualification,
    Shift,
    Station,
)
from kiosk.lists.words import CharacteristicKind, Feature, GaugeKind, GaugeState, Level, MasterKind, Member
from kiosk.times import read_time, write_time
from tests.unit.consolidator.lists.folders import DECK, START, ZONE, ListsFolder, places


def test_the_standard_deck_has_no_fault_and_holds_what_it_says() -> None:
    """Scenarios start from it: two parts, fifteen gauges and more, everything known by name."""
    lists = check_lists(DECK, plant="P-INV", zone=ZONE, before=None, at_utc=START)

    assert (lists.plant, lists.zone, lists.version) == ("P-INV", "America/New_York", 1)
    assert {part.number: part.revision for part in lists.parts} == {"B-3124": "C", "N-2208": "A"}
    assert [person.name for person in lists.people] == ["Ana", "Bo", "Cy", "Dee", "Eli", "Fay", "Gus", "Hana"]
    shank = lists.characteristic("B-3124", "C", "BC1", START)
    assert shank is not None
    assert (shank.lower, shank.upper) == ("0.3120", "0.3125")
    assert {lot.number for lot in lists.lots} >= {
        "L-380",
        "L-388",
        "L-395",
        "L-411",
        "L-412",
        "L-420",
        "L-430",
        "L-500",
    }


def test_every_gauge_of_the_deck_was_calibrated_good_before_march_2026() -> None:
    """Unless a scenario says otherwise, gauges are in date and sound."""
    lists = check_lists(DECK, plant="P-INV", zone=ZONE, before=None, at_utc=START)
    march = read_time("2026-03-01T00:00:00.000-05:00")

    for gauge in lists.gauges:
        last = lists.last_calibration(gauge.number, march)
        assert last is not None
        assert (last.as_left, last.due) == ("Good", gauge.due)


def test_faults_of_every_file_are_told_together_in_reading_order(deck: ListsFolder) -> None:
    """One go, and the clerk can mend everything: by file, then row, then column."""
    deck.set_cell("people", 3, "name", "")
    deck.set_cell("gauges", 9, "least count", "0,00005")
    deck.set_cell("gauges", 2, "kind", "mike")
    (deck.path / "lots.csv").write_bytes("number".encode("utf-16"))

    assert places(deck.faults()) == [
        ("gauges.csv", 2, "kind"),
        ("gauges.csv", 9, "least count"),
        ("lots.csv", None, None),
        ("people.csv", 3, "name"),
    ]


def test_a_list_whose_file_is_not_given_keeps_its_rows(deck: ListsFolder) -> None:
    """A clerk who changes the shifts gives the shifts."""
    first = deck.check()
    for path in deck.path.glob("*.csv"):
        path.unlink()
    deck.write("shifts", [["day", "shift", "person"], ["2026-03-10", "3", "P-101"]])

    second = deck.check(before=first)

    assert second.version == 2
    assert second.gauges == first.gauges
    assert [shift.person for shift in second.shifts] == ["P-101"]


def test_a_given_list_is_held_against_the_kept_ones(deck: ListsFolder) -> None:
    """A new lot of a part that the kept list does not have is told at the lot."""
    first = deck.check()
    for path in deck.path.glob("*.csv"):
        if path.stem != "lots":
            path.unlink()
    row = deck.add_row("lots", like=2, number="L-900", part="B-9")

    assert places([deck.fault(before=first)]) == [("lots.csv", row, "part")]


_names = st.text(
    st.characters(
        codec="utf-8", exclude_categories=("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp", "Zs"), exclude_characters=";="
    ),
    min_size=1,
    max_size=12,
)
_figures = st.from_regex(r"(0|[1-9][0-9]{0,5})(\.[0-9]{1,6})?", fullmatch=True).filter(lambda text: float(text) > 0)
_dates = st.dates(date(1990, 1, 1), date(2090, 1, 1))
_times = st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1)).map(  # noqa: DTZ001 - made aware on the next line
    lambda naive: write_time(naive.replace(tzinfo=ZONE))
)
_times = _times.filter(lambda text: write_time(read_time(text).astimezone(ZONE)) == text)


def _maybe(values: st.SearchStrategy[object]) -> st.SearchStrategy[object]:
    return st.none() | values


@st.composite
def _whole_lists(draw: st.DrawFn) -> Lists:
    """Lists without a fault: every name that is pointed at is there, every kind has what it needs."""
    numbers = draw(st.lists(_names, min_size=2, max_size=4, unique=True))
    pick = st.sampled_from(numbers)
    people = tuple(Person(number=n, name=draw(_names), badges=(f"b{i}",)) for i, n in enumerate(numbers))
    stations = tuple(Station(number=n, name=draw(_names), operations=tuple(numbers)) for n in numbers)
    masters = tuple(
        Master(number=n, kind=MasterKind.WIRES, size=draw(_figures), unit="in", due=draw(_maybe(_dates)))
        for n in numbers
    )
    gauges = tuple(
        Gauge(
            number=n,
            kind=draw(st.sampled_from([GaugeKind.MICROMETER, GaugeKind.THREAD_RING, GaugeKind.SNAP])),
            unit=draw(st.sampled_from(["in", "mm"])),
            least_count=draw(_figures),
            half_division=draw(st.booleans()),
            home_station=draw(_maybe(pick)),
            state=draw(st.sampled_from(GaugeState)),
            due=draw(_maybe(_dates)),
            wires=draw(_maybe(pick)),
            thread=draw(_names),
            member=draw(st.sampled_from(Member)),
        )
        for n in numbers
    )
    part, heats = numbers[0], draw(_maybe(_names))
    limits = sorted([draw(_figures), draw(_figures)], key=float)
    kind = CharacteristicKind.TWO_SIDED if float(limits[0]) < float(limits[1]) else CharacteristicKind.VISUAL
    return Lists(
        plant="P-INV",
        zone=ZONE.key,
        version=1,
        taken_over_at=write_time(START.astimezone(ZONE)),
        gauges=gauges,
        masters=masters,
        people=people,
        stations=stations,
        calibrations=tuple(
            CalibrationRecord(
                gauge=n, done_at=draw(_times), technician=draw(pick), masters=(n,), as_found="Good", as_left="Good"
            )
            for n in numbers
        ),
        qualifications=(
            Qualification(person=part, operation="*", level=draw(st.sampled_from(Level)), valid_from=draw(_dates)),
        ),
        parts=(Part(number=part, name=draw(_names), revision="A", in_force_from=draw(_maybe(_times))),),
        characteristics=(
            Characteristic(
                **{"part": part, "revision": "A", "number": draw(_names), "name": draw(_names), "operation": "60"},
                kind=kind,
                feature=draw(st.sampled_from(Feature)),
                unit="in",
                lower=limits[0] if kind is CharacteristicKind.TWO_SIDED else None,
                upper=limits[1] if kind is CharacteristicKind.TWO_SIDED else None,
                gauge_kinds=tuple(draw(st.lists(st.sampled_from(GaugeKind), unique=True, max_size=3))),
                is_key=draw(st.booleans()),
                sample_n=draw(st.integers(0, 100)),
                in_force_from=draw(_maybe(_times)),
            ),
        ),
        plans=(Plan(part=part, revision="A", operation="60", version=draw(_names), is_final=draw(st.booleans())),),
        lots=(Lot(number=draw(_names), part=part, revision="A", heat=heats, quantity=draw(st.integers(0, 9999))),),
        shifts=(Shift(day=draw(_dates), shift=draw(st.integers(1, 3)), person=draw(pick)),),
        plant_numbers=(PlantNumber(number="N2", value=str(draw(st.integers(0, 999))), by=part, reason=draw(_names)),),
    )


@settings(max_examples=40, deadline=None)
@given(lists=_whole_lists())
def test_lists_written_out_as_csv_read_back_as_the_same_lists(lists: Lists) -> None:
    """Writing and reading lose nothing: every figure, name, time, word and yes/no comes back."""
    with tempfile.TemporaryDirectory() as folder:
        write_csv(lists, Path(folder))

        again = check_lists(Path(folder), plant="P-INV", zone=ZONE, before=None, at_utc=START)

    assert again == lists


def test_the_deck_written_out_and_read_back_is_the_deck(deck: ListsFolder, tmp_path: Path) -> None:
    """A clerk may start from what the program writes."""
    first = deck.check()

    write_csv(first, tmp_path / "out")

    assert check_lists(tmp_path / "out", plant="P-INV", zone=ZONE, before=None, at_utc=START) == first


def test_written_files_end_their_rows_as_the_standard_says(deck: ListsFolder, tmp_path: Path) -> None:
    """RFC 4180, 2.1: CRLF ends each row."""
    write_csv(deck.check(), tmp_path / "out")

    content = (tmp_path / "out" / "people.csv").read_bytes()

    assert content.count(b"\r\n") == content.count(b"\n") == 9
