"""The verdict of every reading against the limits in force, and the slips of hand and eye that may explain it.

Owns comparison with limits for a whole night: exact, limits on the good side, no rounding (3.2), and the believable
window (N5). Independent of `kiosk.judge` on purpose: the two are held together by tests.
"""

import json
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import pairwise
from typing import Final

import numpy as np

from consolidator.frame.coded import Flags, Ints, distinct, first_rows, joined_key
from consolidator.frame.pages import Pages
from consolidator.frame.plans import Plans
from consolidator.frame.values import FIGURE_KINDS, LARGEST, NANO, Values, Way, read_keyed
from consolidator.frame.world import NumberSteps
from kiosk.lists import Characteristic, PlantNumbers
from kiosk.lists.words import CharacteristicKind, Feature
from kiosk.measure import units
from kiosk.pages.words import Verdict

VERDICTS: Final = (Verdict.IN, Verdict.OUT, Verdict.ACCEPT, Verdict.REJECT, Verdict.NOT_JUDGED)
IN, OUT, ACCEPT, REJECT, NOT_JUDGED = range(5)
SLIP_BIT: Final = {"X26": 1, "X27": 2, "X28": 4, "X29": 8, "X30": 16}
"""Which bit says which slip fits."""
UNJUDGED_BITS: Final = 1 | 2 | 4 | 16
"""Slips that leave a reading without a verdict when nobody was asked."""
_PLACES: Final = tuple(places for places in range(-5, 6) if places)
_GAUGED: Final = {"Accept": ACCEPT, "Reject": REJECT}


@dataclass(frozen=True)
class Bounds:
    """Limits of one characteristic as exact figures of its own unit; none where it has none."""

    lower: Fraction | None
    upper: Fraction | None

    def has(self, value: Fraction) -> bool:
        """True when the value lies inside, ends included."""
        return (self.lower is None or value >= self.lower) and (self.upper is None or value <= self.upper)

    @property
    def tolerance(self) -> Fraction | None:
        """What a least count is held against (N4); none for a lower limit only."""
        if self.upper is None:
            return None
        return self.upper if self.lower is None else self.upper - self.lower

    def window(self, numbers: PlantNumbers) -> "Bounds":
        """Return the believable window (N5)."""
        if self.lower is not None and self.upper is not None:
            wider = Fraction(numbers.window_tolerances) * (self.upper - self.lower)
            return Bounds(self.lower - wider, self.upper + wider)
        if self.upper is not None:
            return Bounds(Fraction(0), Fraction(numbers.window_upper_times) * self.upper)
        if self.lower is not None:
            times = Fraction(numbers.window_lower_from_times), Fraction(numbers.window_lower_to_times)
            return Bounds(times[0] * self.lower, times[1] * self.lower)
        return Bounds(None, None)


def bounds_of(characteristic: Characteristic) -> Bounds | None:
    """Return the limits that a figure of this characteristic is held against; none where it has no such limits."""
    lower = None if characteristic.lower is None else Fraction(Decimal(characteristic.lower))
    upper = None if characteristic.upper is None else Fraction(Decimal(characteristic.upper))
    match characteristic.kind:
        case CharacteristicKind.TWO_SIDED:
            return None if lower is None or upper is None else Bounds(lower, upper)
        case CharacteristicKind.UPPER:
            return None if upper is None else Bounds(None, upper)
        case CharacteristicKind.LOWER:
            return None if lower is None else Bounds(lower, None)
        case CharacteristicKind.COUNT:
            return None if lower is None and upper is None else Bounds(lower, upper)
        case CharacteristicKind.TURNS:
            allowed = characteristic.turns_allowed
            return None if allowed is None else Bounds(Fraction(0), Fraction(Decimal(allowed)))
        case _:
            return None


@dataclass(frozen=True)
class Asked:
    """What the kiosk asked about a reading before it was kept, read from its earlier keyings."""

    bits: Ints
    """Slips asked about, by `SLIP_BIT`; 0 where nobody was asked."""
    is_believed: Flags
    """The person keyed the same figure again."""
    unasked: list[list[str]]
    """For each distinct text of earlier keyings: those wiped without being asked."""


@dataclass(frozen=True)
class Verdicts:
    """One row for each reading."""

    verdict: Ints
    """Place in `VERDICTS`."""
    keyed_verdict: Ints
    """What was said of the keying, before any correction."""
    raw_verdict: Ints
    """What the figure alone says, before a slip nobody asked about takes the verdict away."""
    slips: Ints
    """Slips that fit, by `SLIP_BIT`."""
    asked: Asked
    was_bad_unasked: Flags
    """An earlier keying, wiped unasked, was believable and bad, whatever came after it."""

    def with_verdict(self, row: int, verdict: int) -> "Verdicts":
        """Return the verdicts with one reading's changed by a correction."""
        changed, slips = self.verdict.copy(), self.slips.copy()
        changed[row], slips[row] = verdict, 0
        return replace(self, verdict=changed, slips=slips)

    @property
    def is_bad(self) -> Flags:
        """Out of tolerance or reject."""
        return np.isin(self.verdict, [OUT, REJECT])


def verdicts_of(pages: Pages, plans: Plans, values: Values, *, ms: Ints, numbers: NumberSteps) -> Verdicts:
    """Return the verdict of every reading under the characteristic in force at its effective time."""
    raw = raw_verdicts(pages, plans.characteristics, plans.characteristic_row, values)
    asked = _asked(pages)
    slips = _slips(pages, plans, values, raw, numbers.step(ms), numbers)
    is_taken = (asked.bits == 0) & (slips & UNJUDGED_BITS != 0)
    verdict = np.where(is_taken, NOT_JUDGED, raw)
    bad_before = _bad_before(pages, plans, values, asked, numbers.step(ms), numbers)
    return Verdicts(verdict, verdict, raw, slips, asked, bad_before)


def raw_verdicts(pages: Pages, characteristics: list[Characteristic], row: Ints, values: Values) -> Ints:
    """Return what each figure or word alone says against the characteristic in `row` (-1: Not judged)."""
    bounds = [bounds_of(c) for c in characteristics]
    lower = _nanos([b.lower if b is not None else None for b in bounds], -LARGEST - 1, round_up=True)[row]
    upper = _nanos([b.upper if b is not None else None for b in bounds], LARGEST + 1, round_up=False)[row]
    is_in = (values.nano >= lower) & (values.nano < upper + (~values.is_cut).astype(np.int64))
    kind = np.array([*(list(CharacteristicKind).index(c.kind) for c in characteristics), -1], np.int64)[row]
    has_bounds = np.array([*(b is not None for b in bounds), False], bool)[row] & values.is_figure
    is_runout = np.array([*(c.feature is Feature.FACE_RUNOUT for c in characteristics), False], bool)[row]
    word = pages.keyed.spread(lambda text: _GAUGED.get(text, NOT_JUDGED), NOT_JUDGED)
    verdict = np.full(len(pages), NOT_JUDGED, np.int64)
    by_figure = np.isin(kind, _kind_places(*FIGURE_KINDS, CharacteristicKind.COUNT)) & has_bounds
    by_figure &= ~(is_runout & (values.nano < 0))
    verdict[by_figure] = np.where(is_in, IN, OUT)[by_figure]
    by_turns = np.isin(kind, _kind_places(CharacteristicKind.TURNS))
    counted = by_turns & has_bounds & (values.nano >= 0)
    verdict[by_turns] = word[by_turns]
    verdict[counted] = np.where(is_in, ACCEPT, REJECT)[counted]
    by_word = np.isin(kind, _kind_places(CharacteristicKind.ACCEPT_REJECT, CharacteristicKind.VISUAL))
    verdict[by_word] = word[by_word]
    return verdict


def verdict_of_text(pages: Pages, plans: Plans, values: Values, row: int, text: str) -> int:
    """Return the verdict one reading would have had `text` been keyed; place in `VERDICTS`."""
    place = int(plans.characteristic_row[row])
    if place < 0:
        return NOT_JUDGED
    characteristic, way = plans.characteristics[place], values.ways[int(values.way[row])]
    is_gauged = characteristic.kind in (
        CharacteristicKind.ACCEPT_REJECT,
        CharacteristicKind.VISUAL,
        CharacteristicKind.TURNS,
    )
    if is_gauged and text in _GAUGED:
        return _GAUGED[text]
    bounds, value = bounds_of(characteristic), _comparable(way, text)
    if bounds is None or value is None or (value < 0 and characteristic.kind is CharacteristicKind.TURNS):
        return NOT_JUDGED
    if characteristic.kind is CharacteristicKind.TURNS:
        return ACCEPT if bounds.has(value) else REJECT
    return IN if bounds.has(value) else OUT


def _kind_places(*kinds: CharacteristicKind) -> list[int]:
    order = list(CharacteristicKind)
    return [order.index(kind) for kind in kinds]


def _nanos(limits: list[Fraction | None], otherwise: int, *, round_up: bool) -> Ints:
    """Return limits as whole billionths that compare exactly with whole ones; a last one stands for none."""
    out = []
    for limit in limits:
        if limit is None:
            out.append(otherwise)
            continue
        scaled = limit * NANO
        nano = -(-scaled.numerator // scaled.denominator) if round_up else scaled.numerator // scaled.denominator
        out.append(max(-LARGEST, min(LARGEST, nano)))
    return np.array([*out, otherwise], np.int64)


def _slips(pages: Pages, plans: Plans, values: Values, raw: Ints, step: Ints, numbers: NumberSteps) -> Ints:
    """Return the slips that fit each reading; figures with drawing limits only."""
    slips = np.zeros(len(pages), np.int64)
    row = plans.characteristic_row
    bounds = [bounds_of(c) if c.kind in FIGURE_KINDS else None for c in plans.characteristics]
    has_bounds = np.array([*(b is not None for b in bounds), False], bool)[row] & values.is_figure
    is_outside = has_bounds & ~_in_windows(bounds, row, values, step, numbers)
    mirrored = has_bounds & values.is_mirrored & (raw == OUT)
    lower = _nanos([b.lower if b is not None else None for b in bounds], -LARGEST - 1, round_up=True)[row]
    upper = _nanos([b.upper if b is not None else None for b in bounds], LARGEST + 1, round_up=False)[row]
    is_mirror_in = mirrored & (values.mirrored_nano >= lower) & (values.mirrored_nano <= upper)
    slips[is_mirror_in] |= SLIP_BIT["X29"]
    rows = np.flatnonzero(is_outside)
    if len(rows):
        key = joined_key((values.combined[rows], row[rows], step[rows]))
        first = rows[first_rows(key)]
        found = [_slips_of(pages, plans, values, at, numbers.numbers[int(step[at])]) for at in first.tolist()]
        slips[rows] |= np.array(found, np.int64)[key]
    return slips


def _in_windows(bounds: list[Bounds | None], row: Ints, values: Values, step: Ints, numbers: NumberSteps) -> Flags:
    inside = np.zeros(len(row), bool)
    for place, standing in enumerate(numbers.numbers):
        here = step == place
        if not here.any():
            continue
        windows = [None if b is None else b.window(standing) for b in bounds]
        low = _nanos([w.lower if w is not None else None for w in windows], -LARGEST - 1, round_up=True)[row]
        high = _nanos([w.upper if w is not None else None for w in windows], LARGEST + 1, round_up=False)[row]
        inside |= here & (values.nano >= low) & (values.nano < high + (~values.is_cut).astype(np.int64))
    return inside


def _slips_of(pages: Pages, plans: Plans, values: Values, row: int, numbers: PlantNumbers) -> int:
    """Return the slips that fit one reading outside its window: X26, X27, X28, or X30 when none does."""
    characteristic = plans.characteristics[int(plans.characteristic_row[row])]
    bounds, way = bounds_of(characteristic), values.ways[int(values.way[row])]
    value = _comparable(way, pages.keyed.at(row))
    if bounds is None or value is None:
        return 0
    window = bounds.window(numbers)
    bits = 0
    if value and any(window.has(value * Fraction(10) ** places) for places in _PLACES):
        bits |= SLIP_BIT["X26"]
    factor = Fraction(254, 10)
    if value and units.is_length(way.unit) and (window.has(value / factor) or window.has(value * factor)):
        bits |= SLIP_BIT["X27"]
    swapped = (_comparable(way, text) for text in _swapped(pages.keyed.at(row)))
    if any(other is not None and bounds.has(other) for other in swapped):
        bits |= SLIP_BIT["X28"]
    return bits or SLIP_BIT["X30"]


def _swapped(keyed: str) -> list[str]:
    """Return the text with each pair of neighbouring digits swapped; the point keeps its place."""
    digits = [at for at, letter in enumerate(keyed) if letter in "0123456789"]
    out = []
    for left, right in pairwise(digits):
        letters = list(keyed)
        letters[left], letters[right] = keyed[right], keyed[left]
        out.append("".join(letters))
    return [text for text in out if text != keyed]


def _comparable(way: Way, keyed: str) -> Fraction | None:
    value = way.figures(keyed).value
    return None if value is None else way.comparable(value)


def _asked(pages: Pages) -> Asked:
    """Read what was asked from the earlier keyings, each distinct text of them once."""
    bits, last, unasked = [], [], []
    for text in pages.earlier.labels:
        keyings = json.loads(text)
        asked = [keying for keying in keyings if keying.get("asked")]
        bits.append(sum({SLIP_BIT.get(number, 0) for keying in asked for number in keying["asked"]}))
        last.append(asked[-1]["text"] if asked else "")
        unasked.append([keying["text"] for keying in keyings if not keying.get("asked")])
    code = pages.earlier.codes
    bits_row = np.array([*bits, 0], np.int64)[code]
    rows = np.flatnonzero(bits_row)
    is_believed = np.zeros(len(pages), bool)
    is_believed[rows] = [_is_same(last[int(code[row])], pages.keyed.at(row)) for row in rows.tolist()]
    return Asked(bits_row, is_believed, unasked)


def _is_same(text: str, other: str) -> bool:
    first, second = read_keyed(text), read_keyed(other)
    return text == other if first is None or second is None else first == second


def _bad_before(pages: Pages, plans: Plans, values: Values, asked: Asked, step: Ints, numbers: NumberSteps) -> Flags:
    """Tell for each reading whether an earlier keying, wiped without being asked, was believable and bad."""
    is_bad = np.zeros(len(pages), bool)
    has_unasked = np.array([*(bool(texts) for texts in asked.unasked), False], bool)[pages.earlier.codes]
    for row in np.flatnonzero(has_unasked & (plans.characteristic_row >= 0)).tolist():
        characteristic = plans.characteristics[int(plans.characteristic_row[row])]
        way, standing = values.ways[int(values.way[row])], numbers.numbers[int(step[row])]
        texts = asked.unasked[int(pages.earlier.codes[row])]
        is_bad[row] = any(_is_believable_and_bad(text, characteristic, way, standing) for text in texts)
    return is_bad


def _is_believable_and_bad(text: str, characteristic: Characteristic, way: Way, numbers: PlantNumbers) -> bool:
    gauged = (CharacteristicKind.ACCEPT_REJECT, CharacteristicKind.VISUAL, CharacteristicKind.TURNS)
    if characteristic.kind in gauged and text in _GAUGED:
        return text == "Reject"
    bounds, value = bounds_of(characteristic), _comparable(way, text)
    if bounds is None or value is None or bounds.has(value):
        return False
    if value < 0 and (characteristic.kind is CharacteristicKind.TURNS or characteristic.feature is Feature.FACE_RUNOUT):
        return False
    return characteristic.kind not in FIGURE_KINDS or bounds.window(numbers).has(value)


def distinct_pairs(first: Ints, second: Ints) -> tuple[Ints, Ints, Ints]:
    """Return the distinct pairs of two columns from -1 up, as two columns, and which pair each row is."""
    size = int(second.max(initial=0)) + 2
    pairs, place = distinct((first + 1) * size + second + 1)
    return pairs // size - 1, pairs % size - 1, place
