"""A small invented plant for the kiosk's tests; every name, limit and number is made up."""

from datetime import date, datetime, timedelta
from typing import TypeVar, cast
from zoneinfo import ZoneInfo

from kiosk import station
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
    Qualification,
    Station,
)
from kiosk.lists.words import CharacteristicKind, Feature, GaugeKind, Level, MasterKind, Member
from kiosk.pages import FIRST_PREVIOUS, Act, AnyAct, Page, canonical_bytes, fingerprint
from kiosk.pages.words import ClockState
from kiosk.times import write_time

ZONE = ZoneInfo("America/New_York")
THREAD = ".3125-24 UNJF-3A"


def local(text: str) -> datetime:
    """Return `2026-03-10 23:58:30` as plant local time."""
    return datetime.fromisoformat(text).replace(tzinfo=ZONE)


class HandClock:
    """A clock that stands until the test moves it."""

    def __init__(self, text: str) -> None:
        self.moment = local(text)
        self.elapsed_ms = 1_000

    def now(self) -> datetime:
        """Return the time shown."""
        return self.moment

    def running_ms(self) -> int:
        """Return milliseconds since switch-on."""
        return self.elapsed_ms

    def to(self, text: str) -> None:
        """Move to a local time; the running count moves with it."""
        self.wait((local(text) - self.moment).total_seconds())

    def wait(self, seconds: float) -> None:
        """Let time pass."""
        self.elapsed_ms += round(seconds * 1000)
        self.moment = (self.moment.astimezone(ZoneInfo("UTC")) + timedelta(seconds=seconds)).astimezone(ZONE)


class BookInMemory:
    """A numbered, chained book without a disk; keeps what it is given and hands the page back."""

    def __init__(self, clock: HandClock, number: str = "S12", series: str = "S12-a") -> None:
        self.pages: list[Page] = []
        self._clock, self._station, self._series = clock, number, series

    def keep(
        self,
        act: Act,
        *,
        person: str | None,
        lists_version: int,
        lists_taken_at: str | None,
        clock_state: ClockState,
    ) -> Page:
        """Keep one act as the next page."""
        page = Page(
            plant="PL-1",
            series=self._series,
            number=len(self.pages) + 1,
            station=self._station,
            kiosk_time=write_time(self._clock.now()),
            running_ms=self._clock.running_ms(),
            session=1,
            clock_state=clock_state,
            person=person,
            lists_version=lists_version,
            lists_taken_at=lists_taken_at,
            previous=fingerprint(canonical_bytes(self.pages[-1])) if self.pages else FIRST_PREVIOUS,
            filler="0" * 32,
            act=cast(AnyAct, act),
        )
        self.pages.append(page)
        return page


def _gauge(number: str, kind: GaugeKind, least: str | None, due: str, home: str = "S12", **more: object) -> Gauge:
    return Gauge.model_validate(
        {"number": number, "kind": kind, "unit": "in", "least_count": least, "due": due, "home_station": home, **more}
    )


def _characteristic(number: str, operation: str, kind: CharacteristicKind, **more: object) -> Characteristic:
    return Characteristic.model_validate(
        {
            "part": "B-3124",
            "revision": "C",
            "number": number,
            "name": f"characteristic {number} (invented)",
            "operation": operation,
            "kind": kind,
            "unit": "in",
            "sample_n": 5,
            "interval_min": 30,
            **more,
        }
    )


GROUND = (GaugeKind.SNAP, GaugeKind.MICROMETER)
SHANK = _characteristic(
    "BC1", "60", CharacteristicKind.TWO_SIDED, lower="0.3120", upper="0.3125", gauge_kinds=GROUND,
    feature=Feature.GROUND_DIAMETER,
)  # fmt: skip
BLANK = _characteristic(
    "BC2", "60", CharacteristicKind.TWO_SIDED, lower="0.2835", upper="0.2845", gauge_kinds=GROUND,
    feature=Feature.GROUND_DIAMETER,
)  # fmt: skip
PITCH = _characteristic(
    "BC4", "80", CharacteristicKind.TWO_SIDED, lower="0.2827", upper="0.2854", rule="over wires",
    threads_per_inch="24", gauge_kinds=(GaugeKind.OVER_WIRES,), feature=Feature.EXTERNAL_ROLLED_THREAD,
)  # fmt: skip
GO_RING = _characteristic(
    "BC5", "80", CharacteristicKind.ACCEPT_REJECT, unit="accept/reject", member=Member.GO,
    gauge_kinds=(GaugeKind.THREAD_RING,), feature=Feature.EXTERNAL_ROLLED_THREAD,
)  # fmt: skip
NOT_GO_RING = _characteristic(
    "BC6", "80", CharacteristicKind.TURNS, unit="turns", member=Member.NOT_GO, turns_allowed="3",
    gauge_kinds=(GaugeKind.THREAD_RING,), feature=Feature.EXTERNAL_ROLLED_THREAD,
)  # fmt: skip
HARDNESS = _characteristic(
    "BC8", "40", CharacteristicKind.TWO_SIDED, unit="HRC", lower="44.0", upper="48.0", interval_min=None,
    gauge_kinds=(GaugeKind.HARDNESS,), feature=Feature.HARDNESS,
)  # fmt: skip
LOAD = _characteristic(
    "BC9", "95", CharacteristicKind.LOWER, unit="lbf", lower="12800", interval_min=None,
    gauge_kinds=(GaugeKind.TEST_FRAME,), feature=Feature.STRENGTH,
)  # fmt: skip
RUNOUT = _characteristic(
    "NC1", "30", CharacteristicKind.UPPER, part="N-2208", revision="A", upper="0.005", shop_limit="0.003",
    gauge_kinds=(GaugeKind.RUNOUT,), feature=Feature.FACE_RUNOUT,
)  # fmt: skip

LISTS = Lists(
    plant="PL-1",
    zone="America/New_York",
    version=7,
    gauges=(
        _gauge("G-107", GaugeKind.MICROMETER, "0.0001", "2026-03-10", range_low="0", range_high="1",
               swap_partner="G-108", drawer="A-1"),
        _gauge("G-108", GaugeKind.MICROMETER, "0.00005", "2026-08-31", range_low="0", range_high="1",
               swap_partner="G-107", drawer="A-2"),
        _gauge("G-109", GaugeKind.MICROMETER, "0.0001", "2026-08-31", range_low="1", range_high="2"),
        _gauge("G-120", GaugeKind.CALIPER, "0.0005", "2026-08-31", range_low="0", range_high="6"),
        _gauge("G-220", GaugeKind.SNAP, "0.00005", "2026-06-30", range_low="-0.005", range_high="0.005", master="M-14"),
        _gauge("G-222", GaugeKind.SNAP, "0.00005", "2026-06-30", range_low="-0.005", range_high="0.005", master="M-15"),
        _gauge("G-301", GaugeKind.OVER_WIRES, "0.00005", "2026-05-15", "S24", wires="W-24", range_low="0",
               range_high="1"),
        _gauge("G-415", GaugeKind.RUNOUT, "0.0001", "2026-03-20", "S31"),
        _gauge("G-502", GaugeKind.THREAD_RING, None, "2026-04-20", "S24", unit=None, thread=THREAD, member=Member.GO),
        _gauge("G-503", GaugeKind.THREAD_RING, None, "2026-04-20", "S24", unit=None, thread=THREAD,
               member=Member.NOT_GO),
        _gauge("G-505", GaugeKind.THREAD_RING, None, "2026-04-20", "CRIB", unit=None, thread=".3125-24 UNF-2A",
               member=Member.GO),
        _gauge("G-610", GaugeKind.HARDNESS, "0.1", "2026-09-01", "S05", unit="HRC", range_low="20", range_high="70",
               master="M-45"),
        _gauge("G-700", GaugeKind.TEST_FRAME, "1", "2026-09-01", "S38", unit="lbf", range_low="2000",
               range_high="20000"),
    ),
    calibrations=(
        CalibrationRecord(gauge="G-220", done_at="2025-12-30T08:30:00.000-05:00", technician="P-105",
                          as_found="Good", as_left="Good"),
    ),
    masters=(
        Master(number="M-14", kind=MasterKind.SETTING_PLUG, size="0.31225", unit="in", due=date(2027, 6, 30)),
        Master(number="M-15", kind=MasterKind.SETTING_PLUG, size="0.28450", unit="in", due=date(2027, 6, 30)),
        Master(number="W-24", kind=MasterKind.WIRES, size="0.02406", unit="in", threads_per_inch="24"),
        Master(number="W-28", kind=MasterKind.WIRES, size="0.02062", unit="in", threads_per_inch="28"),
        Master(number="M-45", kind=MasterKind.HARDNESS_BLOCK, size="45.2", unit="HRC", tolerance="1.0"),
    ),
    people=(
        Person(number="P-101", name="Ana", badges=("B-101",)),
        Person(number="P-102", name="Bo", badges=("B-102",)),
        Person(number="P-103", name="Cy", badges=("B-103",)),
        Person(number="P-104", name="Dee", badges=("B-104",)),
        Person(number="P-107", name="Gus", badges=("B-107",)),
        Person(number="P-108", name="Hana", badges=("B-108",)),
        Person(number="P-199", name="Ivo", badges=("B-199",), left_at="2026-01-31T15:00:00.000-05:00"),
    ),
    qualifications=tuple(
        Qualification(person=person, operation=operation, level=level, valid_from=date(2024, 1, 8), valid_until=until)
        for person, operation, level, until in (
            ("P-101", "60", Level.OPERATOR, date(2030, 12, 31)),
            ("P-102", "60", Level.OPERATOR, date(2030, 12, 31)),
            ("P-102", "80", Level.OPERATOR, date(2030, 12, 31)),
            ("P-102", "80", Level.TRAINER, date(2030, 12, 31)),
            ("P-103", "30", Level.OPERATOR, date(2030, 12, 31)),
            ("P-104", "*", Level.INSPECTOR, date(2030, 12, 31)),
            ("P-104", "*", Level.FIRST_PIECE, date(2030, 12, 31)),
            ("P-107", "80", Level.OPERATOR, date(2030, 12, 31)),
            ("P-108", "60", Level.OPERATOR, date(2026, 3, 1)),
        )
    ),
    parts=(
        Part(number="B-3124", name="bolt (invented)", revision="C", thread=THREAD),
        Part(number="N-2208", name="nut (invented)", revision="A", thread=".3125-24 UNJF-3B", is_internal_thread=True),
    ),
    characteristics=(SHANK, BLANK, PITCH, GO_RING, NOT_GO_RING, HARDNESS, LOAD, RUNOUT),
    plans=(
        Plan(part="B-3124", revision="C", operation="40", version="C1"),
        Plan(part="B-3124", revision="C", operation="60", version="C1"),
        Plan(part="B-3124", revision="C", operation="80", version="C1", needs_first_piece=True,
             needs_fatigue_proof=True, die_life=100_000),
        Plan(part="B-3124", revision="C", operation="95", version="C1"),
        Plan(part="N-2208", revision="A", operation="30", version="A1"),
    ),
    lots=(
        Lot(number="L-411", part="B-3124", revision="C", heat="H-7703", quantity=2000),
        Lot(number="L-412", part="B-3124", revision="C", heat="H-7704", quantity=2000),
        Lot(number="L-500", part="N-2208", revision="A", heat="H-7801", quantity=5000),
    ),
    stations=(
        Station(number="S05", name="hardness", operations=("40",)),
        Station(number="S12", name="centreless grinding 1", operations=("60",)),
        Station(number="S24", name="flat two-die rolling", operations=("80",)),
        Station(number="S31", name="tapping", operations=("30",)),
    ),
)  # fmt: skip


def lists_with(**changes: object) -> Lists:
    """Return the plant's lists with some of them replaced; built anew, since look-ups are remembered per object."""
    return Lists.model_validate({name: getattr(LISTS, name) for name in Lists.model_fields} | changes)


Kind = TypeVar("Kind", bound=Act)


class Post:
    """One station with its clock and book, ready to be worked at."""

    def __init__(self, number: str = "S12", at: str = "2026-03-09 09:00:00", lists: Lists = LISTS) -> None:
        self.clock = HandClock(at)
        self.book = BookInMemory(self.clock, number, f"{number}-a")
        self.taken_at = write_time(self.clock.now())
        self.work = station.Station(
            self.book, lists, number=number, clock=self.clock, zone=ZONE, lists_taken_at=self.taken_at
        )

    def measuring(
        self,
        characteristic: str = "BC1",
        *,
        person: str = "P-101",
        lot: str = "L-411",
        operation: str = "60",
        gauge: str = "G-108",
        master: str | None = None,
    ) -> "Post":
        """Badge in, open the job, take the gauge and begin a sample."""
        self.work.badge_in(person)
        self.work.open_job(lot, operation)
        self.work.take_gauge(characteristic, gauge, master=master)
        self.work.begin_sample(characteristic)
        return self

    def kept(self, characteristic: str, keyed: str) -> station.KeptReading:
        """Key a figure that is kept at once."""
        answer = self.work.key(characteristic, keyed)
        assert isinstance(answer, station.KeptReading)
        return answer

    def asked(self, characteristic: str, keyed: str) -> station.LookAgain:
        """Key a figure that the kiosk asks about."""
        answer = self.work.key(characteristic, keyed)
        assert isinstance(answer, station.LookAgain)
        return answer

    def pages(self, kind: type[Kind]) -> list[Kind]:
        """Return the acts of one kind in the book, oldest first."""
        return [page.act for page in self.book.pages if isinstance(page.act, kind)]
