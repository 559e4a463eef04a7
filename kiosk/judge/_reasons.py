"""Each reason a kiosk can find, as one small function, and what it does to the standing."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta, tzinfo
from decimal import Decimal
from fractions import Fraction
from typing import Final

from kiosk.errors import ThreadNotUnderstood
from kiosk.judge._figures import Figures, value_or_none
from kiosk.judge._given import Around, Given
from kiosk.judge._verdict import comparable, limits_in, window_of
from kiosk.lists import Gauge, Lists, Master, PlantNumbers
from kiosk.lists.words import CharacteristicKind, Feature, GaugeKind, GaugeState, MasterKind
from kiosk.measure import slips, units
from kiosk.measure.decimals import is_whole_number_of, multiply, to_decimal
from kiosk.pages.words import SampleKind, Source, Standing, Verdict
from kiosk.threads.characteristics import is_same_thread
from kiosk.times import shift_bounds_utc, shift_of

EFFECT: Final = {
    "X01": Standing.BLOCKED,
    "X02": Standing.COUNTS,
    "X03": Standing.BLOCKED,
    "X04": Standing.BLOCKED,
    "X05": Standing.BLOCKED,
    "X10": Standing.BLOCKED,
    "X11": Standing.FLAGGED,
    "X12": Standing.BLOCKED,
    "X13": Standing.FLAGGED,
    "X15": Standing.FLAGGED,
    "X16": Standing.BLOCKED,
    "X17": Standing.BLOCKED,
    "X18": Standing.BLOCKED,
    "X19": Standing.BLOCKED,
    "X20": Standing.FLAGGED,
    "X23": Standing.COUNTS,
    "X24": Standing.FLAGGED,
    "X25": Standing.FLAGGED,
    "X26": Standing.BLOCKED,
    "X27": Standing.BLOCKED,
    "X28": Standing.BLOCKED,
    "X29": Standing.FLAGGED,
    "X30": Standing.BLOCKED,
    "X31": Standing.FLAGGED,
    "X33": Standing.BLOCKED,
    "X44": Standing.BLOCKED,
    "X45": Standing.BLOCKED,
    "X53": Standing.BLOCKED,
    "X58": Standing.BLOCKED,
    "X59": Standing.FLAGGED,
    "X60": Standing.BLOCKED,
    "X62": Standing.BLOCKED,
    "X65": Standing.BLOCKED,
    "X66": Standing.FLAGGED,
    "X75": Standing.FLAGGED,
    "X78": Standing.FLAGGED,
}
"""What each reason does to a reading's standing; slips only where the kiosk never asked."""

_WORST_LAST: Final = (Standing.COUNTS, Standing.FLAGGED, Standing.BLOCKED)
_SLIPS: Final = frozenset({"X26", "X27", "X28", "X30"})


@dataclass(frozen=True)
class Scene:
    """A reading with all it is judged on, at its moment."""

    given: Given
    figures: Figures
    lists: Lists
    numbers: PlantNumbers
    around: Around
    moment: datetime
    zone: tzinfo

    @property
    def gauge(self) -> Gauge | None:
        """The gauge as the register has it at the moment."""
        return None if self.given.gauge is None else self.lists.gauge(self.given.gauge, self.moment)

    @property
    def master(self) -> Master | None:
        """The master or wire set that was scanned with the gauge."""
        return None if self.given.master is None else self.lists.master(self.given.master, self.moment)


def worst_standing(reasons: tuple[str, ...], otherwise: Mapping[str, Standing] | None = None) -> Standing:
    """Return the worst standing of all `reasons`; `otherwise` names those that weigh differently here."""
    effects = [(otherwise or {}).get(reason, EFFECT[reason]) for reason in reasons]
    return max(effects, key=_WORST_LAST.index, default=Standing.COUNTS)


def due_ends_utc(gauge: Gauge, numbers: PlantNumbers, zone: tzinfo) -> datetime | None:
    """Return the first moment the due date no longer covers (N1, 24:00 plant local time), in UTC."""
    if gauge.due is None:
        return None
    whole_days, minutes = divmod(int(numbers.due_until_h * 60), 24 * 60)
    wall = datetime.combine(gauge.due, time(0, 0)) + timedelta(days=whole_days, minutes=minutes)
    return wall.replace(tzinfo=zone).astimezone(UTC)


def gauge_reasons(scene: Scene) -> Iterator[str]:
    """Yield what speaks against the gauge: X01-X05, X10-X13, X18, X60."""
    gauge, around = scene.gauge, scene.around
    if gauge is None:
        if scene.given.gauge is not None or scene.given.characteristic.gauge_kinds:
            yield "X03"
        return
    ends = due_ends_utc(gauge, scene.numbers, scene.zone)
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


def reading_reasons(scene: Scene, verdict: Verdict) -> Iterator[str]:
    """Yield what the figure itself says: X23-X25, X31, X33, X78."""
    if verdict.is_bad:
        yield "X23"
    if verdict is Verdict.IN and _is_over_shop_limit(scene):
        yield "X24"
    if verdict is Verdict.IN and _is_close(scene):
        yield "X25"
    if scene.around.is_double_tap:
        yield "X33"
    if scene.given.source is Source.PAPER:
        yield "X78"


def lot_reasons(scene: Scene) -> Iterator[str]:
    """Yield what speaks against lot, set-up and process: X44, X45, X53, X62, X75."""
    given = scene.given
    lot = scene.lists.lot(given.lot)
    if lot is None:
        yield "X44"
    elif lot.part != given.part:
        yield "X45"
    if scene.around.is_first_piece_missing and given.sample_kind is SampleKind.RUN:
        yield "X53"
    is_rolled = given.characteristic.feature is Feature.EXTERNAL_ROLLED_THREAD
    if is_rolled and given.sample_kind is SampleKind.RE_WORK:
        yield "X62"
    taken = scene.around.lists_taken_at
    if taken is not None and scene.moment - taken > timedelta(hours=scene.numbers.lists_flagged_h):
        yield "X75"


def slips_of(scene: Scene, verdict: Verdict) -> tuple[str, ...]:
    """Return every slip that fits: X26-X28 or X30 outside the believable window, and X29 for a mirrored deviation."""
    given, value = scene.given, scene.figures.value
    limits = limits_in(given.characteristic, given.unit)
    window = None if limits is None else window_of(limits, scene.numbers)
    if limits is None or window is None or value is None:
        return ()
    found = slips.fitting_slips(
        comparable(value, given.characteristic, given.unit),
        unit=given.unit,
        keyed=given.keyed,
        limits=limits,
        window=window,
        value_of=lambda text: _comparable_of(scene, text),
    )
    mirrored = scene.figures.mirrored
    if verdict is Verdict.OUT and mirrored is not None:
        is_mirror_in = limits.has(comparable(mirrored, given.characteristic, given.unit))
        found = tuple(sorted((*found, slips.PLUS_MINUS))) if is_mirror_in else found
    return found


def is_not_judged(found: tuple[str, ...]) -> bool:
    """True when a slip nobody was asked about leaves the reading without a verdict (X26-X28, X30; X29 does not)."""
    return not _SLIPS.isdisjoint(found)


def _comparable_of(scene: Scene, keyed: str) -> Decimal | None:
    value = value_or_none(scene.given, scene.lists, scene.moment, keyed)
    return None if value is None else comparable(value, scene.given.characteristic, scene.given.unit)


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
    characteristic, wires = scene.given.characteristic, scene.master
    if characteristic.rule != "over wires":
        return False
    if wires is None or wires.kind is not MasterKind.WIRES:
        return True
    return _is_other(characteristic.threads_per_inch, wires.threads_per_inch) or _is_other(
        characteristic.pitch_mm, wires.pitch_mm
    )


def _is_other(wanted: str | None, found: str | None) -> bool:
    return wanted is not None and (found is None or to_decimal(found) != to_decimal(wanted))


def _is_over_shop_limit(scene: Scene) -> bool:
    characteristic, value = scene.given.characteristic, scene.figures.value
    if characteristic.shop_limit is None or value is None:
        return False
    shop = units.in_one_unit(Decimal(characteristic.shop_limit), characteristic.unit, other=scene.given.unit)
    held = comparable(value, characteristic, scene.given.unit)
    if characteristic.kind is CharacteristicKind.UPPER:
        return held > shop
    return characteristic.kind is CharacteristicKind.LOWER and held < shop


def _is_close(scene: Scene) -> bool:
    characteristic, value = scene.given.characteristic, scene.figures.value
    limits = limits_in(characteristic, scene.given.unit)
    if characteristic.guard_band is None or value is None or limits is None:
        return False
    band = units.in_one_unit(Decimal(characteristic.guard_band), characteristic.unit, other=scene.given.unit)
    return limits.is_close(comparable(value, characteristic, scene.given.unit), band)
