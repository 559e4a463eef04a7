"""The verdict: exact decimals, limits on the good side, and a figure that never contradicts it."""

from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import Final

from kiosk.judge._figures import Figures
from kiosk.judge._given import Given
from kiosk.lists import Characteristic, PlantNumbers
from kiosk.lists.words import CharacteristicKind, Feature
from kiosk.measure import units
from kiosk.measure.decimals import write_figure
from kiosk.measure.limits import Limits, Window
from kiosk.pages.words import Verdict

SHOWN_PLACES: Final = 5
"""A computed figure is shown to this many decimals, and to more where the rounded figure would contradict it."""

ACCEPT: Final = "Accept"
REJECT: Final = "Reject"
_FIGURES: Final = (CharacteristicKind.TWO_SIDED, CharacteristicKind.UPPER, CharacteristicKind.LOWER)
_WIDE: Final = Context(prec=60, rounding=ROUND_HALF_EVEN)


def limits_in(characteristic: Characteristic, unit: str) -> Limits | None:
    """Return the limits to hold a reading in `unit` against; none where it has none or the units are apart.

    Equal units: as on the drawing. Else both sides come to millimetres or newtons (`units.in_one_unit`).
    """
    if characteristic.kind not in _FIGURES or not units.are_alike(characteristic.unit, unit):
        return None
    lower, upper = (
        None if limit is None else units.in_one_unit(Decimal(limit), characteristic.unit, other=unit)
        for limit in (characteristic.lower, characteristic.upper)
    )
    if characteristic.kind is CharacteristicKind.UPPER:
        lower = None
    if characteristic.kind is CharacteristicKind.LOWER:
        upper = None
    has_all = {
        CharacteristicKind.TWO_SIDED: lower is not None and upper is not None,
        CharacteristicKind.UPPER: upper is not None,
        CharacteristicKind.LOWER: lower is not None,
    }[characteristic.kind]
    return Limits(lower, upper) if has_all else None


def comparable_in(value: Decimal, characteristic: Characteristic, unit: str) -> Decimal:
    """Return `value` (in `unit`) as the figure that `limits_in` of the same unit is compared with."""
    return units.in_one_unit(value, unit, other=characteristic.unit)


def window_of(limits: Limits, numbers: PlantNumbers) -> Window | None:
    """Return where a reading is believable, by the plant's N5."""
    return limits.window(
        tolerances=numbers.window_tolerances,
        upper_times=numbers.window_upper_times,
        lower_times=(numbers.window_lower_from_times, numbers.window_lower_to_times),
    )


def verdict_of(given: Given, figures: Figures) -> Verdict:
    """Return what the number says about the piece; Not judged where there is nothing to hold it against."""
    characteristic = given.characteristic
    match characteristic.kind:
        case CharacteristicKind.ACCEPT_REJECT | CharacteristicKind.VISUAL:
            return {ACCEPT: Verdict.ACCEPT, REJECT: Verdict.REJECT}.get(given.keyed, Verdict.NOT_JUDGED)
        case CharacteristicKind.TURNS:
            return _verdict_of_turns(given, figures)
        case CharacteristicKind.COUNT:
            return _verdict_of_count(characteristic, figures)
    limits = limits_in(characteristic, given.unit)
    if limits is None or figures.value is None:
        return Verdict.NOT_JUDGED
    if figures.value < 0 and characteristic.feature is Feature.FACE_RUNOUT:
        return Verdict.NOT_JUDGED
    return Verdict.IN if limits.has(comparable_in(figures.value, characteristic, given.unit)) else Verdict.OUT


def shown(given: Given, figures: Figures, verdict: Verdict) -> str:
    """Return the figure in the drawing's style: exact, or a computed one to five decimals and more where needed.

    A figure is never shown that looks good beside a word that says bad, nor the other way round.
    """
    if figures.value is None:
        return given.keyed
    value = figures.value
    limits = limits_in(given.characteristic, given.unit)
    if figures.indicated != value and figures.mirrored is None and limits is not None:
        value = _shortest_honest(value, given, limits, verdict)
    text = write_figure(value)
    if given.unit == "in":
        text = text.replace("-0.", "-.", 1) if text.startswith("-0.") else text.removeprefix("0")
    return text or "0"


def _shortest_honest(value: Decimal, given: Given, limits: Limits, verdict: Verdict) -> Decimal:
    for places in range(SHOWN_PLACES, 9):
        short = _WIDE.quantize(value, Decimal(1).scaleb(-places))
        is_in = limits.has(comparable_in(short, given.characteristic, given.unit))
        if is_in == (verdict is Verdict.IN):
            return short
    return value


def _verdict_of_turns(given: Given, figures: Figures) -> Verdict:
    allowed = given.characteristic.turns_allowed
    if given.keyed in (ACCEPT, REJECT):
        return Verdict.ACCEPT if given.keyed == ACCEPT else Verdict.REJECT
    if allowed is None or figures.value is None or figures.value < 0:
        return Verdict.NOT_JUDGED
    return Verdict.ACCEPT if figures.value <= Decimal(allowed) else Verdict.REJECT


def _verdict_of_count(characteristic: Characteristic, figures: Figures) -> Verdict:
    lower, upper = (None if text is None else Decimal(text) for text in (characteristic.lower, characteristic.upper))
    if figures.value is None or (lower is None and upper is None):
        return Verdict.NOT_JUDGED
    return Verdict.IN if Limits(lower, upper).has(figures.value) else Verdict.OUT
