"""The invented plant of the demo: its stations, people, parts, plans and lots, as the lists that a plant keeps.

Owns what stands where and who works when. Every number, name and limit is invented and never an engineering limit.
Must not know what is measured, or what goes wrong.
"""

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from demo_site.gauge_room import CALIBRATIONS, GAUGES, MASTERS
from kiosk.lists import Characteristic, Lists, Lot, Part, Person, Plan, Qualification, Shift, Station
from kiosk.lists.words import CharacteristicKind, Feature, GaugeKind, Level, Member
from kiosk.times import read_plant_time, shift_of, write_time

NUMBER: Final = "P-DEMO"
NAME: Final = "Invented Fastener Works (demo)"
ZONE: Final = ZoneInfo("America/New_York")
DAYS: Final = (date(2026, 3, 9), date(2026, 3, 10), date(2026, 3, 11))
"""Monday to Wednesday; the clocks went forward the day before."""
BEGINS: Final = "2026-03-08 06:00"
"""Sunday morning: the lists are taken over and the kiosks put in place."""

STATIONS: Final[Mapping[str, tuple[str, str]]] = {
    "S02": ("hardness", "40"),
    "S11": ("centreless grinding 1", "60"),
    "S12": ("centreless grinding 2", "60"),
    "S13": ("centreless grinding 3", "60"),
    "S21": ("fillet rolling", "70"),
    "S24": ("flat two-die rolling", "80"),
    "S25": ("three-die rolling", "80"),
    "S31": ("tapping 1", "30"),
    "S32": ("tapping 2", "30"),
    "S38": ("tensile and proof load", "50;95"),
    "CRIB": ("tool crib", ""),
}
"""Station: its name and operations."""

PEOPLE: Final[Mapping[str, str]] = {
    "P-104": "Dario", "P-105": "Edda", "P-106": "Fenja", "P-107": "Gil", "P-108": "Hulda", "P-109": "Ilse",
    "P-111": "Jory", "P-112": "Kees", "P-113": "Lova", "P-121": "Maud", "P-122": "Nuno", "P-123": "Oona",
    "P-131": "Piet", "P-132": "Runa", "P-133": "Sami",
}  # fmt: skip
CREWS: Final[Mapping[str, tuple[str, str, str]]] = {
    "S02": ("P-109", "P-109", "P-109"),
    "S38": ("P-109", "P-109", "P-109"),
    **dict.fromkeys(("S11", "S12", "S13"), ("P-111", "P-112", "P-113")),
    **dict.fromkeys(("S21", "S24", "S25"), ("P-121", "P-122", "P-123")),
    **dict.fromkeys(("S31", "S32"), ("P-131", "P-132", "P-133")),
}
"""Who works at a station in the 1st, 2nd and 3rd shift; the test house works in the 1st only."""

BOLTS: Final[Mapping[str, tuple[str, str, str, str, str, str, str]]] = {
    "B-1071": ("C", "0.3120", "0.3125", "0.2835", "0.2845", "0.2827", "0.2854"),
    "B-1094": ("A", "0.3745", "0.3750", "0.3460", "0.3470", "0.3450", "0.3479"),
}
"""Bolt: revision; limits of the ground shank, of the rolling blank, of the pitch diameter, in inches."""
THREADS: Final = {"B-1071": ".3125-24 UNJF-3A", "B-1094": ".3750-24 UNJF-3A", "N-2050": ".3125-24 UNJF-3B"}
LOADS_LBF: Final = {"B-1071": "12800", "B-1094": "19400"}
NUT: Final = "N-2050"

RUN: Final[tuple[tuple[str, str, str], ...]] = (
    ("S11", "2026-03-09 06:00", "L-611"), ("S11", "2026-03-10 06:00", "L-621"), ("S11", "2026-03-11 06:00", "L-631"),
    ("S12", "2026-03-09 06:00", "L-612"), ("S12", "2026-03-10 06:00", "L-622"), ("S12", "2026-03-11 06:00", "L-632"),
    ("S13", "2026-03-09 06:00", "L-613"), ("S13", "2026-03-10 06:00", "L-623"), ("S13", "2026-03-11 06:00", "L-633"),
    ("S21", "2026-03-09 06:00", "L-614"), ("S21", "2026-03-10 06:00", "L-611"), ("S21", "2026-03-11 06:00", "L-612"),
    ("S24", "2026-03-09 06:00", "L-615"), ("S24", "2026-03-10 06:00", "L-614"), ("S24", "2026-03-11 06:00", "L-611"),
    ("S25", "2026-03-09 06:00", "L-616"), ("S25", "2026-03-11 06:00", "L-613"),
    ("S31", "2026-03-09 06:00", "L-617"), ("S31", "2026-03-10 14:00", "L-627"),
    ("S32", "2026-03-09 06:00", "L-618"), ("S32", "2026-03-11 14:00", "L-628"),
)  # fmt: skip
"""What runs: the station, from when, and the lot, until the next line of the station."""
TESTS: Final[tuple[tuple[str, str, str, str], ...]] = (
    ("S02", "2026-03-09 07:20", "L-611", "H1"), ("S38", "2026-03-09 09:20", "L-615", "U1"),
    ("S02", "2026-03-10 07:20", "L-612", "H1"), ("S38", "2026-03-10 09:20", "L-616", "U1"),
    ("S02", "2026-03-11 07:20", "L-621", "H1"), ("S38", "2026-03-11 09:20", "L-614", "U1"),
    ("S38", "2026-03-10 10:40", "L-617", "U3"), ("S38", "2026-03-11 10:40", "L-618", "U3"),
)  # fmt: skip
"""Samples of the test house: station, when, lot and characteristic."""
_PART_OF_RUN: Final = {
    **dict.fromkeys(("L-613", "L-616", "L-623", "L-633"), "B-1094"),
    **dict.fromkeys(("L-617", "L-618", "L-627", "L-628"), NUT),
}
SHORT_RUNS: Final = {"B-1071": range(701, 753), "B-1094": range(805, 813), NUT: range(851, 876)}
"""Numbers of small lots by part; each planted fault has lots of its own among them."""
_PARTS_OF_LOTS: Final = {lot: _PART_OF_RUN.get(lot, "B-1071") for _, _, lot in RUN} | {
    f"L-{number}": part for part, numbers in SHORT_RUNS.items() for number in numbers
}


def demo_lists() -> Lists:
    """Return the plant's lists as they are taken over on Sunday."""
    return Lists(
        plant=NUMBER, zone=ZONE.key, version=0, gauges=GAUGES, calibrations=CALIBRATIONS, masters=MASTERS,
        people=tuple(Person(number=p, name=n, badges=(p.replace("P", "B"),)) for p, n in PEOPLE.items()),
        qualifications=tuple(_qualifications()), parts=tuple(_parts()),
        characteristics=tuple(row for part in (*BOLTS, NUT) for row in characteristics_of(part)),
        plans=tuple(_plans()), lots=tuple(_lots()), shifts=tuple(_shifts()),
        stations=tuple(
            Station(number=number, name=name, operations=tuple(filter(None, operations.split(";"))))
            for number, (name, operations) in STATIONS.items()
        ),
    )  # fmt: skip


def lot_running(station: str, moment: datetime) -> str | None:
    """Return the lot that runs at a station; none where nothing runs yet."""
    found = [lot for where, since, lot in RUN if where == station and read_plant_time(since, ZONE) <= moment]
    return found[-1] if found else None


def part_of(lot: str) -> str:
    """Return the part of a lot of this plant."""
    return _PARTS_OF_LOTS[lot]


def operator(station: str, moment: datetime) -> str:
    """Return who works at a station."""
    return CREWS[station][shift_of(moment, ZONE)[1] - 1]


def characteristics_of(part: str) -> list[Characteristic]:
    """Return the characteristics of a part, in the order in which they are measured."""
    if part == NUT:
        return _of_nut()
    revision, *limits = BOLTS[part]
    shank, blank, pitch = zip(limits[::2], limits[1::2], strict=True)

    def row(number: str, name: str, operation: str, kind: CharacteristicKind, **also: object) -> Characteristic:
        told = {"part": part, "revision": revision, "number": number, "name": name, "operation": operation} | also
        return Characteristic.model_validate({"kind": kind, "unit": "in", "sample_n": 5} | told)

    two, upper, lower = CharacteristicKind.TWO_SIDED, CharacteristicKind.UPPER, CharacteristicKind.LOWER
    size = (GaugeKind.SNAP, GaugeKind.MICROMETER)
    ground = {"interval_min": 30, "feature": Feature.GROUND_DIAMETER, "gauge_kinds": size}
    rolled = {"interval_min": 30, "feature": Feature.EXTERNAL_ROLLED_THREAD}
    ring = rolled | {"gauge_kinds": (GaugeKind.THREAD_RING,)}
    fillet = {"interval_min": 30, "feature": Feature.FILLET}
    wires = rolled | {"gauge_kinds": (GaugeKind.OVER_WIRES,), "rule": "over wires", "threads_per_inch": "24"}
    strength = {"feature": Feature.STRENGTH, "gauge_kinds": (GaugeKind.TEST_FRAME,), "sample_n": 3}
    return [
        row("H1", "hardness", "40", two, lower="44.0", upper="48.0", unit="HRC", feature=Feature.HARDNESS,
            gauge_kinds=(GaugeKind.HARDNESS,)),
        row("D1", "ground shank diameter", "60", two, lower=shank[0], upper=shank[1], **ground),
        row("D2", "rolling blank diameter", "60", two, lower=blank[0], upper=blank[1], can_measure_later=False,
            **ground),
        row("F1", "raised metal beside the fillet", "70", upper, upper="0.0020", gauge_kinds=(GaugeKind.OPTICAL,),
            **fillet),
        row("F2", "head-to-shank runout", "70", upper, upper="0.0030", gauge_kinds=(GaugeKind.RUNOUT,),
            guard_band="0.0002" if part == "B-1094" else None, **fillet),
        row("T1", "pitch diameter over wires", "80", two, lower=pitch[0], upper=pitch[1], is_key=True, **wires),
        row("T2", "GO ring", "80", CharacteristicKind.ACCEPT_REJECT, unit="accept/reject", member=Member.GO, **ring),
        row("T3", "NOT GO ring", "80", CharacteristicKind.TURNS, unit="turns", turns_allowed="3",
            member=Member.NOT_GO, **ring),
        row("U1", "ultimate tensile load", "95", lower, lower=LOADS_LBF[part], unit="lbf", is_key=True, **strength),
        row("U2", "fatigue life", "90", lower, lower="45000", unit="cycles", least_each="45000",
            least_average="65000", stopped_at="130000", **strength),
    ]  # fmt: skip


def _of_nut() -> list[Characteristic]:
    told = {"part": NUT, "revision": "B", "operation": "30", "sample_n": 5, "interval_min": 30, "unit": "accept/reject"}
    plug = {"feature": Feature.TAPPED_THREAD, "gauge_kinds": (GaugeKind.THREAD_PLUG,)}
    rows: list[dict[str, object]] = [
        {"number": "N1", "name": "face runout", "kind": CharacteristicKind.UPPER, "unit": "in", "upper": "0.0050",
         "shop_limit": "0.0030", "feature": Feature.FACE_RUNOUT, "gauge_kinds": (GaugeKind.RUNOUT,)},
        {"number": "N2", "name": "GO plug", "kind": CharacteristicKind.ACCEPT_REJECT, "member": Member.GO, **plug},
        {"number": "N3", "name": "NOT GO plug", "kind": CharacteristicKind.ACCEPT_REJECT, "member": Member.NOT_GO,
         **plug},
        {"number": "U3", "name": "proof load", "kind": CharacteristicKind.LOWER, "unit": "lbf", "lower": "9600",
         "operation": "50", "sample_n": 3, "interval_min": None, "feature": Feature.STRENGTH,
         "gauge_kinds": (GaugeKind.TEST_FRAME,)},
    ]  # fmt: skip
    return [Characteristic.model_validate(told | row) for row in rows]


def _parts() -> Iterator[Part]:
    for number, thread in THREADS.items():
        is_nut = number == NUT
        yield Part(
            number=number, name="nut (invented)" if is_nut else "high-strength bolt (invented)", customer="CU-1",
            revision="B" if is_nut else BOLTS[number][0], specification="invented specification", thread=thread,
            is_internal_thread=is_nut,
        )  # fmt: skip


def _plans() -> Iterator[Plan]:
    for part in (*BOLTS, NUT):
        rows = characteristics_of(part)
        for operation in sorted({row.operation for row in rows}):
            is_rolling = operation == "80"
            yield Plan(
                part=part, revision=rows[0].revision, operation=operation, version=f"{rows[0].revision}1",
                approved_by="P-106", second="P-108", after_operation="40" if is_rolling else None,
                needs_first_piece=is_rolling, needs_fatigue_proof=is_rolling,
            )  # fmt: skip


def _lots() -> Iterator[Lot]:
    opened = write_time(read_plant_time("2026-03-02 07:00", ZONE))
    for place, (lot, part) in enumerate(sorted(_PARTS_OF_LOTS.items())):
        is_short = lot >= "L-7"
        yield Lot(
            number=lot, part=part, revision="B" if part == NUT else BOLTS[part][0], heat=f"H-{7101 + place}",
            quantity=120 if is_short else 5000 if part == NUT else 2400, opened_at=opened, customer="CU-1",
            order=f"O-{9001 + place}", ships_on=date(2026, 3, 26), retention_years=40,
        )  # fmt: skip


def _qualifications() -> Iterator[Qualification]:
    def row(person: str, operation: str, level: Level) -> Qualification:
        by = "P-108" if person == "P-106" else "P-106"
        return Qualification(
            person=person, operation=operation, level=level, valid_from=date(2024, 1, 8),
            valid_until=date(2030, 12, 31), granted_by=by,
        )  # fmt: skip

    operations = {station: told[1].split(";") for station, told in STATIONS.items()}
    held = {(person, op) for station, crew in CREWS.items() for person in crew for op in operations[station]}
    yield from (row(person, operation, Level.OPERATOR) for person, operation in sorted(held))
    yield from (row(person, "*", Level.INSPECTOR) for person in ("P-104", "P-108"))
    yield row("P-104", "*", Level.FIRST_PIECE)
    yield row("P-105", "*", Level.CALIBRATOR)
    yield row("P-107", "*", Level.LEAD)
    yield from (row(person, "*", Level.DISPOSITION) for person in ("P-104", "P-106", "P-108"))
    yield from (row("P-106", "*", level) for level in (Level.QUALITY_MANAGER, Level.SEALER))


def _shifts() -> Iterator[Shift]:
    crew = {shift: sorted({crew[shift - 1] for crew in CREWS.values()}) for shift in (1, 2, 3)}
    everywhere = ("P-104", "P-105", "P-106", "P-107", "P-108")
    for day in (DAYS[0] - timedelta(days=1), *DAYS, DAYS[-1] + timedelta(days=1)):
        for shift, people in crew.items():
            yield from (Shift(day=day, shift=shift, person=person) for person in sorted({*people, *everywhere}))
