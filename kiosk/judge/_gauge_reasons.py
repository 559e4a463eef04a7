"""What speaks against a gauge: its due date, state and checks, and whether it fits what it measures."""

from collections.abc import Iterator
from datetime import UTC, datetime, time, timedelta, tzinfo
from decimal import Decimal
from fractions import Fraction

from kiosk.errors import ThreadNotUnderstood
from kiosk.judge._figures import wires_fit
from kiosk.judge._reasons import Scene
from kiosk.judge._verdict import limits_in
from kiosk.lists import Gauge, Lists
from kiosk.lists.words import GaugeKind, GaugeState
from kiosk.measure import units
from kiosk.measure.decimals import is_whole_number_of, multiply
from kiosk.threads.characteristics import is_same_thread
from kiosk.times import shift_bounds_utc, shift_of


def due_ends_utc(gauge: Gauge, lists: Lists, zone: tzinfo) -> datetime | None:
    """Return the first moment the due date no longer covers (24:00 plant local time), in UTC.

    N1 as in force when that date begins: whoever changes it later moves no due date that is under way.
    """
    if gauge.due is None:
        return None
    begins = datetime.combine(gauge.due, time(0, 0), tzinfo=zone)
    whole_days, minutes = divmod(int(lists.numbers(begins).due_until_h * 60), 24 * 60)
    wall = begins.replace(tzinfo=None) + timedelta(days=whole_days, minutes=minutes)
    return wall.replace(tzinfo=zone).astimezone(UTC)


def gauge_reasons(scene: Scene) -> Iterator[str]:
    """Yield what speaks against the gauge: X01-X05, X10-X13, X18, X60."""
    gauge, around = scene.gauge, scene.around
    if gauge is None:
        if scene.given.gauge is not None or scene.given.characteristic.gauge_kinds:
            yield "X03"
        return
    ends = due_ends_utc(gauge, scene.lists, scene.zone)
    if ends is not None and scene.moment >= ends:
        yield "X01"
    elif ends is not None and ends <= shift_bounds_utc(*shift_of(scene.moment, scene.zone), scene.zone)[1]:
        yield "X02"
    if gauge.state is not GaugeState.IN_USE:
        yield "X04"
    if around.is_gauge_in_doubt:
        yield "X05"
    if around.is_zero_check_missing:
        yield "X10"
    if around.is_zero_check_late:
        yield "X11"
    if around.is_zero_check_failed:
        yield "X12"
    if gauge.home_station not in (None, around.station) and not around.is_gauge_issued_here:
        yield "X13"
    if scene.given.characteristic.gauge_kinds and gauge.kind not in scene.given.characteristic.gauge_kinds:
        yield "X18"
    if around.is_day_check_missing:
        yield "X60"


def fit_reasons(scene: Scene) -> Iterator[str]:
    """Yield whether the gauge is fine enough, reaches that far, and is made for this thread: X15-X17, X19, X20."""
    gauge = scene.gauge
    if gauge is None:
        if are_wires_wrong(scene):
            yield "X19"
        return
    share = least_count_share(scene)
    if share is not None and share * 100 > Fraction(scene.numbers.too_coarse_percent):
        yield "X16"
    elif share is not None and share * 100 > Fraction(scene.numbers.coarse_percent):
        yield "X15"
    if _is_outside_range(scene, gauge):
        yield "X17"
    if is_thread_gauge_wrong(scene, gauge) or are_wires_wrong(scene):
        yield "X19"
    if _is_finer_than_gauge(scene, gauge):
        yield "X20"


def least_count_share(scene: Scene) -> Fraction | None:
    """Return least count over tolerance (N4), exactly; none where the rule does not apply."""
    gauge, characteristic = scene.gauge, scene.given.characteristic
    limits = limits_in(characteristic, characteristic.unit)
    tolerance = None if limits is None else limits.tolerance
    if gauge is None or gauge.least_count is None or not tolerance:
        return None
    unit = gauge.unit or scene.given.unit
    if not units.are_alike(unit, characteristic.unit):
        return None
    return abs(units.ratio(Decimal(gauge.least_count), unit, to=tolerance, to_unit=characteristic.unit))


def _is_outside_range(scene: Scene, gauge: Gauge) -> bool:
    indicated, unit = scene.figures.indicated, gauge.unit or scene.given.unit
    if indicated is None or not units.are_alike(scene.given.unit, unit):
        return False
    shows = units.in_one_unit(indicated, scene.given.unit, other=unit)
    low, high = (
        None if end is None else units.in_one_unit(Decimal(end), unit, other=scene.given.unit)
        for end in (gauge.range_low, gauge.range_high)
    )
    return (low is not None and shows < low) or (high is not None and shows > high)


def _is_finer_than_gauge(scene: Scene, gauge: Gauge) -> bool:
    indicated, unit = scene.figures.indicated, gauge.unit or scene.given.unit
    if indicated is None or gauge.least_count is None or not units.are_alike(scene.given.unit, unit):
        return False
    step = units.in_one_unit(Decimal(gauge.least_count), unit, other=scene.given.unit)
    if gauge.half_division:
        step = multiply(step, Decimal("0.5"))
    return step != 0 and not is_whole_number_of(units.in_one_unit(indicated, scene.given.unit, other=unit), step)


def is_thread_gauge_wrong(scene: Scene, gauge: Gauge) -> bool:
    """True when the gauge is made for another thread, form or class, or is the other member (X19)."""
    characteristic = scene.given.characteristic
    part = scene.lists.part(scene.given.part, scene.moment)
    thread = characteristic.thread or (None if part is None else part.thread)
    if not (gauge.kind.is_thread_gauge or gauge.kind is GaugeKind.INDICATING_THREAD):
        return False
    is_other_thread = thread is not None and not _fits_thread(gauge.thread, thread)
    is_other_member = characteristic.member is not None and gauge.member not in (None, characteristic.member)
    return is_other_thread or is_other_member


def _fits_thread(made_for: str | None, thread: str) -> bool:
    if made_for is None:
        return False
    try:
        return is_same_thread(made_for, thread)
    except ThreadNotUnderstood:
        return made_for.split() == thread.split()


def are_wires_wrong(scene: Scene) -> bool:
    """True when the plan measures over wires and the wires scanned are none, or not made for its pitch (X19)."""
    return scene.given.characteristic.rule == "over wires" and not wires_fit(scene.given.characteristic, scene.master)
