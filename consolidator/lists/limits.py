"""Limits of characteristics: the most dangerous cells of all, for one slip judges thousands of readings.

Owns which limits a kind of characteristic needs, and whether they make sense together.
Must not know other lists.
"""

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from consolidator.lists.checks import Draft, figure, positive, wrong_way_round
from consolidator.lists.faults import Fault
from consolidator.lists.rows import Row
from consolidator.lists.tables import heading
from kiosk.lists.entries import Characteristic
from kiosk.lists.words import CharacteristicKind
from kiosk.measure.decimals import write_figure

_NEEDS: Final = {
    CharacteristicKind.TWO_SIDED: ("lower", "upper"),
    CharacteristicKind.UPPER: ("upper",),
    CharacteristicKind.LOWER: ("lower",),
    CharacteristicKind.TURNS: ("turns_allowed",),
}
_MAY_HAVE: Final = {
    CharacteristicKind.UPPER: ("shop_limit", "guard_band"),
    CharacteristicKind.LOWER: ("shop_limit", "guard_band"),
    CharacteristicKind.TWO_SIDED: ("guard_band",),
    CharacteristicKind.COUNT: ("lower", "upper"),
}
_LIMITS: Final = ("lower", "upper", "shop_limit", "guard_band", "turns_allowed")
_ONE_SIDED: Final = {CharacteristicKind.UPPER: "upper", CharacteristicKind.LOWER: "lower"}


def check_limits(draft: Draft) -> Iterator[Fault]:
    """Yield every fault in the limits of the characteristics."""
    for row, entry in draft.rows("characteristics", Characteristic):
        yield from _which_limits(row, entry)
        yield from wrong_way_round(row, "lower", "upper")
        yield from _one_sided(row, entry)
        yield from _guard_band(row, entry)
        yield from _pitch(row, entry)
        yield from positive(row, ("threads_per_inch", "pitch_mm", "least_each", "least_average", "stopped_at"))
        if entry.interval_min == 0:
            said = "the interval cannot be 0"
            why = "a sample every 0 minutes cannot be taken"
            yield row.fault("interval_min", said, why=why, next_step="write the minutes, or leave it empty")


def _which_limits(row: Row, entry: Characteristic) -> Iterator[Fault]:
    needed = _NEEDS.get(entry.kind, ())
    for field in _LIMITS:
        value = getattr(entry, field)
        if field in needed and value is None:
            why = f"a characteristic of kind {entry.kind} needs it"
            yield row.fault(field, "the cell is empty", why=why, next_step=f"write the {heading(field)} of the drawing")
        elif field not in needed and field not in _MAY_HAVE.get(entry.kind, ()) and value is not None:
            why = f"a characteristic of kind {entry.kind} has none"
            yield row.fault(field, f"there is a {heading(field)}", why=why, next_step="empty the cell or mend the kind")
    if {"lower", "upper"} & set(needed) and entry.unit == "accept/reject":
        why = f"a characteristic of kind {entry.kind} gives a figure"
        yield row.fault("unit", "the unit is accept/reject", why=why, next_step="write the unit of the limits")


def _one_sided(row: Row, entry: Characteristic) -> Iterator[Fault]:
    side = _ONE_SIDED.get(entry.kind)
    limit = None if side is None else figure(row, side)
    if side is None or limit is None:
        return
    yield from positive(row, (side,))
    shop = figure(row, "shop_limit")
    if shop is not None and (shop > limit if side == "upper" else shop < limit):
        yield row.fault(
            *("shop_limit", "the shop limit lies outside the limit"),
            why=f"the {side} limit is {write_figure(limit)} and the shop limit is {write_figure(shop)}",
            next_step="the shop limit must be the tighter one: mend one of the two",
        )


def _guard_band(row: Row, entry: Characteristic) -> Iterator[Fault]:
    band = figure(row, "guard_band")
    if band is None:
        return
    lower, upper = figure(row, "lower"), figure(row, "upper")
    if lower is not None and upper is not None:
        room = upper - lower
        is_too_large = band * 2 >= room
        told = f"twice {write_figure(band)} leaves nothing of the tolerance {write_figure(room)}"
    else:
        room = next((value for value in (lower, upper) if value is not None), Decimal(0))
        is_too_large = band >= room
        told = f"{write_figure(band)} is as large as the limit {write_figure(room)} itself"
    if band <= 0:
        why = "it is a distance, larger than 0"
        yield row.fault(
            "guard_band",
            f"the guard band cannot be {write_figure(band)}",
            why=why,
            next_step="mend it or empty the cell",
        )
    elif is_too_large:
        yield row.fault("guard_band", "the guard band is too large", why=told, next_step="look at the plan and mend it")


def _pitch(row: Row, entry: Characteristic) -> Iterator[Fault]:
    has_inch, has_metric = entry.threads_per_inch is not None, entry.pitch_mm is not None
    if entry.rule == "over wires" and has_inch == has_metric:
        why = "the rule over wires needs one of threads per inch and pitch mm, and not both"
        said = "the pitch is not clear"
        yield row.fault("threads_per_inch", said, why=why, next_step="fill in the one the drawing names")
