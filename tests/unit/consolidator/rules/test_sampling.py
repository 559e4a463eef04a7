"""X39 to X41: samples missed, short, or without a characteristic. Situations and expectations by hand."""

from datetime import UTC, date, datetime

import pytest

from consolidator.close import ClosedDay
from consolidator.rules.sampling import missed_samples
from kiosk.lists import Lists, PlantNumbers
from tests.unit.consolidator.held_builder import HeldBuilder, deck, exception_of, held_lots, numbers_of

MARCH_10 = (date(2026, 3, 10), datetime(2026, 3, 11, 10, 5, tzinfo=UTC))


def _at(clock: str, day: int = 9) -> str:
    return f"2026-03-{day:02d}T{clock}.000-04:00"


def _sample(builder: HeldBuilder, clock: str, sample: int, *, pieces: int = 5, day: int = 9, **fields: object) -> None:
    keyed = (".3123", ".31225", ".3122", ".31235", ".3123")
    for place in range(pieces):
        builder.reading(_at(f"{clock}:{10 * place:02d}", day), keyed[place], sample=sample, piece=place + 1, **fields)


def _end(builder: HeldBuilder, clock: str, sample: int, got: int, *, day: int = 9) -> None:
    end = {"kind": "sample end", "lot": "L-411", "operation": "60", "characteristic": "BC1", "sample": sample,
           "planned": 5, "got": got}  # fmt: skip
    builder.act(_at(f"{clock}:55", day), end, series="S12-a")


@pytest.mark.parametrize(
    ("running_min", "interval_min", "missed"),
    [("45", 30, 1), ("40", 30, 0), ("40.001", 30, 1), ("70", 30, 1), ("70.001", 30, 2), ("40", 40, 0), ("53.33", 40, 0),
     ("53.34", 40, 1), ("17", 12, 0), ("17.01", 12, 1), ("135", 120, 0), ("135.01", 120, 1)],
)  # fmt: skip
def test_a_gap_misses_the_samples_that_interval_and_grace_leave_no_room_for(
    running_min: str, interval_min: int, missed: int
) -> None:
    """X39, N6: ceil((R - grace) / interval) - 1; grace a third, not under 5 and not over 15 min: 10, 13:20, 5, 15."""
    assert missed_samples(round(float(running_min) * 60_000), interval_min, PlantNumbers()) == missed


def _gaps_of(closed: ClosedDay) -> list[str]:
    return [row["sentence"] for row in closed.exceptions.to_pylist() if row["number"] == "X39"]


def test_a_logged_stop_is_no_running_time() -> None:
    """O17: 09:00, 09:30, stop 09:40 to 10:10, 10:45, 11:25: 75 min less 30 is 45, one missed; 40 min is none."""
    builder = HeldBuilder()
    for number, clock in enumerate(("09:00", "09:30", "10:45", "11:25"), start=1):
        _sample(builder, clock, number)
    builder.act(_at("09:40:00"), {"kind": "stop", "reason": "breakdown"}, series="S12-a")
    builder.act(_at("10:10:00"), {"kind": "run again"}, series="S12-a")

    closed = builder.close()

    (sentence,) = _gaps_of(closed)
    assert all(word in sentence for word in ("1 sample missed", "09:30", "10:45", "45 min"))
    assert held_lots(closed) == {"L-411": {"X39"}}


def test_a_stop_that_nobody_ended_lasts_until_the_next_piece_is_measured() -> None:
    """Stopped 09:10 and never said to run again; a sample at 09:20 shows that it ran: 09:20 to 11:00 is running."""
    builder = HeldBuilder()
    builder.act(_at("09:10:00"), {"kind": "stop", "reason": "other"}, series="S12-a")
    for number, clock in enumerate(("09:00", "09:20", "11:00"), start=1):
        _sample(builder, clock, number)

    (sentence,) = _gaps_of(builder.close())

    assert "2 samples missed" in sentence and "09:20" in sentence


def test_time_of_other_work_at_the_station_is_not_running_time_of_a_lot() -> None:
    """09:00, other lot's traveller 09:20 to 10:50, 11:00: 20 + 10 min of running, nothing missed."""
    builder = HeldBuilder()
    _sample(builder, "09:00", 1)
    _sample(builder, "11:00", 2)
    job = {"kind": "job open", "operation": "60", "part": "B-3124", "revision": "C", "plan_version": "C1"}
    builder.act(_at("09:20:00"), job | {"lot": "L-412"}, series="S12-a")
    builder.act(_at("10:50:00"), job | {"lot": "L-411"}, series="S12-a")

    assert _gaps_of(builder.close()) == []


def test_a_lot_that_ran_on_without_any_sample_is_told_when_its_work_ends() -> None:
    """09:00 the last sample, set-up ended 10:30: 90 min, the samples of 09:30 and 10:00 are missed (10:30 - grace)."""
    builder = HeldBuilder()
    _sample(builder, "09:00", 1)
    builder.act(_at("10:30:00"), {"kind": "set-up end", "set_up": "SU-1"}, series="S12-a")

    (sentence,) = _gaps_of(builder.close())

    assert "2 samples missed" in sentence and "10:30" in sentence


def test_two_kiosks_count_their_samples_by_themselves() -> None:
    """X40: sample 3 of S12 has five pieces and hides nothing of sample 3 of S13, which has two."""
    builder = HeldBuilder()
    _sample(builder, "09:00", 3)
    _sample(builder, "09:10", 3, pieces=2, station="S13", gauge="G-118")

    row = exception_of(builder.close(), "X40")

    assert "S13: 2 counting pieces, 5 planned" in row["sentence"]
    assert row["readings"] == "2"


def test_a_re_measure_at_another_station_fills_the_sample_of_the_page_it_measures_again() -> None:
    """X40: four good and one slip at S12; that piece measured again at S13 makes five."""
    builder = HeldBuilder()
    _sample(builder, "09:00", 1, pieces=4)
    slip = builder.reading(_at("09:01:00"), "3.122", sample=1, piece=5)
    short = builder.close()
    again = {"station": "S13", "gauge": "G-118", "sample_kind": "re-measure", "re_measure_of": slip, "sample": 1}
    builder.reading(_at("10:00:00"), ".3122", piece=5, **again)

    assert "4 counting pieces" in exception_of(short, "X40")["sentence"]
    assert "X40" not in numbers_of(builder.close())


def test_a_sample_begun_before_the_day_brings_what_its_readings_are_worth() -> None:
    """X40: three pieces at 05:58 with a gauge nobody knows fill no place in the day that begins at 06:00."""
    builder = HeldBuilder()
    for place in range(3):
        builder.reading(_at(f"05:58:{10 * place:02d}", 10), ".3122", sample=1, piece=place + 1, gauge="G-999")
    for place in range(3, 5):
        builder.reading(_at(f"06:01:{10 * place:02d}", 10), ".3122", sample=1, piece=place + 1)

    closed = builder.close(*MARCH_10)

    assert "2 counting pieces" in exception_of(closed, "X40")["sentence"]
    assert closed.totals["readings"] == 2
    assert "X03" not in numbers_of(closed)


@pytest.mark.parametrize(("is_ended", "days"), [(True, ["9"]), (False, ["10"])], ids=["ended", "left open"])
def test_a_sample_left_open_is_judged_once_when_it_has_waited(is_ended: bool, days: list[str]) -> None:
    """X40: 05:50, two pieces; ended, it is short in its own day; left open, it waits to 06:20, into the next."""
    builder = HeldBuilder()
    _sample(builder, "05:50", 1, pieces=2, day=10)
    if is_ended:
        _end(builder, "05:50", 1, 2, day=10)

    closings = {"9": builder.close(), "10": builder.close(*MARCH_10)}

    assert [day for day, closed in closings.items() if "X40" in numbers_of(closed)] == days


def _two_planned() -> Lists:
    lists = deck()
    planned = {"sample_n": 1, "interval_min": 30}
    rows = tuple(c.model_copy(update=planned) if c.operation == "80" else c for c in lists.characteristics)
    return lists.model_copy(update={"characteristics": rows})


@pytest.mark.parametrize(("minute", "told"), [(20, False), (31, True)], ids=["under way", "over"])
def test_a_characteristic_is_skipped_only_when_its_round_is_over(minute: int, told: bool) -> None:
    """X41: the pass at 20 min after a round's first characteristic waits for the other two; at 31 min it does not."""
    builder = HeldBuilder(_two_planned())
    builder.reading(_at("09:00:00"), ".3198", station="S24", characteristic="BC4", gauge="G-301", master="W-24",
                    keyed_as="over wires", person="P-102")  # fmt: skip

    closed = builder.close(at=datetime(2026, 3, 9, 13, minute, tzinfo=UTC))

    assert ("X41" in numbers_of(closed)) is told
    if told:
        assert "no reading of BC5, BC6" in exception_of(closed, "X41")["sentence"]
        assert held_lots(closed) == {"L-411": {"X41"}}
