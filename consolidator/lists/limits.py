"""Limits of characteristics: the most dangerous cells of all, for one slip judges thousands of readings.

Owns which limits a kind of characteristic needs, whether they make sense together, and those that a standard gives
for a thread: filled in, held against what was written by hand, and told with their derivation to those who approve.
Must not know other lists.
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Final

from consolidator.lists.checks import Draft, figure, identity, positive, wrong_way_round
from consolidator.lists.faults import Fault
from consolidator.lists.rows import Row
from consolidator.lists.tables import heading
from kiosk.errors import PersonCanMend, ThreadNotUnderstood
from kiosk.lists import Lists
from kiosk.lists.entries import Characteristic
from kiosk.lists.words import CharacteristicKind
from kiosk.measure.decimals import write_figure
from kiosk.pages._base import Figure, Frozen, Name, Words
from kiosk.threads import characteristics as threads
from kiosk.times import LocalTime

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
_FILLED: Final = ("lower", "upper", "threads_per_inch", "pitch_mm")
"""What is filled in where the limits are derived from a thread and the cell is empty."""
_FITTING: Final[dict[tuple[str, ...], CharacteristicKind]] = {
    ("lower", "upper"): CharacteristicKind.TWO_SIDED,
    ("lower",): CharacteristicKind.LOWER,
    ("upper",): CharacteristicKind.UPPER,
}
_ONE_SIDED: Final = {CharacteristicKind.UPPER: "upper", CharacteristicKind.LOWER: "lower"}


class DerivedLimits(Frozen):
    """Limits that a standard gives, and every step of how: what those see who approve them."""

    part: Name
    revision: Name
    characteristic: Name
    in_force_from: LocalTime | None = None
    derived_from: Words
    lower: Figure | None = None
    upper: Figure | None = None
    unit: Name
    standard: Words
    derivation: tuple[Words, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """The limits in one line, then the derivation, a line a step."""
        limits = f"{self.lower or 'no lower limit'} to {self.upper or 'no upper limit'} {self.unit}"
        whose = f"{self.part} {self.revision} {self.characteristic}"
        head = f"{whose}: {limits}, {self.derived_from} by {self.standard}"
        return (head, *(f"   {step}" for step in self.derivation))


def derived_limits(lists: Lists, before: Lists | None) -> tuple[DerivedLimits, ...]:
    """Return the limits that `lists` derive from threads and `before` did not have, with how each was reached."""
    known = () if before is None else before.characteristics
    new = (entry for entry in lists.characteristics if entry.derived_from is not None and entry not in known)
    return tuple(_told(entry) for entry in new)


def fill_in(draft: Draft, before: Iterable[Frozen]) -> Draft:
    """Return the draft with the limits filled in that characteristics derive from a thread, and faults where not.

    A row that stands in `before` keeps the limits it was approved with.
    """
    read = draft.lists["characteristics"]
    if not read.is_given:
        return draft
    approved = {identity(read.table, entry): entry for entry in before}
    rows: list[Row] = []
    faults: list[Fault] = []
    for row in read.rows:
        entry = row.entry
        if not isinstance(entry, Characteristic) or entry.derived_from is None:
            rows.append(row)
            continue
        same = approved.get(identity(read.table, entry))
        if same is not None and _filled(entry, same) == same:
            rows.append(replace(row, entry=same))
            continue
        found, wrong = _derive(row, entry)
        faults.extend(wrong)
        if found is not None:
            rows.append(replace(row, entry=found))
    filled = replace(read, rows=tuple(rows), faults=(*read.faults, *faults))
    return Draft({**draft.lists, "characteristics": filled})


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


def _told(entry: Characteristic) -> DerivedLimits:
    words = entry.derived_from or ""
    found = threads.characteristic_limits(words)
    return DerivedLimits(
        part=entry.part, revision=entry.revision, characteristic=entry.number, in_force_from=entry.in_force_from,
        derived_from=words, lower=entry.lower, upper=entry.upper, unit=entry.unit, standard=found.standard,
        derivation=found.derivation,
    )  # fmt: skip


def _filled(entry: Characteristic, source: Frozen) -> Characteristic:
    """Return the entry with its empty cells of `_FILLED` as in `source`."""
    empty = {field: getattr(source, field) for field in _FILLED if getattr(entry, field) is None}
    return entry.model_copy(update=empty)


def _derive(row: Row, entry: Characteristic) -> tuple[Characteristic | None, list[Fault]]:
    """Return the entry with the limits of the thread it names, or every fault that speaks against them."""
    try:
        found = threads.characteristic_limits(entry.derived_from or "")
    except PersonCanMend as error:
        what, why, step = (_clause(text) for text in (error.what, error.why, error.next_step))
        return None, [row.fault("derived_from", what, why=why, next_step=step)]
    thread, is_wired = found.thread, entry.rule == "over wires"
    source = entry.model_copy(
        update={
            "lower": _figure(found.limits.lower),
            "upper": _figure(found.limits.upper),
            "threads_per_inch": _figure(thread.threads_per_inch) if is_wired else None,
            "pitch_mm": _figure(thread.pitch) if is_wired and thread.threads_per_inch is None else None,
        }
    )
    faults = [*_disagreeing(row, source, found.standard), *_unfit(row, entry, found)]
    return (None, faults) if faults else (_filled(entry, source), [])


def _disagreeing(row: Row, source: Characteristic, standard: str) -> Iterator[Fault]:
    """Yield a fault for each figure written by hand that is not the derived one, with both."""
    for field in _FILLED:
        written, derived = figure(row, field), getattr(source, field)
        if written is None or (derived is not None and written == Decimal(derived)):
            continue
        if derived is None and field not in ("lower", "upper"):
            continue
        yield row.fault(
            *(field, f"the {heading(field)} does not agree with what it is derived from"),
            why=f"{write_figure(written)} is written and {standard} gives {derived or 'none'}",
            next_step="look at the drawing; mend one of the two, or empty the cell",
        )


def _unfit(row: Row, entry: Characteristic, found: threads.Characteristic) -> Iterator[Fault]:
    has = tuple(side for side in ("lower", "upper") if getattr(found.limits, side) is not None)
    if entry.kind is not _FITTING[has]:
        why = f"{found.standard} sets a {' and an '.join(has)} limit"
        said = f"a characteristic of kind {entry.kind} does not fit what it is derived from"
        yield row.fault("kind", said, why=why, next_step=f"write {_FITTING[has]}, or the limits of the drawing")
    if entry.unit != found.unit:
        why = f"the limits of {found.thread.text} are in {found.unit}"
        yield row.fault("unit", f"the unit is {entry.unit}", why=why, next_step=f"write {found.unit}")
    if entry.rule == "over wires" and found.feature != "pitch diameter":
        said = f"the rule over wires does not give a {found.feature}"
        why = "wires give a pitch diameter"
        yield row.fault("rule", said, why=why, next_step="empty the cell, or derive from a pitch diameter")
    if entry.thread is not None and not _is_of_thread(entry.thread, found.thread.text):
        why = f"{entry.thread} is written as the gauge's thread and the limits are of {found.thread.text}"
        yield row.fault("thread", "the thread is another one", why=why, next_step="mend one of the two")


def _is_of_thread(written: str, derived: str) -> bool:
    try:
        return threads.is_same_thread(written, derived)
    except ThreadNotUnderstood:
        return False


def _figure(value: Decimal | None) -> str | None:
    return None if value is None else write_figure(value)


def _clause(sentence: str) -> str:
    """Return a sentence as a clause: no full stop, a small letter where it begins with a plain word."""
    text = sentence.removesuffix(".")
    return text[:1].lower() + text[1:] if text[1:2].islower() else text
