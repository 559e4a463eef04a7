"""From what was keyed to the figure that is compared: exact, made once for each distinct way of keying it.

Owns the second, independent reading of keyed text and the making of computed values.
Figures are int64 billionths of the characteristic's unit; what does not fit whole billionths is rounded down and
marked, so that a comparison with a limit stays exact.
"""

import re
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from typing import Final

import numpy as np

from consolidator.frame.asof import Steps
from consolidator.frame.coded import Coded, Codes, Flags, Ints, distinct, first_rows, joined_key
from consolidator.frame.gauges import since_ms
from consolidator.frame.pages import Pages
from consolidator.frame.plans import Plans
from kiosk.lists import Characteristic, Gauge, Lists, Master
from kiosk.lists.words import CharacteristicKind, GaugeKind, MasterKind
from kiosk.measure import units
from kiosk.measure.wires import FORMULA, pitch_diameter_over_wires
from kiosk.pages.words import KeyedAs

NANO: Final = 1_000_000_000
LARGEST: Final = 2**62
"""Billionths beyond which a figure or limit is held at the end of the range."""
FIGURE_KINDS: Final = (CharacteristicKind.TWO_SIDED, CharacteristicKind.UPPER, CharacteristicKind.LOWER)
"""Kinds whose limits are figures of the drawing."""
_KEYED: Final = re.compile(r" *([+\-−]?)(\d{0,40})(?:[.,](\d{0,40}))? *", re.ASCII)
_WIDE: Final = Context(prec=28, rounding=ROUND_HALF_EVEN)
_EXACT: Final = Context(prec=100)
_OVER_WIRES: Final = "over wires"


def read_keyed(text: str) -> Decimal | None:
    """Return the decimal a person keyed; none when it is none of at most 9 digits before and 9 after the point."""
    found = _KEYED.fullmatch(text)
    if found is None:
        return None
    sign, before, after = found.group(1), (found.group(2) or "").lstrip("0"), found.group(3) or ""
    if not (found.group(2) or after) or len(before) > 9 or len(after) > 9:
        return None
    value = Decimal(f"{before or '0'}.{after or '0'}" if after else before or "0")
    return -value if sign in ("-", "−") and value else value


def plain_text(value: Decimal) -> str:
    """Return a decimal as a cell shows it: a digit before the point, never an exponent, no minus zero."""
    return format(value if value else abs(value), "f")


def floor_nano(value: Fraction) -> tuple[int, bool]:
    """Return billionths, rounded down, and whether something was cut off; held at the ends of the range."""
    scaled = value * NANO
    nano = scaled.numerator // scaled.denominator
    return max(-LARGEST, min(LARGEST, nano)), scaled.denominator != 1


def wires_misfit(wires: Master, characteristic: Characteristic) -> str:
    """Say why a master is no wire set for a characteristic's pitch; empty when it is one."""
    if wires.kind is not MasterKind.WIRES:
        return f"{wires.number} is no wire set but a {wires.kind}."
    pairs = (
        (characteristic.threads_per_inch, wires.threads_per_inch, "threads an inch"),
        (characteristic.pitch_mm, wires.pitch_mm, "mm pitch"),
    )
    for wanted, made_for, words in pairs:
        if wanted is not None and (made_for is None or Decimal(made_for) != Decimal(wanted)):
            return f"Wires {wires.number} are for {made_for or 'no'} {words}; {characteristic.number} has {wanted}."
    return ""


@dataclass(frozen=True)
class Figures:
    """One way of keying, made into figures of the reading's own unit; none where there is no figure."""

    indicated: Decimal | None = None
    value: Decimal | None = None
    mirrored: Decimal | None = None
    computed_from: str = ""


@dataclass(frozen=True)
class Way:
    """Everything beside the keyed text that makes the figure: the same for many readings."""

    keyed_as: str
    unit: str
    master: Master | None
    is_master_named: bool
    gauge: Gauge | None
    characteristic: Characteristic | None

    def figures(self, keyed: str) -> Figures:
        """Return the figures of `keyed`."""
        figure = read_keyed(keyed)
        if figure is None or self.keyed_as == KeyedAs.ACCEPT_REJECT:
            return Figures()
        if self.keyed_as == KeyedAs.DEVIATION:
            return self._from_zero(figure)
        if self.keyed_as == KeyedAs.DIVISIONS:
            least = None if self.gauge is None or self.gauge.least_count is None else Decimal(self.gauge.least_count)
            return Figures() if least is None else self._from_zero(_EXACT.multiply(figure, least))
        if self.keyed_as == KeyedAs.OVER_WIRES:
            return self._over_wires(figure)
        return Figures(figure, figure)

    def comparable(self, value: Decimal) -> Fraction | None:
        """Return a figure of the reading's unit in the characteristic's, exactly; none when the units are apart."""
        if self.is_unit_apart or self.characteristic is None:
            return None if self.is_unit_apart else Fraction(value)
        if self.characteristic.unit == self.unit or not units.are_alike(self.unit, self.characteristic.unit):
            return Fraction(value)
        return units.ratio(value, self.unit, to=Decimal(1), to_unit=self.characteristic.unit)

    @property
    def is_unit_apart(self) -> bool:
        """True when a figure with limits was keyed in a unit that cannot be compared with theirs."""
        if self.characteristic is None or self.characteristic.kind not in FIGURE_KINDS:
            return False
        return not units.are_alike(self.unit, self.characteristic.unit)

    def _from_zero(self, deviation: Decimal) -> Figures:
        if not self.is_master_named:
            is_set = self.gauge is None or self.gauge.kind.is_comparator
            return Figures(deviation) if is_set else Figures(deviation, deviation)
        size = self._size()
        if size is None or self.master is None:
            return Figures(deviation)
        return Figures(
            deviation,
            _EXACT.add(size, deviation),
            _EXACT.subtract(size, deviation),
            f"master {self.master.number} {plain_text(size)} and deviation {plain_text(deviation)}",
        )

    def _over_wires(self, measured: Decimal) -> Figures:
        wire, pitch = self._size(), self._pitch()
        if wire is None or pitch is None or self.master is None or self.characteristic is None:
            return Figures(measured)
        if wires_misfit(self.master, self.characteristic):
            return Figures(measured)
        threads = self.characteristic.threads_per_inch
        pitch_words = f"1/{threads} in" if threads is not None else f"{self.characteristic.pitch_mm} mm"
        words = (
            f"{FORMULA}: M {plain_text(measured)}, wires {self.master.number} {plain_text(wire)}, pitch {pitch_words}"
        )
        return Figures(measured, pitch_diameter_over_wires(measured, wire, pitch), None, words)

    def _size(self) -> Decimal | None:
        if self.master is None or self.master.size is None:
            return None
        size, unit = Decimal(self.master.size), self.master.unit or self.unit
        if unit == self.unit:
            return size
        if not units.are_alike(unit, self.unit):
            return None
        return units.convert(size, unit, to_unit=self.unit).quantize(Decimal("1e-9"), ROUND_HALF_EVEN, _WIDE)

    def _pitch(self) -> Decimal | None:
        if self.characteristic is None or not units.is_length(self.unit):
            return None
        if self.characteristic.threads_per_inch is not None:
            inch = _WIDE.divide(Decimal(1), Decimal(self.characteristic.threads_per_inch))
            return inch if self.unit == "in" else units.convert(inch, "in", to_unit=self.unit)
        if self.characteristic.pitch_mm is not None:
            return units.convert(Decimal(self.characteristic.pitch_mm), "mm", to_unit=self.unit)
        return None


@dataclass(frozen=True)
class Values:
    """One row for each reading. Figures in billionths of the characteristic's unit; 0 where there is none."""

    ways: list[Way]
    way: Ints
    """Which of `ways` each reading was keyed in."""
    combined: Ints
    """Which distinct pair of keyed text and way each reading is."""
    nano: Ints
    is_cut: Flags
    """The true value is a little larger than `nano`."""
    is_figure: Flags
    mirrored_nano: Ints
    is_mirrored: Flags
    indicated: list[Decimal | None]
    """For each distinct pair: what the gauge showed, in the reading's unit."""
    text: Coded
    computed_from: Coded
    is_unit_apart: Flags
    master_row: Ints
    """The master scanned, or the one the register names for the gauge; -1 where there is none."""
    is_master_unknown: Flags
    """A master is named that the lists do not know."""
    masters: list[Master]

    def with_text(self, row: int, keyed: str) -> "Values":
        """Return the figures with one reading's made from another text, as a correction gives it."""
        way = self.ways[int(self.way[row])]
        figures = way.figures(keyed)
        value = figures.value
        exact = None if value is None else way.comparable(value)
        nano, is_cut = (0, False) if exact is None else floor_nano(exact)
        changed = {name: getattr(self, name).copy() for name in ("nano", "is_cut", "is_figure", "combined")}
        pair = int(self.combined[row])
        is_shared = int((self.combined == pair).sum()) > 1
        indicated = [*self.indicated, figures.indicated] if is_shared else list(self.indicated)
        # Every pair keeps a row: one that no other reading has is changed in its place.
        changed["combined"][row] = len(self.indicated) if is_shared else pair
        indicated[int(changed["combined"][row])] = figures.indicated
        changed["nano"][row], changed["is_cut"][row], changed["is_figure"][row] = nano, is_cut, exact is not None
        codes = self.text.codes.copy()
        codes[row] = len(self.text.labels)
        text = Coded(codes, (*self.text.labels, keyed if value is None else plain_text(value)))
        return replace(self, text=text, indicated=indicated, **changed)


def values_of(pages: Pages, plans: Plans, gauges: tuple[list[Gauge], Ints], *, ms: Ints, lists: Lists) -> Values:
    """Return the figure of every reading, made from its keyed text."""
    masters = list(lists.masters)
    master_row, is_named = _masters(pages, gauges, ms, masters)
    keyed_as = _ways_of_keying(pages, plans, gauges)
    ways, way = _ways(pages, plans, gauges, (masters, master_row, is_named), keyed_as)
    keys = (pages.keyed.codes.astype(np.int64) + 1) * max(len(ways), 1) + way
    pairs, combined = distinct(keys)
    made = [_made(pages, ways, int(pair)) for pair in pairs]
    return Values(
        ways=ways,
        way=way,
        combined=combined,
        nano=_each([m.nano for m in made])[combined],
        is_cut=_each([m.is_cut for m in made]).astype(bool)[combined],
        is_figure=_each([m.is_figure for m in made]).astype(bool)[combined],
        mirrored_nano=_each([m.mirrored_nano for m in made])[combined],
        is_mirrored=_each([m.is_mirrored for m in made]).astype(bool)[combined],
        indicated=[m.figures.indicated for m in made],
        text=_texts(["" if m.figures.value is None else plain_text(m.figures.value) for m in made], combined),
        computed_from=_texts([m.figures.computed_from for m in made], combined),
        is_unit_apart=_each([m.is_unit_apart for m in made]).astype(bool)[combined],
        master_row=master_row,
        is_master_unknown=is_named & (master_row < 0),
        masters=masters,
    )


@dataclass(frozen=True)
class _Made:
    figures: Figures
    nano: int
    is_cut: bool
    is_figure: bool
    mirrored_nano: int
    is_mirrored: bool
    is_unit_apart: bool


def _made(pages: Pages, ways: list[Way], pair: int) -> _Made:
    code, way = divmod(pair, max(len(ways), 1))
    figures = ways[way].figures(pages.keyed.labels[code - 1] if code else "")
    value = None if figures.value is None else ways[way].comparable(figures.value)
    mirrored = None if figures.mirrored is None else ways[way].comparable(figures.mirrored)
    nano, is_cut = (0, False) if value is None else floor_nano(value)
    mirrored_nano, _ = (0, False) if mirrored is None else floor_nano(mirrored)
    is_apart = ways[way].is_unit_apart
    return _Made(figures, nano, is_cut, value is not None, mirrored_nano, mirrored is not None, is_apart)


def _masters(pages: Pages, gauges: tuple[list[Gauge], Ints], ms: Ints, masters: list[Master]) -> tuple[Ints, Flags]:
    """Return the row of each reading's master, and whether a master is named at all."""
    gauge_rows, gauge_row = gauges
    place = {number: code for code, number in enumerate(sorted({m.number for m in masters}))}
    unknown = len(place)
    scanned = pages.master.spread(lambda number: place.get(number, unknown), -1)
    of_gauge = np.array([*(-1 if g.master is None else place.get(g.master, unknown) for g in gauge_rows), -1], np.int64)
    is_wires = pages.keyed_as.is_one_of(KeyedAs.OVER_WIRES)
    code = np.where((scanned < 0) & ~is_wires, of_gauge[gauge_row], scanned)
    steps = Steps.of([place[m.number] for m in masters], [since_ms(m.in_force_from) for m in masters])
    return steps.at(code, ms), code >= 0


def _ways_of_keying(pages: Pages, plans: Plans, gauges: tuple[list[Gauge], Ints]) -> tuple[list[str], Ints]:
    """Return how each reading was keyed; a plain value on an over-wire micrometer, where the plan says so, is M."""
    words = [str(way) for way in KeyedAs]
    code = pages.keyed_as.spread(lambda word: words.index(word) if word in words else 0, 0)
    by_wires = np.array([*(c.rule == _OVER_WIRES for c in plans.characteristics), False], bool)
    is_wire_gauge = np.array([*(g.kind is GaugeKind.OVER_WIRES for g in gauges[0]), False], bool)
    is_plain = code == words.index(KeyedAs.VALUE)
    is_m = is_plain & by_wires[plans.characteristic_row] & is_wire_gauge[gauges[1]]
    return words, np.where(is_m, words.index(KeyedAs.OVER_WIRES), code)


def _ways(
    pages: Pages,
    plans: Plans,
    gauges: tuple[list[Gauge], Ints],
    mastered: tuple[list[Master], Ints, Flags],
    keyed_as: tuple[list[str], Ints],
) -> tuple[list[Way], Ints]:
    """Return the distinct ways of keying and which each reading used; only what matters to the figure is kept apart."""
    words, code = keyed_as
    masters, master_row, is_named = mastered
    from_zero = np.isin(code, [words.index(KeyedAs.DEVIATION), words.index(KeyedAs.DIVISIONS)])
    is_m = code == words.index(KeyedAs.OVER_WIRES)
    limits_unit = np.array([*(pages.unit.code_of(c.unit) for c in plans.characteristics), -1], np.int64)
    same_unit = (plans.characteristic_row < 0) | (limits_unit[plans.characteristic_row] == pages.unit.codes)
    columns = (
        code,
        pages.unit.codes.astype(np.int64) + 1,
        np.where(from_zero | is_m, master_row + 1, 0),
        np.where(from_zero, is_named.astype(np.int64), 0),
        np.where(from_zero, gauges[1] + 1, 0),
        np.where(is_m | ~same_unit, plans.characteristic_row + 1, 0),
    )
    key = joined_key(columns)
    first = first_rows(key)
    ways = [
        Way(
            words[int(code[row])],
            pages.unit.at(row),
            masters[int(master_row[row])] if columns[2][row] else None,
            bool(columns[3][row]),
            gauges[0][int(gauges[1][row])] if columns[4][row] else None,
            plans.characteristics[int(plans.characteristic_row[row])] if columns[5][row] else None,
        )
        for row in first.tolist()
    ]
    return ways, key


def _each(values: list[int] | list[bool]) -> Ints:
    return np.array(values, np.int64)


def _texts(labels: list[str], combined: Ints) -> Coded:
    """Return text made once for each distinct pair, as a column of the readings."""
    words = sorted(set(labels) - {""})
    place = {word: at for at, word in enumerate(words)}
    codes: Codes = np.array([place.get(label, -1) for label in labels], np.int32)
    return Coded(codes[combined] if len(codes) else np.zeros(len(combined), np.int32), tuple(words))
