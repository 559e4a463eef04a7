"""The whole of the lists at one version, and looking things up at a moment."""

from collections.abc import Iterable
from datetime import datetime
from functools import cached_property
from typing import Annotated, Literal, Protocol, TypeVar

from pydantic import Field

from kiosk.lists.entries import (
    CalibrationRecord,
    Characteristic,
    Gauge,
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
from kiosk.lists.numbers import PlantNumbers
from kiosk.pages._base import Frozen, Name
from kiosk.times import LocalTime, read_time


class _Dated(Protocol):
    @property
    def in_force_from(self) -> str | None: ...


Row = TypeVar("Row", bound=_Dated)


def in_force(rows: Iterable[Row], moment: datetime) -> Row | None:
    """Return the row with the latest time of force not after `moment`; none when all come later."""
    best: Row | None = None
    best_from: datetime | None = None
    for row in rows:
        start = None if row.in_force_from is None else read_time(row.in_force_from)
        if start is not None and start > moment:
            continue
        if best is None or (start is not None and (best_from is None or start >= best_from)):
            best, best_from = row, start
    return best


class Lists(Frozen):
    """Everything a station is told, at one version."""

    format: Literal[1] = 1
    plant: Name
    zone: Name
    """IANA name of the plant's time zone."""
    version: Annotated[int, Field(ge=0)]
    taken_over_at: LocalTime | None = None
    gauges: tuple[Gauge, ...] = ()
    calibrations: tuple[CalibrationRecord, ...] = ()
    masters: tuple[Master, ...] = ()
    people: tuple[Person, ...] = ()
    qualifications: tuple[Qualification, ...] = ()
    parts: tuple[Part, ...] = ()
    characteristics: tuple[Characteristic, ...] = ()
    plans: tuple[Plan, ...] = ()
    lots: tuple[Lot, ...] = ()
    stations: tuple[Station, ...] = ()
    shifts: tuple[Shift, ...] = ()
    plant_numbers: tuple[PlantNumber, ...] = ()

    @cached_property
    def _gauges(self) -> dict[str, list[Gauge]]:
        return _by(self.gauges, "number")

    @cached_property
    def _masters(self) -> dict[str, list[Master]]:
        return _by(self.masters, "number")

    @cached_property
    def _parts(self) -> dict[str, list[Part]]:
        return _by(self.parts, "number")

    @cached_property
    def _characteristics(self) -> dict[tuple[str, str, str], list[Characteristic]]:
        found: dict[tuple[str, str, str], list[Characteristic]] = {}
        for row in self.characteristics:
            found.setdefault((row.part, row.revision, row.number), []).append(row)
        return found

    @cached_property
    def _plans(self) -> dict[tuple[str, str, str], list[Plan]]:
        found: dict[tuple[str, str, str], list[Plan]] = {}
        for row in self.plans:
            found.setdefault((row.part, row.revision, row.operation), []).append(row)
        return found

    @cached_property
    def _qualifications(self) -> dict[str, list[Qualification]]:
        found: dict[str, list[Qualification]] = {}
        for row in self.qualifications:
            found.setdefault(row.person, []).append(row)
        return found

    @cached_property
    def _lots(self) -> dict[str, Lot]:
        return {row.number: row for row in self.lots}

    @cached_property
    def _people(self) -> dict[str, Person]:
        return {row.number: row for row in self.people}

    def gauge(self, number: str, moment: datetime) -> Gauge | None:
        """Return the gauge's row in force at `moment`; none when it is not in the register."""
        return in_force(self._gauges.get(number, ()), moment)

    def master(self, number: str, moment: datetime) -> Master | None:
        """Return the master's row in force at `moment`."""
        return in_force(self._masters.get(number, ()), moment)

    def part(self, number: str, moment: datetime) -> Part | None:
        """Return the revision of the part in force at `moment`."""
        return in_force(self._parts.get(number, ()), moment)

    def characteristic(self, part: str, revision: str, number: str, moment: datetime) -> Characteristic | None:
        """Return a characteristic of one part revision, as in force at `moment`."""
        return in_force(self._characteristics.get((part, revision, number), ()), moment)

    def characteristics_of(self, part: str, revision: str, operation: str) -> tuple[Characteristic, ...]:
        """Return the characteristics of an operation in plan order."""
        return tuple(
            row
            for row in self.characteristics
            if (row.part, row.revision, row.operation) == (part, revision, operation)
        )

    def plan(self, part: str, revision: str, operation: str, moment: datetime) -> Plan | None:
        """Return the plan of an operation in force at `moment`."""
        return in_force(self._plans.get((part, revision, operation), ()), moment)

    def qualifications_of(self, person: str) -> tuple[Qualification, ...]:
        """Return every qualification a person has or had."""
        return tuple(self._qualifications.get(person, ()))

    def lot(self, number: str) -> Lot | None:
        """Return the lot; none when it is not in the register."""
        return self._lots.get(number)

    def person(self, number: str) -> Person | None:
        """Return the person."""
        return self._people.get(number)

    def station(self, number: str, moment: datetime) -> Station | None:
        """Return the station's row in force at `moment`."""
        return in_force((row for row in self.stations if row.number == number), moment)

    def last_calibration(self, gauge: str, moment: datetime) -> CalibrationRecord | None:
        """Return the last calibration of the gauge not after `moment`; none when the lists know of none."""
        done = [c for c in self.calibrations if c.gauge == gauge and read_time(c.done_at) <= moment]
        return max(done, key=lambda c: read_time(c.done_at), default=None)

    def numbers(self, moment: datetime) -> PlantNumbers:
        """Return N1-N19 as they were in force at `moment`."""
        return PlantNumbers.at(self.plant_numbers, moment)


def _by(rows: Iterable[Row], field: str) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = {}
    for row in rows:
        found.setdefault(getattr(row, field), []).append(row)
    return found
