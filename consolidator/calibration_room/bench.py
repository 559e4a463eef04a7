"""The bench of the calibration room: the procedure, what was found and done, and the points with their errors.

Owns checking that every point of the procedure was taken, and the verdict from the points.
Errors are indicated minus true, in the gauge's own unit, as exact decimals; one equal to the permissible error is good.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Final, Literal

from consolidator.calibration_room.standing import Standing
from consolidator.errors import DeskRefused
from kiosk.errors import NotANumber
from kiosk.lists import Gauge
from kiosk.measure.decimals import read_figure, to_decimal
from kiosk.pages.desk import Calibration, CalibrationPoint

Stage = Literal["as-found", "as-left", "whole"]
NOT_KEPT: Final = "Calibration of {} not kept."


@dataclass(frozen=True)
class Procedure:
    """What is calibrated how: name with revision, points with their permissible error, room and soak.

    Without points those of the gauge's last calibration are needed again; a permissible error left empty is the
    register's.
    """

    name: str
    points: tuple[tuple[str, str], ...] = ()
    room_low: str | None = None
    room_high: str | None = None
    temperature_unit: Literal["degF", "degC"] = "degF"
    soak_min: int | None = None


@dataclass(frozen=True)
class Bench:
    """What was found and done at the bench; `as_found` and `as_left` hold the error at each point."""

    gauge: str
    procedure: Procedure
    as_found: Mapping[str, str] = field(default_factory=dict)
    as_left: Mapping[str, str] = field(default_factory=dict)
    masters: tuple[str, ...] = ()
    room_temperature: str | None = None
    soak_min: int | None = None
    action: Literal["none", "cleaned", "adjusted", "repaired"] = "none"
    uncertainty: str | None = None
    decision_rule: str = "simple acceptance"
    done_at: str | None = None
    """When it was done, where that is not now."""
    certificate: str | None = None
    certificate_file: str | None = None
    laboratory: str | None = None
    due: date | None = None
    """A due date told by somebody; it is refused where it is not the computed one."""


def verdict_at(points: tuple[CalibrationPoint, ...], side: Literal["as_found", "as_left"]) -> str:
    """Return Good when no error is larger than is permissible, Out when one is, Not taken when there is none."""
    told = [(getattr(point, side), point.permissible) for point in points]
    taken = [(to_decimal(error), to_decimal(permissible)) for error, permissible in told if error is not None]
    if not taken:
        return "Not taken"
    return "Good" if all(abs(error) <= permissible for error, permissible in taken) else "Out"


def points_of(
    bench: Bench,
    stage: Stage,
    standing: Standing,
    last: Calibration | None,
    found: Calibration | None,
) -> tuple[CalibrationPoint, ...]:
    """Return every point of the procedure with its errors; `found` is the as-found saved first, `last` the one before.

    Raises:
        DeskRefused: points are missing, or none of the procedure's.
    """
    what = NOT_KEPT.format(bench.gauge)
    wanted = _wanted_points(bench, standing, last)
    as_found, as_left = (_figures(what, errors) for errors in (bench.as_found, bench.as_left))
    if found is not None:
        as_found = {to_decimal(point.at): point.as_found for point in found.points if point.as_found is not None}
    needs_left = stage != "as-found" and (bool(as_left) or bench.action != "none" or not as_found)
    missing = [] if not (as_found or stage == "as-found") else [at for at in wanted if at not in as_found]
    missing += [at for at in wanted if needs_left and at not in as_left]
    strange = [at for at in (*as_found, *as_left) if at not in wanted]
    if missing or strange:
        named = ", ".join(sorted({format(at, "f") for at in missing or strange}))
        why = f"Points missing: {named}." if missing else f"Points that the procedure does not have: {named}."
        raise DeskRefused(what, why=why, next_step="Take every point of the procedure, then save it again.")
    return tuple(
        CalibrationPoint(at=text, permissible=permissible, as_found=as_found.get(at), as_left=as_left.get(at))
        for at, (text, permissible) in wanted.items()
    )


def _wanted_points(bench: Bench, standing: Standing, last: Calibration | None) -> dict[Decimal, tuple[str, str]]:
    what = NOT_KEPT.format(bench.gauge)
    told = bench.procedure.points or tuple((p.at, p.permissible) for p in (last.points if last else ()))
    register = standing.row.permissible_error if isinstance(standing.row, Gauge) else standing.row.tolerance
    wanted: dict[Decimal, tuple[str, str]] = {}
    for at, permissible in told:
        if not (permissible or register):
            raise DeskRefused(
                what, why=f"No permissible error at {at} is known.", next_step="Enter it in the procedure or register."
            )
        text, limit = exact(what, at), exact(what, permissible or str(register))
        if to_decimal(limit) < 0:
            raise DeskRefused(what, why=f"The permissible error {limit} is negative.", next_step="Give its size.")
        wanted[to_decimal(text)] = (text, limit)
    if not wanted:
        raise DeskRefused(what, why="The procedure names no points.", next_step="Name the points to be calibrated.")
    return wanted


def _figures(what: str, errors: Mapping[str, str]) -> dict[Decimal, str]:
    return {to_decimal(exact(what, at)): exact(what, error) for at, error in errors.items()}


def exact(what: str, text: str) -> str:
    """Return the figure keyed, in its canonical text.

    Raises:
        DeskRefused: it is none.
    """
    try:
        return read_figure(text)
    except NotANumber as error:
        raise DeskRefused(
            what, why=f"'{text}': {error.why}", next_step="Look again and key the whole figure."
        ) from error
