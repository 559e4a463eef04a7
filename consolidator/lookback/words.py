"""What a look-back says in words: times, places of pieces, the sentence of a lot, and the facts for a customer.

Owns the words only. A notice holds facts and no judgement: lot, quantity, dates, characteristic, size and direction
of the error. The quality manager decides and sends.
"""

from dataclasses import dataclass
from fractions import Fraction
from typing import Final
from zoneinfo import ZoneInfo

from consolidator.frame.coded import natural_key
from consolidator.frame.words import many
from consolidator.frame.world import moment_of
from consolidator.lookback.again import FINDINGS, Finding, say_error, say_figure
from consolidator.lookback.lots import LotInQuestion, Reached, Shipped, Where
from consolidator.lookback.visits import worst_of
from consolidator.lookback.windows import Border, Why, Window

CAUTION: Final = (
    "Non-conforming product already delivered: the customer must be told promptly. This prepares the facts; the "
    "quality manager decides and sends."
)
"""Shown beside every look-back."""
_MOST_CHARACTERS: Final = 2_000
"""A page of a notice holds so many."""
_MORE: Final = "… (more in the table attached)"


@dataclass(frozen=True)
class Notice:
    """Facts prepared for one customer about one lot; nothing is sent by the program."""

    lot: str
    customer: str
    orders: tuple[str, ...]
    facts: str


def say_moment(ms: int, zone: ZoneInfo) -> str:
    """Return a moment in plant time with its offset: `2025-12-19 15:00 −05:00`."""
    local = moment_of(ms).astimezone(zone)
    return f"{local:%Y-%m-%d %H:%M} {local.isoformat()[-6:].replace('-', '−')}"


def say_border(border: Border, zone: ZoneInfo) -> str:
    """Return one end of a window with what happened then."""
    page = f", {border.page}" if border.page else ""
    when = "the beginning" if border.is_open else say_moment(border.ms, zone)
    return f"{when} ({border.words}{page})"


def say_trouble(window: Window, zone: ZoneInfo) -> str:
    """Return what put a gauge in question, and the largest error found: `G-108 found out …, high by 0.0003 in …`."""
    words = f"{window.number} {window.why}"
    if window.via:
        words = f"{window.number} {window.start.words}"
    words += f" {say_moment(window.at_ms if window.why.is_own else window.start.ms, zone)}"
    worst = worst_of(window.points)
    if window.why is not Why.OUT or worst is None:
        return words
    error = say_error(worst.error or Fraction(0))
    return f"{words}, {error} {window.unit} at {say_figure(worst.at)} (permissible {say_figure(worst.permissible)})"


def say_where(lot: LotInQuestion, zone: ZoneInfo) -> str:
    """Return where the pieces of a lot are: what left, to whom and when, and what is still here."""
    parts = [
        f"shipped {many(each.quantity, 'piece')} to {each.customer}, order {each.order}, {say_moment(each.at_ms, zone)}"
        for each in lot.shipments
    ]
    if lot.where is not Where.GONE:
        parts.append(str(lot.where) if lot.here is None else f"{many(lot.here, 'piece')} {lot.where}")
    return "; ".join(parts)


def say_counts(counts: dict[Finding, int], already_bad: int) -> str:
    """Return how many readings have which finding: `1 would now fail, 1 still inside`."""
    words = [f"{counts[finding]} {finding.lower()}" for finding in FINDINGS if counts[finding]]
    also = f" ({already_bad} of the failing out of tolerance as read)" if already_bad else ""
    return ", ".join(words) + also


def say_lot(lot: LotInQuestion, zone: ZoneInfo) -> str:
    """Return the sentence of a lot."""
    readings = f"{many(len(lot.places), 'reading')}, {say_counts(lot.counts, lot.already_bad)}"
    return f"{lot.lot}: {readings}; {say_where(lot, zone)}"


def notices(lots: tuple[LotInQuestion, ...], trouble: str, zone: ZoneInfo) -> tuple[Notice, ...]:
    """Return a draft for each customer of each lot that left and would now fail or cannot be told."""
    drafts: list[Notice] = []
    for lot in lots:
        if lot.needs_hold:
            for customer in dict.fromkeys(each.customer for each in lot.shipments):
                mine = [each for each in lot.shipments if each.customer == customer]
                orders = tuple(sorted({each.order for each in mine}, key=natural_key))
                drafts.append(Notice(lot.lot, customer, orders, _facts(lot, mine, trouble, zone)))
    return tuple(drafts)


def _facts(lot: LotInQuestion, shipments: list[Shipped], trouble: str, zone: ZoneInfo) -> str:
    lines = [f"Lot {lot.lot}, part {lot.part}."]
    lines += [
        f"Shipped: {many(each.quantity, 'piece')}, order {each.order}, {say_moment(each.at_ms, zone)}"
        f"{f', certificate {each.certificate}' if each.certificate else ''}."
        for each in shipments
    ]
    lines.append(f"Measuring equipment: {trouble}.")
    lines.append(f"Measured with it from {say_moment(lot.first_ms, zone)} to {say_moment(lot.last_ms, zone)}.")
    lines += [_characteristic(each) for each in lot.characteristics]
    lines.append(
        f"Readings: {len(lot.places)} on {many(lot.pieces, 'piece')}: {say_counts(lot.counts, lot.already_bad)}."
    )
    facts = "\n".join(lines)
    return facts if len(facts) <= _MOST_CHARACTERS else facts[: _MOST_CHARACTERS - len(_MORE)] + _MORE


def _characteristic(reached: Reached) -> str:
    name = f"{reached.characteristic} {reached.name}".strip()
    if reached.low is None or reached.high is None:
        return f"Characteristic {name}: size of the error not known."
    ends = dict.fromkeys((say_error(reached.low), say_error(reached.high)))
    return f"Characteristic {name}: readings {' to '.join(ends)} {reached.unit}."
