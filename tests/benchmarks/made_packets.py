"""A made night for benchmarks: lists, and signed packets of any number of readings, quickly and the same every time.

Everything is invented. Pages are true pages (a test reads them back through their models), but they are written by
filling in the changing fields of one page a kiosk, because a million pages through models would take minutes.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Final

import numpy as np

from consolidator.intake import enrol
from consolidator.plant import Plant
from kiosk.carry import Keys, PacketHeader, kiosk_keys
from kiosk.carry.statements import write_statement
from kiosk.lists import Characteristic, Gauge, Lists, Lot, Part, Person, Plan, Qualification, Station
from kiosk.lists.words import CharacteristicKind, GaugeKind, Level
from kiosk.pages import FIRST_PREVIOUS, Page, canonical_bytes
from kiosk.pages.readings import Reading
from kiosk.pages.station import BadgeIn
from kiosk.pages.words import Standing, Verdict
from kiosk.times import day_bounds_utc, write_time

DAY: Final = date(2026, 3, 10)
PACKET_PAGES: Final = 200
LOT_READINGS: Final = 500
_MADE: Final = (("60", "BC1", ".31225", ".3120", ".3125"), ("65", "BC2", ".2840", ".2835", ".2845"))
_STEP: Final = 5
"""Values lie on divisions of .00005 in, the micrometer's least count."""
_SLOTS: Final = ("KEYED-HERE", "LOT-HERE", "PERSON-HERE", "f" * 64, "e" * 32, "2000-01-01T00:00:00.000+00:00")


@dataclass(frozen=True)
class Made:
    """One made packet: which series, the run of pages, and the bytes as carried."""

    series: str
    first: int
    last: int
    raw: bytes


def station_of(kiosk: int) -> str:
    """Return the station of kiosk 0, 1, …"""
    return f"S{kiosk + 101}"


def made_lists(plant: Plant, kiosks: int, readings: int) -> Lists:
    """Return lists under which the made night is an ordinary one."""
    numbers = range(kiosks)
    lots_each = readings // kiosks // LOT_READINGS + 2
    people = [_person(kiosk, shift) for kiosk in numbers for shift in (1, 2, 3)]
    return Lists(
        plant=plant.number,
        zone=plant.zone.key,
        version=1,
        gauges=tuple(
            Gauge(
                number=f"G-{kiosk + 2001}",
                kind=GaugeKind.MICROMETER,
                unit="in",
                range_low="0",
                range_high="1",
                least_count="0.00005",
                permissible_error="0.0001",
                home_station=station_of(kiosk),
                due=date(2026, 8, 31),
            )
            for kiosk in numbers
        ),
        people=tuple(Person(number=number, name=f"Made {number}") for number in people),
        qualifications=tuple(
            Qualification(person=number, operation=made[0], level=Level.OPERATOR, valid_from=date(2025, 1, 1))
            for number in people
            for made in _MADE
        ),
        parts=(Part(number="B-3124", name="bolt (invented)", revision="C", thread=".3125-24 UNJF-3A"),),
        characteristics=tuple(
            Characteristic(
                part="B-3124",
                revision="C",
                number=number,
                name=f"made diameter {number}",
                operation=operation,
                kind=CharacteristicKind.TWO_SIDED,
                unit="in",
                lower="0" + lower,
                upper="0" + upper,
                gauge_kinds=(GaugeKind.MICROMETER,),
                sample_n=5,
                interval_min=30,
            )
            for operation, number, _, lower, upper in _MADE
        ),
        plans=tuple(Plan(part="B-3124", revision="C", operation=made[0], version="C1") for made in _MADE),
        lots=tuple(
            Lot(number=_lot(kiosk, place), part="B-3124", revision="C", heat="H-1", quantity=2_000)
            for kiosk in numbers
            for place in range(lots_each)
        ),
        stations=tuple(
            Station(number=station_of(kiosk), name="made station", operations=("60", "65")) for kiosk in numbers
        ),
    )


def made_packets(plant: Plant, kiosk_folders: Path, *, readings: int, kiosks: int = 40) -> Iterator[Made]:
    """Enrol `kiosks` kiosks and yield the packets of production day `DAY`, kiosk by kiosk.

    Each kiosk has three badge-ins besides its readings.
    """
    now = day_bounds_utc(DAY, plant.zone)[0] - timedelta(days=30)
    for kiosk in range(kiosks):
        series = f"{station_of(kiosk)}-a"
        enrol(plant, series=series, station=station_of(kiosk), now=now, kiosk_folder=kiosk_folders / series)
        count = readings // kiosks + (kiosk < readings % kiosks)
        yield from _packets(plant, kiosk, kiosk_keys(kiosk_folders / series), count)


def _packets(plant: Plant, kiosk: int, keys: Keys, count: int) -> Iterator[Made]:
    series = f"{station_of(kiosk)}-a"
    lines: list[bytes] = []
    first, last, head = 1, 0, FIRST_PREVIOUS
    for last, (head, line) in enumerate(_lines(plant, kiosk, count), 1):
        lines.append(line)
        if len(lines) == PACKET_PAGES:
            yield Made(series, first, last, _packet(plant, series, first, head, lines, keys))
            lines, first = [], last + 1
    if lines:
        yield Made(series, first, last, _packet(plant, series, first, head, lines, keys))


def _packet(plant: Plant, series: str, first: int, head: str, lines: list[bytes], keys: Keys) -> bytes:
    body = b"".join(lines)
    header = PacketHeader(
        plant=plant.number,
        series=series,
        first=first,
        last=first + len(lines) - 1,
        count=len(lines),
        head=head,
        body=hashlib.sha256(body).hexdigest(),
    )
    return write_statement(header, keys.signing) + body


def _lines(plant: Plant, kiosk: int, count: int) -> Iterator[tuple[str, bytes]]:
    """Yield each page's fingerprint and its line in a packet."""
    chance = np.random.default_rng(kiosk + 1)
    filler = Random(kiosk + 1)
    start = day_bounds_utc(DAY, plant.zone)[0].astimezone(plant.zone)
    step_ms = 86_000_000 // (count + 1)
    previous, number = FIRST_PREVIOUS, 0
    values = _values(kiosk, count, chance)
    templates = {out: _template(plant, kiosk, out) for out in (False, True)}
    for place in range(count):
        shift = place * 3 // count + 1
        ms = place * step_ms
        moment = write_time(start + timedelta(milliseconds=ms))
        if place * 3 // count != (place - 1) * 3 // count:
            number += 1
            page = _badge_in(plant, kiosk, shift, number, moment, ms, previous)
            previous = hashlib.sha256(page).hexdigest()
            yield previous, b"%s %s\n" % (previous.encode(), page)
        number += 1
        keyed, is_out = values[place]
        page = templates[is_out] % (
            keyed, _lot(kiosk, place // LOT_READINGS).encode(), place % 5 + 1, place // 5 + 1, keyed,
            filler.randbytes(16).hex().encode(), moment.encode(), number, _person(kiosk, shift).encode(),
            previous.encode(), ms,
        )  # fmt: skip
        previous = hashlib.sha256(page).hexdigest()
        yield previous, b"%s %s\n" % (previous.encode(), page)


def _values(kiosk: int, count: int, chance: np.random.Generator) -> list[tuple[bytes, bool]]:
    """Return keyed values in hundred-thousandths around the middle, about one in 500 outside its limits."""
    _, _, nominal, lower, upper = _MADE[kiosk % len(_MADE)]
    middle, low, high = (round(float(text) * 100_000) for text in (nominal, lower, upper))
    spread = (high - low) / 2 / 3.1
    found = middle + np.rint(chance.normal(0, spread, count) / _STEP).astype(np.int64) * _STEP
    return [(b"0.%05d" % value, not low <= value <= high) for value in found.tolist()]


def _template(plant: Plant, kiosk: int, is_out: bool) -> bytes:
    """Return a reading page with holes for what changes, in the order in which the holes stand in its bytes."""
    operation, characteristic, *_ = _MADE[kiosk % len(_MADE)]
    act = Reading(
        lot=_SLOTS[1], operation=operation, part="B-3124", revision="C", plan_version="C1",
        characteristic=characteristic, sample=999_998, piece=999_999, gauge=f"G-{kiosk + 2001}",
        keyed=_SLOTS[0], unit="in", value="987654.321", verdict=Verdict.OUT if is_out else Verdict.IN,
        standing=Standing.COUNTS, reasons=("X23",) if is_out else (),
    )  # fmt: skip
    page = Page(
        plant=plant.number, series=f"{station_of(kiosk)}-a", number=9_999_999_998, station=station_of(kiosk),
        kiosk_time=_SLOTS[5], running_ms=999_999_999_999_997, session=1, person=_SLOTS[2], lists_version=1,
        previous=_SLOTS[3], filler=_SLOTS[4], act=act,
    )  # fmt: skip
    text = canonical_bytes(page).decode().replace("%", "%%")
    holes = (*_SLOTS, "987654.321")
    for hole in holes:
        text = text.replace(hole, "%b")
    for hole in ("9999999998", "999999999999997", "999998", "999999"):
        text = text.replace(hole, "%d")
    return text.encode()


def _badge_in(plant: Plant, kiosk: int, shift: int, number: int, moment: str, ms: int, previous: str) -> bytes:
    page = Page(
        plant=plant.number, series=f"{station_of(kiosk)}-a", number=number, station=station_of(kiosk),
        kiosk_time=moment, running_ms=ms, session=1, person=_person(kiosk, shift), lists_version=1,
        previous=previous, filler=f"{kiosk:016x}{number:016x}", act=BadgeIn(shift=shift),
    )  # fmt: skip
    return canonical_bytes(page)


def _lot(kiosk: int, place: int) -> str:
    return f"L-{kiosk + 10}{place:03d}"


def _person(kiosk: int, shift: int) -> str:
    return f"P-{kiosk * 3 + shift + 200}"


def received_at(plant: Plant) -> datetime:
    """Return a moment at which the whole made day can be in."""
    return day_bounds_utc(DAY, plant.zone)[1]
