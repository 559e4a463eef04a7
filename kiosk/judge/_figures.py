"""From what was keyed to the figure that is compared with the limits."""

from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import Final

from kiosk.errors import NotANumber
from kiosk.judge._given import Given
from kiosk.lists import Characteristic, Gauge, Lists, Master
from kiosk.lists.words import MasterKind
from kiosk.measure import decimals, units
from kiosk.measure.wires import FORMULA, pitch_diameter_over_wires
from kiosk.pages.words import KeyedAs

_WIDE: Final = Context(prec=28, rounding=ROUND_HALF_EVEN)
_BILLIONTH: Final = Decimal("1e-9")


@dataclass(frozen=True)
class Figures:
    """One reading as figures in the reading's unit; none where there is no figure or it cannot be made.

    `indicated` is what the gauge showed: the value itself, a deviation, or the reading over wires.
    `mirrored` is the value if plus and minus had been taken for each other.
    """

    indicated: Decimal | None = None
    value: Decimal | None = None
    mirrored: Decimal | None = None
    computed_from: str | None = None


def figures_of(given: Given, lists: Lists, moment: datetime, *, keyed: str | None = None) -> Figures:
    """Return the figures of a reading, or of the same reading had `keyed` been keyed instead.

    Raises:
        NotANumber: a figure is needed and the text is none.
    """
    if given.keyed_as is KeyedAs.ACCEPT_REJECT:
        return Figures()
    figure = decimals.to_decimal(decimals.read_figure(given.keyed if keyed is None else keyed))
    match given.keyed_as:
        case KeyedAs.DEVIATION:
            return _from_zero(figure, given, lists, moment)
        case KeyedAs.DIVISIONS:
            gauge = None if given.gauge is None else lists.gauge(given.gauge, moment)
            if gauge is None or gauge.least_count is None:
                return Figures()
            return _from_zero(decimals.multiply(figure, Decimal(gauge.least_count)), given, lists, moment)
        case KeyedAs.OVER_WIRES:
            return _over_wires(figure, given, lists, moment)
        case _:
            return Figures(indicated=figure, value=figure)


def value_or_none(given: Given, lists: Lists, moment: datetime, keyed: str) -> Decimal | None:
    """Return the value had `keyed` been keyed; none when it is no figure."""
    try:
        return figures_of(given, lists, moment, keyed=keyed).value
    except NotANumber:
        return None


def _from_zero(deviation: Decimal, given: Given, lists: Lists, moment: datetime) -> Figures:
    gauge = None if given.gauge is None else lists.gauge(given.gauge, moment)
    number = given.master or (None if gauge is None else gauge.master)
    if number is None:
        return Figures(indicated=deviation) if _is_set_on_master(gauge) else Figures(deviation, deviation)
    master = lists.master(number, moment)
    size = None if master is None else size_in(master, given.unit)
    if size is None:
        return Figures(indicated=deviation)
    return Figures(
        indicated=deviation,
        value=decimals.add(size, deviation),
        mirrored=decimals.subtract(size, deviation),
        computed_from=f"master {number} {decimals.write_figure(size)} and deviation {decimals.write_figure(deviation)}",
    )


def _is_set_on_master(gauge: Gauge | None) -> bool:
    return gauge is None or gauge.kind.is_comparator


def _over_wires(measured: Decimal, given: Given, lists: Lists, moment: datetime) -> Figures:
    wires = None if given.master is None else lists.master(given.master, moment)
    wire = None if wires is None else size_in(wires, given.unit)
    pitch = pitch_in(given.characteristic, given.unit)
    if wire is None or pitch is None or not wires_fit(given.characteristic, wires):
        return Figures(indicated=measured)
    return Figures(
        indicated=measured,
        value=pitch_diameter_over_wires(measured, wire, pitch),
        computed_from=f"{FORMULA}: M {decimals.write_figure(measured)}, wires {given.master} "
        f"{decimals.write_figure(wire)}, pitch {_pitch_words(given.characteristic)}",
    )


def wires_fit(characteristic: Characteristic, wires: Master | None) -> bool:
    """True when `wires` are a wire set made for the characteristic's pitch; other wires touch the flanks elsewhere."""
    if wires is None or wires.kind is not MasterKind.WIRES:
        return False
    return _is_same(characteristic.threads_per_inch, wires.threads_per_inch) and _is_same(
        characteristic.pitch_mm, wires.pitch_mm
    )


def _is_same(wanted: str | None, found: str | None) -> bool:
    return wanted is None or (found is not None and Decimal(found) == Decimal(wanted))


def pitch_in(characteristic: Characteristic, unit: str) -> Decimal | None:
    """Return the pitch of a characteristic in `unit`, to 28 digits; none when the plan has none or no length."""
    if not units.is_length(unit):
        return None
    if characteristic.threads_per_inch is not None:
        inch_pitch = _WIDE.divide(Decimal(1), Decimal(characteristic.threads_per_inch))
        return inch_pitch if unit == "in" else units.convert(inch_pitch, "in", to_unit=unit)
    if characteristic.pitch_mm is not None:
        return units.convert(Decimal(characteristic.pitch_mm), "mm", to_unit=unit)
    return None


def _pitch_words(characteristic: Characteristic) -> str:
    if characteristic.threads_per_inch is not None:
        return f"1/{characteristic.threads_per_inch} in"
    return f"{characteristic.pitch_mm} mm"


def size_in(master: Master, unit: str) -> Decimal | None:
    """Return the certified size in `unit`: as certified, or from another unit rounded half-even to 9 decimals."""
    if master.size is None:
        return None
    size = Decimal(master.size)
    if master.unit is None or master.unit == unit:
        return size
    if not units.are_alike(master.unit, unit):
        return None
    return _WIDE.quantize(units.convert(size, master.unit, to_unit=unit), _BILLIONTH)
