"""What must hold over the lists as a whole: nothing twice, nothing pointing at nothing, limits that make sense.

Owns faults that only show once rows are read. Must not know the version before, nor who takes over.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final, TypeVar

from consolidator.lists.faults import Fault
from consolidator.lists.rows import ReadList, Row
from consolidator.lists.tables import TABLES, ListTable, heading
from kiosk.lists.entries import (
    CalibrationRecord,
    Gauge,
    Lot,
    Master,
    Part,
    Person,
    Plan,
    PlantNumber,
    Qualification,
)
from kiosk.lists.numbers import is_plant_number
from kiosk.lists.words import MasterKind
from kiosk.measure.decimals import write_figure
from kiosk.pages._base import Frozen
from kiosk.times import read_time

Entry = TypeVar("Entry", bound=Frozen)


@dataclass(frozen=True)
class Draft:
    """All lists as read, given files and kept ones together, before anybody takes them over."""

    lists: Mapping[str, ReadList]

    def rows(self, name: str, _: type[Entry]) -> Iterator[tuple[Row, Entry]]:
        """Yield the rows of a list that could be read, with their entries."""
        for row in self.lists[name].rows:
            yield row, row.entry  # type: ignore[misc]  # the table fixes the model of its rows

    def knows(self, name: str, number: str) -> bool:
        """True when a list names `number`; true too when its file could not be read, for nobody can tell then."""
        named = self.lists[name].named
        return named is None or number in named


def check_whole(draft: Draft) -> Iterator[Fault]:
    """Yield every fault that shows when the lists are held against each other."""
    for table in TABLES:
        yield from _doubled(draft.lists[table.name])
    for check in (_pointers, _parts, _gauges, _masters, _calibrations, _people, _signers, _numbers):
        yield from check(draft)


def identity(table: ListTable, entry: Frozen) -> tuple[object, ...]:
    """Return what makes two rows the same row; times are compared as moments."""
    return tuple(_as_moment(field, getattr(entry, field)) for field in table.key)


def _as_moment(field: str, value: object) -> object:
    is_time = field in ("in_force_from", "done_at") and isinstance(value, str)
    return read_time(str(value)) if is_time else value


def _doubled(read: ReadList) -> Iterator[Fault]:
    first: dict[tuple[object, ...], Row] = {}
    for row in read.rows:
        earlier = first.setdefault(identity(read.table, row.entry), row)
        if earlier is row:
            continue
        subject = " ".join(str(getattr(row.entry, field)) for field in read.table.subject)
        dated = "with the same time of force " if "in_force_from" in read.table.key else ""
        where = "in the version before" if earlier.number is None else f"in row {earlier.number}"
        yield row.fault(
            *(read.table.key[0], f"{subject} stands twice {dated}in the list"),
            why=f"it is {where} already",
            next_step="keep the row that is right and take the other out",
        )


_POINTERS: Final = (
    ("gauges", "home_station", "stations"),
    ("gauges", "master", "masters"),
    ("gauges", "wires", "masters"),
    ("gauges", "swap_partner", "gauges"),
    ("calibrations", "gauge", "gauges"),
    ("calibrations", "technician", "people"),
    ("calibrations", "masters", "masters"),
    ("qualifications", "person", "people"),
    ("qualifications", "granted_by", "people"),
    ("plans", "approved_by", "people"),
    ("plans", "second", "people"),
    ("lots", "split_from", "lots"),
    ("shifts", "person", "people"),
    ("plant-numbers", "by", "people"),
    ("plant-numbers", "second", "people"),
)
"""Which column of which list names a row of which other list."""


def _pointers(draft: Draft) -> Iterator[Fault]:
    for name, field, target in _POINTERS:
        for row in draft.lists[name].rows:
            value = getattr(row.entry, field)
            for number in value if isinstance(value, tuple) else (value,):
                if number is not None and not draft.knows(target, number):
                    yield row.fault(
                        *(field, f"the {heading(field).removesuffix('s')} {number} is not known"),
                        why=f"the list of {target} has no {number}",
                        next_step=f"mend the number, or add it to the list of {target}",
                    )


def _parts(draft: Draft) -> Iterator[Fault]:
    known = {(part.number, part.revision) for _, part in draft.rows("parts", Part)}
    are_all_read = draft.lists["parts"].named is not None and not draft.lists["parts"].faults
    for name in ("characteristics", "plans", "lots"):
        for row in draft.lists[name].rows:
            part, revision = getattr(row.entry, "part"), getattr(row.entry, "revision")  # noqa: B009 - one of three models
            if not draft.knows("parts", part):
                yield row.fault(
                    *("part", f"the part {part} is not known"),
                    why=f"the list of parts has no {part}",
                    next_step="mend the number, or add the part to the list of parts",
                )
            elif are_all_read and (part, revision) not in known:
                yield row.fault(
                    *("revision", f"the revision {revision} of part {part} is not known"),
                    why="the list of parts has no row for it",
                    next_step="mend the revision, or add it to the list of parts",
                )


def _gauges(draft: Draft) -> Iterator[Fault]:
    wires = {m.number: m.kind for _, m in draft.rows("masters", Master)}
    for row, gauge in draft.rows("gauges", Gauge):
        for field in () if gauge.kind.is_attribute else ("unit", "least_count"):
            if getattr(gauge, field) is None:
                yield _lacking(row, field, f"a gauge of kind {gauge.kind} gives a figure")
        for field in ("thread", "member") if gauge.kind.is_thread_gauge else ():
            if getattr(gauge, field) is None:
                yield _lacking(row, field, "a thread gauge is for one thread and is GO or NOT GO")
        yield from positive(row, ("least_count",))
        yield from _no_sign(row, ("permissible_error", "uncertainty"))
        yield from wrong_way_round(row, "range_low", "range_high")
        if gauge.swap_partner == gauge.number:
            why = "a gauge cannot take its own place"
            yield row.fault("swap_partner", "the swap partner is the gauge itself", why=why, next_step="name another")
        kind = wires.get(gauge.wires or "")
        if kind is not None and kind is not MasterKind.WIRES:
            why = f"the list of masters says it is a {kind}"
            yield row.fault("wires", f"{gauge.wires} is no wire set", why=why, next_step="name the wire set")


def _masters(draft: Draft) -> Iterator[Fault]:
    for row, master in draft.rows("masters", Master):
        yield from positive(row, ("size", "threads_per_inch", "pitch_mm"))
        yield from _no_sign(row, ("tolerance", "uncertainty"))
        if master.size is not None and master.unit is None:
            yield _lacking(row, "unit", "it has a size")


def _calibrations(draft: Draft) -> Iterator[Fault]:
    begins: dict[str, list[str | None]] = {}
    for _, gauge in draft.rows("gauges", Gauge):
        begins.setdefault(gauge.number, []).append(gauge.in_force_from)
    for row, done in draft.rows("calibrations", CalibrationRecord):
        starts = begins.get(done.gauge, [None])
        first = None if None in starts else min((s for s in starts if s is not None), key=read_time)
        if first is not None and read_time(done.done_at) < read_time(first):
            yield row.fault(
                *("done_at", f"the calibration was done before gauge {done.gauge} was there"),
                why=f"the list of gauges has it from {first[:16].replace('T', ' ')}",
                next_step="mend the time, or the gauge's time of force",
            )
        if done.due is not None and done.due < read_time(done.done_at).date():
            why = "it was due before it was done"
            yield row.fault("due", "the due date is not right", why=why, next_step="mend the date or the time")


def _people(draft: Draft) -> Iterator[Fault]:
    owners: dict[str, str] = {}
    for row, person in draft.rows("people", Person):
        for badge in person.badges:
            owner = owners.setdefault(badge, person.number)
            if owner != person.number:
                why = f"{owner} has it already"
                said = f"badge {badge} stands for two people"
                yield row.fault("badges", said, why=why, next_step="give each person a badge of their own")
    for row, held in draft.rows("qualifications", Qualification):
        if held.valid_until is not None and held.valid_until < held.valid_from:
            why = f"it ends on {held.valid_until} and begins on {held.valid_from}"
            yield row.fault("valid_until", "the dates are the wrong way round", why=why, next_step="mend the dates")


def _signers(draft: Draft) -> Iterator[Fault]:
    pairs = [(row, "approved_by", plan.approved_by, plan.second) for row, plan in draft.rows("plans", Plan)]
    pairs += [(row, "by", number.by, number.second) for row, number in draft.rows("plant-numbers", PlantNumber)]
    for row, _, first, second in pairs:
        if first is not None and first == second:
            why = f"{second} is the first person too"
            said = "the second person is not a second person"
            yield row.fault("second", said, why=why, next_step="let another person sign second")
    for row, plan in draft.rows("plans", Plan):
        if plan.after_operation == plan.operation:
            why = "an operation cannot wait for itself"
            yield row.fault("after_operation", "the operation is the same", why=why, next_step="name the one before")
    for row, lot in draft.rows("lots", Lot):
        if lot.split_from == lot.number:
            why = "a lot cannot be split from itself"
            yield row.fault("split_from", "the lot is the same", why=why, next_step="name the lot it was split from")


def _numbers(draft: Draft) -> Iterator[Fault]:
    for row, number in draft.rows("plant-numbers", PlantNumber):
        if not is_plant_number(number.number, number.value):
            yield row.fault(
                *("value", f"'{number.value}' cannot stand for {number.number}"),
                why="it is not a number of the right sort, or out of its range",
                next_step="write a number with a point for decimals, no unit, or a time of day as 06:05",
            )


def _lacking(row: Row, field: str, why: str) -> Fault:
    return row.fault(field, "the cell is empty", why=why, next_step=f"write the {heading(field)}")


def figure(row: Row, field: str) -> Decimal | None:
    """Return the exact decimal of a figure column; none where the cell is empty."""
    text = getattr(row.entry, field)
    return None if text is None else Decimal(text)


def wrong_way_round(row: Row, low: str, high: str) -> Iterator[Fault]:
    """Yield a fault when the lower of two figures is not the lower one."""
    below, above = figure(row, low), figure(row, high)
    if below is not None and above is not None and below >= above:
        yield row.fault(
            *(low, f"{heading(low)} and {heading(high)} are the wrong way round or equal"),
            why=f"{heading(low)} is {write_figure(below)} and {heading(high)} is {write_figure(above)}",
            next_step="look at the drawing or certificate and mend both",
        )


def positive(row: Row, fields: tuple[str, ...]) -> Iterator[Fault]:
    """Yield a fault for each of the figures that is not larger than 0."""
    yield from _sized(row, fields, lambda value: value > 0, "it must be larger than 0")


def _no_sign(row: Row, fields: tuple[str, ...]) -> Iterator[Fault]:
    yield from _sized(row, fields, lambda value: value >= 0, "it is a size, without a sign")


def _sized(row: Row, fields: tuple[str, ...], fits: Callable[[Decimal], bool], why: str) -> Iterator[Fault]:
    for field in fields:
        value = figure(row, field)
        if value is not None and not fits(value):
            said = f"{heading(field)} cannot be {write_figure(value)}"
            yield row.fault(field, said, why=why, next_step=f"mend the {heading(field)}")
