"""What the ten readings need: found in the lists of a training lot, or named as missing.

Owns the choice of characteristics and gauges, and the figures to key.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_FLOOR, Decimal

from kiosk.lists import Characteristic, Gauge, Lists, Lot
from kiosk.lists.words import CharacteristicKind
from kiosk.measure.units import INCH_IN_MM
from kiosk.said import Said, say


@dataclass(frozen=True)
class Kit:
    """One characteristic with limits, one to accept or reject, and the right and the wrong gauges for them."""

    lot: Lot
    sized: Characteristic
    gauge: Gauge
    past_due: Gauge
    threaded: Characteristic
    ring: Gauge
    wrong_ring: Gauge

    @property
    def middle(self) -> str:
        """A figure between the limits, as the gauge's divisions allow it."""
        lower, upper, division = self._figures()
        steps = ((upper - lower) / 2 / division).to_integral_value(ROUND_FLOOR)
        return _as_drawn(lower + steps * division, division)

    @property
    def low(self) -> str:
        """The lower limit and one division: in tolerance too, so that not one figure is keyed again and again."""
        lower, _, division = self._figures()
        return _as_drawn(lower + division, division)

    @property
    def at_limit(self) -> str:
        """The upper limit itself: it is in tolerance."""
        _, upper, division = self._figures()
        return _as_drawn(upper, division)

    @property
    def outside(self) -> str:
        """A figure two divisions above the upper limit."""
        _, upper, division = self._figures()
        return _as_drawn(upper + 2 * division, division)

    @property
    def decimal_slip(self) -> str:
        """The middle with its point one place too far right."""
        return f"{Decimal(self.middle).scaleb(1)}"

    @property
    def unit_slip(self) -> str:
        """The middle in the other unit of length."""
        middle = Decimal(self.middle)
        other = middle * INCH_IN_MM if self.sized.unit == "in" else middle / INCH_IN_MM
        return _as_drawn(other, Decimal("0.001"))

    def _figures(self) -> tuple[Decimal, Decimal, Decimal]:
        assert self.sized.lower is not None and self.sized.upper is not None and self.gauge.least_count is not None
        return Decimal(self.sized.lower), Decimal(self.sized.upper), Decimal(self.gauge.least_count)


@dataclass(frozen=True)
class Here:
    """What a station has today: the characteristics of the open job in plan order, and the gauges kept here."""

    characteristics: Sequence[Characteristic]
    gauges: Sequence[Gauge]
    today: date


def find_kit(lists: Lists, lot: Lot, here: Here) -> Kit | tuple[Said, ...]:
    """Return what the run needs of the characteristics measured here, or what is missing."""
    found = list(_kits(lists, lot, here))
    whole = next((kit for kit in found if isinstance(kit, Kit)), None)
    if whole is not None:
        return whole
    return next((kit for kit in found if isinstance(kit, tuple)), (say("a characteristic with two limits"),))


def _kits(lists: Lists, lot: Lot, here: Here) -> Iterator[Kit | tuple[Said, ...]]:
    threaded = next((one for one in here.characteristics if one.kind is CharacteristicKind.ACCEPT_REJECT), None)
    kept_here = {gauge.number for gauge in here.gauges}
    part = next((one for one in lists.parts if one.number == lot.part), None)
    thread = None if part is None else part.thread
    rings = () if threaded is None else _of_kinds(lists, threaded)
    member = None if threaded is None else threaded.member
    ring = next(
        (one for one in rings if (one.thread, one.member) == (thread, member) and one.number in kept_here), None
    )
    wrong = next((one for one in rings if one.thread is not None and one.thread != thread), None)
    for sized in here.characteristics:
        if sized.kind is not CharacteristicKind.TWO_SIDED or sized.unit not in ("in", "mm"):
            continue
        fit = [one for one in _of_kinds(lists, sized) if one.unit == sized.unit and not one.kind.is_comparator]
        fit = sorted((one for one in fit if one.least_count is not None), key=lambda one: Decimal(one.least_count or 0))
        in_date = (one for one in fit if one.due is not None and one.due >= here.today)
        gauge = next((one for one in in_date if one.number in kept_here), None)
        past_due = next((one for one in fit if one.due is not None and one.due < here.today), None)
        missing = tuple(
            words for words, thing in (
                (say("a gauge in date for {what}, kept here", what=sized.number), gauge),
                (say("a gauge past its due date for {what}", what=sized.number), past_due),
                (say("a characteristic to accept or reject"), threaded),
                (say("its thread gauge, kept here"), ring), (say("a thread gauge of another thread"), wrong),
            ) if thing is None
        )  # fmt: skip
        if gauge is None or past_due is None or threaded is None or ring is None or wrong is None:
            yield missing
        else:
            yield Kit(lot, sized, gauge, past_due, threaded, ring, wrong)


def _of_kinds(lists: Lists, what: Characteristic) -> list[Gauge]:
    return [one for one in lists.gauges if one.kind in what.gauge_kinds and one.in_force_from is None]


def _as_drawn(figure: Decimal, division: Decimal) -> str:
    text = f"{figure.quantize(division)}"
    return text.removeprefix("0") if text.startswith("0.") else text
