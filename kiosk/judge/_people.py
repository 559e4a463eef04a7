"""Who may take a reading, and what heat does to one: X58, X59, X65, X66."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Final

from kiosk.judge._given import HeatNote
from kiosk.judge._reasons import Scene
from kiosk.lists import Lists, PlantNumbers, Qualification
from kiosk.lists.words import Level
from kiosk.pages.words import SampleKind, Standing
from kiosk.times import read_time

MAY_MEASURE: Final = frozenset({Level.OPERATOR, Level.TRAINER, Level.INSPECTOR, Level.FIRST_PIECE, Level.CALIBRATOR})
"""Levels that may take readings alone; a trainee needs a trainer's countersign."""
NEVER_LAPSED: Final = frozenset({SampleKind.FIRST, SampleKind.TEST, SampleKind.ACCEPTANCE})
"""Samples for which a lapsed qualification is never tolerated (N11)."""


def is_qualified(
    person: str, operation: str, gauge_kind: str, levels: frozenset[Level], *, lists: Lists, at: datetime
) -> bool:
    """True when `person` holds one of `levels` for the operation and gauge kind at `at` (plant local time)."""
    rows = _rows(person, operation, gauge_kind, levels, lists, at)
    return any(row.valid_until is None or at.date() <= row.valid_until for row in rows)


def people_reasons(scene: Scene) -> Iterator[str]:
    """Yield X65 or X66 for the person who took the reading; nothing where the person is not told."""
    given, at = scene.given, scene.moment.astimezone(scene.zone)
    if given.person is None or given.countersigned_by is not None:
        return
    kind = "*" if scene.gauge is None else scene.gauge.kind.value
    if is_qualified(given.person, given.operation, kind, MAY_MEASURE, lists=scene.lists, at=at):
        return
    yield "X65" if _lapsed_on(scene) is None else "X66"


def lapsed_effect(scene: Scene) -> dict[str, Standing]:
    """Return what a lapsed qualification does here: flagged for some days in process, else blocked (N11)."""
    lapsed = _lapsed_on(scene)
    if lapsed is None:
        return {}
    today = scene.moment.astimezone(scene.zone).date()
    is_tolerated = (today - lapsed).days <= scene.numbers.lapsed_days
    is_tolerated = is_tolerated and scene.given.sample_kind not in NEVER_LAPSED
    return {"X66": Standing.FLAGGED if is_tolerated else Standing.BLOCKED}


def heat_reasons(scene: Scene) -> Iterator[str]:
    """Yield X58 or X59 for a heated operation (N10); thermometer evidence outranks the clock, both ways."""
    if not (scene.given.characteristic.is_heated or scene.around.is_set_up_hot):
        return
    is_cool = _is_cool(scene.given.heat, scene.numbers, scene.moment)
    if is_cool is None:
        yield "X59"
    elif not is_cool:
        yield "X58"


def _is_cool(heat: HeatNote, numbers: PlantNumbers, moment: datetime) -> bool | None:
    if heat.part is not None:
        part, gauge = (None if t is None else _in_degf(t, heat.unit) for t in (heat.part, heat.gauge))
        if part is None or part > numbers.cool_part_degf:
            return False
        if gauge is not None:
            return abs(part - gauge) <= numbers.cool_difference_degf
    if heat.out_at is None:
        return None
    return moment - heat.out_at >= timedelta(minutes=numbers.cool_down_min)


def _in_degf(temperature: Decimal, unit: str) -> Decimal:
    return temperature if unit == "degF" else temperature * 9 / 5 + 32


def _lapsed_on(scene: Scene) -> date | None:
    """Return the last day the person was qualified; none when there never was one."""
    if scene.given.person is None:
        return None
    kind = "*" if scene.gauge is None else scene.gauge.kind.value
    at = scene.moment.astimezone(scene.zone)
    rows = _rows(scene.given.person, scene.given.operation, kind, MAY_MEASURE, scene.lists, at)
    return max((row.valid_until for row in rows if row.valid_until is not None), default=None)


def _rows(
    person: str, operation: str, gauge_kind: str, levels: frozenset[Level], lists: Lists, at: datetime
) -> Iterator[Qualification]:
    for row in lists.qualifications_of(person):
        is_known = row.in_force_from is None or read_time(row.in_force_from) <= at
        if (
            row.operation in (operation, "*")
            and (row.gauge_kind in (gauge_kind, "*") or gauge_kind == "*")
            and row.level in levels
            and row.valid_from <= at.date()
            and is_known
        ):
            yield row
